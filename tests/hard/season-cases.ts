import { drawField, toGeoJson } from '../generator/index.ts';
import { PLANTERS } from '../generator/planters.ts';
import { collection, feature, square, utf8 } from '../intake/helpers.ts';
import { makeZip } from '../intake/make-shapefile.ts';
import { field } from '../settings/help.ts';
import type { Expected } from './cases.ts';

type Files = Record<string, Uint8Array>;
type Row = readonly [what: string, expected: Expected, files: () => Files, args: readonly string[]];

/** A map of a few square records, as in the other groups: it can be read, but shows too little for a diagnosis. */
const map = (): Files => ({ 'map.geojson': utf8(JSON.stringify(collection([0, 1, 2].map(one)))) });
const one = (i: number) => feature([square(-93.6 + i * 1e-4, 42)], { n: i });

let drawn: Uint8Array | null = null;
/** A small map of the sound planter's own frame that can be judged. */
function judged(): Files {
  drawn ??= toBytes(
    toGeoJson(drawField(field(PLANTERS.fifteen, 'narrow', { shape: { kind: 'strip', lengthM: 100, passes: 4 } }))),
  );
  return { 'map.geojson': drawn, 'q.planter.json': utf8(JSON.stringify(PLANTERS.fifteen.file)) };
}
const toBytes = (t: string | Uint8Array): Uint8Array => (typeof t === 'string' ? utf8(t) : t);

const rebuilding = (...more: string[]): string[] => ['rebuild', 'map.geojson', '--planter', 'p.planter.json', ...more];
const judging = (...more: string[]): string[] => ['rebuild', 'map.geojson', '--planter', 'q.planter.json', ...more];
const out = ['--out', 'new.geojson'];

export const REBUILT: readonly Row[] = [
  ['no planter file', { refused: 'missing-option' }, map, ['rebuild', 'map.geojson', ...out]],
  ['no output', { refused: 'missing-option' }, map, rebuilding()],
  ['no map', { refused: 'missing-argument' }, map, ['rebuild', '--planter', 'p.planter.json', ...out]],
  [
    'two maps',
    { refused: 'extra-argument' },
    map,
    ['rebuild', 'map.geojson', 'map.geojson', '--planter', 'p.planter.json', ...out],
  ],
  [
    'a map that is not there',
    { refused: 'no-file' },
    map,
    ['rebuild', 'gone.geojson', '--planter', 'p.planter.json', ...out],
  ],
  ['a folder for the map', { refused: 'undecided' }, map, ['rebuild', '.', '--planter', 'p.planter.json', ...out]],
  [
    'a folder for the planter file',
    { refused: 'not-a-file' },
    map,
    ['rebuild', 'map.geojson', '--planter', '.', ...out],
  ],
  [
    'the map for the planter file',
    { refused: 'planter-file' },
    map,
    ['rebuild', 'map.geojson', '--planter', 'map.geojson', ...out],
  ],
  [
    'a map that is cut off',
    { refused: 'json-truncated' },
    () => ({ 'map.geojson': map()['map.geojson'].slice(0, -9) }),
    rebuilding(...out),
  ],
  [
    'points',
    { refused: 'points-without-width' },
    () => ({ 'map.geojson': utf8(JSON.stringify(collection([feature([-93.6, 42], {}, 'Point')]))) }),
    rebuilding(...out),
  ],
  ['a map that tells too little', { refused: 'undecided' }, map, rebuilding(...out)],
  ['an output that names no format', { refused: 'option-value' }, map, rebuilding('--out', 'new.dwg')],
  ['an output without an end', { refused: 'option-value' }, map, rebuilding('--out', 'new')],
  ['an output in a folder that does not exist', { refused: 'no-folder' }, map, rebuilding('--out', 'gone/new.geojson')],
  ['an output over the map', { refused: 'overwrite' }, map, rebuilding('--out', 'map.geojson')],
  [
    'a change log over the map',
    { refused: 'overwrite' },
    () => ({ 'new.changes.json': map()['map.geojson'] }),
    ['rebuild', 'new.changes.json', '--planter', 'p.planter.json', ...out],
  ],
  ['a grain that does not exist', { refused: 'option-value' }, map, rebuilding('--by', 'bar', ...out)],
  ['a correction that does not exist', { refused: 'option-value' }, map, rebuilding('--correct-rate', 'all', ...out)],
  [
    'a rate to correct in a map without one',
    { refused: 'no-rate' },
    judged,
    judging('--planting', 'narrow', '--correct-rate', 'recorded-area', ...out),
  ],
  [
    'a planting that does not exist',
    { refused: 'unknown-planting' },
    map,
    rebuilding('--planting', 'sideways', ...out),
  ],
  ['a layer that does not exist', { refused: 'layer-not-found' }, map, rebuilding('--layer', 'west', ...out)],
  ['a column that does not exist', { refused: 'columns-name' }, judged, judging('--columns', 'time=m', ...out)],
  ['a limit that does not exist', { refused: 'option-value' }, map, rebuilding('--limit', 'recrods=5', ...out)],
  ['more records than the limit', { refused: 'too-many-records' }, map, rebuilding('--limit', 'records=2', ...out)],
  ['an accuracy without a unit', { refused: 'option-value' }, map, rebuilding('--pass-accuracy', '3', ...out)],
  ['an option of another command', { refused: 'unknown-option' }, map, rebuilding('--format', 'csv', ...out)],
];

