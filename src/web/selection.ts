/** The selection of the sheet: one item at a time, which every picture and table marks. */
import type { Answer, Diagnosis } from '../core/answer.ts';

export type Selection =
  | { kind: 'none' }
  | { kind: 'pass'; pass: number }
  | { kind: 'seam'; passA: number; passB: number }
  /** A recorded section, counted from the left, 0 first. */
  | { kind: 'section'; section: number }
  | { kind: 'diagnosis'; at: number };

export const NOTHING: Selection = { kind: 'none' };

/** What a selection marks. Empty sets mark nothing; `rulers` marks the two rulers as a whole. */
export interface Marks {
  passes: ReadonlySet<number>;
  /** Indices into `evidence.seams`. */
  seams: ReadonlySet<number>;
  sections: ReadonlySet<number>;
  rulers: boolean;
  observations: ReadonlySet<string>;
  /** Index of the chosen diagnosis; -1 for none. */
  diagnosis: number;
  /** The selection as text; empty for none. */
  says: string;
}

export const NO_MARKS: Marks = {
  passes: new Set(),
  seams: new Set(),
  sections: new Set(),
  rulers: false,
  observations: new Set(),
  diagnosis: -1,
  says: '',
};

/** What the sheet's parts need to show a selection and to change it. */
export interface Choice {
  selection: Selection;
  marks: Marks;
  /** Selects an item; selecting it again clears the selection. */
  choose(next: Selection): void;
}

export function same(a: Selection, b: Selection): boolean {
  if (a.kind === 'pass' && b.kind === 'pass') return a.pass === b.pass;
  if (a.kind === 'seam' && b.kind === 'seam') return a.passA === b.passA && a.passB === b.passB;
  if (a.kind === 'section' && b.kind === 'section') return a.section === b.section;
  if (a.kind === 'diagnosis' && b.kind === 'diagnosis') return a.at === b.at;
  return a.kind === b.kind && a.kind === 'none';
}

/** What `selection` marks on the sheet of `answer`. */
export function marksOf(selection: Selection, { report, evidence }: Answer): Marks {
  const of = (part: Partial<Marks>): Marks => ({ ...NO_MARKS, ...part });
  const seamsWhere = (test: (a: number, b: number) => boolean): Set<number> =>
    new Set(evidence.seams.flatMap((s, i) => (test(s.passA, s.passB) ? [i] : [])));
  switch (selection.kind) {
    case 'none':
      return of({});
    case 'pass': {
      const { pass } = selection;
      return of({
        passes: new Set([pass]),
        seams: seamsWhere((a, b) => a === pass || b === pass),
        observations: new Set(report.observations.filter((o) => o.passes.includes(pass)).map((o) => o.id)),
        says: `Pass ${pass}`,
      });
    }
    case 'seam': {
      const { passA, passB } = selection;
      return of({
        passes: new Set([passA, passB]),
        seams: seamsWhere((a, b) => a === passA && b === passB),
        says: `The seam of passes ${passA} and ${passB}`,
      });
    }
    case 'section':
      return of({
        sections: new Set([selection.section]),
        says: `Recorded section ${selection.section + 1} from the left`,
      });
    case 'diagnosis': {
      const d = report.diagnoses[selection.at];
      if (!d) return of({});
      return of({ ...bornBy(d, { report, evidence }), diagnosis: selection.at, says: `Diagnosis ${selection.at + 1}` });
    }
  }
}

/** Passes, seams and rulers with the observations of a diagnosis. */
function bornBy(d: Diagnosis, { report, evidence }: Pick<Answer, 'report' | 'evidence'>): Partial<Marks> {
  const because = report.observations.filter((o) => d.because.includes(o.id));
  const passes = new Set(because.flatMap((o) => o.passes));
  const onSeams = because.some((o) => o.kind === 'seam' || o.kind === 'seam-alternating');
  return {
    passes,
    seams: onSeams ? new Set(evidence.seams.map((_, i) => i)) : new Set(),
    rulers: because.some((o) => /^(width|section|change|layout)/.test(o.kind)),
    observations: new Set(d.because),
  };
}
