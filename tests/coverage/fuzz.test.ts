import { describe, expect, it } from 'vitest';
import { disagreements } from './agree.ts';
import { nastyShapes, random } from './tools.ts';

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
});
