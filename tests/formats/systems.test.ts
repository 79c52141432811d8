/** Coordinate systems by code, by name and by WKT against PROJ (Debian's gdal-bin), and written back in the system that a map came in. */
import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { parseOptions } from '../../src/cli/options.ts';
import { REBUILD_OPTIONS, runRebuild } from '../../src/cli/rebuild.ts';
import {
  canBear,
  flatGeobuf,
  geoJson,
  geoPackage,
  inSystem,
  type Layer,
  shapefileZip,
} from '../../src/core/formats/index.ts';
import { crsOf, named, read, type System, wantedCrs } from '../../src/core/intake/index.ts';
import { UserError } from '../../src/core/shared/messages.ts';
import { drawField } from '../generator/index.ts';
import { PLANTERS, rowsOf } from '../generator/planters.ts';
import { collection, degrees, feature, readText, square } from '../intake/helpers.ts';
import { field } from '../settings/help.ts';

const dir = mkdtempSync(join(tmpdir(), 'systems-'));
afterAll(() => rmSync(dir, { recursive: true, force: true }));

function tool(name: string, args: string[], input = ''): string {
  const r = spawnSync(name, args, { encoding: 'utf8', input });
  expect([r.status, r.stderr]).toEqual([0, '']);
  return r.stdout;
}

/** A place in each zone, degrees. */
const ZONES: [code: number, name: string, lon: number, lat: number][] = [
  [3435, 'NAD83 / Illinois East (ftUS)', -88.2, 40.1],
  [6455, 'NAD83(2011) / Illinois East (ftUS)', -88.2, 40.1],
  [26975, 'NAD83 / Iowa North', -93.6, 42.6],
  [3417, 'NAD83 / Iowa North (ftUS)', -93.6, 42.6],
  [32104, 'NAD83 / Nebraska', -99.1, 41.2],
  [2965, 'NAD83 / Indiana East (ftUS)', -85.4, 40.5],
  [2252, 'NAD83 / Michigan Central (ft)', -84.6, 43.9],
  [2264, 'NAD83 / North Carolina (ftUS)', -77.6, 35.6],
  [2229, 'NAD83 / California zone 5 (ftUS)', -119.2, 35.3],
  [6344, '', -93.2, 43.1],
  [2957, '', -105.4, 51.3],
  [26915, 'NAD83 / UTM zone 15N', -93.2, 43.1],
  [32721, 'WGS 84 / UTM zone 21S', -57.3, -25.1],
];

/** East and north by PROJ, in the order of a map. */
function byProj(code: number, lon: number, lat: number): [number, number] {
  // From the degrees of its own datum where PROJ has a shift: here the two are one (they differ by two meters at most).
  const degrees = code === 2957 ? 'EPSG:4617' : 'OGC:CRS84';
  const out = tool('gdaltransform', ['-s_srs', degrees, '-t_srs', `EPSG:${code}`, '-output_xy'], `${lon} ${lat}\n`);
  const [x, y] = out.trim().split(/\s+/).map(Number);
  return [x, y];
}

describe('a crs member that names a system as a .prj would', () => {
  it.each(ZONES)('EPSG:%i %s, by code and by name, within a millimeter of PROJ', async (code, name, lon, lat) => {
    const [x, y] = byProj(code, lon, lat);
    const ring = square(x, y, 20);
    for (const as of [`urn:ogc:def:crs:EPSG::${code}`, ...(name === '' ? [] : [name])]) {
      const text = JSON.stringify({
        ...collection([feature([ring])]),
        crs: { type: 'name', properties: { name: as } },
      });
      const set = await readText(text);
      // PROJ too treats NAD83 as WGS84 where it may be off by meters (its "ballpark" rule is a null shift).
      const near = degrees(set, 0)[0].some(
        ([a, b]) => Math.abs(a - lon) * 111_000 < 0.001 && Math.abs(b - lat) * 111_000 < 0.001,
      );
      expect([as, near]).toEqual([as, true]);
    }
  });

  it('WKT, as some programs write it there, is read as a .prj is', async () => {
    const [, , lon, lat] = ZONES[0];
    const wkt = tool('gdalsrsinfo', ['-o', 'wkt_esri', '--single-line', 'EPSG:3435']).trim();
    const [x, y] = byProj(3435, lon, lat);
    const set = await readText(
      JSON.stringify({
        ...collection([feature([square(x, y, 20)])]),
        crs: { type: 'name', properties: { name: wkt } },
      }),
    );
    expect(degrees(set, 0)[0].some(([a]) => Math.abs(a - lon) * 111_000 < 0.001)).toBe(true);
    expect(set.system?.wkt).toBe(wkt);
  });

  it('an ESRI name of a zone is read, and other names are refused', async () => {
    const [x, y] = byProj(3435, -88.2, 40.1);
    const of = (crs: object) => readText(JSON.stringify({ ...collection([feature([square(x, y, 20)])]), crs }));
    const set = await of({ type: 'name', properties: { name: 'NAD_1983_StatePlane_Illinois_East_FIPS_1201_Feet' } });
    expect(set.system?.code).toBe(3435);
    for (const crs of [
      { type: 'name', properties: { name: 'NAD83 / Atlantis North (ftUS)' } },
      { type: 'name', properties: { name: 'EPSG:27700' } },
      { type: 'link', properties: { href: 'http://example.org/crs', type: 'proj4' } },
    ])
      await expect(of(crs)).rejects.toBeInstanceOf(UserError);
  });
});

