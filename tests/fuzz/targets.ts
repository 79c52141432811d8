import { readFileSync } from 'node:fs';
import { check } from '../../src/core/check.ts';
import { named, type RecordSet, read } from '../../src/core/intake/index.ts';
import { planterNotes, readPlanter, ruleBreaks } from '../../src/core/planter/index.ts';
import { clean, toCsv, toGeoJson, toJson, toText } from '../../src/core/report/index.ts';
import { line, UserError } from '../../src/core/shared/messages.ts';
import type { CheckInput } from '../../src/core/steps/job.ts';
import { csv, fgb, gpkg, gz, kml, lines, parquet, points } from '../hard/format-cases.ts';
import {
  type FieldSpec,
  makeShapefile,
  makeZip,
  partsOf,
  type Ring,
  utmPrj,
  WGS84_PRJ,
} from '../intake/make-shapefile.ts';

/** Something that takes bytes from outside. `run` gives a word for what came of them, and throws for what must not come of any bytes. */
export interface Target {
  /** Sound files that are changed. */
  seeds: readonly Uint8Array[];
  run(bytes: Uint8Array): Promise<string>;
}

const utf8 = (s: string): Uint8Array => new TextEncoder().encode(s);

interface Feature {
  properties: Record<string, unknown>;
  geometry: { coordinates: Ring[] };
}
const sample = (name: string): string => readFileSync(new URL(`../../sample-data/${name}`, import.meta.url), 'utf8');
/** Records of a sample field, spread over it; at the beginning there would be one bar of many sections. */
function someOf(name: string, count: number): Feature[] {
  const all = (JSON.parse(sample(name)) as { features: Feature[] }).features;
  return all.slice(0, count);
}

const strips = someOf('test-strips/before.geojson', 48);
const field = someOf('healthy-field/north-bottom.geojson', 30);
const collection = (features: readonly Feature[], more: object = {}): Uint8Array =>
  utf8(JSON.stringify({ type: 'FeatureCollection', ...more, features }));
const holed: Feature = {
  properties: { n: 1, t: 'a\\"b', z: [1, null], u: 'Düngung' },
  geometry: {
    coordinates: [
      [
        [-93.6, 42],
        [-93.59, 42],
        [-93.59, 42.01],
        [-93.6, 42.01],
        [-93.6, 42],
      ],
      [
        [-93.598, 42.002],
        [-93.598, 42.008],
        [-93.592, 42.008],
        [-93.592, 42.002],
        [-93.598, 42.002],
      ],
    ],
  },
};
const asFeature = (f: Feature, type = 'Polygon'): Feature => ({
  ...{ type: 'Feature' },
  properties: f.properties,
  geometry: {
    ...{ type },
    coordinates: (type === 'Polygon' ? f.geometry.coordinates : [f.geometry.coordinates]) as Ring[],
  },
});

const geojson = [
  collection(strips.map((f) => asFeature(f))),
  collection([...field.map((f) => asFeature(f)), asFeature(holed), asFeature(holed, 'MultiPolygon')], {
    crs: { type: 'name', properties: { name: 'urn:ogc:def:crs:OGC:1.3:CRS84' } },
  }),
  utf8(JSON.stringify(collectionOfUtm())),
];

/** A map in meters that says so by the member of the older text. */
function collectionOfUtm(): object {
  const at = (i: number): Ring => square(450309 + 3 * i, 4649950);
  return {
    type: 'FeatureCollection',
    crs: { type: 'name', properties: { name: 'urn:ogc:def:crs:EPSG::32615' } },
    features: [0, 1, 2, 3].map((i) => asFeature({ properties: { i }, geometry: { coordinates: [at(i)] } })),
  };
}

function square(x: number, y: number): Ring {
  return [
    [x, y],
    [x, y + 2],
    [x + 2, y + 2],
    [x + 2, y],
    [x, y],
  ];
}