const comparing = (...more: string[]): string[] => [
  'compare',
  'map.geojson',
  'map.geojson',
  '--planter',
  'p.planter.json',
  ...more,
];
const second = (name: string): string[] => ['compare', 'map.geojson', name, '--planter', 'p.planter.json'];

export const COMPARED_OPTIONS: readonly Row[] = [
  ['no planter file', { refused: 'missing-option' }, map, ['compare', 'map.geojson', 'map.geojson']],
  ['three maps', { refused: 'extra-argument' }, map, [...comparing(), 'map.geojson']],
  ['the planter file for the second map', { refused: 'not-geojson' }, map, second('p.planter.json')],
  ['an output over the first map', { refused: 'overwrite' }, map, comparing('--out', 'map.geojson')],
  ['an output over the planter file', { refused: 'overwrite' }, map, comparing('--out', 'p.planter.json')],
  ['an output in a folder that does not exist', { refused: 'no-folder' }, map, comparing('--out', 'gone/out.json')],
  ['a format that only a check has', { refused: 'option-value' }, map, comparing('--format', 'geojson')],
  ['a planting that does not exist', { refused: 'unknown-planting' }, map, comparing('--planting', 'sideways')],
  ['a layer that neither map has', { refused: 'layer-not-found' }, map, comparing('--layer', 'west')],
  ['more records than the limit', { refused: 'too-many-records' }, map, comparing('--limit', 'records=2')],
  ['an accuracy without a unit', { refused: 'option-value' }, map, comparing('--pass-accuracy', '3')],
];

const auditing = (...more: string[]): string[] => [
  'audit',
  'map.geojson',
  '--planter',
  'p.planter.json',
  '--out',
  'season',
  ...more,
];
const auditOf = (...paths: string[]): string[] => ['audit', ...paths, '--planter', 'p.planter.json', '--out', 'season'];

