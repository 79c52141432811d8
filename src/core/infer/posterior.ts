import { logT, tQuantile975 } from '../geometry/stats.ts';
import type { Estimate } from '../observe/index.ts';
import { priorOf } from './settings/index.ts';

/** One hypothesis, with its prior and posterior. */
export interface Candidate<T> {
  of: T;
  logPrior: number;
  /** Natural logarithm of the probability (density) of what was observed if it is true; all candidates of one posterior share the measure. */
  logLikelihood: number;
}

export interface Posterior<T> {
  /** Most probable first; probabilities add up to 1. */
  ranked: { of: T; probability: number }[];
  /** Natural logarithm of the marginal probability of the observations. */
  logEvidence: number;
}

/** Bayes' rule over candidates that are mutually exclusive and exhaustive: one of them must be "something else". Every confidence comes from here. */
export function posterior<T>(candidates: readonly Candidate<T>[]): Posterior<T> {
  const score = candidates.map((c) => c.logPrior + c.logLikelihood);
  const top = score.reduce((a, b) => Math.max(a, b), Number.NEGATIVE_INFINITY);
  const sum = score.reduce((a, s) => a + Math.exp(s - top), 0);
  const ranked = candidates.map((c, i) => ({ of: c.of, probability: Math.exp(score[i] - top) / sum }));
  return { ranked: ranked.sort((a, b) => b.probability - a.probability), logEvidence: top + Math.log(sum) };
}

/** Steering an inch inside the width, or a little beyond it, is done on purpose: a correct seam may be off by this, meters (common practice). */
const CORRECT_SEAM_SD_M = 0.015;
/** Wrong settings shift seams by this much at least and at most, meters, uniform on a log scale. */
const LEAST_M = 0.05;
const MOST_M = 1.5;
/**
 * Probability that a seam statistic is off because `setting` is wrong rather than by chance (Bayes' rule): a correct value within
 * a few centimeters of zero, compared with a wrong one of any size, each blurred by the level's own Student t.
 */
export function seamPosterior(level: Estimate, setting: 'pass-spacing' | 'side-offset'): number {
  const x = Math.abs(level.value);
  const scale = Math.hypot(level.standardError, CORRECT_SEAM_SD_M);
  // The level's own tails, heavier than those of the sum: deliberate offsets are not normally distributed.
  const honest = logT(x / scale, level.degreesOfFreedom) - Math.log(scale);
  // A statistic much less precise than the smallest wrong value is equally likely under all of them.
  const size = Math.max(x, LEAST_M, level.standardError);
  const wrong = -Math.log(2 * Math.log(MOST_M / LEAST_M) * size);
  const prior = priorOf(setting);
  return 1 / (1 + ((1 - prior) / prior) * Math.exp(honest - wrong));
}

/** Half of the 95 % interval of a level, meters. */
export const half95 = (level: Estimate): number => level.standardError * tQuantile975(level.degreesOfFreedom);
