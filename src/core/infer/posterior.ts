import { logT, tQuantile975 } from '../geometry/stats.ts';
import type { Estimate } from '../observe/index.ts';
import { priorOf } from './priors.ts';

/** Steering an inch inside the width, or a little beyond it, is done on purpose: what an honest seam may be off by, metres (common practice). */
const HONEST_M = 0.015;
/** Wrong settings put seams off by this much at least and at most, metres, every size on a log scale alike. */
const LEAST_M = 0.05;
const MOST_M = 1.5;
/**
 * Probability that a seam statistic is off because `setting` is wrong rather than by chance (Bayes' rule): an honest value within
 * a few centimetres of zero, against a wrong one of any size, each blurred by the level's own Student t.
 */
export function seamPosterior(level: Estimate, setting: 'pass-spacing' | 'side-offset'): number {
  const x = Math.abs(level.value);
  const scale = Math.hypot(level.standardError, HONEST_M);
  // The level's own tails, heavier than those of the two added up: steering on purpose knows no normal law.
  const honest = logT(x / scale, level.degreesOfFreedom) - Math.log(scale);
  // A statistic much less sure than the smallest wrong value is met as often by any of them.
  const size = Math.max(x, LEAST_M, level.standardError);
  const wrong = -Math.log(2 * Math.log(MOST_M / LEAST_M) * size);
  const prior = priorOf(setting);
  return 1 / (1 + ((1 - prior) / prior) * Math.exp(honest - wrong));
}

/** Half of the 95 % interval of a level, metres. */
export const half95 = (level: Estimate): number => level.standardError * tQuantile975(level.degreesOfFreedom);
