import geodesicLibrary from 'geographiclib-geodesic';
import { describe, expect, test } from 'vitest';
import { measure } from '../../src/core/coverage/index.ts';
import type { Shapes } from '../../src/core/geometry/shapes.ts';
import { extentOf, planeFor } from '../../src/core/plane/index.ts';
import { ACRE_M2, FOOT_M } from '../../src/core/planter/units.ts';

const { Geodesic } = geodesicLibrary;
const PER = 1e9;

/** Rings of points given in `unit`s, put on the integer lattice. */
function shapesOf(rings: [number, number][][], unit: number): Shapes {
  return {
    xy: Int32Array.from(rings.flat(2), (v) => Math.round(v / unit)),
    ringStart: Uint32Array.from([0, ...rings.map((_, i) => rings.slice(0, i + 1).reduce((n, r) => n + r.length, 0))]),
    shapeStart: Uint32Array.from({ length: rings.length + 1 }, (_, i) => i),
  };
}

/** Ground area of a lon/lat ring given relative to `lon`, `lat`. */
function groundM2(lat: number, lon: number, ring: [number, number][]): number {
  const shapes = shapesOf([ring], 1 / PER);
  const lattice = { stepsPerDegree: PER, originX: Math.round(lon * PER), originY: Math.round(lat * PER) };
  return measure(shapes, planeFor(lattice, extentOf(shapes)).density).sumM2;
}

describe('ground area of 0.01 x 0.01 degree (GeographicLib 2.1.2 Planimeter)', () => {
  const square: [number, number][] = [
    [0, 0],
    [0.01, 0],
    [0.01, 0.01],
    [0, 0.01],
  ];
  test.each([
    [30, 1_069_521.17396],
    [40, 948_099.21191],
    [45, 876_163.44803],
    [50, 797_383.13568],
  ])('at %d N: %d m2', (lat, m2) => {
    expect(Math.abs(groundM2(lat, -89, square) / m2 - 1)).toBeLessThan(1e-6);
  });

  test('at 40 N: 234.280417 ac', () => {
    expect(groundM2(40, -89, square) / ACRE_M2).toBeCloseTo(234.280417, 3);
  });
});

test('a quarter mile under 12 rows at 30 in at 40 N: 3,678.9582 m2 (GeographicLib 2.1.2), not the 3,678.6488 m2 of raw UTM', () => {
  const lat = [40, 39.99999990423483, 40.00008225691816, 40.00008235268332];
  const lon = [-89, -88.99528846671231, -88.99528846671231, -89];
  const m2 = groundM2(
    40,
    -89,
    lat.map((y, i): [number, number] => [lon[i] + 89, y - 40]),
  );
  // Corners rounded to 1e-9 degree: 0.1 mm on 400 m.
  expect(Math.abs(m2 - 3678.9582)).toBeLessThan(0.05);
});

// RFC 7946, 3.1.1: an edge is straight in longitude and latitude. A geodesic bulges up to 8 mm from that on an edge of 600 m,
// so the reference gets every edge in 64 pieces.
test.each([
  [41.9, -93.6],
  [-35, 149],
  [62, 25],
])('a field with slanted edges at %d, %d against geographiclib-geodesic, 1e-8', (lat, lon) => {
  const ring: [number, number][] = [
    [0, 0],
    [0.006, 0.0004],
    [0.0071, 0.0052],
    [0.0015, 0.0063],
  ];
  const polygon = Geodesic.WGS84.Polygon(false);
  ring.forEach(([x, y], i) => {
    const [u, v] = ring[(i + 1) % ring.length];
    for (let k = 0; k < 64; k++) polygon.AddPoint(lat + y + ((v - y) * k) / 64, lon + x + ((u - x) * k) / 64);
  });
  expect(Math.abs(groundM2(lat, lon, ring) / Math.abs(polygon.Compute(false, true).area!) - 1)).toBeLessThan(1e-8);
});

/** Areas in square feet of shapes given in feet, on a lattice of 1e-6 ft where all ground is flat. */
function feet2(...rings: [number, number][][]) {
  const unit = 1e-6;
  const c = measure(shapesOf(rings, unit), [unit * unit, 0, 0, 0]);
  return { sum: c.sumM2, union: c.areaAtDepthM2[0], overlap: c.areaAtDepthM2[1] ?? 0 };
}

const box = (x: number, y: number, w: number, h: number): [number, number][] => [
  [x, y],
  [x + w, y],
  [x + w, y + h],
  [x, y + h],
];