const layer = (lon: number, lat: number): Layer => ({
  name: 'rebuilt',
  lonLat: Float64Array.from(square(lon, lat, 2e-4).slice(0, 4).flat()),
  ringStart: Uint32Array.of(0, 4),
  polygonStart: Uint32Array.of(0, 1),
  recordStart: Uint32Array.of(0, 1),
  columns: [{ name: 'n', kind: 'number', values: Float64Array.of(1) }],
});

describe('written in another system', () => {
  it.each([3435, 26975, 2252, 32721, 25832])(
    'EPSG:%i comes back from GDAL at its place, from every format that bears it',
    async (code) => {
      const [lon, lat] =
        code === 25832
          ? [9.1, 48.2]
          : ((ZONES.find((z) => z[0] === code) as (typeof ZONES)[number]).slice(2) as [number, number]);
      const system = (await wantedCrs(`EPSG:${code}`, 'm')) as System;
      const own = layer(lon, lat);
      const turned = inSystem(own, system);
      const files: [string, Uint8Array | string, string][] = [
        ['m.gpkg', await geoPackage(turned), ''],
        ['m.zip', shapefileZip(turned), '/vsizip/'],
        ['m.fgb', Buffer.from(await flatGeobuf(turned)), ''],
        ['m.geojson', [...geoJson(turned)].join(''), ''],
      ];
      for (const [name, bytes, prefix] of files) {
        expect(canBear(name.slice(1) as '.zip', system, true)).toBe(true);
        const path = join(dir, `${code}-${name}`);
        writeFileSync(path, bytes);
        const json = tool('ogr2ogr', [
          '-f',
          'GeoJSON',
          '-t_srs',
          'OGC:CRS84',
          '-lco',
          'COORDINATE_PRECISION=12',
          '/vsistdout/',
          `${prefix}${path}`,
        ]);
        const g = JSON.parse(json).features[0].geometry;
        const ring: number[][] = g.type === 'Polygon' ? g.coordinates[0] : g.coordinates[0][0];
        for (let i = 0; i < 8; i += 2) {
          const near = ring.some(
            ([x, y]) => Math.abs(x - own.lonLat[i]) < 1e-9 && Math.abs(y - own.lonLat[i + 1]) < 1e-9,
          );
          expect([name, near]).toEqual([name, true]);
        }
        const again = await read([named(name, new Uint8Array(readFileSync(path)))]);
        expect([name, again.system?.code ?? null]).toEqual([name, code]);
      }
      expect(canBear('.parquet', system, true)).toBe(false);
      expect(canBear('.geojson', system, false)).toBe(false);
    },
  );
});

/** `guessrow rebuild` with what it prints. */
async function rebuildTo(map: string, out: string, ...more: string[]): Promise<string> {
  let said = '';
  const args = parseOptions(
    [map, '--planter', join(dir, 'p.planter.json'), '--planting', 'narrow', '--out', out, ...more],
    REBUILD_OPTIONS,
    ['MAP'],
    'rebuild',
  );
  const io = {
    out: async (t: string) => {
      said += t;
    },
    err: () => {},
    paint: null,
    progress: false,
    onStop: () => {},
  };
  expect(await runRebuild(args, io)).toBe(0);
  return said.replaceAll(/\s+/g, ' ');
}

