/** Records with invalid rings: one rule, counted by kind with area. */
import { describe, expect, it } from 'vitest';
import { measure } from '../../src/core/coverage/index.ts';
import type { RecordSet } from '../../src/core/intake/index.ts';
import { collection, feature, noteCodes, readJson, readShapefile } from './helpers.ts';
import { makeShapefile } from './make-shapefile.ts';

type Ring = [number, number][];
/** Steps of the maps here: 1e-5 degree at the equator, a little over a meter. */
const STEP = 1e-5;
const closed = (ring: Ring): Ring => [...ring, ring[0]].map(([x, y]) => [10 + x * STEP, y * STEP]);
const polygon = (...rings: Ring[]): unknown => feature(rings.map(closed));
const rect = (x: number, y: number, w: number, h: number): Ring => [
  [x, y],
  [x + w, y],
  [x + w, y + h],
  [x, y + h],
];
/** What the records cover, in square steps. */
const areas = (set: RecordSet): number[] =>
  Array.from(measure(set.shapes, [1, 0, 0, 0]).areaM2, (a) => a / (set.lattice.stepsPerDegree * STEP) ** 2);
const reversed = (ring: Ring): Ring => [...ring].reverse();

const shell = rect(0, 0, 30, 30);
const hole = rect(5, 5, 10, 10);
const BOW: Ring = [
  [0, 0],
  [20, 20],
  [20, 0],
  [0, 20],
];
const pentagram: Ring = [0, 2, 4, 1, 3].map((k) => [
  Math.round(1e4 * Math.cos((2 * Math.PI * k) / 5)) / 1e3,
  Math.round(1e4 * Math.sin((2 * Math.PI * k) / 5)) / 1e3,
]);

/** By hand, and by GEOS 3.11 `make_valid` ("structure" for the crossing hole and "linework" for the others; run once, kept here). */
const cases: [string, Ring[], number, string | null][] = [
  ['a hole', [shell, hole], 800, null],
  ['two identical holes', [shell, hole, hole], 800, 'ring-repeated'],
  ['the same hole the other way round', [shell, hole, reversed(hole)], 800, 'ring-repeated'],
  ['a shell as its own hole', [shell, shell], 900, 'ring-repeated'],
  ['a hole that crosses its shell', [shell, rect(10, -25, 10, 30)], 850, 'hole-crosses'],
  ['two holes that cross', [shell, hole, rect(10, 10, 10, 10)], 725, 'hole-crosses'],
  ['a hole in a hole', [shell, hole, rect(7, 7, 2, 2)], 804, 'hole-in-hole'],
  ['a hole outside', [shell, rect(50, 50, 10, 10)], 1000, 'hole-outside'],
  ['the hole before its shell', [hole, shell], 800, 'hole-outside'],
  ['a bow-tie', [BOW], 200, 'crosses-itself'],
  ['a bow-tie with a hole in one half', [BOW, rect(1, 9, 2, 2)], 196, 'crosses-itself'],
  ['a bow-tie as a hole', [rect(-5, -5, 30, 30), BOW], 700, 'crosses-itself'],
  ['a pentagram', [pentagram], 77.568, 'crosses-itself'],
  [
    'a hole that touches its shell in a corner',
    [
      shell,
      [
        [0, 15],
        [5, 10],
        [5, 20],
      ],
    ],
    875,
    null,
  ],
  ['two holes that touch along a side', [shell, hole, rect(15, 5, 10, 10)], 700, null],
];

