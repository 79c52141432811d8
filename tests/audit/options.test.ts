/** Options and columns of a list change an audit's answer of a field as they change that of a check: the same report, byte for byte. */
import { cpSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { beforeAll, expect, test } from 'vitest';
import { wantedCrs } from '../../src/core/intake/index.ts';
import { builtCommand, run } from './built.ts';

const SAMPLE = 'sample-data/test-strips/';
let at: { dir: string; command: string };
const inDir = (...names: string[]) => join(at.dir, ...names);

beforeAll(async () => {
  at = await builtCommand();
  mkdirSync(inDir('maps'));
  cpSync(`${SAMPLE}before.geojson`, inDir('maps', 'strips.geojson'));
  cpSync(`${SAMPLE}test-strips.planter.json`, inDir('maps', 'p.planter.json'));
  // Two meters outside of the strips all round: the ring between is uncovered ground within the field.
  const { features } = JSON.parse(readFileSync(inDir('maps', 'strips.geojson'), 'utf8'));
  const points: number[][] = features.flatMap(
    (f: { geometry: { coordinates: number[][][] } }) => f.geometry.coordinates[0],
  );
  const [xs, ys] = [0, 1].map((k) => points.map((p) => p[k]));
  const [west, east, south, north] = [
    Math.min(...xs) - 2.7e-5,
    Math.max(...xs) + 2.7e-5,
    Math.min(...ys) - 1.8e-5,
    Math.max(...ys) + 1.8e-5,
  ];
  const ring = [
    [west, south],
    [east, south],
    [east, north],
    [west, north],
    [west, south],
  ];
  const boundary = { type: 'Feature', properties: {}, geometry: { type: 'Polygon', coordinates: [ring] } };
  writeFileSync(inDir('maps', 'edge.geojson'), JSON.stringify(boundary));
  writeFileSync(inDir('maps', 'plain.csv'), 'map,planter,planting\nstrips.geojson,p.planter.json,narrow\n');
  writeFileSync(
    inDir('maps', 'bounded.csv'),
    'map,planter,planting,boundary\nstrips.geojson,p.planter.json,narrow,edge.geojson\n',
  );
}, 120_000);

/** The one row of an audit, and its report. */
function auditOf(out: string, list: string, ...more: string[]) {
  const r = run(at, 'audit', `maps/${list}`, '--out', out, '--at-once', '1', ...more);
  expect(r.stderr).toBe('');
  const [row, ...none] = readFileSync(inDir(out, 'fields.jsonl'), 'utf8')
    .trimEnd()
    .split('\n')
    .map((l) => JSON.parse(l));
  expect(none).toEqual([]);
  expect(row.report).not.toBe('');
  const report = readFileSync(inDir(out, row.report.replace(/\.[a-z]+$/, '.json')), 'utf8');
  return { row, report, answer: JSON.parse(report) };
}
const checkOf = (...more: string[]): string =>
  run(
    at,
    'check',
    'maps/strips.geojson',
    '--planter',
    'maps/p.planter.json',
    '--planting',
    'narrow',
    '--format',
    'json',
    ...more,
  ).stdout;

test('without options an audit gives the same reports as the checks', () => {
  const plain = auditOf('plain', 'plain.csv');
  expect(plain.report === checkOf()).toBe(true);
});

test('the column "crs" of a list, and "--crs", name the system of a map that does not', async () => {
  const crs = (await wantedCrs('EPSG:32615', 'map'))!;
  const map = JSON.parse(readFileSync(inDir('maps', 'strips.geojson'), 'utf8'));
  for (const f of map.features)
    f.geometry.coordinates = f.geometry.coordinates.map((ring: [number, number][]) =>
      ring.map((p) => crs.fromDegrees(p)),
    );
  writeFileSync(inDir('maps', 'meters.geojson'), JSON.stringify(map));
  writeFileSync(
    inDir('maps', 'crs.csv'),
    'map,planter,planting,crs\nmeters.geojson,p.planter.json,narrow,EPSG:32615\n',
  );
  writeFileSync(inDir('maps', 'no-crs.csv'), 'map,planter,planting\nmeters.geojson,p.planter.json,narrow\n');
  const listed = auditOf('crs', 'crs.csv');
  expect(listed.row.verdict).toBe('differs');
  expect(listed.row.rebuild).toContain(' --crs EPSG:32615 ');
  expect(auditOf('crs-option', 'no-crs.csv', '--crs', 'EPSG:32615').report === listed.report).toBe(true);
});

test('the column "boundary" of a list sets the edge of the field', () => {
  const plain = auditOf('plain', 'plain.csv');
  const bounded = auditOf('bounded', 'bounded.csv');
  expect(bounded.report === checkOf('--boundary', 'maps/edge.geojson')).toBe(true);
  expect(bounded.row.key).not.toBe(plain.row.key);
  expect(bounded.row.gap_m2).toBeGreaterThan(plain.row.gap_m2 + 100);
  expect(bounded.row.recorded_m2).toBe(plain.row.recorded_m2);
});

test('--columns names a column that would not be recognized', () => {
  // The section numbers under a name and in a form that tell nothing, beside a column that looks like the time.
  const text = readFileSync(inDir('maps', 'strips.geojson'), 'utf8').replaceAll('"sec":', '"unit_x":');
  writeFileSync(
    inDir('maps', 'strips.geojson'),
    text.replaceAll('"logged_at":', '"stamp_a":"2026-04-20T09:00:00Z","stamp_b":'),
  );
  const found = auditOf('found', 'plain.csv');
  const named = auditOf('named', 'plain.csv', '--columns', 'time=stamp_b', '--columns', 'width=swath_ft');
  expect(named.report === checkOf('--columns', 'time=stamp_b', '--columns', 'width=swath_ft')).toBe(true);
  expect(named.row.key).not.toBe(found.row.key);
  expect(named.answer.map.columns.time.name).toBe('stamp_b');
  // Both roles in one value, in another order: the same field, which is in the journal already.
  const again = run(at, 'audit', 'maps/plain.csv', '--out', 'named', '--columns', 'width=swath_ft,time=stamp_b');
  expect(again.stdout).toContain('1 of them was finished by an earlier run.');
});

test('--seed-cost puts a price on what is in the reports, and --limit bounds what is read', () => {
  const priced = auditOf('priced', 'plain.csv', '--seed-cost', '95/ac');
  expect(priced.report === checkOf('--seed-cost', '95/ac')).toBe(true);
  // An acre is 4046.8564224 m² (international foot): the price of a hectare is 10000 / 4046.8564224 of it.
  expect(priced.answer.declared.seedCostPerHa).toBeCloseTo((95 * 10_000) / 4046.8564224, 2);
  const [first] = priced.answer.diagnoses;
  expect(first.effect.seedCost.unplantedCost).toBeCloseTo((95 * first.effect.unplantedM2) / 4046.8564224, 1);

  const r = run(at, 'audit', 'maps/plain.csv', '--out', 'bounded', '--limit', 'records=5');
  expect([r.stderr, r.status]).toEqual(['', 2]);
  expect(readFileSync(inDir('bounded', 'fields.jsonl'), 'utf8')).toMatch(/more than 5 records/);
});
