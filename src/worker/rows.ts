import type { Report, Setting } from '../core/answer.ts';

/** The row of a field in a list: the same verdict as on its sheet and in an audit. */
export interface FieldRow {
  verdict: Report['verdict'] | 'not checked';
  says: string;
  settings: Setting[];
  /** What to do next; '' for nothing. */
  next: string;
}

export function rowOf({ verdict, says, diagnoses, wouldDecide }: Report): FieldRow {
  const settings = [...new Set(diagnoses.map((d) => d.setting))];
  return { verdict, says, settings, next: diagnoses[0]?.check ?? wouldDecide[0] ?? '' };
}
