import type { Report, Setting } from '../core/answer.ts';

/** What a list of fields says of one: the verdict of its sheet, and of an audit of the same map. */
export interface FieldRow {
  verdict: Report['verdict'] | 'not checked';
  says: string;
  settings: Setting[];
  /** What to do next; '' where nothing is to be done. */
  next: string;
}

export function rowOf({ verdict, says, diagnoses, wouldDecide }: Report): FieldRow {
  const settings = [...new Set(diagnoses.map((d) => d.setting))];
  return { verdict, says, settings, next: diagnoses[0]?.check ?? wouldDecide[0] ?? '' };
}
