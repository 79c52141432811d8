/**
 * The whole pipeline: every stage takes named values and returns one. DEVELOPERS.md draws it; each stage opens with its contract.
 */
import type { Answer } from './answer.ts';
import { diagnoseMachines, widthsOf } from './steps/diagnose.ts';
import { explainField } from './steps/explain.ts';
import { type Fitted, fitMap } from './steps/fit/index.ts';
import { type CheckInput, type Hooks, type Job, jobOf } from './steps/job.ts';
import { type Field, joinMachines } from './steps/join.ts';
import { type Areas, type Covered, coverSource, type Land, measureAreas } from './steps/measure.ts';
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
  return forPlantings(source, covered, machines, answerFor(source, covered, machines, job), job);
}

/** Measures ground elsewhere, at the same time; null where that failed. */
export interface Surveyor {
  cover(land: Land): Promise<Covered | null>;
  /** What `measureAreas` gives for the land that was covered. */
  measure(field: Field, differs: boolean, accuracyM: number): Promise<Areas | null>;
}

/** The same answer, with a surveyor's help. */
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
  return forPlantings(source, covered, machines, answer, job);
}

const forPlantings = (
  source: Source,
  covered: Covered,
  machines: readonly Fitted[],
  answer: Answer,
  job: Job,
): Answer => underEachPlanting(answer, machines, job, (others) => answerFor(source, covered, others, job));

/** The answer for the machines under one planting each; covered ground is shared by all of them. */
function answerFor(
  { records }: Source,
  covered: Covered,
  machines: readonly Fitted[],
  job: Job,
  field = joinMachines(machines),
  diagnosed = diagnoseMachines(records, machines, covered, job),
  areas = measureAreas(
    records,
    field,
    covered,
    diagnosed.some((p) => p.widths.facts.length > 0),
    job,
  ),
): Answer {
  const explained = explainField(records, diagnosed, field, areas, job);
  return summarizeAnswer({ records, field, covered, areas, explained, job });
}
