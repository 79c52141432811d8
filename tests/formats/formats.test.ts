import { execFileSync, spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { DuckDBInstance } from '@duckdb/node-api';
import { unzipSync } from 'fflate';
import { parquetMetadata } from 'hyparquet';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { flatGeobuf, geoJson, geoParquet, type Layer, shapefileZip } from '../../src/core/formats/index.ts';
import { named, read } from '../../src/core/intake/index.ts';

/** A polygon with a hole, two polygons in one record, and a plain one; names and values that formats stumble over. */
const polygons: number[][][][][] = [
  [
    [
      [
        [10, 50],
        [10.01, 50],
        [10.01, 50.01],
        [10, 50.01],
      ],
      [
        [10.004, 50.004],
        [10.004, 50.006],
        [10.006, 50.006],
        [10.006, 50.004],
      ],
    ],
  ],
  [
    [
      [
        [10.02, 50],
        [10.03, 50],
        [10.03, 50.01],
      ],
    ],
    [
      [
        [10.04, 50],
        [10.05, 50],
        [10.05, 50.0100000000123],
      ],
    ],
  ],
  [
    [
      [
        [10.06, 50],
        [10.07, 50],
        [10.07, 50.01],
        [10.06, 50.01],
      ],
    ],
  ],
];
const layer = layerOf(polygons);

function layerOf(records: number[][][][][]): Layer {
  const lonLat: number[] = [];
  const ringStart = [0];
  const polygonStart = [0];
  const recordStart = [0];
  for (const parts of records) {
    for (const rings of parts) {
      for (const ring of rings) {
        lonLat.push(...ring.flat());
        ringStart.push(lonLat.length / 2);
      }
      polygonStart.push(ringStart.length - 1);
    }
    recordStart.push(polygonStart.length - 1);
  }
  return {
    name: 'layer',
    lonLat: Float64Array.from(lonLat),
    ringStart: Uint32Array.from(ringStart),
    polygonStart: Uint32Array.from(polygonStart),
    recordStart: Uint32Array.from(recordStart),
    columns: [
      {
        name: 'a_very_long_name_one',
        kind: 'number',
        values: Float64Array.from([Number.NaN, 32000.123456789, -1.5e-7]),
      },
      { name: 'a_very_long_name_two', kind: 'number', values: Float64Array.from([1, 2, 3]) },
      { name: 'Sorte', kind: 'text', codes: Uint32Array.from([0, 1, 2]), words: ['', 'Süßmais', 'a "b", c'] },
    ],
  };
}

const folder = mkdtempSync(join(tmpdir(), 'formats-'));
const files = { geojson: 'm.geojson', shapefile: 'm.zip', flatgeobuf: 'm.fgb', parquet: 'm.parquet' };
const pathOf = (k: keyof typeof files): string => join(folder, files[k]);
const gdal = (k: keyof typeof files): string => (k === 'shapefile' ? `/vsizip/${pathOf(k)}` : pathOf(k));
beforeAll(async () => {
  writeFileSync(pathOf('geojson'), [...geoJson(layer)].join(''));
  writeFileSync(pathOf('shapefile'), shapefileZip(layer));
  writeFileSync(pathOf('flatgeobuf'), await flatGeobuf(layer));
  writeFileSync(pathOf('parquet'), await geoParquet(layer));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const LONG = ['a_very_long_name_one', 'a_very_long_name_two'];
const FIELDS = { geojson: LONG, flatgeobuf: LONG, shapefile: ['a_very_lon', 'a_very_l_2'] };

// GDAL (Debian gdal-bin) shares no code with the writers.
describe('GDAL reads without a warning', () => {
  it.each(['geojson', 'shapefile', 'flatgeobuf'] as const)('%s', (k) => {
    const info = spawnSync('ogrinfo', ['-al', '-so', gdal(k)], { encoding: 'utf8' });
    expect(info.stderr).toBe('');
    expect(info.status).toBe(0);
    expect(info.stdout).toMatch(/Feature Count: 3/);
    expect(info.stdout).toMatch(/WGS.?(19)?84/);
    const back = spawnSync(
      'ogr2ogr',
      ['-f', 'GeoJSON', '-lco', 'RFC7946=NO', '-lco', 'COORDINATE_PRECISION=13', '/vsistdout/', gdal(k)],
      { encoding: 'utf8' },
    );
    expect(back.stderr).toBe('');
    const { features } = JSON.parse(back.stdout);
    features.forEach((f: { geometry: { type: string; coordinates: number[][][] } }, r: number) => {
      const parts = (f.geometry.type === 'Polygon'
        ? [f.geometry.coordinates]
        : f.geometry.coordinates) as unknown as number[][][][];
      expect(parts.map((rings) => rings.map(corners))).toEqual(
        polygons[r].map((rings) => rings.map((g) => corners([...g, g[0]]))),
      );
    });
    const values = features.map((f: { properties: Record<string, unknown> }) =>
      [...FIELDS[k], 'Sorte'].map((n) => f.properties[n] ?? null),
    );
    expect(values.map((v: unknown[]) => v[0])).toEqual([null, 32000.123456789, -1.5e-7]);
    expect(values.map((v: unknown[]) => v[2])).toEqual([null, 'Süßmais', 'a "b", c']);
  });

  it('names of a shapefile stay apart, and the map beside them says which is which', async () => {
    const list = execFileSync('unzip', ['-p', pathOf('shapefile'), 'layer.columns.txt'], { encoding: 'utf8' });
    expect(list).toBe(
      'field\tcolumn\na_very_lon\ta_very_long_name_one\na_very_l_2\ta_very_long_name_two\nSorte\tSorte\n',
    );
    const set = await read([named('m.zip', new Uint8Array(readFileSync(pathOf('shapefile'))))]);
    expect(set.recordNumber.length).toBe(3);
  });

  it('names of columns bring no control and no turned writing into that list', () => {
    const [first, ...others] = layer.columns;
    const odd = { ...layer, columns: [{ ...first, name: 'a\u202Eb\u009Bc\td\ne' }, ...others] };
    const list = new TextDecoder().decode(unzipSync(shapefileZip(odd))['layer.columns.txt']);
    expect(list.split('\n')[1]).toMatch(/^\S+\ta b c d e$/);
    expect(list).not.toMatch(/[\u007F-\u009F\u061C\u200E\u200F\u202A-\u202E\u2066-\u2069]/);
  });
});

/** Corners of a closed ring, whatever its start and turn. */
const corners = (ring: number[][]): string[] =>
  ring
    .slice(0, -1)
    .map(([x, y]) => `${x.toFixed(12)} ${y.toFixed(12)}`)
    .sort();

describe('GeoParquet', () => {
  it('says what the specification asks for', () => {
    // GeoParquet specification 1.1.0, "Metadata" (https://geoparquet.org/releases/v1.1.0/), from memory.
    const bytes = readFileSync(pathOf('parquet'));
    const meta = parquetMetadata(
      bytes.buffer.slice(bytes.byteOffset, bytes.byteOffset + bytes.byteLength) as ArrayBuffer,
    );
    const geo = JSON.parse(meta.key_value_metadata!.find((k) => k.key === 'geo')!.value!);
    expect(geo.version).toBe('1.1.0');
    expect(geo.primary_column).toBe('geometry');
    const c = geo.columns[geo.primary_column];
    expect(c.encoding).toBe('WKB');
    expect([...c.geometry_types].sort()).toEqual(['MultiPolygon', 'Polygon']);
    expect(c.orientation).toBe('counterclockwise');
    expect(c.bbox).toEqual([10, 50, 10.07, 50.0100000000123]);
    expect(c).not.toHaveProperty('crs');
    expect(meta.schema.find((s) => s.name === 'geometry')!.type).toBe('BYTE_ARRAY');
  });

  it('is read by DuckDB, its WKB byte for byte', async () => {
    const db = await (await DuckDBInstance.create(':memory:')).connect();
    await db.run('set enable_geoparquet_conversion = false');
    const reader = await db.runAndReadAll(
      `select hex(geometry::blob), a_very_long_name_one, Sorte from read_parquet('${pathOf('parquet')}')`,
    );
    const rows = reader.getRows();
    expect(rows.map((r) => r[1])).toEqual([null, 32000.123456789, -1.5e-7]);
    expect(rows.map((r) => r[2])).toEqual([null, 'Süßmais', 'a "b", c']);
    // Well-known binary (OGC 06-103r4): order 1, type 3 or 6, then counts and doubles; written out here by hand for the plain record.
    const ring = [...polygons[2][0][0], polygons[2][0][0][0]];
    const want = Buffer.alloc(13 + 16 * ring.length);
    want.writeUInt8(1, 0);
    want.writeUInt32LE(3, 1);
    want.writeUInt32LE(1, 5);
    want.writeUInt32LE(ring.length, 9);
    for (const [i, v] of ring.flat().entries()) want.writeDoubleLE(v, 13 + 8 * i);
    expect(rows[2][0]).toBe(want.toString('hex').toUpperCase());
    expect(String(rows[1][0]).startsWith('010600000002000000')).toBe(true);
  });
});

describe('FlatGeobuf', () => {
  /** A grid of squares, some of them missing, in the order of a planter that turns at the ends: more than two levels of the index. */
  const cells: number[][][][][] = [];
  const WIDE = 40;
  for (let pass = 0; pass < 25; pass++)
    for (let k = 0; k < WIDE; k++) {
      const x = 8 + 1e-4 * (pass % 2 === 0 ? k : WIDE - 1 - k);
      const y = 47 + 1e-4 * pass;
      if ((pass * WIDE + k) % 7 === 0) continue;
      cells.push([
        [
          [
            [x, y],
            [x + 1e-4, y],
            [x + 1e-4, y + 1e-4],
            [x, y + 1e-4],
          ],
        ],
      ]);
    }
  const grid = layerOf(cells);
  grid.columns = [{ name: 'n', kind: 'number', values: Float64Array.from(cells, (_, i) => i) }];
  const path = join(folder, 'grid.fgb');
  let bytes = Buffer.of();
  beforeAll(async () => {
    bytes = Buffer.from(await flatGeobuf(grid));
    writeFileSync(path, bytes);
  });

  const rect = { minX: 8.00123, minY: 47.00042, maxX: 8.00187, maxY: 47.00098 };
  /** By looking at every square. */
  const wanted = cells.flatMap(([[ring]], i) => {
    const [xs, ys] = [ring.map((p) => p[0]), ring.map((p) => p[1])];
    const meets =
      Math.max(...xs) >= rect.minX &&
      Math.min(...xs) <= rect.maxX &&
      Math.max(...ys) >= rect.minY &&
      Math.min(...ys) <= rect.maxY;
    return meets ? [i] : [];
  });

  it('has an index that GDAL uses: a window gives the squares in it, and no others', () => {
    expect(wanted.length).toBeGreaterThan(20);
    expect(wanted.length).toBeLessThan(100);
    const window = [rect.minX, rect.minY, rect.maxX, rect.maxY].map(String);
    const r = spawnSync('ogr2ogr', ['-f', 'CSV', '/vsistdout/', path, '-spat', ...window], { encoding: 'utf8' });
    expect([r.stderr, r.status]).toEqual(['', 0]);
    const found = r.stdout
      .trim()
      .split('\n')
      .slice(1)
      .map((l) => Number(l.replaceAll('"', '')));
    expect(found.sort((a, b) => a - b)).toEqual(wanted);
    // The same file with an index that says that everything lies at 0, 0: what GDAL asks is the index.
    const lost = Buffer.from(bytes);
    const root = 8 + 4 + lost.readUInt32LE(8);
    lost.fill(0, root, root + 32);
    writeFileSync(join(folder, 'lost.fgb'), lost);
    const none = spawnSync('ogr2ogr', ['-f', 'CSV', '/vsistdout/', join(folder, 'lost.fgb'), '-spat', ...window], {
      encoding: 'utf8',
    });
    expect(none.stdout.trim().split('\n').slice(1)).toEqual([]);
  });

  it('its index is read by the reference library of the format, which needs one for a window', async () => {
    const { deserialize } = await import('flatgeobuf/lib/mjs/geojson.js');
    const found: number[] = [];
    const quiet = console.debug;
    console.debug = () => {};
    try {
      for await (const f of deserialize(new Uint8Array(bytes), { rect })) found.push(Number(f.properties?.n));
    } finally {
      console.debug = quiet;
    }
    expect(found.sort((a, b) => a - b)).toEqual(wanted);
  });

  it.each(['a', 'abc', 'abcd', 'Sübreite 7 (2026)', 'x'.repeat(200)])(
    'is a layer of its own name: %s',
    async (name) => {
      const one = join(folder, 'named.fgb');
      writeFileSync(one, await flatGeobuf({ ...layer, name }));
      const r = spawnSync('ogrinfo', ['-ro', '-al', '-so', one], { encoding: 'utf8' });
      expect([r.stderr, r.status]).toEqual(['', 0]);
      expect(r.stdout).toContain(`\nLayer name: ${name}\n`);
      expect(r.stdout).toMatch(/Feature Count: 3/);
      expect(r.stdout).toMatch(/a_very_long_name_one: Real/);
      const { deserialize } = await import('flatgeobuf/lib/mjs/geojson.js');
      let records = 0;
      for await (const _ of deserialize(new Uint8Array(readFileSync(one)))) records++;
      expect(records).toBe(3);
    },
  );

  it('one record is indexed too', async () => {
    const one = join(folder, 'one.fgb');
    writeFileSync(one, await flatGeobuf(layerOf([cells[0]])));
    const r = spawnSync('ogrinfo', ['-ro', '-al', '-so', one, '-spat', '8', '47', '8.1', '47.1'], { encoding: 'utf8' });
    expect([r.stderr, r.status]).toEqual(['', 0]);
    expect(r.stdout).toMatch(/Feature Count: 1/);
  });
});
