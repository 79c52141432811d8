import { collection, feature, square, utf8 } from '../intake/helpers.ts';
import { makeShapefile, makeZip, partsOf, type Ring, rectangle, utmPrj } from '../intake/make-shapefile.ts';
import { FORMAT_CASES } from './format-cases.ts';
import { around, fine, geojsonNoted, geojsonRefused, geojsonSetAside, geometry, text } from './geojson-cases.ts';
import { BAD, BEYOND_SCHEMA, sound } from './planter-cases.ts';
import { AUDIT_LISTS, AUDITED, COMPARED_OPTIONS, REBUILT, WORKERS } from './season-cases.ts';
import {
  cell,
  good,
  records,
  shapefileNoted,
  shapefileRefused,
  shapefileSetAside,
  withField,
} from './shapefile-cases.ts';
import { file, json, parts, zip, zipRefused } from './zip-cases.ts';

/**
 * What must come of a case: a refusal by its code, a row of an audit that says why a field could not be checked (by its code, '' for none), a
 * reason for which record 2 is skipped, the codes of notes, or a plain reading.
 */
export type Expected =
  | { refused: string }
  | { row: string }
  | { setAside: string }
  | { noted: readonly string[] }
  | { read: string };

export interface Case {
  group: string;
  what: string;
  expected: Expected;
  /** Files by name; the arguments name them. */
  files: () => Record<string, Uint8Array>;
  /** The command line; by default the map is checked against a sound planter. */
  args?: readonly string[];
}

type Files = Record<string, Uint8Array>;
const planterFile = utf8(JSON.stringify(sound));
const map = (content: string): Files => ({ 'map.geojson': utf8(content) });
const utf16 = (s: string): Uint8Array => Uint8Array.from([0xff, 0xfe, ...[...s].flatMap((c) => [c.charCodeAt(0), 0])]);
const three = text([0, 1, 2].map(fine));
const lines = text([0, 1].map((i) => feature(square(-93.6 + i * 1e-4, 42), {}, 'LineString')));

const group = (
  name: string,
  list: readonly (readonly [what: string, expected: Expected, files: () => Files, args?: readonly string[]])[],
): Case[] =>
  list.map(([what, expected, files, args]) => ({ group: name, what, expected, files, ...(args ? { args } : {}) }));

const GEOJSON: Case[] = [
  ...geojsonRefused.map(([what, code, content]) => ({ what, expected: { refused: code }, files: () => map(content) })),
  ...geojsonSetAside.map(([what, reason, middle]) => ({
    what,
    expected: { setAside: reason },
    files: () => map(around(middle)),
  })),
  ...geojsonNoted.map(([what, codes, content]) => ({ what, expected: { noted: codes }, files: () => map(content) })),
].map((c) => ({ group: 'GeoJSON maps', ...c }));

const bowTie: [number, number][] = [
  [-93.6, 42],
  [-93.5999, 42.0001],
  [-93.5999, 42],
  [-93.6, 42.0001],
  [-93.6, 42],
];
const raised = square(-93.5999, 42).map(([x, y], i) => [x, y, 250 + (i % 4)]);

