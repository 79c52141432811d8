import type { Finding, Grain, Observation, Setting } from '../answer.ts';
import type { End, Seam, SeamStretch, Sidesteps, States } from '../observe/index.ts';
import type { RecordedBands } from '../observe/types.ts';
import type { PlantedLayout, Planter, Planting, RuleBreak } from '../planter/types.ts';
import { FOOT_M } from '../planter/units.ts';
import type { Columns } from '../track/columns/index.ts';
import { passesOf } from '../track/span.ts';
import type { Passes } from '../track/types.ts';
import type { Ranked } from './likelihood.ts';
import { clock } from './phrases.ts';
import { settingsInWords } from './settings/index.ts';

/** Everything measured, before any conclusion. */
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
  /** Seam of the planted picture beside each recorded seam, meters. */
  plantedSeamM: number[];
  /** Seams of each segment, the longest stretch first; there is always one. */
  stretches: SeamStretch[];
  /** Starts and stops of sections at covered ground. */
  ends: End[];
  /** The same at the edge of the field, as neighboring passes show it: which section ends first, not when. */
  fieldEnds: End[];
  /** Whether two strips that lie side by side can be assigned to one pass or to two: not on a coarse lattice. */
  tellsStripsApart: boolean;
  /** Sections over covered ground, and sections that dropped out. */
  states: States;
  /** Places where the whole drawing shifts sideways at once. */
  sidesteps: Sidesteps;
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

/** A finding, and the ground that the recorded map must show if it is true, square meters: the account checks it. */
export interface FindingWithPrediction extends Finding {
  predicts?: { openM2?: number; twiceM2?: number };
}

/** Observations are numbered as they are made; diagnoses point at them. */
export interface Findings {
  observations: Observation[];
  diagnoses: FindingWithPrediction[];
  /** Open questions, and what would decide them. */
  undecided: { what: string; wouldDecide: string }[];
}

export function addObservation(f: Findings, o: Omit<Observation, 'id'>): string {
  const id = `o${f.observations.length + 1}`;
  f.observations.push({ id, ...o });
  return id;
}

/** A finding that the map cannot distinguish from those of `rivals`: it says so, and that checking one decides about the other. */
export function withRivals(finding: FindingWithPrediction, rivals: readonly Setting[]): FindingWithPrediction {
  if (rivals.length === 0) return finding;
  const names = settingsInWords(rivals, 'or');
  return {
    ...finding,
    or: [...rivals],
    says: `${finding.says} Another cause would leave the same map: ${names}.`,
    check: `${finding.check} If this setting is right, check ${names}.`,
  };
}

/** "08:33 on 2026-05-03 (pass 14)", or "pass 14" where the map has no time. */
export function whenWords(f: Facts, bar: number): string {
  const pass = passesOf(f.passes, bar, bar + 1)[0];
  const t = f.passes.timeMs[bar];
  return f.columns.timeIsClock && !Number.isNaN(t) ? `${clock(t)} (pass ${pass})` : `pass ${pass}`;
}

/** Meters on the map for a meter on the ground: other than 1 where its lengths look as if they were read in another unit. */
export function scaleOf({ bands: { segments }, fits }: Facts): number {
  const main = segments.reduce((m, e, i) => (e.fullBars > segments[m].fullBars ? i : m), 0);
  const best = fits[main]?.ranked[0]?.hypothesis;
  if (best?.setting !== 'map-units') return 1;
  return best.sections[0] === 'feet' ? FOOT_M : 1 / FOOT_M;
}
