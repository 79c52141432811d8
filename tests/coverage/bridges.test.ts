import { describe, expect, it } from 'vitest';
import { joinPolygons } from '../../src/core/coverage/gaps.ts';
import { areaOf, cover } from '../../src/core/coverage/index.ts';
import { geometry, multipolygon, union, valid } from './jts.ts';
import { type Rings, random, toShapes } from './tools.ts';

const FLAT = [1, 0, 0, 0] as const;

/** Rows of cells with a wandering space between the rows, and quads that bridge the spaces and reach into the cells. */
function field(seed: number): { cells: Rings[]; bridges: Rings[] } {
  const next = random(seed);
  const at = (v: number, spread: number): number => Math.round(v + spread * (next() - 0.5));
  const cells: Rings[] = [];
  const bridges: Rings[] = [];
  for (let row = 0; row < 5; row++) {
    let low = 0;
    let [l0, r0] = [at(1100 * row, 60), at(1100 * row + 1000, 60)];
    for (let k = 0; k < 12; k++) {
      // A missing cell may be bridged from corner to corner, edge on edge.
      const high = low + at(400, 40);
      const [l1, r1] = [at(1100 * row, 60), at(1100 * row + 1000, 60)];
      const cell = [l0, low, r0, low, r1, high, l1, high];
      if (next() > 0.15) cells.push([cell]);
      else if (next() > 0.3) bridges.push([cell]);
      if (row > 0 && next() > 0.2) {
        const x = 1100 * row - 50;
        bridges.push([[x - 80, low - 10, x + 80, low - 10, x + 80, high, x - 80, high]]);
      }
      [low, l0, r0] = [high, l1, r1];
    }
  }
  return { cells, bridges };
}

describe('bridges over spaces between passes', () => {
  it.each(Array.from({ length: 6 }, (_, i) => i + 1))(
    'seed %i: as JSTS draws them, and the rest as if they were not there',
    (seed) => {
      const { cells, bridges } = field(seed);
      const alone = cover(toShapes(cells), FLAT);
      const both = cover(toShapes(cells), FLAT, undefined, toShapes(bridges));
      expect(both.coverage).toEqual(alone.coverage);
      expect(areaOf(both.rings.covered, FLAT).reduce((a, b) => a + b, 0)).toBeCloseTo(alone.rings.coveredM2, 3);
      expect(both.rings.overlapM2).toBeCloseTo(alone.rings.overlapM2, 3);

      const ground = union(cells.map(geometry));
      const over = union(bridges.map(geometry));
      const open = multipolygon(both.bridged.open);
      const closed = multipolygon(both.bridged.closed);
      expect(valid(open)).toBe(true);
      expect(valid(closed)).toBe(true);
      const all = union([ground, over]).getArea();
      expect(Math.abs(both.bridged.openM2 - (all - ground.getArea()))).toBeLessThan(1e-9 * all);
      expect(Math.abs(open.getArea() - both.bridged.openM2)).toBeLessThan(1e-9 * all);
      // Together with the cells it is all of the ground, so it shares none with them.
      expect(Math.abs(union([ground, open]).getArea() - all)).toBeLessThan(1e-9 * all);
      expect(Math.abs(closed.getArea() - all)).toBeLessThan(1e-9 * ground.getArea());
    },
  );

  it('polygons put together keep their rings', () => {
    const { bridged, rings } = cover(toShapes(field(1).cells), FLAT, undefined, toShapes(field(1).bridges));
    const joined = joinPolygons(bridged.open, rings.covered);
    const sum = (a: Float64Array): number => a.reduce((x, y) => x + y, 0);
    expect(sum(areaOf(joined, FLAT))).toBeCloseTo(
      sum(areaOf(bridged.open, FLAT)) + sum(areaOf(rings.covered, FLAT)),
      3,
    );
  });
});