test('two passes 30 ft wide, 29 ft apart, 1,000 ft long: 60,000, 59,000 and 1,000 ft2 (plane geometry)', () => {
  const a = feet2(box(0, 0, 30, 1000), box(29, 0, 30, 1000));
  expect([a.sum, a.union, a.overlap].map((v) => Number(v.toFixed(6)))).toEqual([60_000, 59_000, 1000]);
});

// Plane geometry: two strips of width W that cross at an angle share W^2 / sin(angle).
test.each([
  [90, 900],
  [60, 1039.2305],
  [45, 1272.7922],
  [30, 1800],
])('two 30-ft strips crossing at %d degrees share %d ft2', (angle, ft2) => {
  const c = Math.cos((angle * Math.PI) / 180);
  const s = Math.sin((angle * Math.PI) / 180);
  const turned = box(-200, -15, 400, 30).map(([x, y]): [number, number] => [x * c - y * s, x * s + y * c]);
  expect(feet2(box(-200, -15, 400, 30), turned).overlap).toBeCloseTo(ft2, 3);
});

// Plane geometry: passes that run past a slanted edge until their last corner is over it cover W^2 cot(angle) / (2 k) twice,
// with k sections that shut off one by one.
test.each([
  [30, 45, 1, 450],
  [30, 45, 6, 75],
  [30, 45, 12, 37.5],
  [30, 30, 4, 194.8557],
  [40, 60, 16, 28.8675],
  [60, 45, 24, 75],
  [22, 45, 1, 242],
])('%d ft wide into a headland at %d degrees, %d sections: %d ft2 planted twice', (wide, angle, sections, ft2) => {
  const cot = 1 / Math.tan((angle * Math.PI) / 180);
  const headland: [number, number][] = [
    [-10, 100 - 10 * cot],
    [wide + 10, 100 + (wide + 10) * cot],
    [wide + 10, 300],
    [-10, 300],
  ];
  const w = wide / sections;
  const pass = Array.from({ length: sections }, (_, i) => box(i * w, 0, w, 100 + (i + 1) * w * cot));
  const all = feet2(headland, ...pass);
  expect(all.overlap / sections).toBeCloseTo(ft2 / sections, 3);
  expect(all.overlap).toBeCloseTo(sections === 1 ? ft2 : (wide * wide * cot) / (2 * sections), 3);
});

test('a quarter-mile strip of 30 ft is 0.909091 ac (arithmetic), a 435 x 100 ft plot 0.998623 ac (rule of thumb "an acre")', () => {
  expect((feet2(box(0, 0, 30, 1320)).sum * FOOT_M ** 2) / ACRE_M2).toBeCloseTo(0.909091, 6);
  expect((feet2(box(0, 0, 435, 100)).sum * FOOT_M ** 2) / ACRE_M2).toBeCloseTo(0.998623, 6);
});

// North Dakota State University Extension news, 24 May 2010: a quarter section cut by one diagonal and planted with a 12-row planter
// is overlapped on "nearly two acres". Row gap not given there; 30 in assumed: 2 x 88 pass ends of 450 ft2 each.
test('the diagonal of a quarter section: 1.8182 ac, "nearly two acres"', () => {
  const end = feet2(box(0, 0, 30, 130), [
    [-10, 90],
    [40, 140],
    [40, 300],
    [-10, 300],
  ]).overlap;
  const acres = (2 * 88 * end * FOOT_M ** 2) / ACRE_M2;
  expect(acres).toBeCloseTo(1.8182, 4);
  expect(Math.abs(acres - 2)).toBeLessThan(0.2);
});

// Plane geometry: a curved pass covers W x R x angle, whatever the chords; here 5,000 chords on 90 degrees.
test('a 30-ft pass on a 100-ft radius through 90 degrees covers 4,712.389 ft2', () => {
  const n = 5000;
  const at = (r: number, i: number): [number, number] => [
    r * Math.cos((i * Math.PI) / (2 * n)),
    r * Math.sin((i * Math.PI) / (2 * n)),
  ];
  const bars = Array.from({ length: n }, (_, i): [number, number][] => [
    at(85, i),
    at(115, i),
    at(115, i + 1),
    at(85, i + 1),
  ]);
  const a = feet2(...bars);
  expect(a.union).toBeCloseTo(4712.38898, 3);
  expect(a.sum - a.union).toBeLessThan(1e-3);
});