export const AUDITED: readonly Row[] = [
  ['no path', { refused: 'missing-argument' }, map, ['audit', '--planter', 'p.planter.json', '--out', 'season']],
  ['no output', { refused: 'missing-option' }, map, ['audit', 'map.geojson', '--planter', 'p.planter.json']],
  ['a path that is not there', { refused: 'no-file' }, map, auditOf('gone')],
  ['a pattern that fits no file', { refused: 'no-maps' }, map, auditOf('*.shp')],
  ['a pattern in a folder that is not there', { refused: 'no-folder' }, map, auditOf('gone/*.geojson')],
  ['a folder without a map', { refused: 'no-maps' }, () => ({}), auditOf('.')],
  [
    'an output that is a file',
    { refused: 'not-a-folder' },
    map,
    ['audit', 'map.geojson', '--planter', 'p.planter.json', '--out', 'p.planter.json'],
  ],
  [
    'an output below a file',
    { refused: 'file-access' },
    map,
    ['audit', 'map.geojson', '--planter', 'p.planter.json', '--out', 'p.planter.json/season'],
  ],
  [
    'an output whose table would be the list',
    { refused: 'overwrite' },
    () => ({ 'fields.csv': utf8('map\nmap.geojson\n'), ...map() }),
    ['audit', 'fields.csv', '--planter', 'p.planter.json', '--out', '.'],
  ],
  [
    'an output whose findings would be a map',
    { refused: 'overwrite' },
    () => ({ 'findings.json': map()['map.geojson'] }),
    ['audit', 'findings.json', '--planter', 'p.planter.json', '--out', '.'],
  ],
  ['no field at once', { refused: 'option-value' }, map, auditing('--at-once', '0')],
  ['fields at once in words', { refused: 'option-value' }, map, auditing('--at-once', 'two')],
  ['a price without an area', { refused: 'option-value' }, map, auditing('--seed-cost', '95')],
  ['a role that does not exist', { refused: 'option-value' }, map, auditing('--columns', 'tme=n')],
  ['a limit that does not exist', { refused: 'option-value' }, map, auditing('--limit', 'recrods=5')],
  ['an accuracy without a unit', { refused: 'option-value' }, map, auditing('--pass-accuracy', '3')],
  ['an option of another command', { refused: 'unknown-option' }, map, auditing('--format', 'csv')],
  ['an output given twice', { refused: 'option-twice' }, map, auditing('--out', 'other')],
  ['no planter file for a map', { row: '' }, map, ['audit', 'map.geojson', '--out', 'season']],
  [
    'a planter file that is not there',
    { row: 'no-file' },
    map,
    ['audit', 'map.geojson', '--planter', 'gone.json', '--out', 'season'],
  ],
  [
    'a folder for the planter file',
    { row: 'not-a-file' },
    map,
    ['audit', 'map.geojson', '--planter', '.', '--out', 'season'],
  ],
  [
    'the map for the planter file',
    { row: 'planter-file' },
    map,
    ['audit', 'map.geojson', '--planter', 'map.geojson', '--out', 'season'],
  ],
  ['a planting that does not exist', { row: 'unknown-planting' }, map, auditing('--planting', 'sideways')],
  [
    'a queue without a place of the maps',
    { refused: 'missing-option' },
    map,
    auditing('--queue', 'redis://127.0.0.1:1'),
  ],
  ['a place of the maps without a queue', { refused: 'option-value' }, map, auditing('--maps-from', '.')],
  [
    'a place of the maps that is not there',
    { refused: 'no-folder' },
    map,
    auditing('--queue', 'redis://127.0.0.1:1', '--maps-from', 'gone'),
  ],
  [
    'a place of the maps with a question',
    { refused: 'option-value' },
    map,
    auditing('--queue', 'redis://127.0.0.1:1', '--maps-from', 'https://maps.invalid/?x=1'),
  ],
  ['a queue that is no address', { refused: 'option-value' }, map, auditing('--queue', 'here', '--maps-from', '.')],
  [
    'a queue of another kind',
    { refused: 'option-value' },
    map,
    auditing('--queue', 'http://127.0.0.1:1', '--maps-from', '.'),
  ],
  [
    'a queue that does not answer',
    { refused: 'queue' },
    map,
    auditing('--queue', 'redis://127.0.0.1:1', '--maps-from', '.'),
  ],
  [
    'no field in the queue at once',
    { refused: 'option-value' },
    map,
    auditing('--queue', 'redis://127.0.0.1:1', '--maps-from', '.', '--waiting', '0'),
  ],
  [
    'a size that is no number',
    { refused: 'option-value' },
    map,
    auditing('--queue', 'redis://127.0.0.1:1', '--maps-from', '.', '--max-map-mb', 'big'),
  ],
];

