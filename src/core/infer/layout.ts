/**
 * What the display believed the planter to be, from the bands of every segment: hypotheses ranked by their posterior probability.
 */

import type { MeasuredBand, RecordedBands } from '../observe/bands.ts';
import type { Estimate } from '../observe/estimate.ts';
import { layoutOf } from '../planter/index.ts';
import type { Band, Planter } from '../planter/types.ts';
import { hypothesesAbout } from './hypotheses.ts';
import { bandsOf, type Hypothesis } from './hypothesis.ts';
import { inReach, type Ranking, rank } from './likelihood.ts';
import { SEAMS_OF_ANY, seamLikelihood } from './steering.ts';

export interface LayoutFits {
  planting: string;
  /** Per segment of the bands. */
  fits: Ranking[];
  /** Probability of the declared layout over the whole map, weighted by bars. */
  declared: number;
  /** Probability, likewise, of the hypotheses in which this planting was chosen, whatever else was wrong. */
  chosen: number;
  /** Logarithm of the probability of all bands of the map, whatever was believed. */
  evidence: number;
  /** Other plantings of the planter with the same bands. */
  twins: string[];
}

/** Two predictions within this at every edge cannot be told apart by any map, metres. */
const SAME_EDGE_M = 0.002;

/**
 * Ranks what the display may have believed while `planting` was planted. `sections` false: the records hold the whole width.
 * `steady`: the recorded seams of the map, null where there are none.
 */
export function believe(
  bands: RecordedBands,
  planter: Planter,
  planting: string,
  sections: boolean,
  steady: Estimate | null,
): LayoutFits {
  const all = hypothesesAbout(planter, planting, (widthM) => bands.segments.some((e) => inReach(e, widthM, sections)));
  const own = all[0];
  const twins = planter.plantings
    .filter((p) => p.name !== planting && sameBands(planter, planting, p.name, sections))
    .map((p) => p.name);
  const useful = all.filter((b) => b === own || !sameAs(b, own, sections));
  const spacingM = planter.plantings.find((p) => p.name === planting)?.passSpacingM ?? own.widthM;
  // Where the layout changes on the way, the seams are those of several.
  const seams =
    steady && bands.segments.length === 1
      ? (b: Hypothesis | null): number => (b ? seamLikelihood(b, steady, spacingM) : SEAMS_OF_ANY)
      : undefined;
  const fits = bands.segments.map((e) => rank(e, useful, sections, seams));
  let bars = 0;
  let declared = 0;
  let chosen = 0;
  bands.segments.forEach((e, i) => {
    const n = e.to - e.from;
    bars += n;
    declared += n * fits[i].ranked.reduce((s, r) => s + (r.hypothesis.setting === null ? r.probability : 0), 0);
    chosen += n * fits[i].ranked.reduce((s, r) => s + (r.hypothesis.planting === planting ? r.probability : 0), 0);
  });
  return {
    planting,
    fits,
    declared: bars ? declared / bars : 0,
    chosen: bars ? chosen / bars : 0,
    evidence: fits.reduce((a, f) => a + f.evidence, 0),
    twins,
  };
}

/** The bands seen from behind: for maps that do not tell which way they were driven. */
export function mirrorBands(bands: RecordedBands): RecordedBands {
  const turn = (b: MeasuredBand): MeasuredBand => ({
    leftM: -b.rightM,
    rightM: -b.leftM,
    leftSeM: b.rightSeM,
    rightSeM: b.leftSeM,
  });
  return { ...bands, segments: bands.segments.map((e) => ({ ...e, bands: e.bands.map(turn).reverse() })) };
}

function sameAs(b: Hypothesis, own: Hypothesis, sections: boolean): boolean {
  if (Math.abs(b.widthM - own.widthM) > SAME_EDGE_M) return false;
  if (!sections) return true;
  return b.bands !== null && own.bands !== null && alike(b.bands(), own.bands());
}

const alike = (p: Band[], q: Band[]): boolean =>
  p.length === q.length &&
  p.every((s, i) => Math.abs(s.leftM - q[i].leftM) < SAME_EDGE_M && Math.abs(s.rightM - q[i].rightM) < SAME_EDGE_M);

function sameBands(planter: Planter, a: string, b: string, sections: boolean): boolean {
  const x = layoutOf(planter, a);
  const y = layoutOf(planter, b);
  if (Math.abs(x.workingWidthM - y.workingWidthM) > SAME_EDGE_M) return false;
  if (!sections) return true;
  return alike(bandsOf(x.sectionBands), bandsOf(y.sectionBands));
}
