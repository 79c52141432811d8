import type { Finding, Grain, Observation } from '../answer.ts';
import type { RecordedBands } from '../observe/bands.ts';
import type { End, Seam, SeamStretch, States } from '../observe/index.ts';
import type { PlantedLayout, Planter, Planting, RuleBreak } from '../planter/types.ts';
import type { Columns } from '../track/columns/index.ts';
import type { Passes } from '../track/types.ts';
import type { Ranked } from './likelihood.ts';

/** Everything measured, before anything is concluded. */
export interface Facts {
  planter: Planter;
  planting: Planting;
  layout: PlantedLayout;
  grain: Grain;
  passes: Passes;
  bands: RecordedBands;
  /** Ranked hypotheses of each segment, and the probability of something else. */
  fits: { ranked: Ranked[]; other: number }[];
  seams: Seam[];
  /** Seam of the planted picture beside each recorded seam, metres. */
  plantedSeamM: number[];
  /** Seams of each segment, the longest stretch first; there is always one. */
  stretches: SeamStretch[];
  /** Beginnings and stops of sections at covered ground. */
  ends: End[];
  /** Sections over covered ground, and sections that dropped out. */
  states: States;
  columns: Columns;
  ruleBreaks: RuleBreak[];
  records: number;
  repeated: number;
  repeatedM2: number;
  accuracyM: number;
  travelM: number;
  coveredM2: number;
  recordedM2: number;
  /** Plantings of the planter that record the same bands as this one. */
  twins: string[];
}

/** Observations are numbered as they are made; diagnoses point at them. */
export interface Findings {
  observations: Observation[];
  diagnoses: Finding[];
  /** Reasons why something could not be told, and what would decide it. */
  undecided: { what: string; wouldDecide: string }[];
}

export function observe(f: Findings, o: Omit<Observation, 'id'>): string {
  const id = `o${f.observations.length + 1}`;
  f.observations.push({ id, ...o });
  return id;
}

/** Numbers of the passes of the bars `from` up to `to`. */
export function passesOf(passes: Passes, from: number, to: number): number[] {
  const out: number[] = [];
  for (let p = 0; p + 1 < passes.passStart.length; p++) {
    if (passes.passStart[p] < to && passes.passStart[p + 1] > from) out.push(passes.number[p]);
  }
  return out;
}