describe('rings of a record', () => {
  it.each(cases)('%s', async (_, rings, area, kind) => {
    const set = await readJson(collection([polygon(...rings), polygon(rect(100, 0, 10, 10))]));
    const [first, second] = areas(set);
    expect(first).toBeCloseTo(area, 2);
    expect(second).toBeCloseTo(100, 9);
    expect(noteCodes(set)).toEqual(kind === null ? [] : [`ring-${kind.replace('ring-', '')}`]);
    expect(set.invalidRings.map((k) => [k.kind, k.count, k.firstRecord])).toEqual(kind === null ? [] : [[kind, 1, 1]]);
    // A step is 1.1132 m east and 1.1057 m north there (WGS84: radii of curvature at the equator).
    if (kind !== null) expect(set.invalidRings[0].areaM2 / (area * 1.113195 * 1.105743)).toBeCloseTo(1, 4);
  });

  it.each(cases)('%s: the same whichever ring is turned round or comes twice', async (_, rings, area) => {
    for (let i = 0; i < rings.length; i++) {
      const turned = rings.map((r, k) => (k === i ? reversed(r) : r));
      const again = [...rings, rings[i]];
      const set = await readJson(collection([polygon(...turned), polygon(...again)]));
      const [a, b] = areas(set);
      expect(a).toBeCloseTo(area, 2);
      expect(b).toBeCloseTo(area, 2);
    }
  });

  it('of several polygons count once where they overlap', async () => {
    const parts = [rect(0, 0, 10, 10), rect(5, 0, 10, 10)].map((r) => [closed(r)]);
    const set = await readJson(collection([feature(parts, {}, 'MultiPolygon')]));
    expect(areas(set)[0]).toBeCloseTo(150, 6);
    expect(set.invalidRings.map((k) => [k.kind, k.count])).toEqual([['parts-overlap', 1]]);
    const apart = [rect(0, 0, 10, 10), rect(10, 0, 10, 10)].map((r) => [closed(r)]);
    expect((await readJson(collection([feature(apart, {}, 'MultiPolygon')]))).invalidRings).toEqual([]);
  });

  it('of a shapefile follow the same rule; islands are no fault there', async () => {
    const rings = (...list: Ring[]): [number, number][][] => list.map((r) => closed(r));
    const clockwise = reversed(shell);
    const read = async (...list: Ring[]): Promise<[number, string[]]> => {
      const set = await readShapefile(makeShapefile({ records: [rings(...list)] }));
      return [Math.round(1e6 * areas(set)[0]) / 1e6, set.invalidRings.map((k) => k.kind)];
    };
    expect(await read(clockwise, hole)).toEqual([800, []]);
    expect(await read(clockwise, hole, reversed(rect(7, 7, 2, 2)))).toEqual([804, []]);
    expect(await read(clockwise, hole, hole)).toEqual([800, ['ring-repeated']]);
    expect(await read(clockwise, rect(10, -25, 10, 30))).toEqual([850, ['hole-crosses']]);
    expect(await read(reversed(BOW))).toEqual([200, ['crosses-itself']]);
  });

  it('in hundreds of records are counted by kind, with area', async () => {
    const at = (ring: Ring, i: number): Ring => ring.map(([x, y]) => [x + 40 * (i % 30), y + 40 * Math.floor(i / 30)]);
    const list = Array.from({ length: 400 }, (_, i) =>
      i < 327 ? polygon(at(BOW, i)) : polygon(at(shell, i), at(hole, i), at(hole, i)),
    );
    const set = await readJson(collection(list));
    expect(set.invalidRings.map((k) => [k.kind, k.count, k.firstRecord])).toEqual([
      ['crosses-itself', 327, 1],
      ['ring-repeated', 73, 328],
    ]);
  });
});

describe('sound records of many rings or points', () => {
  it('2,000 holes in an outline of 30,000 points', async () => {
    const outline: Ring = Array.from({ length: 30_000 }, (_, i) => {
      const a = (2 * Math.PI * i) / 30_000;
      const r = 5000 + 40 * Math.sin(300 * a);
      return [Math.round(r * Math.cos(a) * 100) / 100, Math.round(r * Math.sin(a) * 100) / 100];
    });
    const holes = Array.from({ length: 2000 }, (_, i) =>
      rect(-3000 + 130 * (i % 45), -3000 + 130 * Math.floor(i / 45), 60, 60),
    );
    const set = await readJson(collection([polygon(outline, ...holes)]));
    expect([set.skipped, set.invalidRings, set.shapes.ringStart.length]).toEqual([[], [], 2002]);
    expect(set.shapes.tangled).toBeUndefined();
  });
});
