import { spawnSync } from 'node:child_process';
import { mkdtempSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import gjv from 'geojson-validation';
import { expect, test } from 'vitest';
import { toCsv, toGeoJson, toJson } from '../../src/core/report/index.ts';
import { cell } from '../../src/core/shared/safe.ts';
import { hostile, undecidedBlob, wideForNarrow } from './fixture.ts';
import { expectGolden } from './golden.ts';

test('JSON: the report, in its own key order, numbers rounded, the same bytes every time', () => {
  const text = toJson(wideForNarrow());
  expectGolden(import.meta.url, 'differs.json', text);
  expect(toJson(wideForNarrow())).toBe(text);
  const r = JSON.parse(text);
  expect(Object.keys(r)).toEqual([
    'report',
    'verdict',
    'says',
    'wouldDecide',
    'map',
    'machines',
    'declared',
    'recorded',
    'seams',
    'area',
    'account',
    'ifPlanted',
    'observations',
    'diagnoses',
    'notes',
    'cautions',
  ]);
  expect(r.recorded.workingWidthM).toBe(6.096);
  expect(r.recorded.workingWidthCi95M).toEqual([6.0951, 6.097]);
  expect(r.area.recordedM2).toBe(29450.12);
  expect(r.observations[0].share).toBe(0.902);
  expect(r.diagnoses[0].effect.acreCountPct).toBe(6.67);
});

test('JSON holds no number that JSON cannot hold', () => {
  const a = wideForNarrow();
  a.report.recorded.workingWidthM = Number.NaN;
  a.report.seams.medianM = Number.NEGATIVE_INFINITY;
  const r = JSON.parse(toJson(a));
  expect([r.recorded.workingWidthM, r.seams.medianM]).toEqual([null, null]);
  expect(JSON.parse(toJson(undecidedBlob())).recorded.workingWidthM).toBeNull();
});

test('GeoJSON: layers, holes and parts, coordinates digit for digit', () => {
  const text = toGeoJson(wideForNarrow());
  expectGolden(import.meta.url, 'differs.geojson', text);
  const g = JSON.parse(text);
  expect(gjv.valid(g, true)).toEqual([]);
  const layers = g.features.map((f: { properties: { layer: string } }) => f.properties.layer);
  expect(layers).toEqual(['recorded', 'recorded', 'recorded', 'recorded', 'planted', 'gap', 'track']);
  expect(g.features[2].geometry.type).toBe('MultiPolygon');
  expect(g.features[2].geometry.coordinates.map((p: unknown[]) => p.length)).toEqual([1, 2]);
  expect(g.features[3].geometry.coordinates[0][0]).toEqual([-93.6000007, 42.0000013]);
  expect(g.features[3].properties).toEqual({
    layer: 'recorded',
    record: 5,
    pass: null,
    bar: null,
    section: null,
    widthM: null,
  });
  expect(g.features[4].geometry.coordinates[0][0]).toEqual([-93.599999999, 42.000000002]);
});

test('GeoJSON is read by a general library with the areas of the shapes (GDAL)', () => {
  const file = join(mkdtempSync(join(tmpdir(), 'guessrow-')), 'answer.geojson');
  writeFileSync(file, toGeoJson(wideForNarrow()));
  const sql = 'SELECT layer, COUNT(*) AS n, ROUND(SUM(ST_Area(geometry)) * 1e14) AS a FROM answer GROUP BY layer';
  const got = spawnSync('ogrinfo', ['-ro', '-q', '-dialect', 'sqlite', '-sql', sql, file], { encoding: 'utf8' });
  expect(got.stderr).toBe('');
  const rows = [...got.stdout.matchAll(/layer \(String\) = (\w+)\n\s+n \(Integer\) = (\d+)\n\s+a \(Real\) = (\S+)/g)];
  const found = Object.fromEntries(rows.map(([, layer, n, a]) => [layer, [Number(n), Number(a)]]));
  // Arithmetic, in square steps: 100² + (100² - 20²) + (50² + 100² - 20²) + 3²; 100² - 10²; 30² of steps a hundredth as long.
  expect(found.recorded).toEqual([4, 31_709]);
  expect(found.gap).toEqual([1, 9_900]);
  expect(found.planted[0]).toBe(1);
  expect(found.track[0]).toBe(1);
});

test('CSV: one line per line of the account and per pass', () => {
  const text = toCsv(wideForNarrow());
  expectGolden(import.meta.url, 'differs.csv', text);
  expect(text.split('\r\n').length).toBe(5);
});

test('CSV: text of a map is never a formula', () => {
  for (const s of ['=1+1', '+1+1', '-1+1', '@SUM(A1)', '  =1', '\t=1', '\uFF1D1', '=1,"2"', '|x', '%x'])
    expect(cell(s).replace(/^"/, '')).toMatch(/^['\uFFFD]/);
  expect(cell('-12.5')).toBe('-12.5');
  expect(cell('north 40')).toBe('north 40');
  expect(cell('a,"b"')).toBe('"a,""b"""');
  const bad = hostile();
  bad.report.map.source = '=HYPERLINK("x")';
  expect(toCsv(bad).split('\r\n')[1].startsWith(`"'=HYPERLINK(""x"")",account,`)).toBe(true);
  expect(toCsv(hostile())).not.toContain('\u001B');
});
