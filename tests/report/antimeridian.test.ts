import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { cutAtAntimeridian, type Position } from '../../src/core/report/antimeridian.ts';

const area = (rings: Position[][]) =>
  rings.reduce((sum, r) => sum + r.slice(1).reduce((s, [x, y], i) => s + (r[i][0] * y - x * r[i][1]) / 2, 0), 0);
const box = (x0: number, y0: number, x1: number, y1: number): Position[] => [
  [x0, y0],
  [x1, y0],
  [x1, y1],
  [x0, y1],
  [x0, y0],
];

describe('the examples of RFC 7946, section 3.1.9', () => {
  test('the line from 170 E to 170 W', () => {
    const line: Position[] = [
      [170, 45],
      [190, 45],
    ];
    expect(cutAtAntimeridian({ type: 'LineString', coordinates: line })).toEqual({
      type: 'MultiLineString',
      coordinates: [
        [
          [170, 45],
          [180, 45],
        ],
        [
          [-180, 45],
          [-170, 45],
        ],
      ],
    });
  });
  test('the rectangle from 40 N, 170 E to 50 N, 170 W', () => {
    const cut = cutAtAntimeridian({ type: 'Polygon', coordinates: [box(170, 40, 190, 50)] });
    expect(cut.type).toBe('MultiPolygon');
    const sorted = (cut.coordinates as Position[][][]).map((p) => p[0].map(String).slice(0, 4).sort());
    expect(sorted).toEqual([
      ['170,40', '170,50', '180,40', '180,50'],
      ['-170,40', '-170,50', '-180,40', '-180,50'],
    ]);
  });
});

test('what does not cross is given back as it is, or moved by a whole turn', () => {
  const here = { type: 'Polygon' as const, coordinates: [box(-93.6, 42, -93.5, 42.1)] };
  expect(cutAtAntimeridian(here)).toBe(here);
  expect(cutAtAntimeridian({ type: 'Polygon', coordinates: [box(181, 1, 182, 2)] })).toEqual({
    type: 'Polygon',
    coordinates: [box(-179, 1, -178, 2)],
  });
  expect(cutAtAntimeridian({ type: 'Polygon', coordinates: [box(-182, 1, -181, 2)] })).toEqual({
    type: 'Polygon',
    coordinates: [box(178, 1, 179, 2)],
  });
  const touching = { type: 'Polygon' as const, coordinates: [box(179, 1, 180, 2)] };
  expect(cutAtAntimeridian(touching)).toBe(touching);
});

test('cut parts keep the area, winding and holes, and stay within -180 and 180', () => {
  const corner = fc.record({ x: fc.integer({ min: -40, max: 10 }), w: fc.integer({ min: 31, max: 60 }) });
  fc.assert(
    fc.property(corner, fc.integer({ min: 1, max: 30 }), ({ x, w }, h) => {
      // Outer box with a hole a quarter in from every side, around the antimeridian.
      const x0 = 180 + x / 1000;
      const [dx, dy] = [w / 1000, h / 1000];
      const outer = box(x0, 10, x0 + dx, 10 + dy);
      const hole = box(x0 + dx / 4, 10 + dy / 4, x0 + (3 * dx) / 4, 10 + (3 * dy) / 4).reverse();
      const cut = cutAtAntimeridian({ type: 'Polygon', coordinates: [outer, hole] });
      const polygons = (cut.type === 'Polygon' ? [cut.coordinates] : cut.coordinates) as Position[][][];
      expect(polygons.reduce((s, p) => s + area(p), 0)).toBeCloseTo(area([outer, hole]), 9);
      for (const p of polygons) {
        expect(area([p[0]])).toBeGreaterThan(0);
        for (const r of p) {
          expect(r[0]).toEqual(r[r.length - 1]);
          for (const [lon] of r) expect(Math.abs(lon)).toBeLessThanOrEqual(180);
        }
      }
    }),
  );
});
