import { describe, expect, it } from 'vitest';
import { measure, outline } from '../../src/core/coverage/index.ts';
import { cross, crossing } from '../../src/core/geometry/exact.ts';
import { truth } from './oracle.ts';
import { nastyShapes, random, toShapes } from './tools.ts';

const PLAIN = [1, 0, 0, 0] as const;

// Outside: whole-number arithmetic with BigInt, and the exact oracle.
describe('coordinates as far apart as the lattice allows', () => {
  it('cross products keep their sign where doubles lose it', () => {
    const a = 2 ** 32 - 1;
    const b = 2 ** 32 - 3;
    // (a)(a) - (a + 1)(a - 1) = 1, where both products round to the same double.
    expect(a * a - (a + 1) * (a - 1)).toBe(0);
    expect(cross(a, a + 1, a - 1, a)).toBe(1);
    expect(cross(a, a - 1, a + 1, a)).toBe(1);
    const next = random(7);
    for (let i = 0; i < 2000; i++) {
      const [p, q, r, s] = [next(), next(), next(), next()].map((t) => Math.floor((t - 0.5) * 2 * b));
      const t = i % 2 ? r : p + Math.floor(3 * next()) - 1;
      const u = i % 2 ? s : q + Math.floor(3 * next()) - 1;
      const want = BigInt(p) * BigInt(u) - BigInt(q) * BigInt(t);
      expect(Math.sign(cross(p, q, t, u))).toBe(want > 0n ? 1 : want < 0n ? -1 : 0);
    }
  });

  it('a crossing is the same double through any pair of its lines', () => {
    const next = random(11);
    const int = (n: number): number => Math.floor((2 * next() - 1) * n);
    const one = new Float64Array(2);
    const two = new Float64Array(2);
    for (let i = 0; i < 500; i++) {
      const size = i % 2 ? 40 : 2 ** 28;
      const [ax, ay, dx, dy, cx, cy, gx, gy] = Array.from({ length: 8 }, () => int(size));
      if (cross(dx, dy, gx, gy) === 0) continue;
      crossing(one, ax, ay, dx, dy, cx, cy, gx, gy, 5, -7);
      // The same two lines, other points on them, the other way round.
      crossing(two, cx + 3 * gx, cy + 3 * gy, -gx, -gy, ax - 2 * dx, ay - 2 * dy, 2 * dx, 2 * dy, 5, -7);
      expect([two[0], two[1]]).toEqual([one[0], one[1]]);
    }
  });

  it.each([2 ** 27, 2 ** 31 - 8])('shapes spread over %d steps agree with the oracle', (size) => {
    for (let seed = 1; seed <= 12; seed++) {
      const small = nastyShapes(random(seed), 8);
      const step = Math.floor(size / 8);
      // Stretched over the lattice with the corners kept near each other, so that edges almost coincide.
      const next = random(seed + 1);
      const list = small.map((rings) =>
        rings.map((r) =>
          r.map((v) => Math.min(size - 1, Math.max(-size, (v - 4) * step + Math.floor(3 * next()) - 1))),
        ),
      );
      const shapes = toShapes(list);
      const t = truth(shapes, PLAIN);
      const m = measure(shapes, PLAIN);
      const o = outline(shapes, PLAIN);
      const union = t.depthAreas[0] ?? 0;
      for (let k = 0; k < t.depthAreas.length; k++)
        expect(Math.abs((m.areaAtDepthM2[k] ?? 0) - t.depthAreas[k]), `seed ${seed} depth ${k}`).toBeLessThanOrEqual(
          1e-9 * t.depthAreas[0],
        );
      t.already.forEach((a, i) => {
        expect(Math.abs(m.alreadyCoveredM2[i] - a), `seed ${seed} record ${i}`).toBeLessThanOrEqual(
          1e-9 * Math.max(1, t.areas[i]),
        );
      });
      expect(Math.abs(o.coveredM2 - union), `seed ${seed} rings`).toBeLessThanOrEqual(1e-9 * union);
      expect(Math.abs(o.overlapM2 - (t.depthAreas[1] ?? 0)), `seed ${seed} overlap rings`).toBeLessThanOrEqual(
        1e-9 * union,
      );
    }
  });

  it('small records far apart keep their digits', () => {
    const far = 2 ** 31 - 20;
    const list = [-far, far - 20, 0].flatMap((x) => [
      [[x, x, x + 10, x, x + 10, x + 9, x, x + 9]],
      [[x + 3, x, x + 13, x + 1, x + 12, x + 9, x + 3, x + 9]],
    ]);
    const shapes = toShapes(list);
    const m = measure(shapes, PLAIN);
    const t = truth(shapes, PLAIN);
    t.already.forEach((a, i) => {
      expect(Math.abs(m.alreadyCoveredM2[i] - a)).toBeLessThanOrEqual(1e-12 * 90);
    });
    expect(Math.abs(m.areaAtDepthM2[1] - t.depthAreas[1])).toBeLessThanOrEqual(1e-12 * 200);
  });
});
