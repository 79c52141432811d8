import { utf8 } from '../intake/helpers.ts';
import {
  type FieldSpec,
  makeShapefile,
  partsOf,
  type Ring,
  rectangle,
  type Shapefile,
  type ShapefileSpec,
  utmPrj,
  WGS84_PRJ,
} from '../intake/make-shapefile.ts';

/**
 * Kinds of bad shapefile. Each of the silent ones was seen to give a wrong answer without a word in a general reader (shpjs 6.2.0); here each ends
 * in a `UserError`, in a note, or in records skipped and counted.
 */
const step = 1e-4;
export const cell = (i: number): Ring => rectangle(-93.6 + i * step, 42, -93.6 + (i + 1) * step, 42 + step);
export const records = [[cell(0)], [cell(1)], [cell(2)]];
export const good = (more: Partial<ShapefileSpec> = {}): Shapefile =>
  makeShapefile({ records, prj: WGS84_PRJ, ...more });
export const withField = (
  field: FieldSpec,
  values: (string | number | Uint8Array)[],
  more: Partial<ShapefileSpec> = {},
): Shapefile => good({ fields: [field], rows: values.map((v) => [v]), ...more });

function edited(bytes: Uint8Array, edit: (view: DataView) => void): Uint8Array {
  const copy = bytes.slice();
  edit(new DataView(copy.buffer));
  return copy;
}

