import type { Drop } from '../observe/index.ts';
import { FEWEST_PASSES } from './decide.ts';
import { LEFT_OPEN, OFF_ON_PURPOSE, ONE_PASS_MORE } from './noise.ts';
import { posterior } from './posterior.ts';
import { priorOf } from './settings/index.ts';

/** Gaps of one section that log intervals, corners and a slipping clutch leave: mean of an exponential density, meters. */
const GLITCH_M = 4;
/** Sections that drop out do so over these lengths, meters, uniform on a log scale. */
const SHORTEST_M = 5;
const LONGEST_M = 1000;

/** Two sections drop out together where their stretches in one pass differ by no more than this part. */
const TOGETHER = 0.1;

/**
 * Probability that each section of a segment was stuck off, from the stretches in which it was off over open ground between covered ground. It drops out in some of them only: a stretch
 * that is too short counts for neither. The sections share the prior. Sections that are off together, or with all others up to one end of the planter, or for all of a pass, are off on purpose,
 * along an edge or a neighbor; in a single pass that is the only explanation.
 */
export function dropoutProbabilities(slots: readonly (readonly Drop[])[]): number[] {
  return slots.map((drops, k) => {
    const others = slots.filter((_, i) => i !== k).flat();
    const onPurpose = (d: Drop): boolean =>
      d.outer || d.whole || others.some((o) => o.pass === d.pass && Math.abs(o.lengthM / d.lengthM - 1) < TOGETHER);
    const long = drops.filter((d) => d.lengthM >= SHORTEST_M);
    const alone = stuck(
      long.filter((d) => !onPurpose(d)),
      slots.length,
    );
    const passes = new Set(long.map((d) => d.pass)).size;
    return passes < FEWEST_PASSES ? alone : Math.max(alone, stuck(long, slots.length) * notOnPurpose(passes));
  });
}

function stuck(long: readonly Drop[], sections: number): number {
  let evidence = 0;
  for (const { lengthM: m } of long) {
    const glitch = Math.exp(-m / GLITCH_M) / GLITCH_M;
    evidence += Math.max(0, -Math.log(m * Math.log(LONGEST_M / SHORTEST_M) * glitch));
  }
  const prior = priorOf('section-stuck-off') / sections;
  const { ranked } = posterior([
    { of: 'stuck', logPrior: Math.log(prior), logLikelihood: evidence },
    { of: 'right', logPrior: Math.log(1 - prior), logLikelihood: 0 },
  ]);
  return ranked.find((r) => r.of === 'stuck')!.probability;
}

/** Probability that a section that was off in this many passes dropped out, rather than that the operator switched it off for them and left the ground open. */
export function notOnPurpose(passes: number): number {
  const stuckOff = priorOf('section-stuck-off');
  const onPurpose = OFF_ON_PURPOSE * ONE_PASS_MORE ** (passes - 1) * LEFT_OPEN;
  return stuckOff / (stuckOff + onPurpose);
}
