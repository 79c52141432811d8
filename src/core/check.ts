/**
 * The whole pipeline: every stage takes named values and returns one. DEVELOPERS.md draws it; each stage opens with its contract.
 */
import type { Answer } from './answer.ts';
import { diagnoseMachines, differsFrom } from './steps/diagnose.ts';
import { explainField } from './steps/explain.ts';
import { type Fitted, fitMap } from './steps/fit/index.ts';
import { type CheckInput, type Hooks, type Job, jobOf } from './steps/job.ts';
import { joinMachines } from './steps/join.ts';
import { type Covered, coverSource, measureAreas } from './steps/measure.ts';
import { underEachPlanting } from './steps/plantings.ts';
import { readSource, type Source } from './steps/source.ts';
import { summarizeAnswer } from './steps/summary.ts';

/** Checks a map against its planter. Throws `UserError` when the input cannot be used. */
export async function check(input: CheckInput, hooks: Hooks = {}): Promise<Answer> {
  const job = jobOf(input, hooks);
  return checkSource(await readSource(input, job), job);
}

/** Everything after reading. Synchronous: to stop it, throw from `progress` or end the worker. */
export function checkSource(source: Source, job: Job, machines = fitMap(source.records, job)): Answer {
  const covered = coverSource(source, machines[0].plane, job);
  const answer = answerFor(source, covered, machines, job);
  return underEachPlanting(answer, machines, job, (others) => answerFor(source, covered, others, job));
}

/** The answer for the machines under one planting each; covered ground is shared by all of them. */
export function answerFor(
  { records }: Source,
  covered: Covered,
  machines: readonly Fitted[],
  job: Job,
  field = joinMachines(machines),
  diagnosed = diagnoseMachines(records, machines, covered, job),
  areas = measureAreas(records, field, covered, differsFrom(diagnosed.map((p) => p.widths)), job),
): Answer {
  const explained = explainField(records, diagnosed, field, areas, job);
  return summarizeAnswer({ records, field, covered, areas, explained, job });
}
