/**
 * The same check as `check.ts`, with ground measured elsewhere at the same time.
 */
import type { Answer } from './answer.ts';
import { answerFor } from './check.ts';
import { diagnoseMachines, widthsOf } from './steps/diagnose.ts';
import { fitMap } from './steps/fit/index.ts';
import type { Job } from './steps/job.ts';
import { type Field, joinMachines } from './steps/join.ts';
import { type Areas, type Covered, coverSource, type Land } from './steps/measure.ts';
import { underEachPlanting } from './steps/plantings.ts';
import type { Source } from './steps/source.ts';

/** Measures ground elsewhere, at the same time; null where that failed. */
export interface Surveyor {
  cover(land: Land): Promise<Covered | null>;
  /** What `measureAreas` gives for the land that was covered. */
  measure(field: Field, differs: boolean, accuracyM: number): Promise<Areas | null>;
}

/** The same answer as `checkSource`, with a surveyor's help. */
export async function checkBeside(source: Source, job: Job, surveyor: Surveyor): Promise<Answer> {
  const { records } = source;
  const covering = surveyor.cover(source);
  const machines = fitMap(records, job);
  const covered = (await covering) ?? coverSource(source, machines[0].plane, job);
  const field = joinMachines(machines);
  const differs = machines.some((m) => widthsOf(m).facts.length > 0);
  const measuring = surveyor.measure(field, differs, job.accuracyM);
  const diagnosed = diagnoseMachines(records, machines, covered, job);
  const areas = (await measuring) ?? undefined;
  const answer = answerFor(source, covered, machines, job, field, diagnosed, areas);
  return underEachPlanting(answer, machines, job, (others) => answerFor(source, covered, others, job));
}