const list =
  (text: string | Uint8Array, more: Files = map()) =>
  (): Files => ({ 'season.csv': toBytes(text), ...more });
const LIST = auditOf('season.csv');

export const AUDIT_LISTS: readonly Row[] = [
  ['empty', { refused: 'list-text' }, list(''), LIST],
  ['only its first line', { refused: 'no-maps' }, list('map,planter\n'), LIST],
  ['without the column "map"', { refused: 'list-column' }, list('planter,planting\np.planter.json,narrow\n'), LIST],
  ['a column that is not known', { refused: 'list-column' }, list('map,plantr\nmap.geojson,p.planter.json\n'), LIST],
  [
    'a column twice',
    { refused: 'list-column' },
    list('map,planter,map\nmap.geojson,p.planter.json,map.geojson\n'),
    LIST,
  ],
  ['no first line', { refused: 'list-column' }, list('map.geojson,p.planter.json\n'), LIST],
  ['a line without a map', { refused: 'list-line' }, list('map,planting\nmap.geojson,narrow\n,narrow\n'), LIST],
  ['a line with too many cells', { refused: 'list-line' }, list('map,planting\nNorth, forty.geojson,narrow\n'), LIST],
  ['a quote that is not closed', { refused: 'list-line' }, list('map,planting\n"map.geojson,narrow\n'), LIST],
  [
    'UTF-16',
    { refused: 'list-text' },
    list(Uint8Array.from([0xff, 0xfe, ...[...'map\nmap.geojson\n'].flatMap((c) => [c.charCodeAt(0), 0])])),
    LIST,
  ],
  ['a workbook, not a CSV', { refused: 'list-text' }, list(makeZip({ 'sheet.xml': utf8('<sheet/>') })), LIST],
  [
    'a name in another encoding',
    { refused: 'list-text' },
    list(Uint8Array.from([...utf8('map\nM'), 0xfc, ...utf8('hle.geojson\n')])),
    LIST,
  ],
  ['not there', { refused: 'no-file' }, map, auditOf('gone.csv')],
  ['a map that is not there', { row: 'no-file' }, list('map\ngone.geojson\n'), LIST],
  ['a boundary that is not there', { row: 'no-file' }, list('map,boundary\nmap.geojson,gone.geojson\n'), LIST],
  ['a planter file that is not there', { row: 'no-file' }, list('map,planter\nmap.geojson,gone.json\n'), LIST],
  ['a planting that does not exist', { row: 'unknown-planting' }, list('map,planting\nmap.geojson,sideways\n'), LIST],
];

const working = (...more: string[]): string[] => ['work', ...more];
const QUEUE = ['--queue', 'redis://127.0.0.1:1'];

export const WORKERS: readonly Row[] = [
  ['no queue', { refused: 'missing-option' }, map, working('--maps-from', '.')],
  ['no place of the maps', { refused: 'missing-option' }, map, working(...QUEUE)],
  ['a place of the maps that is not there', { refused: 'no-folder' }, map, working(...QUEUE, '--maps-from', 'gone')],
  [
    'a file for the place of the maps',
    { refused: 'not-a-folder' },
    map,
    working(...QUEUE, '--maps-from', 'map.geojson'),
  ],
  ['an address that cannot be', { refused: 'option-value' }, map, working(...QUEUE, '--maps-from', 'https://')],
  ['a queue that is no address', { refused: 'option-value' }, map, working('--queue', 'redis:', '--maps-from', '.')],
  ['a queue that does not answer', { refused: 'queue' }, map, working(...QUEUE, '--maps-from', '.')],
  ['no field at once', { refused: 'option-value' }, map, working(...QUEUE, '--maps-from', '.', '--at-once', '0')],
  [
    'a size beyond what is taken',
    { refused: 'option-value' },
    map,
    working(...QUEUE, '--maps-from', '.', '--max-map-mb', '9999'),
  ],
  ['a map', { refused: 'extra-argument' }, map, working('map.geojson', ...QUEUE, '--maps-from', '.')],
];
