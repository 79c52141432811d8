import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { flatGeobuf, geoJson, geoPackage, geoParquet, type Layer, shapefileZip } from '../../src/core/formats/index.ts';
import { type Column, named, type RecordSet, read } from '../../src/core/intake/index.ts';
import { degrees, square } from '../intake/helpers.ts';

const dir = mkdtempSync(join(tmpdir(), 'guessrow-types-'));
afterAll(() => rmSync(dir, { recursive: true, force: true }));

const text = (name: string, words: string[], as?: 'boolean' | 'date' | 'datetime'): Column => {
  const list = ['', ...new Set(words.filter((w) => w !== ''))];
  return {
    name,
    kind: 'text',
    codes: Uint32Array.from(words, (w) => list.indexOf(w)),
    words: list,
    ...(as ? { as } : {}),
  };
};
/** A column of every type; the second record has no value in any. */
const layer: Layer = {
  name: 'types',
  lonLat: Float64Array.from(
    [0, 1, 2].flatMap((i) =>
      square(-93.6 + i * 1e-4, 42)
        .slice(0, 4)
        .flat(),
    ),
  ),
  ringStart: Uint32Array.of(0, 4, 8, 12),
  polygonStart: Uint32Array.of(0, 1, 2, 3),
  recordStart: Uint32Array.of(0, 1, 2, 3),
  columns: [
    { name: 'whole', kind: 'number', values: Float64Array.of(7, Number.NaN, -3) },
    { name: 'real', kind: 'number', values: Float64Array.of(2, Number.NaN, 2.5), as: 'real' },
    text('flag', ['true', '', 'false'], 'boolean'),
    text('day', ['2026-05-01', '', '2026-05-02'], 'date'),
    text('moment', ['2026-05-01T08:00:00Z', '', '2026-05-01T08:00:01Z'], 'datetime'),
    text('word', ['Mais, früh', '', "it's"]),
  ],
};
const WRITERS: Record<string, () => Promise<Uint8Array> | Uint8Array> = {
  'out.geojson': () => new TextEncoder().encode([...geoJson(layer)].join('')),
  'out.zip': () =>
    shapefileZip(layer, (note) => {
      throw new Error(note);
    }),
  'out.fgb': () => flatGeobuf(layer),
  'out.parquet': () => geoParquet(layer),
  'out.gpkg': () => geoPackage(layer),
};

const typeIn = (set: RecordSet, name: string): string => {
  const c = set.columns.find((k) => k.name === name);
  return c === undefined ? 'missing' : c.kind === 'number' ? 'number' : (c.as ?? 'text');
};
const values = (set: RecordSet, name: string): unknown[] => {
  const c = set.columns.find((k) => k.name === name)!;
  return c.kind === 'number'
    ? Array.from(c.values, (v) => (Number.isNaN(v) ? null : v))
    : Array.from(c.codes, (k) => (k === 0 ? null : c.words[k].replace(/\.000(?=Z)/, '')));
};

describe('what is written is read again: places, values and types', () => {
  it.each(Object.keys(WRITERS))('%s', async (name) => {
    const bytes = await WRITERS[name]();
    expect(await WRITERS[name]()).toEqual(bytes);
    const set = await read([named(name, bytes)]);
    expect(set.recordNumber.length).toBe(3);
    for (let r = 0; r < 3; r++) {
      const want = square(-93.6 + r * 1e-4, 42).slice(0, 4);
      const got = degrees(set, r)[0];
      for (const [x, y] of want)
        expect(got.some(([a, b]) => Math.abs(a - x) < 1e-9 && Math.abs(b - y) < 1e-9)).toBe(true);
    }
    expect(values(set, 'whole')).toEqual([7, null, -3]);
    expect(values(set, 'real')).toEqual([2, null, 2.5]);
    // dBASE cannot leave a flag empty and has times only as text; GeoJSON has neither dates nor times.
    expect(values(set, 'flag').filter((v) => v !== null)).toEqual(['true', 'false']);
    expect(typeIn(set, 'flag')).toBe('boolean');
    expect(values(set, 'day')).toEqual(['2026-05-01', null, '2026-05-02']);
    expect(values(set, 'moment')).toEqual(['2026-05-01T08:00:00Z', null, '2026-05-01T08:00:01Z']);
    expect(values(set, 'word')).toEqual(['Mais, früh', null, "it's"]);
    if (/gpkg|zip/.test(name)) expect(typeIn(set, 'day')).toBe('date');
    if (/gpkg|fgb|parquet/.test(name)) expect(typeIn(set, 'moment')).toBe('datetime');
  });
});

describe('GDAL reads the same, and what GDAL makes of it is read the same', () => {
  // Debian's GDAL has no Parquet; DuckDB reads that in another test.
  it.each(Object.keys(WRITERS).filter((n) => !n.endsWith('parquet')))(
    '%s',
    async (name) => {
      const path = join(dir, name);
      writeFileSync(path, await WRITERS[name]());
      const source = name.endsWith('.zip') ? `/vsizip/${path}` : path;
      const info = spawnSync('ogrinfo', ['-al', '-geom=NO', source], { encoding: 'utf8' });
      expect(info.status, info.stderr).toBe(0);
      expect(info.stdout).toContain('Feature Count: 3');
      expect(info.stdout).toMatch(/whole: Integer/);
      expect(info.stdout).toMatch(/real: Real/);
      if (!name.endsWith('.zip')) expect(info.stdout).toMatch(/flag: Integer\(Boolean\)/);
      if (/gpkg|zip/.test(name)) expect(info.stdout).toMatch(/day: Date /);
      if (/gpkg|fgb/.test(name)) expect(info.stdout).toMatch(/moment: DateTime/);
      for (const [driver, back] of [
        ['GPKG', 'back.gpkg'],
        ['FlatGeobuf', 'back.fgb'],
        ['GeoJSONSeq', 'back.geojsons'],
        ['KML', 'back.kml'],
        ['CSV', 'back.csv'],
      ]) {
        rmSync(join(dir, back), { force: true });
        const more =
          driver === 'CSV' ? ['-lco', 'GEOMETRY=AS_WKT'] : driver === 'FlatGeobuf' ? ['-lco', 'SPATIAL_INDEX=NO'] : [];
        const run = spawnSync('ogr2ogr', ['-f', driver, ...more, join(dir, back), source], { encoding: 'utf8' });
        expect(run.status, run.stderr).toBe(0);
        const set = await read([named(back, new Uint8Array(readFileSync(join(dir, back))))]);
        expect([back, set.recordNumber.length]).toEqual([back, 3]);
        expect(values(set, 'whole')).toEqual([7, null, -3]);
        expect(values(set, 'word')).toEqual(['Mais, früh', null, "it's"]);
        expect(degrees(set, 2)[0].length).toBe(4);
      }
    },
    60_000,
  );
});
