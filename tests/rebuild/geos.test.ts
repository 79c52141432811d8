/**
 * Whole fields, rebuilt, against GEOS (Debian python3-shapely: unions and overlaps in the plane) and GeographicLib (Karney 2013: areas on the
 * ellipsoid). Neither shares code with the product.
 */
import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import geodesicLibrary from 'geographiclib-geodesic';
import { expect, test } from 'vitest';
import { geoJson } from '../../src/core/formats/index.ts';
import { named, read } from '../../src/core/intake/index.ts';
import { readPlanter } from '../../src/core/planter/index.ts';
import { type Rebuilt, rebuild } from '../../src/core/rebuild/index.ts';
import { drawField, toGeoJson } from '../generator/index.ts';
import { PLANTERS, rowsOf } from '../generator/planters.ts';
import { field } from '../settings/help.ts';

const folder = mkdtempSync(join(tmpdir(), 'guessrow-'));

interface Facts {
  invalid: number;
  sumM2: number;
  unionM2: number;
  beforeSumM2: number;
  beforeUnionM2: number;
  outsideM2: number;
  missingM2: number;
}

function geos(before: string, after: string, reachM: number): Facts {
  const input = JSON.stringify([{ before, after, reachM }]);
  const r = spawnSync('/usr/bin/python3', ['tests/rebuild/geos.py'], { input, encoding: 'utf8', maxBuffer: 1 << 26 });
  expect([r.stderr, r.status]).toEqual(['', 0]);
  return JSON.parse(r.stdout)[0];
}

/** m² of all polygons on the ellipsoid. */
function geodesicM2(path: string): number {
  let sum = 0;
  for (const { geometry } of JSON.parse(readFileSync(path, 'utf8')).features) {
    const polygons: number[][][][] = geometry.type === 'Polygon' ? [geometry.coordinates] : geometry.coordinates;
    for (const rings of polygons)
      rings.forEach((ring, k) => {
        const p = geodesicLibrary.Geodesic.WGS84.Polygon(false);
        for (const [x, y] of ring.slice(0, -1)) p.AddPoint(y, x);
        sum += (k === 0 ? 1 : -1) * Math.abs(p.Compute(false, true).area ?? Number.NaN);
      });
  }
  return sum;
}

let count = 0;
/** A map rebuilt, both as GeoJSON on disk. */
async function both(bytes: Uint8Array, planter: string, planting: string, before?: string) {
  const stem = join(folder, `m${count++}`);
  const out: Rebuilt = await rebuild({
    map: [named(before === undefined ? 'map.geojson' : 'map.zip', bytes)],
    planter: readPlanter(planter, 'p.planter.json'),
    planting,
  });
  writeFileSync(`${stem}.before.geojson`, before ?? bytes);
  writeFileSync(`${stem}.after.geojson`, [...geoJson(out.layer)].join(''));
  return { out, before: `${stem}.before.geojson`, after: `${stem}.after.geojson` };
}

/** What must hold of any rebuilt field. */
function holds(out: Rebuilt, f: Facts, after: string): void {
  expect(f.invalid).toBe(0);
  expect(Math.abs(geodesicM2(after) / out.outM2 - 1)).toBeLessThan(1e-6);
  // What lies twice is what was left as positioning noise, and nothing else. Plane areas are good to 1e-3 of so small a share.
  const twice = f.sumM2 - f.unionM2;
  expect(Math.abs(twice - out.leftOverlapM2)).toBeLessThan(1e-3 * out.leftOverlapM2 + 1e-8 * f.sumM2);
}

const sampleOf = (path: string): Uint8Array => readFileSync(`sample-data/${path}`);
const textOf = (path: string): string => readFileSync(`sample-data/${path}`, 'utf8');

test('a field that is right: only ground that was planted twice is taken off, the union stays', async () => {
  const { out, before, after } = await both(
    sampleOf('healthy-field/north-bottom.geojson'),
    textOf('healthy-field/healthy-field.planter.json'),
    'narrow',
  );
  expect(out.report?.verdict).toBe('agrees');
  const f = geos(before, after, 0.01);
  holds(out, f, after);
  expect(Math.abs(f.unionM2 / f.beforeUnionM2 - 1)).toBeLessThan(1e-6);
  expect([f.outsideM2, f.missingM2].every((a) => a < 1e-6 * f.unionM2)).toBe(true);
}, 120_000);

