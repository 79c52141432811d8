import { gzipSync } from 'fflate';
import { flatGeobuf, geoPackage, geoParquet, type Layer } from '../../src/core/formats/index.ts';
import { collection, feature, square, utf8 } from '../intake/helpers.ts';
import { makeShapefile, makeZip, partsOf, rectangle, WGS84_PRJ } from '../intake/make-shapefile.ts';
import type { Expected } from './cases.ts';

type Files = Record<string, Uint8Array>;
export type FormatCase = readonly [what: string, expected: Expected, files: () => Files, args?: readonly string[]];

/** Three squares with a number and a word each. */
export const SQUARES: Layer = {
  name: 'squares',
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
    { name: 'n', kind: 'number', values: Float64Array.of(1, 2, 3) },
    { name: 'w', kind: 'text', codes: Uint32Array.of(1, 2, 1), words: ['', 'a', 'b'] },
  ],
};
const FGB = await flatGeobuf(SQUARES);
export const fgb = (): Uint8Array => FGB.slice();
const one: Layer = {
  ...SQUARES,
  lonLat: SQUARES.lonLat.slice(0, 8),
  ringStart: Uint32Array.of(0, 4),
  polygonStart: Uint32Array.of(0, 1),
  recordStart: Uint32Array.of(0, 1),
  columns: [],
};
const ONE_FGB = await flatGeobuf(one);
const oneFgb = (): Uint8Array => ONE_FGB.slice();
const PARQUET = await geoParquet(SQUARES);
export const parquet = (): Uint8Array => PARQUET.slice();
const GPKG = await geoPackage(SQUARES);
export const gpkg = (): Uint8Array => GPKG.slice();
const ring = (i: number): string =>
  square(-93.6 + i * 1e-4, 42)
    .map((p) => p.join(','))
    .join(' ');
const placemark = (i: number, body?: string): string =>
  `<Placemark><name>${i}</name>${body ?? `<Polygon><outerBoundaryIs><LinearRing><coordinates>${ring(i)}</coordinates></LinearRing></outerBoundaryIs></Polygon>`}</Placemark>`;
const kmlOf = (inside: string): string =>
  `<?xml version="1.0" encoding="UTF-8"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document>${inside}</Document></kml>`;
export const kml = (): Uint8Array => utf8(kmlOf([0, 1, 2].map((i) => placemark(i)).join('')));
const features = [0, 1, 2].map((i) => feature([square(-93.6 + i * 1e-4, 42)], { n: i }));
const json = utf8(JSON.stringify(collection(features)));
export const lines = (): Uint8Array => utf8(features.map((f) => JSON.stringify(f)).join('\n'));
const wkt = (i: number): string =>
  `"POLYGON ((${square(-93.6 + i * 1e-4, 42)
    .map((p) => p.join(' '))
    .join(', ')}))"`;
export const csv = (): Uint8Array => utf8(`n,WKT\n${[0, 1, 2].map((i) => `${i},${wkt(i)}`).join('\n')}\n`);
export const gz = (): Uint8Array => gzipSync(json, { mtime: 0 });
/** Points of two passes of a planter of 6 m. */
export const points = (): Uint8Array =>
  utf8(
    `longitude,latitude,width_m\n${Array.from({ length: 24 }, (_, i) => {
      const pass = Math.floor(i / 12);
      const k = pass === 0 ? i : 23 - i;
      return `${-93.6 + pass * 7.24e-5},${42 + k * 2e-5},6`;
    }).join('\n')}\n`,
  );

const cut = (bytes: Uint8Array, share: number): Uint8Array => bytes.slice(0, Math.floor(bytes.length * share));
const edited = (bytes: Uint8Array, at: number, value: number): Uint8Array => {
  const out = bytes.slice();
  out[at < 0 ? out.length + at : at] = value;
  return out;
};
const text =
  (name: string, content: string): (() => Files) =>
  () => ({ [name]: utf8(content) });
const check = (name: string, ...more: string[]): string[] => ['check', name, '--planter', 'p.planter.json', ...more];
const many = (count: number): unknown[] =>
  Array.from({ length: count }, (_, i) => feature([square(-93.6 + i * 2e-5, 42)], { n: i }));

