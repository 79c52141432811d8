import { describe, expect, it } from 'vitest';
import { disagreements } from './agree.ts';
import { nastyShapes, type Rings, random } from './tools.ts';

/** Some of the shapes under the rule of invalid rings: outer rings and holes by chance, holes of a part that begins later among them. */
function tangle(list: readonly Rings[], next: () => number): Map<number, Int32Array> {
  const tangled = new Map<number, Int32Array>();
  list.forEach((rings, i) => {
    if (next() < 0.25) return;
    let parts = 1;
    tangled.set(
      i,
      Int32Array.from(rings, (_, r) => (r === 0 ? 1 : next() < 0.3 ? ++parts : -1 - Math.floor(next() * parts))),
    );
  });
  return tangled;
}

// Outside: an exact oracle in fractions (oracle.ts) and JSTS validity. Tiny grids force collinear, touching and concurrent edges.
describe('shapes on a tiny grid agree with the exact oracle', () => {
  it.each([
    [3, 60],
    [5, 60],
    [8, 120],
    [40, 30],
  ])('grid 0..%i, %i seeded rounds', (side, rounds) => {
    for (let seed = 1; seed <= rounds; seed++) {
      const list = nastyShapes(random(1000 * side + seed), side);
      expect(disagreements(list), `seed ${seed}: ${JSON.stringify(list)}`).toEqual([]);
    }
  });

  it.each([
    [3, 60],
    [8, 120],
    [40, 40],
  ])('under the rule of invalid rings: grid 0..%i, %i seeded rounds', (side, rounds) => {
    for (let seed = 1; seed <= rounds; seed++) {
      const next = random(7000 * side + seed);
      const list = nastyShapes(next, side);
      const tangled = tangle(list, next);
      expect(
        disagreements(list, tangled),
        `seed ${seed}: ${JSON.stringify(list)} ${JSON.stringify([...tangled].map(([i, r]) => [i, ...r]))}`,
      ).toEqual([]);
    }
  });
});