const MORE_GEOJSON = group('GeoJSON maps', [
  ['UTF-16', { refused: 'not-utf8' }, () => ({ 'map.geojson': utf16(three) })],
  ['a map at the pole', { refused: 'polar' }, () => map(text([feature([square(10, 89.5)])]))],
  ['only lines', { refused: 'no-records' }, () => map(lines)],
  [
    'a GeometryCollection of points',
    { refused: 'points-without-width' },
    () => map('{"type":"GeometryCollection","geometries":[{"type":"Point","coordinates":[1,2]}]}'),
  ],
  ['200,000 brackets inside one another', { refused: 'not-geojson' }, () => map('['.repeat(200_000))],
  [
    '1e39 for a coordinate',
    { refused: 'not-degrees' },
    () => map(around(geometry('Polygon', '[[[1e39,42],[-93.5,42],[-93.5,43],[1e39,42]]]'))),
  ],
  [
    'a collection without a polygon',
    { setAside: 'GeometryCollection without a polygon' },
    () =>
      map(
        around(
          '{"type":"Feature","properties":{"n":1},"geometry":{"type":"GeometryCollection","geometries":[{"type":"Point","coordinates":[-93.6,42]}]}}',
        ),
      ),
  ],
  [
    'a third dimension',
    { read: 'heights are not used' },
    () => map(around(geometry('Polygon', JSON.stringify([raised])))),
  ],
  ['a bow-tie', { noted: ['ring-crosses-itself'] }, () => map(text([feature([bowTie]), fine(2)]))],
  [
    'wrong winding',
    { read: 'rings are turned' },
    () => map(text([feature([[...square(-93.6, 42)].reverse()]), fine(2)])),
  ],
  [
    'repeated points',
    { read: 'repeats are left out' },
    () => map(text([feature([square(-93.6, 42).flatMap((p) => [p, p])]), fine(2)])),
  ],
  [
    'a map across the antimeridian',
    { read: 'it is joined' },
    () => map(text([feature([square(179.9999, -17)]), feature([square(-180, -17)])])),
  ],
  [
    'a byte order mark',
    { read: 'it is passed over' },
    () => ({ 'map.geojson': Uint8Array.from([0xef, 0xbb, 0xbf, ...utf8(three)]) }),
  ],
  [
    'lines ended by CR LF',
    { read: 'as any blank' },
    () => map(JSON.stringify(JSON.parse(three), null, 1).replaceAll('\n', '\r\n')),
  ],
  [
    'columns called __proto__, constructor and toString',
    { read: 'they are columns' },
    () => map(text([fine(0), fine(2)]).replaceAll('"n":', '"__proto__":7,"constructor":8,"toString":9,"n":')),
  ],
  [
    '350 columns',
    { noted: ['columns-left-out'] },
    () =>
      map(
        text(
          [0, 1].map((i) =>
            feature(
              [square(-93.6 + i * 1e-4, 42)],
              Object.fromEntries(Array.from({ length: 350 }, (_, k) => [`c${k}`, k])),
            ),
          ),
        ),
      ),
  ],
]);

const parted = (what: string, expected: Expected, files: () => Files): Case => ({
  group: 'Shapefiles',
  what,
  expected,
  files,
});
const SHAPEFILES: Case[] = [
  ...shapefileRefused
    // One path is given on the command line: its parts are found by name, so two shapefiles side by side are no fault there.
    .filter(([what]) => what !== 'two shapefiles')
    .map(([what, code, files]) => parted(what, { refused: code }, files)),
  ...shapefileSetAside.map(([what, reason, made]) => parted(what, { setAside: reason }, () => partsOf('f', made()))),
  ...shapefileNoted.map(([what, code, files]) => parted(what, { noted: [code] }, files)),
];

const utm = (i: number): Ring => rectangle(450309 + 10 * i, 4649950, 450319 + 10 * i, 4649960);
const NAD27 =
  'GEOGCS["GCS_North_American_1927",DATUM["D_North_American_1927",SPHEROID["Clarke_1866",6378206.4,294.9786982]],PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]]';
const inUtm = (prj: string): Files => partsOf('f', makeShapefile({ records: [0, 1, 2].map((i) => [utm(i)]), prj }));
const MORE_SHAPEFILES = group('Shapefiles', [
  [
    'a datum shift that is not known (NAD27)',
    { noted: ['datum-shift'] },
    () => partsOf('f', makeShapefile({ records, prj: NAD27 })),
  ],
  ['a .prj of the zone far away', { read: 'it lies where the .prj says' }, () => inUtm(utmPrj(16, 'N'))],
  [
    'parts in different letter cases',
    { read: 'they are one shapefile' },
    () => {
      const { 'f.shp': shp, 'f.dbf': dbf, 'f.prj': prj } = partsOf('f', good());
      return { 'f.shp': shp, 'F.DBF': dbf, 'F.Prj': prj };
    },
  ],
  ['measured and raised shapes', { read: 'heights are not used' }, () => partsOf('f', good({ shapeType: 15 }))],
  [
    'a bow-tie',
    { noted: ['ring-crosses-itself'] },
    () => partsOf('f', good({ records: [[bowTie], [cell(1)], [cell(2)]] })),
  ],
  [
    'a row of dates that are blank',
    { read: 'missing values' },
    () => partsOf('f', withField({ name: 'D', type: 'D', length: 8 }, ['        ', '00000000', '20260401'])),
  ],
  [
    '350 columns',
    { noted: ['columns-left-out'] },
    () =>
      partsOf(
        'f',
        good({
          fields: Array.from({ length: 350 }, (_, i) => ({ name: `C${i}`, type: 'N' as const, length: 2 })),
          rows: records.map(() => Array.from({ length: 350 }, () => 1)),
        }),
      ),
  ],
]);