export const FORMAT_CASES: readonly FormatCase[] = [
  ['a feature a line', { read: 'as any GeoJSON' }, () => ({ 'map.geojsonl': lines() })],
  [
    'a text sequence (RFC 8142)',
    { read: 'as any GeoJSON' },
    text('map.geojsons', features.map((f) => `\u001e${JSON.stringify(f)}\n`).join('')),
  ],
  ['the last line is cut off', { refused: 'json-truncated' }, () => ({ 'map.geojsonl': cut(lines(), 0.95) })],
  [
    'a line that is no feature',
    { setAside: 'not a feature' },
    text(
      'map.geojsonl',
      [features[0], 7, features[2]]
        .map((f) => JSON.stringify(f))
        .join('\n')
        .replace('7', '{"a":1}'),
    ),
  ],
  [
    'two collections, one after the other',
    { refused: 'several-documents' },
    text('map.geojson', `${JSON.stringify(collection(features))}\n${JSON.stringify(collection(features))}`),
  ],
  ['a folder with a map and its planter file', { read: 'the map in it' }, () => ({ 'map.geojson': json }), check('.')],
  ['gzip of a GeoJSON', { read: 'as what is in it' }, () => ({ 'map.geojson.gz': gz() })],
  ['gzip without a name that says so', { read: 'as what is in it' }, () => ({ download: gz() }), check('download')],
  ['gzip cut off', { refused: 'gzip-broken' }, () => ({ 'map.geojson.gz': cut(gz(), 0.7) })],
  ['gzip with a wrong checksum', { refused: 'gzip-broken' }, () => ({ 'map.geojson.gz': edited(gz(), -6, 1) })],
  [
    'gzip of 200 MB of blanks',
    { refused: 'zip-bomb' },
    () => ({ 'map.geojson.gz': gzipSync(new Uint8Array(2e8).fill(32)) }),
  ],
  ['FlatGeobuf', { read: 'with its columns' }, () => ({ 'map.fgb': fgb() })],
  ['FlatGeobuf cut off', { refused: 'fgb-broken' }, () => ({ 'map.fgb': cut(fgb(), 0.9) })],
  ['FlatGeobuf cut in its header', { refused: 'fgb-broken' }, () => ({ 'map.fgb': cut(fgb(), 0.05) })],
  ['FlatGeobuf of another version', { refused: 'fgb-header' }, () => ({ 'map.fgb': edited(fgb(), 3, 9) })],
  ['FlatGeobuf with a damaged header', { refused: 'fgb-broken' }, () => ({ 'map.fgb': edited(fgb(), 12, 0xff) })],
  ['GeoPackage', { read: 'with its columns' }, () => ({ 'map.gpkg': gpkg() })],
  ['GeoPackage cut off', { refused: 'gpkg-broken' }, () => ({ 'map.gpkg': cut(gpkg(), 0.6) })],
  ['GeoPackage of 20 bytes', { refused: 'gpkg-broken' }, () => ({ 'map.gpkg': gpkg().slice(0, 20) })],
  ['GeoPackage that is a text', { refused: 'gpkg-broken' }, text('map.gpkg', 'not a database')],
  ['FlatGeobuf of one record, which has a root above it', { read: 'with its index' }, () => ({ 'map.fgb': oneFgb() })],
  [
    'a crs member that names a state plane zone of no such place',
    { refused: 'crs-unknown' },
    text(
      'map.geojson',
      JSON.stringify({
        ...collection(features),
        crs: { type: 'name', properties: { name: 'NAD83 / Atlantis (ftUS)' } },
      }),
    ),
  ],
  [
    'a crs member that is a link',
    { refused: 'crs-unknown' },
    text('map.geojson', JSON.stringify({ ...collection(features), crs: { type: 'link', properties: { href: 'x' } } })),
  ],
  [
    'a role of points for polygons',
    { refused: 'columns-role' },
    () => ({ 'map.geojson': json }),
    check('map.geojson', '--columns', 'distance=n'),
  ],
  ['GeoParquet', { read: 'with its columns' }, () => ({ 'map.parquet': parquet() })],
  ['GeoParquet cut off', { refused: 'parquet-broken' }, () => ({ 'map.parquet': cut(parquet(), 0.9) })],
  ['GeoParquet of 5 bytes', { refused: 'parquet-broken' }, text('map.parquet', 'PAR1.')],
  [
    'Parquet without the metadata of GeoParquet',
    { refused: 'not-geoparquet' },
    () => {
      const bytes = parquet();
      const at = new TextDecoder('latin1').decode(bytes).lastIndexOf('geo', bytes.length - 200);
      const key = new TextDecoder('latin1').decode(bytes).indexOf('\u0003geo');
      return { 'map.parquet': edited(bytes, key > 0 ? key + 1 : at, 0x78) };
    },
  ],
  ['KML', { read: 'every Placemark is a record' }, () => ({ 'map.kml': kml() })],
  ['KMZ', { read: 'as the KML in it' }, () => ({ 'map.kmz': makeZip({ 'doc.kml': kml() }) }), check('map.kmz')],
  ['KML cut off', { refused: 'kml-truncated' }, () => ({ 'map.kml': cut(kml(), 0.8) })],
  ['KML that is HTML', { refused: 'not-kml' }, text('map.kml', '<html><body>Log in</body></html>')],
  ['KML without a Placemark', { refused: 'no-records' }, text('map.kml', kmlOf(''))],
  [
    'a Placemark with a line',
    { setAside: 'LineString geometry' },
    text(
      'map.kml',
      kmlOf(
        placemark(0) + placemark(1, `<LineString><coordinates>${ring(1)}</coordinates></LineString>`) + placemark(2),
      ),
    ),
  ],
  [
    'a Placemark with words for coordinates',
    { setAside: 'coordinates that are not numbers' },
    text('map.kml', kmlOf(placemark(0) + placemark(1).replaceAll('42', 'north') + placemark(2))),
  ],
  ['CSV with WKT', { read: 'a polygon a line' }, () => ({ 'map.csv': csv() })],
  ['CSV without columns of a position', { refused: 'csv-no-position' }, text('map.csv', 'a,b\n1,2\n')],
  ['CSV of one line', { refused: 'no-records' }, text('map.csv', 'n,WKT\n')],
  ['an empty CSV', { refused: 'empty-file' }, text('map.csv', '')],
  [
    'CSV with a WKT that is none',
    { setAside: 'a geometry that is not WKT' },
    text('map.csv', `n,WKT\n0,${wkt(0)}\n1,here\n2,${wkt(2)}\n`),
  ],
  [
    'CSV in meters without a system',
    { refused: 'crs-needed' },
    text('map.csv', 'x,y,width_m\n450309,4649950,6\n450309,4649953,6\n450309,4649956,6\n'),
  ],
  [
    'points without a width',
    { refused: 'points-without-width' },
    text('map.csv', 'lon,lat,speed\n-93.6,42,5\n-93.6,42.00002,5\n'),
  ],
  [
    'points with a width of no known unit',
    { refused: 'points-width-unit' },
    text('map.csv', 'lon,lat,width\n-93.6,42,30\n-93.6,42.00002,30\n'),
  ],
  [
    'points in no order',
    { refused: 'points-order' },
    text(
      'map.csv',
      `lon,lat,width_m\n${Array.from({ length: 60 }, (_, i) => `${-93.6 + ((i * 17) % 7) * 7e-5},${42 + ((i * 29) % 53) * 2e-5},6`).join('\n')}\n`,
    ),
  ],
  [
    'a zip with a planting and a boundary',
    { noted: ['layer-chosen'] },
    () => ({
      'map.zip': makeZip({
        'planting.geojson': utf8(JSON.stringify(collection(many(60)))),
        'boundary.geojson': utf8(JSON.stringify(collection([feature([square(-93.601, 41.999, 4e-3)])]))),
      }),
    }),
  ],
  [
    'a zip with two plantings',
    { refused: 'several-layers' },
    () => ({
      'map.zip': makeZip({
        'a.geojson': utf8(JSON.stringify(collection(many(60)))),
        'b.geojson': utf8(JSON.stringify(collection(many(70)))),
      }),
    }),
  ],
  [
    'a named system that does not exist',
    { refused: 'crs-option' },
    () => partsOf('f', meters()),
    check('f.shp', '--crs', 'UTM'),
  ],
  [
    'a named system that is not known',
    { refused: 'crs-option' },
    () => partsOf('f', meters()),
    check('f.shp', '--crs', 'EPSG:31467'),
  ],
  [
    'meters with a named system',
    { read: 'it is used' },
    () => partsOf('f', meters()),
    check('f.shp', '--crs', 'EPSG:32615'),
  ],
  [
    'a named system for a map with its own',
    { noted: ['crs-not-used'] },
    () => partsOf('f', makeShapefile({ records: [[rectangle(-93.6, 42, -93.5999, 42.0001)]], prj: WGS84_PRJ })),
    check('f.shp', '--crs', 'EPSG:32615'),
  ],
];

const meters = (): ReturnType<typeof makeShapefile> =>
  makeShapefile({ records: [[rectangle(450309, 4649950, 450315, 4649953)]] });
