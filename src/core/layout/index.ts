/**
 * From bands across travel to what the display believed the planter to be.
 *
 * Assumes passes cut in bars. Guarantees that every belief that was tried is ranked with its probability, that "something else" is
 * always among them, and that beliefs which would record the same bands as the declared planting are not used against it.
 *
 * 1. `stretches.ts`: where the recorded layout changes; `bands.ts`: the bands of a full bar in every stretch of the map; which band each record is.
 * 2. `belief.ts`, `frames.ts`, `beliefs.ts`: what a display may have believed about this planter, and the bands that it would then record.
 * 3. `fit.ts`: how well each belief explains the measured bands; `steering.ts`: and how well the seams.
 */
import { layoutOf } from '../planter/index.ts';
import type { Band, Planter } from '../planter/types.ts';
import type { MeasuredBand, RecordedBands } from './bands.ts';
import { type Belief, bandsOf } from './belief.ts';
import { beliefsAbout } from './beliefs.ts';
import { inReach, type Ranking, rank } from './fit.ts';
import { SEAMS_OF_ANY, type SteadySeam, seamLikelihood } from './steering.ts';

export { findBands, type RecordedBands } from './bands.ts';
export { framesOfWidth } from './frames.ts';
export { passOf } from './stretches.ts';

export interface LayoutFits {
  planting: string;
  /** Per epoch of the bands. */
  fits: Ranking[];
  /** Probability of the declared layout over the whole map, weighted by bars. */
  declared: number;
  /** Probability, likewise, of the beliefs in which this planting was chosen, whatever else was wrong. */
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
  steady: SteadySeam | null,
): LayoutFits {
  const all = beliefsAbout(planter, planting, (widthM) => bands.epochs.some((e) => inReach(e, widthM, sections)));
  const own = all[0];
  const twins = planter.plantings
    .filter((p) => p.name !== planting && sameBands(planter, planting, p.name, sections))
    .map((p) => p.name);
  const useful = all.filter((b) => b === own || !sameAs(b, own, sections));
  const spacingM = planter.plantings.find((p) => p.name === planting)?.passSpacingM ?? own.widthM;
  // Where the layout changes on the way, the seams are those of several.
  const seams =
    steady && bands.epochs.length === 1
      ? (b: Belief | null): number => (b ? seamLikelihood(b, steady, spacingM) : SEAMS_OF_ANY)
      : undefined;
  const fits = bands.epochs.map((e) => rank(e, useful, sections, seams));
  let bars = 0;
  let declared = 0;
  let chosen = 0;
  bands.epochs.forEach((e, i) => {
    const n = e.to - e.from;
    bars += n;
    declared += n * fits[i].ranked.reduce((s, r) => s + (r.belief.setting === null ? r.probability : 0), 0);
    chosen += n * fits[i].ranked.reduce((s, r) => s + (r.belief.planting === planting ? r.probability : 0), 0);
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
  return { ...bands, epochs: bands.epochs.map((e) => ({ ...e, bands: e.bands.map(turn).reverse() })) };
}

function sameAs(b: Belief, own: Belief, sections: boolean): boolean {
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