test('a narrow planting recorded as wide: every bar loses 15 in of 20 ft, nothing appears elsewhere', async () => {
  const { out, before, after } = await both(
    sampleOf('narrow-as-wide/creek-eighty.geojson'),
    textOf('narrow-as-wide/narrow-as-wide.planter.json'),
    'narrow',
  );
  // Seven and a half inches, 0.1905 m, at either side; a centimeter for the digits of the file and for bars in curves.
  const f = geos(before, after, 0.1905 + 0.02);
  holds(out, f, after);
  expect(f.unionM2 / f.beforeUnionM2).toBeLessThan(1 - 0.04);
  expect(f.unionM2 / f.beforeUnionM2).toBeGreaterThan(225 / 240 - 0.005);
  expect([f.outsideM2, f.missingM2].every((a) => a < 2e-4 * f.unionM2)).toBe(true);
}, 120_000);

test('idle sections of a wide planting: the empty strips are closed, the outline stays', async () => {
  const { out, before, after } = await both(
    sampleOf('wide-one-section-per-row/lane-field.geojson'),
    textOf('wide-one-section-per-row/wide-one-section-per-row.planter.json'),
    'wide',
  );
  const f = geos(before, after, 0.381 + 0.02);
  holds(out, f, after);
  // Eight rows at 30 in, of which fifteen one-row sections of 15 in recorded eight: 120 in of 240 (arithmetic).
  expect(f.unionM2 / f.beforeUnionM2).toBeGreaterThan(1.9);
  expect(f.unionM2 / f.beforeUnionM2).toBeLessThan(2.1);
  expect([f.outsideM2, f.missingM2].every((a) => a < 2e-4 * f.unionM2)).toBe(true);
}, 120_000);

test('a drive that a section straddles', async () => {
  const { out, before, after } = await both(
    sampleOf('across-drives/hilltop.geojson'),
    textOf('across-drives/across-drives.planter.json'),
    'narrow',
  );
  const f = geos(before, after, 0.381);
  holds(out, f, after);
  expect(f.missingM2).toBeLessThan(2e-4 * f.unionM2);
}, 120_000);

/**
 * Point rows: sections shut off one after the other along a slanted edge. A row ran where its center lies under a recorded band, so that redrawn
 * ground ends within half a row of recorded ground, on either side of it: nothing that was off is planted, nothing that was on is lost.
 */
test.each(['fifteen', 'twentyThree'] as const)(
  'point rows, %s',
  async (name) => {
    const p = PLANTERS[name];
    const spec = field(p, 'narrow', {
      shape: { kind: 'field', lengthM: 150, widthM: 90, headlandLaps: 1, pointRowsDeg: 24 },
      noise: { wanderM: 0, passBiasM: 0 },
      belief: { planted: rowsOf(p.file.rows, 'odd') },
    });
    const { out, before, after } = await both(toGeoJson(drawField(spec)), JSON.stringify(p.file), 'narrow');
    expect(out.report?.verdict).toBe('differs');
    const set = await read([named('m.geojson', readFileSync(after))]);
    expect(set.recordNumber.length).toBe(out.layer.recordStart.length - 1);
    const meters = { in: 0.0254, cm: 0.01, m: 1 }[p.file.unit];
    const half = (p.file.rowSpacing * meters) / 2;
    const f = geos(before, after, half + 0.03);
    holds(out, f, after);
    expect(f.outsideM2).toBeLessThan(2e-4 * f.unionM2);
    expect(f.missingM2).toBeLessThan(2e-4 * f.unionM2);
    // With less reach there is ground on both counts: the bound is no empty one.
    const tight = geos(before, after, half / 2);
    expect(tight.missingM2).toBeGreaterThan(1e-3 * f.unionM2);
  },
  120_000,
);
