import { logT, tQuantile975 } from '../geometry/stats.ts';
import type { Estimate } from '../observe/index.ts';
import { priorOf } from './settings/index.ts';

/** One thing that may be true, before and after the map is looked at. */
export interface Candidate<T> {
  of: T;
  logPrior: number;
  /** Natural logarithm of the probability (density) of what was observed if it is true; all candidates of one posterior share the measure. */
  logLikelihood: number;
}

export interface Posterior<T> {
  /** Most probable first; probabilities add up to 1. */
  ranked: { of: T; probability: number }[];
  /** Natural logarithm of the probability of what was observed, whatever is true. */
  logEvidence: number;
}

/** Bayes' rule over candidates that exclude each other and leave nothing out: one of them must be "something else". Every confidence comes from here. */
export function posterior<T>(candidates: readonly Candidate<T>[]): Posterior<T> {
  const score = candidates.map((c) => c.logPrior + c.logLikelihood);
  const top = score.reduce((a, b) => Math.max(a, b), Number.NEGATIVE_INFINITY);
  const sum = score.reduce((a, s) => a + Math.exp(s - top), 0);
  const ranked = candidates.map((c, i) => ({ of: c.of, probability: Math.exp(score[i] - top) / sum }));
  return { ranked: ranked.sort((a, b) => b.probability - a.probability), logEvidence: top + Math.log(sum) };
}

/** Steering an inch inside the width, or a little beyond it, is done on purpose: what an honest seam may be off by, meters (common practice). */
const HONEST_M = 0.015;
/** Wrong settings put seams off by this much at least and at most, meters, every size on a log scale alike. */
const LEAST_M = 0.05;
const MOST_M = 1.5;
/**
 * Probability that a seam statistic is off because `setting` is wrong rather than by chance (Bayes' rule): an honest value within
 * a few centimeters of zero, against a wrong one of any size, each blurred by the level's own Student t.
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

/** Half of the 95 % interval of a level, meters. */
export const half95 = (level: Estimate): number => level.standardError * tQuantile975(level.degreesOfFreedom);
