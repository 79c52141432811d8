import { posterior } from './posterior.ts';
import { priorOf } from './settings/index.ts';

/** Gaps of one section that log intervals, corners and a slipping clutch leave: mean of an exponential density, meters. */
const GLITCH_M = 4;
/** Sections that drop out do so over these lengths, meters, uniform on a log scale. */
const SHORTEST_M = 5;
const LONGEST_M = 1000;

/**
 * Probability that a section was stuck off, from the lengths (meters) of the stretches in which it was off over open ground between
 * covered ground. It drops out in some of them only: a stretch that is too short counts for neither. `sections` share the prior.
 */
export function dropoutProbability(dropsM: readonly number[], sections: number): number {
  let evidence = 0;
  for (const m of dropsM) {
    if (m < SHORTEST_M) continue;
    const glitch = Math.exp(-m / GLITCH_M) / GLITCH_M;
    const stuck = 1 / (Math.max(m, SHORTEST_M) * Math.log(LONGEST_M / SHORTEST_M));
    evidence += Math.max(0, Math.log(stuck / glitch));
  }
  const prior = priorOf('section-stuck-off') / sections;
  const { ranked } = posterior([
    { of: 'stuck', logPrior: Math.log(prior), logLikelihood: evidence },
    { of: 'right', logPrior: Math.log(1 - prior), logLikelihood: 0 },
  ]);
  return ranked.find((r) => r.of === 'stuck')!.probability;
}
