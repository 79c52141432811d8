import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import type { Answer } from '../../src/core/answer.ts';
import { check } from '../../src/core/check.ts';
import { named, read } from '../../src/core/intake/index.ts';
import {
  codeOf,
  collection,
  degrees,
  feature,
  noteCodes,
  readJson,
  readParts,
  readText,
  utf8,
  valuesOf,
} from './helpers.ts';
import { type Fix, FRAME_M, SECTIONS, trackCsv, trackPlanter, trackPoints, trackPolygons } from './track.ts';

const FT = 0.3048;
const planter = trackPlanter();
const checked = (name: string, bytes: Uint8Array): Promise<Answer> => check({ map: [named(name, bytes)], planter });
const full = (f: Fix): Record<string, unknown> => ({
  Heading: f.headingDeg,
  Pass: f.pass,
  width_ft: 60,
  first_section: f.firstSection,
  sections_on: f.sectionsOn,
});
const states = (f: Fix): Record<string, unknown> => ({
  swath_m: (f.sectionsOn * FRAME_M) / SECTIONS,
  ...Object.fromEntries(
    Array.from({ length: SECTIONS }, (_, k) => [
      `Section_${k + 1}`,
      k + 1 >= f.firstSection && k + 1 < f.firstSection + f.sectionsOn,
    ]),
  ),
});

/** What must be the same, whichever way the planting came: the verdict, the settings it names, the layout, and areas within a thousandth. */
function alike(points: Answer, polygons: Answer): void {
  const [a, b] = [points.report, polygons.report];
  expect(a.verdict).toBe(b.verdict);
  expect(a.diagnoses.map((d) => d.setting)).toEqual(b.diagnoses.map((d) => d.setting));
  expect(a.map.grain).toBe(b.map.grain);
  expect(a.recorded.workingWidthM).toBeCloseTo(b.recorded.workingWidthM ?? Number.NaN, 3);
  expect(a.area.coveredM2 / b.area.coveredM2).toBeCloseTo(1, 3);
  expect(a.area.recordedM2 / b.area.recordedM2).toBeCloseTo(1, 2);
  expect(a.area.gapM2).toBeGreaterThan(0.9 * b.area.gapM2);
  expect(a.area.gapM2).toBeLessThan(1.1 * b.area.gapM2);
}

describe('a real planting as points gives the answer of its polygons', () => {
  it('with heading, pass, the first section and how many are on; and without heading and pass, from states of sections, as CSV', async () => {
    const polygons = await checked('map.geojson', trackPolygons());
    const points = await checked('map.geojson', trackPoints(full));
    alike(points, polygons);
    expect(points.report.notes.map((n) => n.code)).toEqual(
      expect.arrayContaining(['points-laid', 'points-interval', 'points-sections']),
    );
    const csv = await checked('map.csv', trackCsv(states));
    alike(csv, polygons);
    expect(csv.report.map.format).toBe('csv');
  }, 120_000);
});

