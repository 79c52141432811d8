/**
 * Maps that are drawn and broken with GEOS (foreign.py), written by GDAL (Debian ogr2ogr) and DuckDB (GeoParquet), and read here: the area of every
 * record, of all of them together and of what lies double must be what GEOS says, in every format.
 *
 *   npx tsx tests/fuzz/foreign.ts ROUNDS [SEED]
 */
import { execFileSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { basename, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { DuckDBInstance } from '@duckdb/node-api';
import { gzipSync, zipSync } from 'fflate';
import { measure } from '../../src/core/coverage/index.ts';
import type { Shapes } from '../../src/core/geometry/shapes.ts';
import { named, type RecordSet, read } from '../../src/core/intake/index.ts';
import { keepLast } from './last.ts';

interface Expected {
  areas: number[];
  union: number;
  twice: number;
}
interface Drawn {
  features: { properties: { round: number; n: number }; geometry: unknown; wkb: string }[];
  rounds: Expected[];
  asShapefile: Expected[];
}

/** GDAL's driver, the ending of its file, and options. A .shz is a shapefile in a .zip. */
const BY_GDAL: readonly (readonly [driver: string, ending: string, ...options: string[]])[] = [
  ['GeoJSON', 'geojson', '-lco', 'COORDINATE_PRECISION=7'],
  ['GeoJSONSeq', 'geojsonl', '-lco', 'COORDINATE_PRECISION=7'],
  ['GeoJSONSeq', 'geojsons', '-lco', 'RS=YES', '-lco', 'COORDINATE_PRECISION=7'],
  ['ESRI Shapefile', 'shp'],
  ['ESRI Shapefile', 'shz'],
  ['CSV', 'csv', '-lco', 'GEOMETRY=AS_WKT'],
  ['FlatGeobuf', 'fgb'],
  ['GPKG', 'gpkg'],
  ['KML', 'kml'],
];
export const FORMATS: readonly string[] = [...BY_GDAL.map(([, ending]) => ending), 'parquet', 'geojson.gz', 'kmz'];

/** Areas by two ways of adding, relative; GEOS puts crossings on doubles some 1e-16 of the map apart. */
const TOLERANCE = 1e-7;

function drawn(seed: string, rounds: number): Drawn {
  const text = execFileSync('/usr/bin/python3', ['tests/fuzz/foreign.py', seed, String(rounds)], {
    encoding: 'utf8',
    maxBuffer: 1 << 28,
  });
  return JSON.parse(text) as Drawn;
}

async function writeParquet(file: string, { features }: Drawn): Promise<void> {
  const db = await (await DuckDBInstance.create(':memory:')).connect();
  await db.run('CREATE TABLE t (round INTEGER, n INTEGER, geometry BLOB)');
  const rows = features.map(({ properties: p, wkb }) => `(${p.round}, ${p.n}, unhex('${wkb}'))`);
  await db.run(`INSERT INTO t VALUES ${rows.join(',')}`);
  const geo = {
    version: '1.0.0',
    primary_column: 'geometry',
    columns: { geometry: { encoding: 'WKB', geometry_types: [] } },
  };
  await db.run(`COPY t TO '${file}' (FORMAT parquet, KV_METADATA {geo: '${JSON.stringify(geo)}'})`);
  db.closeSync();
}

/** Every file of the map, by format. */
async function writeAll(dir: string, map: Drawn): Promise<Map<string, string[]>> {
  const source = join(dir, 'source.geojson');
  const features = map.features.map(({ properties, geometry }) => ({ type: 'Feature', properties, geometry }));
  writeFileSync(source, JSON.stringify({ type: 'FeatureCollection', features }));
  const files = new Map<string, string[]>();
  for (const [driver, ending, ...options] of BY_GDAL) {
    const folder = join(dir, ending);
    mkdirSync(folder);
    execFileSync('ogr2ogr', ['-f', driver, ...options, join(folder, `map.${ending}`), source], { stdio: 'pipe' });
    files.set(
      ending,
      readdirSync(folder).map((name) => join(folder, name)),
    );
  }
  const parquet = join(dir, 'map.parquet');
  await writeParquet(parquet, map);
  files.set('parquet', [parquet]);
  const packed = join(dir, 'map.geojson.gz');
  writeFileSync(packed, gzipSync(readFileSync(source), { mtime: 0 }));
  files.set('geojson.gz', [packed]);
  // GDAL's own writer of KMZ (LIBKML) refuses invalid polygons.
  const kmz = join(dir, 'map.kmz');
  writeFileSync(kmz, zipSync({ 'doc.kml': readFileSync(join(dir, 'kml', 'map.kml')) }));
  files.set('kmz', [kmz]);
  return files;
}

/** The shapes in `which`. */
function some(shapes: Shapes, which: readonly number[]): Shapes {
  const { xy, ringStart, shapeStart, tangled } = shapes;
  const out: number[] = [];
  const rings = [0];
  const starts = [0];
  const roles = new Map<number, Int32Array>();
  which.forEach((i, k) => {
    for (let r = shapeStart[i]; r < shapeStart[i + 1]; r++) {
      for (let v = 2 * ringStart[r]; v < 2 * ringStart[r + 1]; v++) out.push(xy[v]);
      rings.push(out.length / 2);
    }
    starts.push(rings.length - 1);
    const role = tangled?.get(i);
    if (role) roles.set(k, role);
  });
  return {
    xy: Int32Array.from(out),
    ringStart: Uint32Array.from(rings),
    shapeStart: Uint32Array.from(starts),
    tangled: roles,
  };
}

function numbers(set: RecordSet, name: string): number[] {
  const column = set.columns.find((c) => c.name === name);
  if (!column) throw new Error(`no column ${name}, but ${set.columns.map((c) => c.name).join(', ')}`);
  return column.kind === 'number' ? [...column.values] : Array.from(column.codes, (c) => Number(column.words[c]));
}

/** How the reading of one file differs from what GEOS says. */
function differences(set: RecordSet, rounds: readonly Expected[], what: string): string[] {
  const out: string[] = [];
  const round = numbers(set, 'round');
  const n = numbers(set, 'n');
  const perStep = (1e7 / set.lattice.stepsPerDegree) ** 2;
  const near = (a: number, b: number): boolean => Math.abs(a - b) <= TOLERANCE * Math.max(a, b) + 1e-3;
  const say = (k: number, name: string, ours: number, geos: number): void => {
    if (!near(ours, geos)) out.push(`${what}, round ${k}, ${name}: ${ours}, GEOS ${geos}`);
  };
  rounds.forEach(({ areas, union, twice }, k) => {
    const which = round.flatMap((r, i) => (r === k ? [i] : []));
    if (which.length !== areas.length) {
      out.push(`${what}, round ${k}: ${which.length} records of ${areas.length}`);
      return;
    }
    const { areaM2, areaAtDepthM2 } = measure(some(set.shapes, which), [1, 0, 0, 0]);
    which.forEach((i, at) => {
      say(k, `record ${n[i]}`, areaM2[at] * perStep, areas[n[i]]);
    });
    say(k, 'union', areaAtDepthM2[0] * perStep, union);
    say(k, 'twice', (areaAtDepthM2[1] ?? 0) * perStep, twice);
  });
  return out;
}

/** Draws `rounds` maps, writes them together in every format and reads them again; what differs from GEOS, and how many records were compared. */
export async function foreignRounds(seed: string, rounds: number): Promise<{ differ: string[]; compared: number }> {
  const map = drawn(seed, rounds);
  const dir = mkdtempSync(join(tmpdir(), 'foreign-'));
  const differ: string[] = [];
  try {
    for (const [format, files] of await writeAll(dir, map)) {
      const parts = files.map((f) => named(basename(f).replace('.shz', '.zip'), readFileSync(f)));
      const expected = format.startsWith('sh') ? map.asShapefile : map.rounds;
      differ.push(...differences(await read(parts), expected, `seed ${seed}, ${format}`));
    }
  } finally {
    rmSync(dir, { recursive: true });
  }
  return { differ, compared: FORMATS.length * map.features.length };
}

/** Maps that are drawn and written at once. */
const TOGETHER = 50;

if (process.argv[1] === fileURLToPath(import.meta.url)) {
  const rounds = Number(process.argv[2] ?? 40);
  const first = Number(process.argv[3] ?? 1);
  let [compared, differ, done] = [0, 0, 0];
  let seed = first;
  for (; done < rounds; seed++) {
    const batch = Math.min(TOGETHER, rounds - done);
    const r = await foreignRounds(String(seed), batch);
    done += batch;
    compared += r.compared;
    differ += r.differ.length;
    for (const d of r.differ) process.stdout.write(`${d}\n`);
    process.stdout.write(`seed ${seed}: ${done} rounds, ${compared} readings of records, ${differ} differences\n`);
  }
  keepLast(
    'Maps of other programs',
    `Written by \`npx tsx tests/fuzz/foreign.ts ROUNDS [SEED]\`: one seed for every ${TOGETHER} rounds; every record is read in each format.

| rounds | seeds | records | formats | records, unions and overlaps that differ from GEOS |
|---|---|---|---|---|
| ${rounds} | ${first}-${seed - 1} | ${compared / FORMATS.length} | ${FORMATS.join(', ')} | ${differ} |`,
  );
  process.exitCode = differ > 0 ? 1 : 0;
}