/** What it is, the code of the refusal, the files. */
export const shapefileRefused: [string, string, () => Record<string, Uint8Array>][] = [
  ['an empty .shp', 'empty-file', () => ({ ...partsOf('f', good()), 'f.shp': new Uint8Array(0) })],
  ['a .shp of half a header', 'shp-truncated', () => ({ ...partsOf('f', good()), 'f.shp': good().shp.slice(0, 60) })],
  ['a .shp that is something else', 'shp-header', () => ({ ...partsOf('f', good()), 'f.shp': utf8('x'.repeat(400)) })],
  ['a .shp cut in a record', 'shp-truncated', () => ({ ...partsOf('f', good()), 'f.shp': good().shp.slice(0, -30) })],
  [
    'a .shp cut between records',
    'shp-truncated',
    () => ({ ...partsOf('f', good()), 'f.shp': good().shp.slice(0, 100 + 136) }),
  ],
  [
    'a .shp of a header only that claims more',
    'shp-truncated',
    () => ({ ...partsOf('f', good()), 'f.shp': good().shp.slice(0, 100) }),
  ],
  ['a .shp without records', 'no-records', () => partsOf('f', good({ records: [] }))],
  [
    'a .shp cut in a record, its header made to agree',
    'shp-truncated',
    () => {
      const shp = edited(good().shp.slice(0, -30), (v) => v.setInt32(24, v.byteLength / 2));
      return { ...partsOf('f', good()), 'f.shp': shp };
    },
  ],
  [
    'a record without content (zero bytes)',
    'shp-record',
    () => ({ ...partsOf('f', good()), 'f.shp': edited(good().shp, (v) => v.setInt32(104, 0)) }),
  ],
  [
    'a record with a negative length',
    'shp-record',
    () => ({ ...partsOf('f', good()), 'f.shp': edited(good().shp, (v) => v.setInt32(104, -4)) }),
  ],
  [
    'a record of another type',
    'shp-record',
    () => ({ ...partsOf('f', good()), 'f.shp': edited(good().shp, (v) => v.setInt32(108, 3, true)) }),
  ],
  [
    'a record that claims a billion points',
    'shp-record',
    () => ({ ...partsOf('f', good()), 'f.shp': edited(good().shp, (v) => v.setInt32(148, 1e9, true)) }),
  ],
  [
    'a record that claims a billion rings',
    'shp-record',
    () => ({ ...partsOf('f', good()), 'f.shp': edited(good().shp, (v) => v.setInt32(144, 1e9, true)) }),
  ],
  [
    'a ring index beyond the points',
    'shp-record',
    () => ({ ...partsOf('f', good()), 'f.shp': edited(good().shp, (v) => v.setInt32(152, 77, true)) }),
  ],
  [
    'polygons in a file that says points',
    'shp-record',
    () => ({ ...partsOf('f', good()), 'f.shp': edited(good().shp, (v) => v.setInt32(32, 1, true)) }),
  ],
  [
    'lines',
    'not-polygons',
    () => ({ ...partsOf('f', good()), 'f.shp': edited(good().shp, (v) => v.setInt32(32, 3, true)) }),
  ],
  [
    'multipatches',
    'not-polygons',
    () => ({ ...partsOf('f', good()), 'f.shp': edited(good().shp, (v) => v.setInt32(32, 31, true)) }),
  ],
  [
    'a shape type that does not exist',
    'not-polygons',
    () => ({ ...partsOf('f', good()), 'f.shp': edited(good().shp, (v) => v.setInt32(32, 77, true)) }),
  ],
  ['a .dbf alone', 'shp-missing', () => ({ 'f.dbf': good().dbf })],
  ['an empty .dbf', 'dbf-truncated', () => ({ ...partsOf('f', good()), 'f.dbf': new Uint8Array(0) })],
  ['a .dbf cut in its header', 'dbf-truncated', () => ({ ...partsOf('f', good()), 'f.dbf': good().dbf.slice(0, 40) })],
  ['a .dbf cut in its rows', 'dbf-truncated', () => ({ ...partsOf('f', good()), 'f.dbf': good().dbf.slice(0, -14) })],
  [
    'a .dbf with fewer rows than records',
    'dbf-count',
    () => ({ ...partsOf('f', good()), 'f.dbf': good({ records: records.slice(1) }).dbf }),
  ],
  [
    'a .dbf with more rows than records',
    'dbf-count',
    () => ({ ...partsOf('f', good()), 'f.dbf': good({ records: [...records, [cell(3)]] }).dbf }),
  ],
  [
    'a .dbf with rows shorter than its columns',
    'dbf-header',
    () => ({ ...partsOf('f', good()), 'f.dbf': edited(good().dbf, (v) => v.setUint16(10, 3, true)) }),
  ],
  [
    'a .dbf with rows longer than its columns',
    'dbf-header',
    () => ({ ...partsOf('f', good()), 'f.dbf': edited(good().dbf, (v) => v.setUint8(48, 4)) }),
  ],
  [
    'a .dbf whose rows lie elsewhere',
    'dbf-rows',
    () => ({ ...partsOf('f', good()), 'f.dbf': edited(good().dbf, (v) => v.setUint8(65, 0x39)) }),
  ],
  [
    'a .dbf whose header is too short for any column',
    'dbf-header',
    () => ({ ...partsOf('f', good()), 'f.dbf': edited(good().dbf, (v) => v.setUint16(8, 10, true)) }),
  ],
  [
    'a .dbf whose columns never end',
    'dbf-header',
    () => ({ ...partsOf('f', good()), 'f.dbf': edited(good().dbf, (v) => v.setUint8(64, 0x41)) }),
  ],
  [
    'meters without a .prj',
    'prj-missing',
    () => partsOf('f', makeShapefile({ records: [[rectangle(450309, 4649950, 450319, 4649960)]] })),
  ],
  [
    'meters with an empty .prj',
    'prj-missing',
    () => partsOf('f', makeShapefile({ records: [[rectangle(450309, 4649950, 450319, 4649960)]], prj: ' ' })),
  ],
  [
    'meters that the .prj calls degrees',
    'prj-contradicts',
    () => partsOf('f', makeShapefile({ records: [[rectangle(450309, 4649950, 450319, 4649960)]], prj: WGS84_PRJ })),
  ],
  ['degrees that the .prj calls meters', 'prj-contradicts', () => partsOf('f', good({ prj: utmPrj(15, 'N') }))],
  [
    'a .prj of a local system',
    'prj-local',
    () =>
      partsOf(
        'f',
        makeShapefile({
          records: [[rectangle(5000, 5000, 5010, 5010)]],
          prj: 'LOCAL_CS["site",LOCAL_DATUM["x",0],UNIT["Meter",1.0],AXIS["X",EAST],AXIS["Y",NORTH]]',
        }),
      ),
  ],
  [
    'a .prj in grads',
    'prj-unit',
    () => partsOf('f', good({ prj: WGS84_PRJ.replace('"Degree",0.0174532925199433', '"Grad",0.015707963267949') })),
  ],
  [
    'a .prj cut off',
    'prj-unreadable',
    () =>
      partsOf(
        'f',
        makeShapefile({ records: [[rectangle(450309, 4649950, 450319, 4649960)]], prj: utmPrj(15, 'N').slice(0, 200) }),
      ),
  ],
  ['a .prj of garbage', 'prj-unreadable', () => partsOf('f', good({ prj: 'hello, world' }))],
  [
    'a .prj of an unknown projection',
    'prj-unreadable',
    () =>
      partsOf(
        'f',
        makeShapefile({
          records: [[rectangle(450309, 4649950, 450319, 4649960)]],
          prj: utmPrj(15, 'N').replace('Transverse_Mercator', 'Nowhere_Conformal'),
        }),
      ),
  ],
  [
    'swapped axes',
    'swapped-axes',
    () => partsOf('f', makeShapefile({ records: [[rectangle(42, -93.6, 42.1, -93.5)]], prj: WGS84_PRJ })),
  ],
  [
    'two parts of one name in different letter cases',
    'part-twice',
    () => ({ ...partsOf('f', good()), 'F.SHP': good().shp }),
  ],
  ['two shapefiles', 'several-layers', () => ({ ...partsOf('a', good()), ...partsOf('b', good()) })],
  [
    'only records without area',
    'no-records',
    () => partsOf('f', good({ records: [[rectangle(-93.6, 42, -93.6, 42.1)]] })),
  ],
];

