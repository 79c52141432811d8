import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import type { Position } from 'geojson';
import proj4 from 'proj4';
import { describe, expect, test } from 'vitest';
import { shapefileParts } from './files.ts';
import { drawField, type FieldSpec, toGeoJson } from './index.ts';
import { PLANTERS, rowsOf } from './planters.ts';
import { drawnStrips, plantedReach } from './toolbar.ts';

const INCH = 0.0254;
const fifteen = PLANTERS.fifteen.as('narrow');

const STRIPS: FieldSpec = {
  seed: 1,
  origin: { lat: 41.9, lon: -93.6 },
  truth: fifteen,
  passSpacingM: 225 * INCH,
  shape: { kind: 'strip', lengthM: 60, passes: 3 },
};
const STILL = { wanderM: 0, passBiasM: 0, headingDeg: 0 };

/** Corners of a record in meters east and north of the origin (proj4, transverse Mercator on WGS84). */
function meters(spec: FieldSpec, ring: Position[]): [number, number][] {
  const to = proj4(
    'WGS84',
    `+proj=tmerc +lat_0=${spec.origin.lat} +lon_0=${spec.origin.lon} +k=1 +ellps=WGS84 +units=m`,
  );
  return ring.slice(0, -1).map((p) => to.forward([p[0], p[1]]) as [number, number]);
}

function rings(spec: FieldSpec): [number, number][][] {
  return drawField(spec).features.features.map((f) => meters(spec, f.geometry.coordinates[0] as Position[]));
}

describe('toolbars', () => {
  // Frame widths and centers: common practice (width = rows x gap, half a gap outside each outer row).
  test.each([
    [11, 'all', 165, 0],
    [15, 'all', 225, 0],
    [15, 'odd', 240, 0],
    [15, 'even', 210, 0],
    [23, 'odd', 360, 0],
    [24, 'odd', 360, -7.5],
    [24, 'even', 360, 7.5],
    [32, 'odd', 480, -7.5],
    [47, 'odd', 720, 0],
  ] as const)('%d rows at 15 in, %s rows: %d in wide, middle at %d in', (rows, which, wide, middle) => {
    const [left, right] = plantedReach({
      rows,
      rowSpacingM: 15 * INCH,
      planted: rowsOf(rows, which),
      sections: [[1, rows]],
    });
    expect((right - left) / INCH).toBeCloseTo(wide, 9);
    expect((right + left) / 2 / INCH).toBeCloseTo(middle, 9);
  });

  test('sections of planted rows close over idle rows; physical ones leave a strip for each idle section', () => {
    const bar = { ...PLANTERS.fifteenRowByRow.as('wide') };
    const closed = drawnStrips({ ...bar, sectionsBy: 'planted' });
    expect(closed.map((s) => s.section)).toEqual([1, 3, 5, 7, 9, 11, 13, 15]);
    for (let i = 1; i < closed.length; i++) expect(closed[i].leftM).toBeCloseTo(closed[i - 1].rightM, 12);
    const open = drawnStrips({ ...bar, sectionsBy: 'physical' });
    for (let i = 1; i < open.length; i++) expect((open[i].leftM - open[i - 1].rightM) / INCH).toBeCloseTo(15, 9);
  });

  test('a section across the drives is left out, or cut between rows 11 and 12', () => {
    const bar = PLANTERS.twentyThreeStraddling.as('narrow');
    expect(drawnStrips({ ...bar, acrossDrives: 'missing' }).map((s) => s.section)).toEqual([
      1, 2, 3, 4, 5, 7, 8, 9, 10, 11, 12,
    ]);
    const left = drawnStrips({ ...bar, acrossDrives: 'left-only' })[5];
    const right = drawnStrips({ ...bar, acrossDrives: 'right-only' })[5];
    expect((left.rightM - left.leftM) / INCH).toBeCloseTo(15, 9);
    expect(left.rightM).toBeCloseTo(right.leftM, 12);
  });
});