const fields: FieldSpec[] = [
  { name: 'N', type: 'N', length: 9, decimals: 2 },
  { name: 'C', type: 'C', length: 9 },
  { name: 'D', type: 'D', length: 8 },
  { name: 'T', type: 'T', length: 8 },
  { name: 'L', type: 'L', length: 1 },
  { name: 'M', type: 'M', length: 10 },
];
function shapefile(rings: readonly (readonly Ring[])[], more: object): Record<string, Uint8Array> {
  const rows = rings.map((_, i) => [i, `t${i}ü`, '20260401', null, 'T', '']);
  return partsOf('f', makeShapefile({ records: rings, fields, rows, cpg: 'UTF-8', ...more }));
}
const turned = (f: Feature): Ring[] => f.geometry.coordinates.map((r) => [...r].reverse());
const meters = [0, 1, 2, 3].map((i) => [square(450309 + 3 * i, 4649950)]);
const shapefiles = [
  shapefile([...strips.slice(0, 16), holed].map(turned), { prj: WGS84_PRJ }),
  shapefile(meters, { prj: utmPrj(15, 'N'), language: 0x57 }),
  shapefile([...strips.slice(0, 6), holed].map(turned), { prj: WGS84_PRJ, shapeType: 15 }),
];

const planterFiles = ['test-strips/test-strips.planter.json', 'healthy-field/healthy-field.planter.json'].map(sample);
const planter = readPlanter(planterFiles[0], 'test-strips.planter.json');

/** One part of a shapefile changed, the others as they were. */
function part(ext: string): Target {
  const seeds = shapefiles.map((s) => s[`f.${ext}`]);
  return {
    seeds,
    async run(bytes) {
      const said = await Promise.all(shapefiles.slice(0, 2).map((s) => reading({ ...s, [`f.${ext}`]: bytes })));
      return said.join(' ');
    },
  };
}

export const TARGETS: Readonly<Record<string, Target>> = {
  geojson: { seeds: geojson, run: (bytes) => reading({ 'map.geojson': bytes }) },
  shp: part('shp'),
  dbf: part('dbf'),
  prj: part('prj'),
  cpg: part('cpg'),
  shx: part('shx'),
  zip: {
    seeds: [...shapefiles.map((s) => makeZip(s)), makeZip(shapefiles[1], 0), makeZip({ 'a/map.geojson': geojson[1] })],
    run: (bytes) => reading({ 'map.zip': bytes }),
  },
  unnamed: {
    seeds: [geojson[1], shapefiles[0]['f.shp'], makeZip(shapefiles[0])],
    run: (bytes) => reading({ download: bytes }),
  },
  sequence: { seeds: [lines()], run: (bytes) => reading({ 'map.geojsonl': bytes }) },
  gzip: { seeds: [gz()], run: (bytes) => reading({ 'map.geojson.gz': bytes }) },
  flatgeobuf: { seeds: [fgb()], run: (bytes) => reading({ 'map.fgb': bytes }) },
  geopackage: { seeds: [gpkg()], run: (bytes) => reading({ 'map.gpkg': bytes }) },
  geoparquet: { seeds: [parquet()], run: (bytes) => reading({ 'map.parquet': bytes }) },
  kml: { seeds: [kml()], run: (bytes) => reading({ 'map.kml': bytes }) },
  csv: { seeds: [csv(), points()], run: (bytes) => reading({ 'map.csv': bytes }) },
  planter: {
    seeds: planterFiles.map(utf8),
    async run(bytes) {
      return outcome(async () => {
        const p = readPlanter(new TextDecoder().decode(bytes), 'p.planter.json');
        ruleBreaks(p);
        planterNotes(p);
        // Any planter that is taken can be checked against.
        return checked({ map: [named('map.geojson', geojson[0])], planter: p });
      });
    },
  },
  check: {
    seeds: geojson.slice(0, 2),
    run: (bytes) => outcome(() => checked({ map: [named('map.geojson', bytes)], planter })),
  },
  boundary: {
    seeds: [
      collection([asFeature({ properties: {}, geometry: { coordinates: [around(strips, 2e-4)] } })]),
      collection([
        asFeature({ properties: {}, geometry: { coordinates: [around(strips, 2e-4), turned0(around(strips, 1e-4))] } }),
      ]),
    ],
    run: (bytes) =>
      outcome(() =>
        checked({ map: [named('map.geojson', geojson[0])], planter, boundary: [named('boundary.geojson', bytes)] }),
      ),
  },
};

