import IsValidOp from 'jsts/org/locationtech/jts/operation/valid/IsValidOp.js';
import { describe, expect, it } from 'vitest';
import { areaOf, measure, outline, type Polygons } from '../../src/core/coverage/index.ts';
import { remain } from '../../src/core/coverage/remain.ts';
import { type Rings, random, ringsOf, toShapes } from '../coverage/tools.ts';
import { Coordinate, type Geometry, GeometryFactory, OverlayOp, UnaryUnionOp } from '../outside/jts.ts';

const FLAT = [1, 0, 0, 0] as const;
const factory = new GeometryFactory();
const shell = (ring: number[]): Geometry => {
  const points = [];
  for (let i = 0; i < ring.length; i += 2) points.push(new Coordinate(ring[i], ring[i + 1]));
  return factory.createPolygon(factory.createLinearRing([...points, points[0]]));
};
const jtsOf = (p: Polygons) =>
  factory.createMultiPolygon(
    ringsOf(p).map((rings) => {
      const [outer, ...holes] = rings.map((r) =>
        factory.createLinearRing([...r, r[0]].map(([x, y]) => new Coordinate(x, y))),
      );
      return factory.createPolygon(outer, holes);
    }),
  );

/** Convex quads of any place, size and turn, corners on whole steps; a few appear twice, share an edge, or run clockwise. */
function quads(seed: number, count: number, reach: number): Rings[] {
  const next = random(seed);
  const out: Rings[] = [];
  while (out.length < count) {
    const kind = next();
    if (kind < 0.1 && out.length > 0) {
      out.push(out[Math.floor(next() * out.length)]);
      continue;
    }
    const x = Math.floor(next() * reach);
    const y = Math.floor(next() * reach);
    const turn = kind < 0.6 ? 0 : next() * 3;
    const w = 4 + Math.floor(next() * 40);
    const h = 4 + Math.floor(next() * 40);
    const at = (u: number, v: number): number[] => [
      Math.round(x + u * Math.cos(turn) - v * Math.sin(turn)),
      Math.round(y + u * Math.sin(turn) + v * Math.cos(turn)),
    ];
    const ring = [at(0, 0), at(w, 0), at(w, h), at(0, h)];
    out.push([(kind > 0.9 ? ring.reverse() : ring).flat()]);
  }
  return out;
}

describe('the ground that each shape adds', () => {
  it.each(Array.from({ length: 60 }, (_, i) => i + 1))(
    'agrees with the areas by depth and with JTS, seed %i',
    (seed) => {
      const list = quads(seed, 3 + (seed % 25), seed % 3 === 0 ? 60 : 160);
      const shapes = toShapes(list);
      const group = Uint32Array.from(list, (_, i) => i);
      const got = remain(shapes, group, FLAT, [1, 1]);
      const whole = measure(shapes, FLAT);
      expect(sum(got.addsM2)).toBeCloseTo(whole.areaAtDepthM2[0], 6);
      // JTS overlay (the Java Topology Suite in JavaScript) is a second opinion on every shape.
      let before: Geometry | null = null;
      list.forEach(([ring], i) => {
        const own = shell(ring);
        const rest: Geometry = before ? OverlayOp.difference(own, before) : own;
        before = before ? OverlayOp.union(before, own) : own;
        expect(Math.abs(got.addsM2[i] - rest.getArea())).toBeLessThan(1e-6);
        const rings = got.rings[i];
        if (rings === null) return;
        expect(sum(areaOf(rings, FLAT))).toBeCloseTo(got.addsM2[i], 6);
        if (rings.polygonStart.length > 1) {
          const drawn = jtsOf(rings);
          expect(new IsValidOp(drawn).getValidationError()?.getMessage() ?? 'valid').toBe('valid');
          expect(OverlayOp.symDifference(drawn, rest).getArea()).toBeLessThan(1e-6);
        }
      });
    },
  );

  it.each(Array.from({ length: 20 }, (_, i) => i + 1))('groups add up, seed %i', (seed) => {
    const list = quads(seed + 500, 24, 120);
    const shapes = toShapes(list);
    const group = Uint32Array.from(list, (_, i) => Math.floor(i / 6));
    const got = remain(shapes, group, FLAT, [1, 1]);
    expect(sum(got.addsM2)).toBeCloseTo(outline(shapes, FLAT).coveredM2, 6);
    let before: Geometry | null = null;
    for (let g = 0; g < 4; g++) {
      const own: Geometry = UnaryUnionOp.union(
        factory.createGeometryCollection(list.slice(6 * g, 6 * g + 6).map(([r]) => shell(r))),
      );
      const rest: Geometry = before ? OverlayOp.difference(own, before) : own;
      before = before ? OverlayOp.union(before, own) : own;
      expect(Math.abs(got.addsM2[g] - rest.getArea())).toBeLessThan(1e-6);
    }
  });
});

const sum = (v: ArrayLike<number>): number => Array.from(v).reduce((a, b) => a + b, 0);