describe('how a strip is laid', () => {
  const log = (properties: (i: number) => object, n = 6): Promise<Awaited<ReturnType<typeof readJson>>> =>
    readJson(collection(Array.from({ length: n }, (_, i) => feature([-93.6, 42 + i * 2e-5], properties(i), 'Point'))));

  it('due north: as long as the step, as wide as the column says, the position in the middle of its front', async () => {
    const set = await log(() => ({ width_ft: 30 }));
    expect(set.recordNumber).toEqual(Uint32Array.of(2, 3, 4, 5, 6));
    expect(set.skipped).toEqual([
      { reason: 'first point of a pass, with no strip before it', count: 1, firstRecord: 1 },
    ]);
    const ring = degrees(set, 0)[0];
    // A degree of longitude is 82,882.5 m and one of latitude 111,070 m at 42 degrees north (tables of WGS84, NGA TR8350.2 formulas).
    const [west, east] = [Math.min(...ring.map((p) => p[0])), Math.max(...ring.map((p) => p[0]))];
    expect((east - west) * 82_882.5).toBeCloseTo(30 * FT, 2);
    expect((east + west) / 2).toBeCloseTo(-93.6, 9);
    expect(Math.min(...ring.map((p) => p[1]))).toBeCloseTo(42, 9);
    expect(Math.max(...ring.map((p) => p[1]))).toBeCloseTo(42.00002, 9);
  });

  it('the distance driven shows whether a point applies to the interval before or after it', async () => {
    // Steps of 2.0, 3.0, 4.0, … m.
    const at = [0, 2, 5, 9, 14, 20, 27, 35];
    const points = (distance: (i: number) => number) =>
      readJson(
        collection(
          at.map((m, i) => feature([-93.6, 42 + m / 111_070], { width_m: 6, distance_m: distance(i) }, 'Point')),
        ),
      );
    const before = await points((i) => (i === 0 ? 2 : at[i] - at[i - 1]));
    expect(before.notes.find((n) => n.code === 'points-interval')?.sentence).toMatch(
      /from the point before to itself, because column "distance_m"/,
    );
    // The first point has a distance of its own, so it has a strip.
    expect(before.recordNumber.length).toBe(at.length);
    const after = await points((i) => (i === at.length - 1 ? 9 : at[i + 1] - at[i]));
    expect(after.notes.find((n) => n.code === 'points-interval')?.sentence).toMatch(
      /from itself to the next, because column "distance_m"/,
    );
    expect(Math.min(...degrees(after, 0)[0].map((p) => p[1]))).toBeCloseTo(42, 8);
    const none = await log(() => ({ width_m: 6 }));
    expect(none.notes.find((n) => n.code === 'points-interval')?.sentence).toMatch(/common practice/);
  });

  it('the columns that the user names for distance, first section and count are used, whatever their names', async () => {
    const at = [0, 2, 5, 9, 14, 20, 27, 35];
    const points = at.map((m, i) =>
      feature(
        [-93.6, 42 + m / 111_070],
        { width_m: 6, a: i === 0 ? 2 : m - at[i - 1], b: i < 4 ? 1 : 2, c: 2 },
        'Point',
      ),
    );
    const log = (columns: Record<string, string>) =>
      readText(JSON.stringify(collection(points)), { columns: { ...columns } });
    const plain = await log({});
    expect(plain.notes.find((n) => n.code === 'points-interval')?.sentence).toMatch(/common practice/);
    const named = await log({ distance: 'a', first: 'b', count: 'c' });
    expect(named.notes.find((n) => n.code === 'points-interval')?.sentence).toMatch(/because column "a"/);
    expect(named.notes.find((n) => n.code === 'points-sections')?.sentence).toMatch(/columns "b" and "c", 3 sections/);
    expect(await codeOf(log({ distance: 'none' }))).toBe('columns-name');
  });

  it('a pass that ends, a long step and a place where the tractor was standing still make no strip', async () => {
    const at = [0, 3, 6, 6.005, 9, 60, 63, 66, 69, 72, 75];
    const set = await readJson(
      collection(at.map((m, i) => feature([-93.6, 42 + m / 111_070], { width_m: 6, pass: i < 9 ? 1 : 2 }, 'Point'))),
    );
    expect(set.skipped.map((s) => [s.reason, s.count, s.firstRecord])).toEqual([
      ['first point of a pass, with no strip before it', 3, 1],
      ['no travel since the point before', 1, 4],
    ]);
    expect(set.total).toBe(at.length);
  });

  it('sections of other widths are found from the width of what is on', async () => {
    // Sections of 2, 1 and 3 m; each point has some of them on.
    const on = [
      [1, 1, 1],
      [1, 0, 0],
      [0, 1, 1],
      [1, 1, 0],
      [0, 0, 1],
      [1, 1, 1],
      [0, 1, 0],
      [1, 1, 1],
    ];
    const set = await log(
      (i) => ({ width_m: on[i][0] * 2 + on[i][1] + on[i][2] * 3, s1: on[i][0], s2: on[i][1], s3: on[i][2] }),
      on.length,
    );
    // The first point has no strip before it.
    expect(valuesOf(set, 'section')).toEqual([1, 2, 3, 1, 2, 3, 1, 2, 3, 2, 1, 2, 3]);
    const widths = Array.from(set.recordNumber, (_, r) => {
      const lon = degrees(set, r)[0].map((p) => p[0]);
      return (Math.max(...lon) - Math.min(...lon)) * 82_882.5;
    });
    const by = (section: number) => widths.filter((_, r) => valuesOf(set, 'section')[r] === section);
    for (const w of by(1)) expect(w).toBeCloseTo(2, 1);
    for (const w of by(2)) expect(w).toBeCloseTo(1, 1);
    for (const w of by(3)) expect(w).toBeCloseTo(3, 1);
  });

  it('a point for each section is followed section by section', async () => {
    const rows = Array.from({ length: 8 }, (_, i) =>
      [0, 1, 2].map((k) =>
        feature([-93.6 + (k * 2) / 82_882.5, 42 + i * 2e-5], { width_m: 2, section: k + 1, n: i }, 'Point'),
      ),
    ).flat();
    const set = await readJson(collection(rows));
    expect(set.recordNumber.length).toBe(21);
    expect(valuesOf(set, 'section').slice(0, 7)).toEqual([1, 1, 1, 1, 1, 1, 1]);
    for (let r = 0; r < 21; r++) {
      const lat = degrees(set, r)[0].map((p) => p[1]);
      expect(Math.max(...lat) - Math.min(...lat)).toBeCloseTo(2e-5, 8);
    }
  });

  it('points out of the order of the log are sorted by their time', async () => {
    const order = [4, 0, 5, 2, 1, 3];
    const set = await readJson(
      collection(
        order.map((i) => feature([-93.6, 42 + i * 2e-5], { width_m: 6, time: `2026-05-01T08:00:0${i}` }, 'Point')),
      ),
    );
    expect(noteCodes(set)).toContain('points-sorted');
    expect(set.recordNumber).toEqual(Uint32Array.of(5, 4, 6, 1, 3));
  });

  it('a unit is taken from the name, from how far passes lie apart, or asked for', async () => {
    const passes = (name: string, value: number) =>
      readJson(
        collection(
          Array.from({ length: 120 }, (_, i) => {
            const [pass, k] = [Math.floor(i / 30), i % 30];
            const along = pass % 2 === 0 ? k : 29 - k;
            return feature([-93.6 + (pass * 18.288) / 82_882.5, 42 + along * 3e-5], { [name]: value, pass }, 'Point');
          }),
        ),
      );
    const laid = (set: Awaited<ReturnType<typeof passes>>) => set.notes.find((n) => n.code === 'points-laid')?.sentence;
    expect(laid(await passes('width', 60))).toMatch(/\(ft\)/);
    expect(laid(await passes('width', 720))).toMatch(/\(in\)/);
    expect(laid(await passes('width', 18.29))).toMatch(/\(m\)/);
    const wrong = await passes('width_m', 60);
    expect(laid(wrong)).toMatch(/\(ft\)/);
    expect(noteCodes(wrong)).toContain('width-unit');
    expect(await codeOf(log(() => ({ width: 30 })))).toBe('points-width-unit');
  });
});

