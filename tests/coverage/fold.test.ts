import { describe, expect, it } from 'vitest';
import { fold, unfold } from '../../src/core/coverage/fold.ts';
import { cover, measure } from '../../src/core/coverage/index.ts';
import { findNear } from '../../src/core/coverage/near.ts';
import { coverNear } from '../../src/core/coverage/outline.ts';
import { prepare } from '../../src/core/coverage/prepare.ts';
import type { UserError } from '../../src/core/shared/messages.ts';
import { nastyShapes, type Rings, random, rectangle, toShapes } from './tools.ts';

const DENSITY = [3, 1, 2, 1] as const;

describe('shapes that repeat others', () => {
  it('folded or not, the answer is the same (100 seeded maps against the same engine unfolded, which the exact oracle checks)', () => {
    for (let seed = 1; seed <= 100; seed++) {
      const next = random(seed);
      const some = nastyShapes(next, 8);
      const list: Rings[] = Array.from({ length: 3 * some.length }, () => some[Math.floor(next() * some.length)]);
      const shapes = toShapes(list);
      const folded = fold(shapes);
      if (folded === null) continue;
      const p = prepare(folded.shapes, undefined, folded.weight);
      const got = coverNear(p, findNear(p, true), DENSITY);
      const want = cover(shapes, DENSITY);
      const c = unfold(got.coverage, folded.of);
      const rings = got.rings();
      const close = (a: ArrayLike<number>, b: ArrayLike<number>, what: string): void => {
        expect(a.length, `${what}, seed ${seed}`).toBe(b.length);
        for (let i = 0; i < a.length; i++)
          expect(Math.abs(a[i] - b[i]), `${what} ${i}, seed ${seed}`).toBeLessThanOrEqual(
            1e-9 * Math.max(1, want.coverage.sumM2),
          );
      };
      close(c.areaAtDepthM2, want.coverage.areaAtDepthM2, 'depth');
      close(c.areaM2, want.coverage.areaM2, 'area');
      close(c.alreadyCoveredM2, want.coverage.alreadyCoveredM2, 'already covered');
      close(
        [c.sumM2, c.residual, rings.coveredM2, rings.overlapM2],
        [want.coverage.sumM2, 0, want.rings.coveredM2, want.rings.overlapM2],
        'sums',
      );
      close(rings.covered.xy, want.rings.covered.xy, 'covered');
      close(rings.overlap.xy, want.rings.overlap.xy, 'overlap');
    }
  });

  it('by the ten thousand on one spot take the time of one', () => {
    const n = 50_000;
    const list: Rings[] = Array.from({ length: n }, () => [rectangle(0, 0, 10, 4)]);
    list.push([rectangle(5, 0, 10, 4)]);
    const c = measure(toShapes(list), [1, 0, 0, 0]);
    expect([c.sumM2, c.areaAtDepthM2.length, c.areaAtDepthM2[0], c.areaAtDepthM2[1], c.residual]).toEqual([
      40 * (n + 1),
      n + 1,
      60,
      40,
      0,
    ]);
    expect([c.areaAtDepthM2[n - 1], c.areaAtDepthM2[n]]).toEqual([40, 20]);
    expect([c.alreadyCoveredM2[0], c.alreadyCoveredM2[n - 1], c.alreadyCoveredM2[n]]).toEqual([0, 40, 20]);
  });

  it('by the thousand nearly on one spot are refused in a sentence', () => {
    const list: Rings[] = Array.from({ length: 6000 }, (_, i) => [rectangle(i % 80, Math.floor(i / 80), 1000, 400)]);
    try {
      measure(toShapes(list), [1, 0, 0, 0]);
      throw new Error('nothing was thrown');
    } catch (e) {
      expect((e as UserError).detail?.code).toBe('too-many-overlaps');
    }
  });
});