const ARCHIVES: Case[] = zipRefused.map(([what, code, bytes]) => ({
  group: 'Archives',
  what,
  expected: { refused: code },
  files: () => ({ 'map.zip': bytes() }),
}));
/** A map of `size` zeros behind a header that claims them. */
function bomb(size: number): Uint8Array {
  const shp = new Uint8Array(size);
  shp.set(file.shp.subarray(0, 100));
  new DataView(shp.buffer).setInt32(24, size / 2);
  return makeZip({ ...parts, 'Field.shp': shp });
}
const MORE_ARCHIVES = group('Archives', [
  ['a bomb: 20 MB of zeros in 20 kB', { refused: 'zip-bomb' }, () => ({ 'map.zip': bomb(20 * 1024 ** 2) })],
  [
    'a bomb of blanks for a GeoJSON',
    { refused: 'zip-bomb' },
    () => ({ 'map.zip': makeZip({ 'map.geojson': new Uint8Array(20 * 1024 ** 2).fill(0x20) }) }),
  ],
  ['an archive beside a map', { noted: ['zip-nested'] }, () => ({ 'map.zip': makeZip({ ...parts, 'more.zip': zip }) })],
  [
    'names that climb out of the archive',
    { read: 'names are only names, nothing is unpacked to disk' },
    () => ({ 'map.zip': makeZip(partsOf('../../etc/Field', file)) }),
  ],
  ['an absolute name', { read: 'names are only names' }, () => ({ 'map.zip': makeZip({ '/etc/map.geojson': json }) })],
  ['an archive called something else', { read: 'it is known by its first bytes' }, () => ({ download: zip })],
  [
    'a .dbf under another name',
    { noted: ['part-not-read', 'dbf-missing'] },
    () => {
      const { 'Field.dbf': dbf, ...others } = parts;
      return { 'map.zip': makeZip({ ...others, 'Fields.dbf': dbf }) };
    },
  ],
]);

const OTHER_FILES = group('Files that are no map', [
  ['7z', { refused: 'unknown-format' }, () => ({ 'map.7z': utf8('7z') })],
  ['text', { refused: 'unknown-format' }, () => ({ 'notes.txt': utf8('hello') })],
  ['an empty file without extension', { refused: 'empty-file' }, () => ({ map: new Uint8Array(0) })],
  ['the planter file', { refused: 'not-geojson' }, () => ({ 'x.json': planterFile })],
  [
    'a file that is not there',
    { refused: 'no-file' },
    () => ({}),
    ['check', 'gone.geojson', '--planter', 'p.planter.json'],
  ],
  [
    'a folder of a planter file alone',
    { refused: 'not-geojson' },
    () => ({}),
    ['check', '.', '--planter', 'p.planter.json'],
  ],
]);

const checking = (...more: string[]): string[] => ['check', 'map.geojson', '--planter', 'p.planter.json', ...more];
const limit = (value: string): string[] => checking('--limit', value);
const LIMITS = group('Limits', [
  ['more records than the limit', { refused: 'too-many-records' }, () => map(three), limit('records=2')],
  ['more points than the limit', { refused: 'too-many-records' }, () => map(three), limit('points=5')],
  ['more values than the limit', { refused: 'too-many-values' }, () => map(three), limit('values=1')],
  [
    'a larger file than the limit',
    { refused: 'file-too-big' },
    () => map(three.replace('"features"', `"a":"${'x'.repeat(3000)}","features"`)),
    limit('file-size=2kB'),
  ],
  [
    'a larger archive than the limit',
    { refused: 'file-too-big' },
    () => ({ 'map.zip': makeZip({ ...parts, 'a.txt': Uint8Array.from({ length: 3000 }, (_, i) => i * i) }, 0) }),
    ['check', 'map.zip', '--planter', 'p.planter.json', '--limit', 'archive-size=2kB'],
  ],
  [
    'more files in an archive than the limit',
    { refused: 'zip-too-many-files' },
    () => ({ 'map.zip': zip }),
    ['check', 'map.zip', '--planter', 'p.planter.json', '--limit', 'archive-files=2'],
  ],
  [
    'an unpacked file above the limit',
    { refused: 'zip-bomb' },
    () => ({ 'map.zip': makeZip({ 'map.geojson': utf8(three + ' '.repeat(3000)) }) }),
    ['check', 'map.zip', '--planter', 'p.planter.json', '--limit', 'unpacked-size=2kB'],
  ],
  [
    'more columns than the limit',
    { noted: ['columns-left-out'] },
    () => map(three.replaceAll('"n":', '"m":1,"n":')),
    limit('columns=1'),
  ],
  ['an unknown limit', { refused: 'option-value' }, () => map(three), limit('rows=2')],
  ['a limit that is no number', { refused: 'option-value' }, () => map(three), limit('records=many')],
  ['a size without a unit', { refused: 'option-value' }, () => map(three), limit('file-size=100')],
]);