function around(features: readonly Feature[], margin: number): Ring {
  const points = features.flatMap((f) => f.geometry.coordinates.flat());
  const [xs, ys] = [points.map((p) => p[0]), points.map((p) => p[1])];
  const [x0, x1, y0, y1] = [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)];
  return [
    [x0 - margin, y0 - margin],
    [x1 + margin, y0 - margin],
    [x1 + margin, y1 + margin],
    [x0 - margin, y1 + margin],
    [x0 - margin, y0 - margin],
  ];
}

function turned0(ring: Ring): Ring {
  return [...ring].reverse();
}

/** 'read', or the code of the refusal. A refusal must be one line that a terminal and a reader can take. */
async function outcome(work: () => Promise<string>): Promise<string> {
  try {
    return await work();
  } catch (e) {
    if (!(e instanceof UserError)) throw e;
    const said = clean(line(e.detail));
    if (/\p{Cc}|[\u202a-\u202e\u2066-\u2069]/u.test(said))
      throw new Error(`a message with hidden characters: ${JSON.stringify(said)}`);
    if (said.length > 1500) throw new Error(`a message of ${said.length} characters`);
    if (!/[.!?]$/.test(e.detail.sentence) || !/[.!?]$/.test(e.detail.todo)) throw new Error(`not a sentence: ${said}`);
    return e.detail.code;
  }
}

function reading(files: Record<string, Uint8Array>): Promise<string> {
  return outcome(async () => {
    agree(await read(Object.entries(files).map(([name, bytes]) => named(name, bytes))));
    return 'read';
  });
}

/** The arrays of a record set fit each other, and no record is lost. */
function agree(set: RecordSet): void {
  const n = set.recordNumber.length;
  const skipped = set.skipped.reduce((s, a) => s + a.count, 0);
  const must = (good: boolean, what: string): void => {
    if (!good) throw new Error(`broken record set: ${what}`);
  };
  must(n > 0, 'no record');
  must(set.total === n + skipped, 'records lost');
  must(set.shapes.shapeStart.length === n + 1, 'shapeStart');
  must(set.shapes.ringStart.at(-1) === set.shapes.xy.length / 2, 'ringStart');
  must(set.shapes.shapeStart.at(-1) === set.shapes.ringStart.length - 1, 'last shape');
  // Of a log of points several records may come of one point, and the log may have been put in order.
  const laid = set.notes.some((note) => note.code === 'points-laid');
  for (let i = 1; i < n && !laid; i++) must(set.recordNumber[i] > set.recordNumber[i - 1], 'order of records');
  must(laid || set.recordNumber[n - 1] <= set.total, 'record number');
  for (const c of set.columns) {
    must((c.kind === 'number' ? c.values.length : c.codes.length) === n, `column ${c.name}`);
    if (c.kind === 'text') for (const k of c.codes) must(k < c.words.length, `word of ${c.name}`);
  }
  for (const note of set.notes) must(/[.!?]$/.test(note.sentence), `note ${note.code}`);
}

/** A whole check with every report written. */
async function checked(input: CheckInput): Promise<string> {
  const answer = await check(input);
  const json = toJson(answer);
  const report = JSON.parse(json);
  if (report.report !== 'guessrow/1') throw new Error('no report');
  if (report.map.used > report.map.records) throw new Error('more records used than there are');
  if (!(answer.report.area.residual < 1e-6)) throw new Error(`areas do not add up: ${answer.report.area.residual}`);
  JSON.parse(toGeoJson(answer));
  for (const l of toCsv(answer).split('\n')) if (/(^|,)"?[=@\t]/.test(l)) throw new Error(`a formula in the CSV: ${l}`);
  const text = toText(answer);
  if (/[^\P{Cc}\n]/u.test(text)) throw new Error('hidden characters in the text');
  return report.verdict;
}
