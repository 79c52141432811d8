import { describe, expect, it } from 'vitest';
import { tQuantile975 } from '../../src/core/geometry/stats.ts';
import { seamPosterior } from '../../src/core/infer/posterior.ts';
import { priorOf } from '../../src/core/infer/settings/index.ts';
import { estimateSeams } from '../../src/core/observe/estimate.ts';
import { seamSides } from '../../src/core/observe/sides.ts';
import type { Seam } from '../../src/core/observe/types.ts';
import { Random } from '../generator/random.ts';

/** Passes side by side, each off its line by its own error; `opposite`: driven back and forth. */
function seamsOf(errors: number[], opposite: boolean): { seams: Seam[]; m: number[] } {
  const seams: Seam[] = [];
  const m: number[] = [];
  for (let i = 0; i + 1 < errors.length; i++) {
    // To the right of travel: passes driven back lie mirrored on the ground.
    const right = (k: number): number => (opposite && k % 2 ? -errors[k] : errors[k]);
    m.push(right(i + 1) - right(i));
    seams.push({
      passA: i,
      passB: i + 1,
      opposite,
      facing: !opposite ? 'same-way' : i % 2 ? 'left-left' : 'right-right',
      recordedM: m[i],
      samples: 40,
      spreadM: 0.001,
      lengthM: 200,
    });
  }
  return { seams, m };
}

/** Monte Carlo: how often the stated 95 % interval holds the true value, and the spread of the statistic over its stated error. */
function trial(passes: number, opposite: boolean, which: 'steady' | 'alternating'): { held: number; ratio: number } {
  const random = new Random(11);
  const sigma = 0.04;
  let held = 0;
  let squares = 0;
  let stated = 0;
  const rounds = 4000;
  for (let k = 0; k < rounds; k++) {
    const { seams, m } = seamsOf(
      Array.from({ length: passes }, () => sigma * random.normal()),
      opposite,
    );
    const level = estimateSeams(seams, m, 0.001, seamSides(seams, m, 0.001, true))[which]!;
    if (Math.abs(level.value) <= level.standardError * tQuantile975(level.degreesOfFreedom)) held++;
    squares += level.value ** 2;
    stated += level.standardError ** 2;
  }
  return { held: held / rounds, ratio: Math.sqrt(squares / stated) };
}

describe('how well seams are known, compared with a simulation of passes that err independently', () => {
  // A mean over n same-way seams telescopes to (last - first) / n: its error falls with n, not with its root (arithmetic).
  it.each([
    ['steady', 12, false],
    ['steady', 12, true],
    ['alternating', 12, true],
    ['steady', 30, true],
    ['alternating', 30, true],
  ] as const)('%s part of %i passes, opposite ways: %s', (which, passes, opposite) => {
    const { held, ratio } = trial(passes, opposite, which);
    expect(held).toBeGreaterThan(0.9);
    expect(held).toBeLessThan(0.995);
    expect(ratio).toBeGreaterThan(0.7);
    expect(ratio).toBeLessThan(1.35);
  });
});

/** Student's t density, up to a constant that both sides of the ratio share. */
const density = (x: number, dof: number): number => (1 + (x * x) / dof) ** (-(dof + 1) / 2);

/** Bayes' rule by brute force: an honest seam within 1.5 cm (with the tails of the level's own Student t), or a wrong one between 5 cm and 1.5 m of either sign, every size on a log scale alike. */
function byIntegration(x: number, se: number, dof: number, prior: number): number {
  const n = 4000;
  let honest = 0;
  let norm = 0;
  for (let k = -n; k <= n; k++) {
    const m = (0.3 * k) / n;
    const w = density(m / 0.015, dof);
    honest += (w * density((x - m) / se, dof)) / se;
    norm += w;
  }
  honest /= norm;
  let wrong = 0;
  for (let k = 0; k < n; k++) {
    const m = 0.05 * 30 ** ((k + 0.5) / n);
    for (const sign of [-1, 1]) wrong += density((x - sign * m) / se, dof) / se / (2 * n);
  }
  return (prior * wrong) / (prior * wrong + (1 - prior) * honest);
}

describe('probability of a wrong pass spacing, compared with Bayes rule integrated by brute force', () => {
  it.each([
    [0.02, 0.01, 12],
    [0.06, 0.01, 12],
    [0.06, 0.03, 8],
    [0.12, 0.03, 8],
    [0.15, 0.08, 5],
    [0.381, 0.02, 20],
  ])('seam %d m, standard error %d m, %i degrees of freedom', (valueM, seM, dof) => {
    const exact = byIntegration(valueM, seM, dof, priorOf('pass-spacing'));
    // The closed form replaces two integrals; priors are no more precise than this.
    expect(
      Math.abs(seamPosterior({ value: valueM, standardError: seM, degreesOfFreedom: dof }, 'pass-spacing') - exact),
    ).toBeLessThan(0.12);
  });
});
