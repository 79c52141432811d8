/**
 * The same check as `check.ts`, with ground measured elsewhere at the same time.
 */
import type { Answer } from './answer.ts';
import { answerFor } from './check.ts';
import { layoutOf } from './planter/index.ts';
import { diagnoseMachines, differsFrom, widthsOf } from './steps/diagnose.ts';
import { fitMap } from './steps/fit/index.ts';
import type { Job } from './steps/job.ts';
import { joinPlanted, joinTracks } from './steps/join.ts';
import {
  type Covered,
  coverSource,
  type Land,
  measurePlanted,
  measureRecorded,
  type RecordedAreas,
  type RecordedField,
  widestPassM,
} from './steps/measure.ts';
import { underEachPlanting } from './steps/plantings.ts';
import type { Source } from './steps/source.ts';
import { findUnplaced } from './track/index.ts';

/** Measures ground elsewhere, at the same time; null where that failed. Questions are asked before the one before is answered. */
export interface Surveyor {
  cover(land: Land): Promise<Covered | null>;
  /** What `measureRecorded` gives for the land that was covered. */
  measure(field: RecordedField, accuracyM: number): Promise<RecordedAreas | null>;
}

/** The same answer as `checkSource`, with a surveyor's help. */
export async function checkParallel(source: Source, job: Job, surveyor: Surveyor): Promise<Answer> {
  const { records } = source;
  const covering = surveyor.cover(source);
  let begun: Begun | null = null;
  const machines = fitMap(records, job, ({ plane, fine, passes }, bands) => {
    const field = { plane, fine, passes, bands, declaredM: likelyWidthM(job) };
    begun = { field, areas: surveyor.measure(field, job.accuracyM) };
  });
  const tracks = joinTracks(machines);
  const measuring = stillHolds(begun, tracks) ?? surveyor.measure(tracks, job.accuracyM);
  const field = { ...tracks, planted: joinPlanted(machines, tracks.passes) };
  const widths = machines.map(widthsOf);
  const covered = (await covering) ?? coverSource(source, machines[0].plane, job);
  const diagnosed = diagnoseMachines(records, machines, covered, job, widths);
  // Recorded ground takes the other longer than diagnosing takes here.
  const planted = measurePlanted(records, field, covered, differsFrom(widths), job);
  const areas = {
    unplaced: findUnplaced(tracks.passes, covered.coverage.areaM2),
    ...((await measuring) ?? measureRecorded(records, tracks, covered, job)),
    ...planted,
  };
  const answer = answerFor(source, covered, machines, job, field, diagnosed, areas);
  return underEachPlanting(answer, machines, job, (others) => answerFor(source, covered, others, job));
}

/** What was asked for before the fit was done. */
interface Begun {
  field: RecordedField;
  areas: Promise<RecordedAreas | null>;
}

/** The width that will be the declared one if the first planter worked and what was asked for, or its first planting, was planted; meters. */
function likelyWidthM({ planter, planting }: Job): number {
  const { name } = planter.plantings.find((p) => p.name === planting) ?? planter.plantings[0];
  return layoutOf(planter, name).workingWidthM;
}

/** The answer that is under way, where the fit left passes and bands as they were and the widest pass is as wide. */
function stillHolds(begun: Begun | null, tracks: RecordedField): Begun['areas'] | null {
  if (begun?.field.passes !== tracks.passes || begun.field.bands !== tracks.bands) return null;
  return widestPassM(begun.field) === widestPassM(tracks) ? begun.areas : null;
}