const withPlanter = (content: string | Uint8Array): Files => ({
  ...map(three),
  'q.planter.json': typeof content === 'string' ? utf8(content) : content,
});
const byPlanter = ['check', 'map.geojson', '--planter', 'q.planter.json'];
const PLANTERS: Case[] = [
  ...[...BAD, ...BEYOND_SCHEMA].map(([what, value]) => ({
    group: 'Planter files',
    what,
    expected: { refused: 'planter-file' },
    files: () => withPlanter(JSON.stringify(value)),
    args: byPlanter,
  })),
  ...group('Planter files', [
    ['an empty file', { refused: 'planter-file' }, () => withPlanter(''), byPlanter],
    ['cut off', { refused: 'planter-file' }, () => withPlanter(JSON.stringify(sound).slice(0, -20)), byPlanter],
    ['UTF-16', { refused: 'planter-file' }, () => withPlanter(utf16(JSON.stringify(sound))), byPlanter],
    ['the map', { refused: 'planter-file' }, () => withPlanter(three), byPlanter],
    [
      '10,000 lists inside one another',
      { refused: 'planter-file' },
      () => withPlanter(`{"name":${'['.repeat(10_000)}${']'.repeat(10_000)}}`),
      byPlanter,
    ],
    [
      'a key that stands twice',
      { refused: 'planter-file' },
      () => withPlanter(`{"name": "x", ${JSON.stringify(sound).slice(1)}`),
      byPlanter,
    ],
    ['6 MB', { refused: 'file-size' }, () => withPlanter(' '.repeat(6e6)), byPlanter],
    ['not there', { refused: 'no-file' }, () => map(three), ['check', 'map.geojson', '--planter', 'gone.planter.json']],
    [
      'a planting that it does not have',
      { refused: 'unknown-planting' },
      () => map(three),
      checking('--planting', 'narow'),
    ],
    [
      'lines ended by CR LF',
      { read: 'as any blank' },
      () => withPlanter(JSON.stringify(sound, null, 2).replaceAll('\n', '\r\n')),
      byPlanter,
    ],
  ]),
];

const bounded = (boundary: Files): Files => ({ ...map(three), ...boundary });
const withBoundary = checking('--boundary', 'b.geojson');
const boundaryAt = (x: number, y: number, type = 'Polygon'): Files => ({
  'b.geojson': utf8(
    JSON.stringify(
      collection([
        type === 'Polygon'
          ? feature([square(x, y, 1e-3)])
          : feature(type === 'Point' ? [x, y] : square(x, y, 1e-3), {}, type),
      ]),
    ),
  ),
});
const BOUNDARIES = group('Boundaries', [
  ['points', { refused: 'not-polygons' }, () => bounded(boundaryAt(-93.6, 42, 'Point')), withBoundary],
  ['a line', { refused: 'no-records' }, () => bounded(boundaryAt(-93.6, 42, 'LineString')), withBoundary],
  ['of a field 10 km away', { refused: 'boundary-far' }, () => bounded(boundaryAt(-93.5, 42.05)), withBoundary],
  ['of a field in another country', { refused: 'boundary-far' }, () => bounded(boundaryAt(8.1, 47.2)), withBoundary],
  [
    'in meters without a system',
    { refused: 'not-degrees' },
    () => bounded({ 'b.geojson': utf8(text([feature([square(450309, 4649950, 100)])])) }),
    withBoundary,
  ],
  [
    'latitude first',
    { refused: 'swapped-axes' },
    () => bounded({ 'b.geojson': utf8(text([feature([square(42, -93.6, 1e-3)])])) }),
    withBoundary,
  ],
  ['empty', { refused: 'empty-file' }, () => bounded({ 'b.geojson': new Uint8Array(0) }), withBoundary],
  ['cut off', { refused: 'json-truncated' }, () => bounded({ 'b.geojson': utf8(three.slice(0, -9)) }), withBoundary],
  [
    'of zero area',
    { refused: 'no-records' },
    () =>
      bounded({
        'b.geojson': utf8(
          text([
            feature([
              [
                [-93.6, 42],
                [-93.5, 42],
                [-93.6, 42],
              ],
            ]),
          ]),
        ),
      }),
    withBoundary,
  ],
  [
    'an archive of two layers',
    { refused: 'several-layers' },
    () => bounded({ 'b.zip': makeZip({ ...parts, ...partsOf('Other', file) }) }),
    checking('--boundary', 'b.zip'),
  ],
  ['not there', { refused: 'no-file' }, () => map(three), checking('--boundary', 'gone.geojson')],
  [
    'with a hole',
    { read: 'the hole is outside of the field' },
    () =>
      bounded({
        'b.geojson': utf8(
          JSON.stringify(collection([feature([square(-93.601, 41.999, 4e-3), square(-93.5985, 42.0005, 1e-4)])])),
        ),
      }),
    withBoundary,
  ],
  [
    'smaller than the map',
    { read: 'what lies outside counts as covered ground all the same' },
    () => bounded({ 'b.geojson': utf8(JSON.stringify(collection([feature([square(-93.6, 42)])]))) }),
    withBoundary,
  ],
  [
    'on the other side of the antimeridian',
    { read: 'it is turned to the side of the map' },
    () => ({
      ...map(text([feature([square(179.9999, -17)]), feature([square(-180, -17)])])),
      'b.geojson': utf8(JSON.stringify(collection([feature([square(-180, -17, 1e-4)])]))),
    }),
    withBoundary,
  ],
]);