describe('maps', () => {
  test('the same spec gives the same bytes, another seed others', () => {
    const a = toGeoJson(drawField(STRIPS));
    expect(Buffer.from(toGeoJson(drawField(STRIPS))).equals(a)).toBe(true);
    expect(Buffer.from(toGeoJson(drawField({ ...STRIPS, seed: 2 }))).equals(a)).toBe(false);
  });

  test('without noise every record is as wide as its section, to the rounding of 1e-7 degree', () => {
    const spec = { ...STRIPS, noise: STILL };
    const drawn = drawField(spec);
    const widths = new Map(drawn.truth.believedStrips.map((s) => [s.section, s.rightM - s.leftM]));
    rings(spec).forEach((r, i) => {
      const want = widths.get(drawn.truth.section[i])!;
      for (const [a, b] of [
        [r[0], r[1]],
        [r[3], r[2]],
      ])
        expect(Math.abs(Math.hypot(b[0] - a[0], b[1] - a[1]) - want)).toBeLessThan(0.015);
    });
  });

  test('neighboring passes run opposite ways, one working width apart; a side shift moves each to its own right', () => {
    const middle = (spec: FieldSpec, pass: number): number => {
      const drawn = drawField(spec);
      const xs = rings(spec).flatMap((r, i) => (drawn.truth.pass[i] === pass ? r.map((p) => p[0]) : []));
      return (Math.min(...xs) + Math.max(...xs)) / 2;
    };
    const still = { ...STRIPS, noise: STILL };
    expect(drawField(still).truth.passes.map((p) => p.direction)).toEqual([1, -1, 1]);
    expect((middle(still, 2) - middle(still, 1)) / INCH).toBeCloseTo(225, 0);
    const shifted = { ...still, sideShiftM: 0.2 };
    expect(middle(shifted, 1) - middle(still, 1)).toBeCloseTo(0.2, 1);
    expect(middle(shifted, 2) - middle(still, 2)).toBeCloseTo(-0.2, 1);
  });

  test('shared corners are shared; independent rectangles share none along travel', () => {
    const count = (corners: 'shared' | 'independent'): number => {
      const list = drawField({ ...STRIPS, corners }).features.features.map((f) =>
        (f.geometry.coordinates[0] as Position[]).map(String),
      );
      const all = new Set(list.map((r) => r[0]));
      return list.filter((r) => all.has(r[3])).length / list.length;
    };
    expect(count('shared')).toBeGreaterThan(0.9);
    expect(count('independent')).toBeLessThan(0.5);
  });

  const field: FieldSpec = {
    ...STRIPS,
    shape: { kind: 'field', lengthM: 120, widthM: 80, headlandLaps: 1, pointRowsDeg: 20 },
  };

  test('section control shuts sections off over covered ground; without it the interior runs on into the headland', () => {
    const area = (spec: FieldSpec): number =>
      rings(spec).reduce(
        (sum, r) =>
          sum + Math.abs(r.reduce((t, p, i) => t + p[0] * r[(i + 1) % 4][1] - p[1] * r[(i + 1) % 4][0], 0)) / 2,
        0,
      );
    const on = area(field);
    const off = area({ ...field, sectionControl: false, runInM: 6 });
    expect(off).toBeGreaterThan(1.05 * on);
    // The field itself is 120 m by 80 m; sections stay on until their strip is covered.
    expect(on).toBeGreaterThan(0.99 * 9600);
    expect(on).toBeLessThan(1.06 * 9600);
  });

  test('a change of belief starts at its pass and bar', () => {
    const drawn = drawField({ ...STRIPS, change: { pass: 2, bar: 5, belief: { sections: [[1, 15]] } } });
    const inPass = (p: number): number[] => drawn.truth.section.filter((_, i) => drawn.truth.pass[i] === p);
    expect(Math.max(...inPass(1))).toBe(8);
    expect(inPass(2).filter((s) => s === 8)).toHaveLength(4);
    expect(new Set(inPass(3))).toEqual(new Set([1]));
  });

  test('repeated records are the same records again', () => {
    const plain = drawField(STRIPS).features.features;
    const twice = drawField({ ...STRIPS, repeat: { first: 3, count: 10 } }).features.features;
    expect(twice.length).toBe(plain.length + 10);
    expect(twice.slice(-10)).toEqual(plain.slice(2, 12));
  });

  test('coarser grains hold the same ground: bars, passes and stretches', () => {
    const features = (grain: NonNullable<FieldSpec['grain']>) =>
      drawField({ ...STRIPS, grain }).features.features.length;
    const drawn = drawField(STRIPS);
    expect(features('bar')).toBe(drawn.truth.bars);
    expect(features('strip')).toBe(3);
    expect(features('strip-section')).toBe(24);
    expect(features('blob')).toBeGreaterThan(0);
  });

  test('columns are written under their names and in their units', () => {
    const p = drawField({
      ...STRIPS,
      columns: {
        time: { name: 'logged_at', as: 'iso' },
        section: { name: 'sec', firstIs: 0 },
        width: { name: 'swath_in', unit: 'in' },
        heading: { name: 'course_deg' },
      },
    }).features.features[3].properties;
    expect(p).toMatchObject({ sec: 3, swath_in: 15 });
    expect(p?.logged_at).toMatch(/^2026-04-20T14:00:/);
    expect(Math.min(Math.abs(p?.course_deg), 360 - Math.abs(p?.course_deg))).toBeLessThan(2);
  });
});

test('the shapefile is laid out as the white paper of July 1998 says: 9994 and length in words, outer rings clockwise', () => {
  const drawn = drawField({ ...STRIPS, columns: { section: { name: 'SECT' } } });
  const { shp, dbf, prj } = shapefileParts(drawn, 32615);
  const view = new DataView(shp.buffer);
  expect(view.getInt32(0)).toBe(9994);
  expect(view.getInt32(24) * 2).toBe(shp.length);
  expect([view.getInt32(28, true), view.getInt32(32, true)]).toEqual([1000, 5]);
  // First record: 5 points from byte 100 + 8 + 48 on.
  const ring = Array.from({ length: 5 }, (_, i) => [
    view.getFloat64(156 + 16 * i, true),
    view.getFloat64(164 + 16 * i, true),
  ]);
  const twice = ring
    .slice(0, 4)
    .reduce(
      (s, p, i) =>
        s + (p[0] - ring[0][0]) * (ring[i + 1][1] - ring[0][1]) - (ring[i + 1][0] - ring[0][0]) * (p[1] - ring[0][1]),
      0,
    );
  expect(twice).toBeLessThan(0);
  expect(new DataView(dbf.buffer).getUint32(4, true)).toBe(drawn.features.features.length);
  expect(new TextDecoder().decode(prj)).toContain('UTM_Zone_15N');
});

test('nothing here is imported from the product', () => {
  const here = fileURLToPath(new URL('.', import.meta.url));
  for (const f of [
    'random',
    'spec',
    'toolbar',
    'route',
    'covered',
    'display',
    'grains',
    'blob',
    'files',
    'index',
    'planters',
    'samples',
    'sample-files',
  ])
    expect(readFileSync(`${here}${f}.ts`, 'utf8')).not.toMatch(/from '[^']*\/src\//);
});
