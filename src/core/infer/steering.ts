import type { Setting } from '../answer.ts';
import { logT } from '../geometry/stats.ts';
import type { Estimate } from '../observe/estimate.ts';
import type { Hypothesis } from './hypothesis.ts';
import { ON_PURPOSE_M } from './noise.ts';

/** With these the display still believes the working width that is declared, and steers by it. */
const STEERING_KEPT = new Set<Setting>(['section-stuck-off', 'section-idle', 'section-across-drives']);
/** A display steers by the width that it believes, unless the pass spacing was entered on its own (common practice). */
const BY_BELIEF = 0.9;
/** Part of the maps in which passes lie at some other distance, and how far that may be, metres. */
const ASTRAY = 0.05;
const ASTRAY_M = 3;

/**
 * How likely the recorded seams are when `hypothesis` is what the display believed, up to a factor that all hypotheses share. Two hypotheses
 * that record the same bands may steer at different distances: sections that stay off leave gaps, a narrower frame does not.
 * `spacingM` is the distance at which the passes should lie.
 */
export function seamLikelihood(hypothesis: Hypothesis, steady: Estimate, spacingM: number): number {
  const scale = Math.hypot(steady.standardError, ON_PURPOSE_M);
  const at = (m: number): number => Math.exp(logT((steady.value - m) / scale, steady.degreesOfFreedom)) / scale;
  const followed = hypothesis.setting !== null && STEERING_KEPT.has(hypothesis.setting) ? 1 - BY_BELIEF : BY_BELIEF;
  return (1 - ASTRAY) * (followed * at(0) + (1 - followed) * at(spacingM - hypothesis.widthM)) + ASTRAY / ASTRAY_M;
}

/** The same for a layout of which nothing is known. */
export const SEAMS_OF_ANY = 1 / ASTRAY_M;