const LISTS = group('Lists on the command line', [
  ['a role that does not exist', { refused: 'option-value' }, () => map(three), checking('--columns', 'tme=n')],
  ['a column that does not exist', { refused: 'columns-name' }, () => map(three), checking('--columns', 'time=m')],
  ['a role without a column', { refused: 'option-value' }, () => map(three), checking('--columns', 'time=')],
  ['a choice of records without a value', { refused: 'option-value' }, () => map(three), checking('--where', 'Field')],
  [
    'a choice by a column that does not exist',
    { refused: 'where-column' },
    () => map(three),
    checking('--where', 'm=1'),
  ],
  [
    'a choice of a value that no record holds',
    { refused: 'where-value' },
    () => map(three),
    checking('--where', 'n=77'),
  ],
  ['an order of dates that does not exist', { refused: 'option-value' }, () => map(three), checking('--dates', 'days')],
  ['a layer that does not exist', { refused: 'layer-not-found' }, () => map(three), checking('--layer', 'west')],
  ['an accuracy without a unit', { refused: 'option-value' }, () => map(three), checking('--pass-accuracy', '2.5')],
  ['a format that does not exist', { refused: 'option-value' }, () => map(three), checking('--format', 'docx')],
  ['an option that does not exist', { refused: 'unknown-option' }, () => map(three), checking('--plantr', 'x')],
  [
    'an output in a folder that does not exist',
    { refused: 'no-folder' },
    () => map(three),
    checking('--out', 'gone/out.json'),
  ],
  ['an output over the map', { refused: 'overwrite' }, () => map(three), checking('--out', 'map.geojson')],
  ['an output that is a folder', { refused: 'not-a-file' }, () => map(three), checking('--out', '.')],
]);

const comparing = (after: string): string[] => ['compare', 'map.geojson', after, '--planter', 'p.planter.json'];
const COMPARED = group('Maps to compare', [
  ['the second is not there', { refused: 'no-file' }, () => map(three), comparing('gone.geojson')],
  [
    'the second is points',
    { refused: 'points-without-width' },
    () => ({ ...map(three), 'after.geojson': utf8(text([feature([-93.6, 42], {}, 'Point')])) }),
    comparing('after.geojson'),
  ],
  [
    'the second is cut off',
    { refused: 'json-truncated' },
    () => ({ ...map(three), 'after.geojson': utf8(three.slice(0, -9)) }),
    comparing('after.geojson'),
  ],
  [
    'the first is empty',
    { refused: 'empty-file' },
    () => ({ 'map.geojson': new Uint8Array(0), 'after.geojson': utf8(three) }),
    comparing('after.geojson'),
  ],
  [
    'only one map',
    { refused: 'missing-argument' },
    () => map(three),
    ['compare', 'map.geojson', '--planter', 'p.planter.json'],
  ],
]);

/** Every kind of bad input that was thought of or found, by what it is. `bad-input.md` shows what comes of each. */
export const CASES: readonly Case[] = [
  ...[...GEOJSON, ...MORE_GEOJSON, ...SHAPEFILES, ...MORE_SHAPEFILES, ...ARCHIVES, ...MORE_ARCHIVES, ...OTHER_FILES],
  ...[...LIMITS, ...PLANTERS, ...BOUNDARIES, ...LISTS, ...COMPARED],
  ...group('Other formats, logs of points, several layers', FORMAT_CASES),
  ...group('Maps to compare', COMPARED_OPTIONS),
  ...group('Maps to rebuild', REBUILT),
  ...group('Audits', AUDITED),
  ...group('Lists of an audit', AUDIT_LISTS),
  ...group('Workers', WORKERS),
];

/** The planter that cases are checked against, unless they bring their own. */
export const SOUND_PLANTER = planterFile;