/** Name, reason, and a shapefile of three records, the second of which is bad. */
export const shapefileSetAside: [string, string, () => Shapefile][] = [
  ['a null shape', 'no geometry', () => good({ records: [[cell(0)], null, [cell(2)]] })],
  ['a record without points', 'empty polygon', () => good({ records: [[cell(0)], [], [cell(2)]] })],
  [
    'no-data coordinates (-1e39)',
    'coordinates that are not numbers',
    () =>
      good({
        records: [
          [cell(0)],
          [
            [
              [-1e39, 42],
              [-93.5, 42],
              [-93.5, 43],
              [-1e39, 42],
            ],
          ],
          [cell(2)],
        ],
      }),
  ],
  [
    'NaN coordinates',
    'coordinates that are not numbers',
    () =>
      good({
        records: [
          [cell(0)],
          [
            [
              [Number.NaN, 42],
              [-93.5, 42],
              [-93.5, 43],
              [Number.NaN, 42],
            ],
          ],
          [cell(2)],
        ],
      }),
  ],
  [
    'infinite coordinates',
    'coordinates that are not numbers',
    () =>
      good({
        records: [
          [cell(0)],
          [
            [
              [Infinity, 42],
              [-93.5, 42],
              [-93.5, 43],
              [Infinity, 42],
            ],
          ],
          [cell(2)],
        ],
      }),
  ],
  [
    'a ring of two points',
    'zero area',
    () =>
      good({
        records: [
          [cell(0)],
          [
            [
              [-93.6, 42],
              [-93.5, 42],
              [-93.6, 42],
            ],
          ],
          [cell(2)],
        ],
      }),
  ],
  [
    'a point repeated',
    'zero area',
    () =>
      good({
        records: [
          [cell(0)],
          [
            [
              [-93.6, 42],
              [-93.6, 42],
              [-93.6, 42],
              [-93.6, 42],
            ],
          ],
          [cell(2)],
        ],
      }),
  ],
  ['a deleted row', 'deleted in the attribute table', () => good({ deleted: [1] })],
  [
    'a record at 0, 0',
    'more than 200 km from the rest of the map',
    () => good({ records: [[cell(0)], [rectangle(0, 0, step, step)], [cell(2)]] }),
  ],
];

/** What it is, the code of the note, the files. */
export const shapefileNoted: [string, string, () => Record<string, Uint8Array>][] = [
  ['degrees without a .prj', 'prj-assumed', () => partsOf('f', makeShapefile({ records }))],
  ['no .dbf', 'dbf-missing', () => ({ 'f.shp': good().shp, 'f.prj': utf8(WGS84_PRJ) })],
  [
    'bytes after the end of the .shp',
    'shp-trailing-bytes',
    () => ({ ...partsOf('f', good()), 'f.shp': new Uint8Array([...good().shp, ...new Uint8Array(444)]) }),
  ],
  ['a .shx of another count', 'shx-count', () => ({ ...partsOf('f', good()), 'f.shx': good().shx.slice(0, -8) })],
  ['a code page that is not known', 'code-page-unknown', () => partsOf('f', good({ cpg: 'EBCDIC-77' }))],
  [
    'text that is not in the code page of the .cpg',
    'text-encoding',
    () =>
      partsOf(
        'f',
        withField({ name: 'T', type: 'C', length: 8 }, [new Uint8Array([0x4d, 0xe4, 0x64]), 'b', 'c'], {
          cpg: 'UTF-8',
        }),
      ),
  ],
  [
    'stars for an overflow',
    'dbf-overflow',
    () => partsOf('f', withField({ name: 'N', type: 'N', length: 4 }, [utf8('****'), 2, 3])),
  ],
  [
    'a number with a thousands comma',
    'dbf-bad-value',
    () => partsOf('f', withField({ name: 'N', type: 'N', length: 8 }, [utf8('1,234.5'), 2, 3])),
  ],
  [
    'a day that does not exist',
    'dbf-bad-value',
    () => partsOf('f', withField({ name: 'D', type: 'D', length: 8 }, ['20261301', '20260401', '20260402'])),
  ],
  [
    'two columns of one name',
    'column-name-twice',
    () =>
      partsOf(
        'f',
        good({
          fields: [
            { name: 'A', type: 'N', length: 3 },
            { name: 'A', type: 'N', length: 3 },
          ],
          rows: [
            [1, 2],
            [1, 2],
            [1, 2],
          ],
        }),
      ),
  ],
  [
    'a memo column',
    'memo-not-read',
    () => partsOf('f', withField({ name: 'M', type: 'M', length: 10 }, ['1', '2', '3'])),
  ],
  [
    'a whole number of 18 digits',
    'numbers-rounded',
    () => partsOf('f', withField({ name: 'N', type: 'N', length: 18 }, [utf8('123456789012345993'), 2, 3])),
  ],
  [
    'an unclosed ring',
    'rings-closed',
    () => partsOf('f', good({ records: [[cell(0).slice(0, 4)], [cell(1)], [cell(2)]] })),
  ],
];