describe('a rebuilt map', () => {
  it('is written in the system of the map, kept polygons with their digits, unless --crs names another', async () => {
    writeFileSync(join(dir, 'p.planter.json'), JSON.stringify(PLANTERS.fifteen.file));
    const spec = field(PLANTERS.fifteen, 'narrow', {
      shape: { kind: 'strip', lengthM: 100, passes: 4 },
      belief: { planted: rowsOf(15, 'odd') },
    });
    const prj = tool('gdalsrsinfo', ['-o', 'wkt_esri', '--single-line', 'EPSG:32632']).trim();
    const utm = crsOf({ ...((await wantedCrs('EPSG:32632', 'm')) as System), code: null, wkt: prj, name: 'own' });
    const { features } = drawField(spec).features;
    const rings = features.map((f) =>
      (f.geometry as { coordinates: number[][][] }).coordinates[0]
        .slice(0, -1)
        .map(([x, y]) => utm.fromDegrees([x, y]).map((v) => Number(v.toFixed(3)))),
    );
    const map: Layer = {
      name: 'm',
      lonLat: Float64Array.from(rings.flat(2)),
      ringStart: Uint32Array.from([0, ...rings.map((_, i) => 4 * (i + 1))]),
      polygonStart: Uint32Array.from([0, ...rings.map((_, i) => i + 1)]),
      recordStart: Uint32Array.from([0, ...rings.map((_, i) => i + 1)]),
      columns: [{ name: 't', kind: 'number', values: Float64Array.from(features, (_, i) => i) }],
      system: utm,
    };
    writeFileSync(join(dir, 'utm.zip'), shapefileZip(map));
    await rebuildTo(join(dir, 'utm.zip'), join(dir, 'back.zip'));
    expect(tool('unzip', ['-p', join(dir, 'back.zip'), '*.prj'])).toBe(prj);
    const back = await read([named('back.zip', new Uint8Array(readFileSync(join(dir, 'back.zip'))))]);
    expect(back.system?.wkt).toBe(prj);
    const before = await read([named('utm.zip', new Uint8Array(readFileSync(join(dir, 'utm.zip'))))]);
    const [x0] = degrees(before, 0)[0];
    expect(degrees(back, 0)[0].some(([a, b]) => Math.abs(a - x0[0]) < 1e-4 && Math.abs(b - x0[1]) < 1e-4)).toBe(true);
    // GeoJSON is WGS84 by its standard, and a note says so; --crs asks for degrees in a format that could hold the system.
    const said = await rebuildTo(join(dir, 'utm.zip'), join(dir, 'back.geojson'));
    expect(said).toMatch(/\.geojson cannot be written in the coordinate system .* written in WGS84 degrees/);
    expect(JSON.parse(readFileSync(join(dir, 'back.geojson'), 'utf8'))).not.toHaveProperty('crs');
    await rebuildTo(join(dir, 'utm.zip'), join(dir, 'deg.zip'), '--crs', 'EPSG:4326');
    expect(tool('unzip', ['-p', join(dir, 'deg.zip'), '*.prj'])).toMatch(/^GEOGCS/);
    await expect(rebuildTo(join(dir, 'utm.zip'), join(dir, 'x.parquet'), '--crs', 'EPSG:3435')).rejects.toMatchObject({
      detail: { code: 'crs-format' },
    });
  }, 300_000);

  it('digits of coordinates with four decimals or fewer come back', async () => {
    const system = (await wantedCrs('EPSG:32615', 'm')) as System;
    const crs = crsOf(system);
    const xy = [500123.4567, 4712345.0013, 500125.5, 4712345, 500125.501, 4712347.12, 500123.4, 4712347.1];
    const lonLat = Float64Array.from(xy);
    for (let i = 0; i < 8; i += 2) {
      const [lon, lat] = crs.toDegrees([xy[i], xy[i + 1]]);
      // As the intake holds them: steps of 1e-10 degree.
      lonLat[i] = Math.round(lon * 1e10) / 1e10;
      lonLat[i + 1] = Math.round(lat * 1e10) / 1e10;
    }
    expect([...inSystem({ ...layer(0, 0), lonLat }, system).lonLat]).toEqual(xy);
  });
});
