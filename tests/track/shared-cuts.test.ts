/** Sections of one pass, each drawn as one strip and thinned separately. The truth is the drawing. */
import { describe, expect, test } from 'vitest';
import { Budget, tooClose } from '../../src/core/geometry/budget.ts';
import { shareCuts } from '../../src/core/track/shared-cuts.ts';
import { stripPasses } from '../../src/core/track/strip-passes.ts';
import { Random } from '../generator/random.ts';

const STEP_M = 0.01;
const budget = new Budget(1e9, 0, 0, tooClose);
const cutsOf = (rings: Float64Array[], stepM: number): Float64Array[] =>
  shareCuts(rings, stripPasses(rings, [...rings.keys()], [], stepM, budget), 1e9, budget);
const onLattice = (v: number): number => Math.round(v / STEP_M) * STEP_M;

/** Points along a pass `x` meters to the right of its line, of which some are left out as thinning does where they lie nearly on a line. */
function side(random: Random, x: number, bendM: number): number[][] {
  const all = Array.from({ length: 40 }, (_, i) => [onLattice(x + bendM * Math.sin(i / 6)), onLattice(3 * i)]);
  return all.filter((_, i) => i === 0 || i === 39 || random.next() < 0.6);
}

/** One ring (counterclockwise) for each section; neighbors share a side, and each keeps its own points of it. */
function draw(random: Random, sections: number, x: number): Float64Array[] {
  const bendM = random.between(0, 0.02);
  return Array.from({ length: sections }, (_, k) => {
    const [left, right] = [side(random, x + 2 * k, bendM), side(random, x + 2 * k + 2, bendM)];
    return Float64Array.from([...right, ...left.reverse()].flat());
  });
}

/** One pass, 6 m wide. */
function wide(random: Random, x: number): Float64Array {
  const bendM = random.between(0, 0.02);
  return Float64Array.from([...side(random, x + 6, bendM), ...side(random, x, bendM).reverse()].flat());
}

const pointsOn = (ring: Float64Array, test: (x: number, y: number) => boolean): string[] =>
  Array.from({ length: ring.length / 2 }, (_, i) => [ring[2 * i], ring[2 * i + 1]])
    .filter(([x, y]) => test(x, y))
    .map(([x, y]) => `${x.toFixed(6)} ${y.toFixed(6)}`)
    .sort();

describe('strips cut in the same places', () => {
  test.each([71, 72, 73, 74, 75, 76])('sections of one pass have the points of their neighbors, seed %i', (seed) => {
    const random = new Random(seed);
    const rings = draw(random, 3 + Math.floor(random.between(0, 5)), 0);
    const out = cutsOf(rings, STEP_M);
    for (let k = 1; k < out.length; k++) {
      const mine = new Set(pointsOn(out[k], () => true));
      const own = pointsOn(rings[k - 1], (x) => Math.abs(x - 2 * k) < 0.5);
      const theirs = new Set(pointsOn(out[k - 1], () => true));
      const back = pointsOn(rings[k], (x) => Math.abs(x - 2 * k) < 0.5);
      expect(own.filter((p) => !mine.has(p))).toEqual([]);
      expect(back.filter((p) => !theirs.has(p))).toEqual([]);
    }
  });

  test('whole passes, which share no corners, stay as they are', () => {
    const random = new Random(77);
    const rings = Array.from({ length: 6 }, (_, k) => wide(random, 6.01 * k + random.between(0, 0.03)));
    expect(cutsOf(rings, STEP_M)).toEqual(rings);
  });

  test('on a lattice as coarse as steering nothing counts as shared', () => {
    const rings = draw(new Random(78), 4, 0);
    expect(cutsOf(rings, 0.11)).toEqual(rings);
  });
});
