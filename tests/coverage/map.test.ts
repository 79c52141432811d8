import { describe, expect, it } from 'vitest';
import { cover, measure, outline } from '../../src/core/coverage/index.ts';
import { benchMap } from '../bench/coverage-map.ts';
import { geometry, holeAreas, multipolygon, pieces, union, valid } from './jts.ts';
import { type Rings, random, toShapes } from './tools.ts';

const PLAIN = [1, 0, 0, 0] as const;

function records(m: ReturnType<typeof benchMap>): Rings[] {
  return Array.from({ length: m.count }, (_, i) => [Array.from(m.shapes.xy.subarray(8 * i, 8 * i + 8))]);
}

// Outside: JSTS.
describe('an invented field with headlands, curves and wander', () => {
  it.each([
    ['corners shared along the pass', false],
    ['a rectangle for each record', true],
  ])('%s: areas to 1e-9 and hole for hole', (_, rectangles) => {
    const map = benchMap(800, rectangles, 3);
    const m = measure(map.shapes, PLAIN);
    const o = outline(map.shapes, PLAIN);
    const all = union(records(map).map(geometry));
    expect(Math.abs(m.areaAtDepthM2[0] / all.getArea() - 1)).toBeLessThan(1e-9);
    expect(Math.abs(o.coveredM2 / all.getArea() - 1)).toBeLessThan(1e-9);
    expect(m.areaAtDepthM2[1]).toBeGreaterThan(0);
    expect(Math.abs(o.overlapM2 / m.areaAtDepthM2[1] - 1)).toBeLessThan(1e-9);
    expect(Math.abs(m.residual)).toBeLessThan(1e-12);
    const covered = multipolygon(o.covered);
    expect(valid(covered)).toBe(true);
    expect(valid(multipolygon(o.overlap))).toBe(true);
    expect(pieces(covered).polygons).toBe(pieces(all).polygons);
    // JSTS leaves holes of rounding size, far below a millionth of a square step, where edges almost meet.
    const ours = holeAreas(covered, 1e-6);
    const theirs = holeAreas(all, 1e-6);
    expect(ours.length).toBe(theirs.length);
    ours.forEach((a, i) => {
      expect(Math.abs(a - theirs[i])).toBeLessThan(1e-6);
    });
  });
});

// Identities of plane geometry.
describe('a thousand records piled on one spot', () => {
  it('the same record', () => {
    const m = measure(toShapes(Array.from({ length: 1000 }, () => [[0, 0, 92, 3, 90, 203, -2, 200]])), PLAIN);
    const own = measure(toShapes([[[0, 0, 92, 3, 90, 203, -2, 200]]]), PLAIN).sumM2;
    expect(m.areaAtDepthM2.length).toBe(1000);
    for (const a of m.areaAtDepthM2) expect(Math.abs(a / own - 1)).toBeLessThan(1e-9);
  });

  it('the record drawn a little differently each time', () => {
    const next = random(5);
    const j = (): number => Math.round((next() - 0.5) * 6);
    const list: Rings[] = Array.from({ length: 1000 }, () => [
      [j(), j(), 92 + j(), 3 + j(), 90 + j(), 203 + j(), j() - 2, 200 + j()],
    ]);
    const { coverage: m, rings: o } = cover(toShapes(list), PLAIN);
    expect(m.areaAtDepthM2.length).toBe(1000);
    expect(Math.abs(m.areaAtDepthM2.reduce((a, b) => a + b, 0) / m.sumM2 - 1)).toBeLessThan(1e-9);
    expect(Math.abs(o.coveredM2 / m.areaAtDepthM2[0] - 1)).toBeLessThan(1e-9);
    expect(Math.abs(o.overlapM2 / m.areaAtDepthM2[1] - 1)).toBeLessThan(1e-9);
    expect(m.areaAtDepthM2[999]).toBeGreaterThan(0);
    // Outside: JSTS on the first records of the pile.
    const few = list.slice(0, 40);
    expect(
      Math.abs(measure(toShapes(few), PLAIN).areaAtDepthM2[0] / union(few.map(geometry)).getArea() - 1),
    ).toBeLessThan(1e-9);
  });
});

describe('progress', () => {
  const map = benchMap(20_000, false, 4);
  it.each([
    ['measure', measure],
    ['outline', outline],
    ['cover', cover],
  ])('%s tells what is done, never goes back, and lets the caller stop', (_, run) => {
    const told: number[] = [];
    run(map.shapes, PLAIN, (d) => told.push(d));
    expect(told.length).toBeGreaterThan(20);
    for (let i = 1; i < told.length; i++) expect(told[i]).toBeGreaterThanOrEqual(told[i - 1]);
    expect(told[0]).toBeLessThan(0.05);
    expect(told.at(-1)).toBe(1);
    // No silence longer than a fifth of the whole.
    for (let i = 1; i < told.length; i++) expect(told[i] - told[i - 1]).toBeLessThan(0.2);
    const stop = new Error('stop');
    expect(() =>
      run(map.shapes, PLAIN, (d) => {
        if (d > 0.5) throw stop;
      }),
    ).toThrow(stop);
  });
});

describe('nothing at all', () => {
  const nothing = { xy: new Int32Array(0), ringStart: Uint32Array.of(0), shapeStart: Uint32Array.of(0) };
  it('is covered by no records', () => {
    const m = measure(nothing, PLAIN);
    expect(m.sumM2).toBe(0);
    expect(m.areaAtDepthM2.length).toBe(0);
    expect(m.residual).toBe(0);
    const o = outline(nothing, PLAIN);
    expect(o.coveredM2).toBe(0);
    expect(Array.from(o.covered.polygonStart)).toEqual([0]);
  });
  it('results from records without a point or a ring', () => {
    const list: Rings[] = [[], [[]], [[1, 1]], [[1, 1, 2, 2]], [[], [0, 0, 4, 0, 4, 4]]];
    const m = measure(toShapes(list), PLAIN);
    expect(m.sumM2).toBe(8);
    expect(m.repaired.empty).toBe(4);
    expect(outline(toShapes(list), PLAIN).coveredM2).toBe(8);
  });
});
