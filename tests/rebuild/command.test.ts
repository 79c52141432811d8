import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, expect, it } from 'vitest';
import { CAUTIONS } from '../../src/core/shared/messages.ts';
import { guessrow as run } from '../cli/run.ts';
import { drawField, toGeoJson } from '../generator/index.ts';
import { PLANTERS, rowsOf } from '../generator/planters.ts';
import { field } from '../settings/help.ts';

const folder = mkdtempSync(join(tmpdir(), 'rebuild-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

it('writes map and log, shows the cautions, and gives a rebuilt file back byte for byte', async () => {
  const at = (name: string): string => join(folder, name);
  const spec = field(PLANTERS.fifteen, 'narrow', {
    shape: { kind: 'strip', lengthM: 100, passes: 4 },
    belief: { planted: rowsOf(15, 'odd') },
  });
  writeFileSync(at('m.geojson'), toGeoJson(drawField(spec)));
  writeFileSync(at('p.planter.json'), JSON.stringify(PLANTERS.fifteen.file));
  const common = ['--planter', at('p.planter.json'), '--planting', 'narrow', '--out'];
  const one = await run('rebuild', at('m.geojson'), ...common, at('r.geojson'));
  expect(one).toMatchObject({ status: 0, err: '' });
  for (const c of CAUTIONS) expect(one.out.replaceAll(/\s+/g, ' ')).toContain(c);
  const about = JSON.parse(readFileSync(at('r.changes.json'), 'utf8'));
  const sum = about.changes.reduce((s: number, c: { differenceM2: number }) => s + c.differenceM2, 0);
  expect(Math.abs(sum - about.differenceM2)).toBeLessThan(1e-9 * about.areaM2);
  // Notes are those of a check, with what to do.
  const notes = (text: string): string | undefined => /\nNotes\n.*?\n\n/s.exec(text)?.[0];
  const check = await run('check', at('m.geojson'), ...common.slice(0, -1));
  expect(notes(one.out)).toBe(notes(check.out));
  expect(notes(check.out)?.replaceAll(/\s+/g, ' ')).toContain('Measure them on the machine.');
  // The log by pass has fewer lines than the map has records.
  expect((await run('rebuild', at('m.geojson'), '--by', 'pass', ...common, at('pass.geojson'))).status).toBe(0);
  const [log, map] = ['pass.changes.json', 'm.geojson'].map((f) => JSON.parse(readFileSync(at(f), 'utf8')));
  expect(log.records).toBe(map.features.length);
  expect(log.changes.length).not.toBe(log.records);
  expect((await run('rebuild', at('r.geojson'), ...common, at('again.geojson'))).status).toBe(0);
  expect(readFileSync(at('again.geojson')).equals(readFileSync(at('r.geojson')))).toBe(true);
  // A layer is called as its file is.
  expect((await run('rebuild', at('m.geojson'), ...common, at('Süd 7.fgb'))).status).toBe(0);
  expect(readFileSync(at('Süd 7.fgb')).indexOf('Süd 7')).toBeGreaterThan(0);
  const before = readdirSync(folder);
  const wrong = await run('rebuild', at('m.geojson'), ...common, at('r.dwg'));
  expect(wrong.status).toBe(2);
  expect(wrong.err).toMatch(/\.geojson, \.zip, \.fgb, \.parquet/);
  expect(readdirSync(folder)).toEqual(before);
});

it.each([
  ['inches', PLANTERS.fifteen, 4046.8564224, 'ac'],
  ['centimeters', PLANTERS.twelveMetric, 10_000, 'ha'],
] as const)('tells areas of a planter in %s in its own unit', async (_what, planter, unitM2, unit) => {
  const at = (name: string): string => join(folder, `${unit}-${name}`);
  const [planting] = Object.keys(planter.file.plantings);
  const spec = field(planter, planting, { shape: { kind: 'strip', lengthM: 100, passes: 4 } });
  writeFileSync(at('m.geojson'), toGeoJson(drawField(spec)));
  writeFileSync(at('p.planter.json'), JSON.stringify(planter.file));
  const args = ['--planter', at('p.planter.json'), '--planting', planting, '--out', at('r.geojson')];
  const { status, out } = await run('rebuild', at('m.geojson'), ...args);
  expect(status).toBe(0);
  const about = JSON.parse(readFileSync(at('r.changes.json'), 'utf8'));
  const said = (what: string): number[] =>
    [...out.matchAll(new RegExp(`${what} +([\\d.]+) (ac|ha)`, 'g'))].flatMap((m) =>
      m[2] === unit ? [Number(m[1])] : [],
    );
  expect(said('area before')[0]).toBeCloseTo(about.areaBeforeM2 / unitM2, 2);
  expect(said('area now')[0]).toBeCloseTo(about.areaM2 / unitM2, 2);
  expect(said('area before')[0]).toBeGreaterThan(0.1);
  expect(out).not.toMatch(unit === 'ac' ? /\d ha\b/ : /\d ac\b/);
});
