import { logT } from '../geometry/stats.ts';
import type { Estimate, SeamEstimates, SeamsBeside } from '../observe/types.ts';
import type { Hypothesis } from './hypothesis.ts';
import { BACK_AND_FORTH, ON_PURPOSE_M } from './noise.ts';

/** A display steers by the width that it believes, unless the pass spacing was entered separately (common practice). */
const BY_BELIEF = 0.8;
/** Share of maps whose passes lie at some other distance, and how far off that may be either way, meters. */
const ASTRAY = 0.05;
const ASTRAY_M = 3;

/** On the side on which sections are off, the neighbor lies anywhere in one map of four: a last pass fills the rest of the field. */
const FILLS_REST = 0.25;

/** The point that is kept on the line is the middle of what the display believes is planted, or else the middle of the frame (common practice). */
const BY_FRAME = 0.2;
/** Share of maps in which a side offset is also wrong, and how far seams may then alternate either way, meters. */
const OFFSET = 0.05;
const OFFSET_M = 1.5;

/** Density of an estimate around its prediction, per meter, including deliberate steering. */
function density(of: Estimate, predictedM: number): number {
  const scale = Math.hypot(of.standardError, ON_PURPOSE_M);
  return Math.exp(logT((of.value - predictedM) / scale, of.degreesOfFreedom)) / scale;
}

/**
 * How likely the recorded seams are when `h` is what the display believed: a density, per meter for each estimate. Two hypotheses that record
 * the same bands may steer at different distances: sections that stay off leave gaps, a narrower frame does not. And with a section off
 * at one end the recorded part lies to one side of the steered line, so that the seams alternate by twice that.
 * `spacingM` is the distance at which the passes should lie.
 */
export function seamLikelihood(
  h: Hypothesis,
  { steady, alternating, unsigned, only, beside }: SeamEstimates,
  spacingM: number,
): number {
  let out = 1;
  if (steady) {
    // Seams of one kind hold what alternates as well.
    const aside = 2 * h.asideM;
    const shifts = only === undefined ? [0] : only === 0 ? [aside, -aside] : [only * aside];
    const around = (m: number): number =>
      shifts.reduce((sum, shift) => sum + density(steady, m + shift), 0) / shifts.length;
    const byBelief = around(h.steersM - h.widthM);
    const level = BY_BELIEF * byBelief + (1 - BY_BELIEF) * around(spacingM - h.widthM);
    out *= (1 - ASTRAY) * level + ASTRAY / (2 * ASTRAY_M);
  }
  if (alternating) {
    const byBelief = density(alternating, 2 * h.asideM);
    const byFrame = density(alternating, 2 * h.centerM);
    out *= (1 - OFFSET) * ((1 - BY_FRAME) * byBelief + BY_FRAME * byFrame) + OFFSET / (2 * OFFSET_M);
  }
  if (unsigned) {
    const aside = (m: number): number => density(unsigned, 2 * Math.abs(m));
    const turned = (1 - OFFSET) * ((1 - BY_FRAME) * aside(h.asideM) + BY_FRAME * aside(h.centerM)) + OFFSET / OFFSET_M;
    // Passes driven the same way do not alternate, however far aside they lie.
    out *= BACK_AND_FORTH * turned + (1 - BACK_AND_FORTH) * density(unsigned, 0);
  }
  return beside ? out * besideLikelihood(h, beside, spacingM) : out;
}

/** The same of seams with passes of other segments, which were steered by what they record. */
function besideLikelihood(h: Hypothesis, { travelKnown, seams }: SeamsBeside, spacingM: number): number {
  const product = (turn: number): number =>
    seams.reduce((all, s) => {
      const edgesM = (h.widthM + s.widthM) / 2 + turn * s.side * h.asideM;
      const byBelief = density(s, (h.steersM + s.widthM) / 2 - edgesM);
      const level = BY_BELIEF * byBelief + (1 - BY_BELIEF) * density(s, spacingM - edgesM);
      const astray = h.off && turn * s.side * h.asideM < 0 ? FILLS_REST : ASTRAY;
      return all * ((1 - astray) * level + astray / (2 * ASTRAY_M));
    }, 1);
  return travelKnown ? product(1) : (product(1) + product(-1)) / 2;
}

/** The same for an unknown layout: it too is steered by its belief, and its seams may lie anywhere. */
export function seamsOfAny({ steady, alternating, unsigned, beside }: SeamEstimates): number {
  let out = 1;
  if (steady) out *= 0.5 * density(steady, 0) + 0.5 / (2 * ASTRAY_M);
  if (alternating) out *= 0.5 * density(alternating, 0) + 0.5 / (2 * OFFSET_M);
  if (unsigned) out *= 0.5 * density(unsigned, 0) + 0.5 / OFFSET_M;
  for (const s of beside?.seams ?? []) out *= 0.5 * density(s, 0) + 0.5 / (2 * ASTRAY_M);
  return out;
}