describe('files of points', () => {
  it('GDAL writes them as a shapefile, a GeoPackage, FlatGeobuf, KML and CSV, and all lay the same polygons', async () => {
    const dir = mkdtempSync(join(tmpdir(), 'guessrow-points-'));
    writeFileSync(join(dir, 'map.geojson'), trackPoints(full));
    const whole = await read([named('map.geojson', readFileSync(join(dir, 'map.geojson')))]);
    const areas = whole.recordNumber.length;
    for (const [driver, name, more] of [
      ['ESRI Shapefile', 'map.shp', []],
      ['GPKG', 'map.gpkg', []],
      ['FlatGeobuf', 'map.fgb', ['-lco', 'SPATIAL_INDEX=NO']],
      ['KML', 'map.kml', []],
      ['CSV', 'map.csv', ['-lco', 'GEOMETRY=AS_XY']],
    ] as [string, string, string[]][]) {
      const run = spawnSync('ogr2ogr', ['-f', driver, ...more, join(dir, name), join(dir, 'map.geojson')], {
        encoding: 'utf8',
      });
      expect(run.status, run.stderr).toBe(0);
      const parts = name.endsWith('.shp') ? ['map.shp', 'map.dbf', 'map.prj', 'map.shx'] : [name];
      const set = await readParts(
        Object.fromEntries(parts.map((p) => [p, new Uint8Array(readFileSync(join(dir, p)))])),
      );
      expect([driver, set.recordNumber.length, noteCodes(set).includes('points-laid')]).toEqual([driver, areas, true]);
    }
    // With its index the file holds the points from south to north, so to speak: no order to lay them in.
    spawnSync('ogr2ogr', ['-f', 'FlatGeobuf', join(dir, 'sorted.fgb'), join(dir, 'map.geojson')]);
    expect(await codeOf(readParts({ 'sorted.fgb': new Uint8Array(readFileSync(join(dir, 'sorted.fgb'))) }))).toBe(
      'points-order',
    );
    rmSync(dir, { recursive: true });
  }, 120_000);

  it('CSV: decimal commas, quotes, a byte order mark, Windows-1252; missing values are reported', async () => {
    const plain = await read([named('map.csv', trackCsv(full))]);
    const german = await read([named('map.csv', trackCsv(full, ';'))]);
    expect(german.recordNumber.length).toBe(plain.recordNumber.length);
    expect(german.shapes.xy).toEqual(plain.shapes.xy);
    const quoted =
      '\ufeff"lon","lat","name ""x""",width_ft\r\n-93.6,42,"a, b",30\r\n-93.6,42.00002,"two\nlines",30\r\n';
    const set = await read([named('map.csv', utf8(quoted))]);
    expect(valuesOf(set, 'name "x"')).toEqual(['two\nlines']);
    const latin = Uint8Array.from(
      Buffer.from('lon,lat,Gerät,width_ft\n-93.6,42,é,30\n-93.6,42.00002,é,30\n', 'latin1'),
    );
    const old = await read([named('map.csv', latin)]);
    expect([valuesOf(old, 'Gerät'), noteCodes(old).includes('not-utf8')]).toEqual([['é'], true]);
    const codes = await Promise.all(
      ['', 'a,b\n1,2\n', 'lon,lat,width_m\n', 'lon,lat,width_m\nx,y,6\n'].map((text) =>
        codeOf(read([named('map.csv', utf8(text))])),
      ),
    );
    expect(codes).toEqual(['empty-file', 'csv-no-position', 'no-records', 'no-records']);
  });
});
