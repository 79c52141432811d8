import { describe, expect, it } from 'vitest';
import type { RecordSet } from '../../src/core/intake/index.ts';
import { codeOf, degrees, noteCodes, readParts, readShapefile, signedArea, utf8, valuesOf } from './helpers.ts';
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
} from './make-shapefile.ts';

/**
 * Kinds of bad shapefile. Each of the silent ones was seen to give a wrong answer without a word in a general reader (shpjs 6.2.0); here each ends
 * in a `UserError`, in a note, or in records set aside and counted.
 */
const step = 1e-4;
const cell = (i: number): Ring => rectangle(-93.6 + i * step, 42, -93.6 + (i + 1) * step, 42 + step);
const records = [[cell(0)], [cell(1)], [cell(2)]];
const good = (more: Partial<ShapefileSpec> = {}): Shapefile => makeShapefile({ records, prj: WGS84_PRJ, ...more });
const withField = (
  field: FieldSpec,
  values: (string | number | Uint8Array)[],
  more: Partial<ShapefileSpec> = {},
): Shapefile => good({ fields: [field], rows: values.map((v) => [v]), ...more });

function edited(bytes: Uint8Array, edit: (view: DataView) => void): Uint8Array {
  const copy = bytes.slice();
  edit(new DataView(copy.buffer));
  return copy;
}

const refused: [string, string, () => Record<string, Uint8Array>][] = [
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
    'points',
    'not-polygons',
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
    'metres without a .prj',
    'prj-missing',
    () => partsOf('f', makeShapefile({ records: [[rectangle(450309, 4649950, 450319, 4649960)]] })),
  ],
  [
    'metres with an empty .prj',
    'prj-missing',
    () => partsOf('f', makeShapefile({ records: [[rectangle(450309, 4649950, 450319, 4649960)]], prj: ' ' })),
  ],
  [
    'metres that the .prj calls degrees',
    'prj-contradicts',
    () => partsOf('f', makeShapefile({ records: [[rectangle(450309, 4649950, 450319, 4649960)]], prj: WGS84_PRJ })),
  ],
  ['degrees that the .prj calls metres', 'prj-contradicts', () => partsOf('f', good({ prj: utmPrj(15, 'N') }))],
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

describe('shapefiles that are refused', () => {
  it.each(refused)('%s: %s', async (_what, code, parts) => {
    expect(await codeOf(readParts(parts()))).toBe(code);
  });
});

const setAside: [string, string, () => Shapefile][] = [
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

describe('records that are set aside, counted and named', () => {
  it.each(setAside)('%s: %s', async (_what, reason, file) => {
    const set = await readShapefile(file());
    expect(set.setAside).toEqual([{ reason, count: 1, firstRecord: 2 }]);
    expect([set.total, Array.from(set.recordNumber), valuesOf(set, 'ID')]).toEqual([3, [1, 3], [1, 3]]);
  });

  it('a ring of zeros in metres', async () => {
    const at = (i: number): Ring => rectangle(450309 + 10 * i, 4649950, 450319 + 10 * i, 4649960);
    const set = await readShapefile(
      makeShapefile({ records: [[at(0)], [rectangle(0, 0, 1, 1)], [at(2)]], prj: utmPrj(15, 'N') }),
    );
    expect(set.setAside.map((s) => [s.count, s.firstRecord])).toEqual([[1, 2]]);
    expect(noteCodes(set)).toContain('stray-records');
  });
});

const noted: [string, string, () => Record<string, Uint8Array>][] = [
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

describe('what is assumed or repaired is said', () => {
  it.each(noted)('%s: %s', async (_what, code, parts) => {
    const set = await readParts(parts());
    expect(noteCodes(set)).toEqual([code]);
    expect(set.recordNumber.length).toBe(3);
  });
});

describe('attributes', () => {
  const values = async (
    field: FieldSpec,
    cells: (string | number | Uint8Array)[],
    more: Partial<ShapefileSpec> = {},
  ): Promise<unknown[]> => valuesOf(await readShapefile(withField(field, cells, more)), field.name);

  it('numbers: blanks, stars and words are missing, exponents and long decimals are read', async () => {
    const n: FieldSpec = { name: 'N', type: 'N', length: 19, decimals: 3 };
    expect(await values(n, [utf8('*******************'), utf8('   '), 2.5])).toEqual([null, null, 2.5]);
    expect(await values(n, [utf8('1e3'), utf8('-1.5E-02'), utf8('+7.')])).toEqual([1000, -0.015, 7]);
    expect(await values(n, [utf8('1.234567890123456'), utf8('-.5'), utf8('nan')])).toEqual([
      1.234567890123456,
      -0.5,
      null,
    ]);
    expect(await values({ name: 'F', type: 'F', length: 8 }, [utf8('1.2.3'), utf8('--1'), utf8('12a')])).toEqual([
      null,
      null,
      null,
    ]);
  });

  it('dates stay the day that was written, in any time zone', async () => {
    expect(await values({ name: 'D', type: 'D', length: 8 }, ['20260401', '        ', '00000000'])).toEqual([
      '2026-04-01',
      null,
      null,
    ]);
    expect(await values({ name: 'D', type: 'D', length: 8 }, ['20240229', '20250229', '19000229'])).toEqual([
      '2024-02-29',
      null,
      null,
    ]);
  });

  it('date-times of FoxPro are Julian days and milliseconds', async () => {
    // Julian day 2451545 is 2000-01-01 (the astronomers' J2000 epoch).
    const bytes = new Uint8Array(8);
    new DataView(bytes.buffer).setInt32(0, 2451545, true);
    new DataView(bytes.buffer).setInt32(4, 43_200_000, true);
    expect(await values({ name: 'T', type: 'T', length: 8 }, [bytes, new Uint8Array(8), bytes])).toEqual([
      '2000-01-01T12:00:00',
      null,
      '2000-01-01T12:00:00',
    ]);
  });

  it('logicals: question mark and blank are missing', async () => {
    expect(await values({ name: 'L', type: 'L', length: 1 }, ['T', '?', ' '])).toEqual(['true', null, null]);
    expect(await values({ name: 'L', type: 'L', length: 1 }, ['n', 'Y', 'f'])).toEqual(['false', 'true', 'false']);
  });

  it('a column called __proto__ is a column', async () => {
    expect(await values({ name: '__proto__', type: 'C', length: 3 }, ['a', 'b', 'c'])).toEqual(['a', 'b', 'c']);
  });

  it('a header that is longer than its columns (FoxPro adds 263 bytes) does not shift the rows', async () => {
    const { dbf, ...rest } = withField({ name: 'C', type: 'C', length: 4 }, ['abcd', 'efgh', 'ijkl']);
    const longer = new Uint8Array(dbf.length + 263);
    longer.set(dbf.subarray(0, 65));
    longer.set(dbf.subarray(65), 65 + 263);
    new DataView(longer.buffer).setUint16(8, 65 + 263, true);
    expect(valuesOf(await readShapefile({ ...rest, dbf: longer }), 'C')).toEqual(['abcd', 'efgh', 'ijkl']);
  });

  // Bytes by the Unicode mapping tables of each code page; "Düngung" is German for fertilising, "Поле" Russian for field.
  const pages: [string, string | undefined, number, number[], string][] = [
    ['no word at all, UTF-8 bytes', undefined, 0, [0x44, 0xc3, 0xbc], 'Dü'],
    ['no word at all, Windows bytes', undefined, 0, [0x44, 0xfc], 'Dü'],
    ['language byte 0x57', undefined, 0x57, [0x44, 0xfc], 'Dü'],
    ['language byte 0x01 (DOS USA)', undefined, 0x01, [0x44, 0x81], 'Dü'],
    ['language byte 0x64 (DOS Eastern Europe)', undefined, 0x64, [0x88], 'ł'],
    ['UTF-8', 'UTF-8', 0, [0x44, 0xc3, 0xbc], 'Dü'],
    ['the .cpg before the language byte', 'UTF-8', 0x57, [0x44, 0xc3, 0xbc], 'Dü'],
    ['ISO-8859-1', 'ISO-8859-1', 0, [0x44, 0xfc], 'Dü'],
    ['88591', '88591', 0, [0x44, 0xfc], 'Dü'],
    ['ANSI 1252', 'ANSI 1252', 0, [0x44, 0xfc], 'Dü'],
    ['LDID/87', 'LDID/87', 0, [0x44, 0xfc], 'Dü'],
    ['OEM', 'OEM', 0, [0x44, 0x81], 'Dü'],
    ['CP850', 'CP850', 0, [0x9b], 'ø'],
    ['1251', '1251', 0, [0xcf, 0xee, 0xeb, 0xe5], 'Поле'],
    ['CP866', 'CP866', 0, [0x8f, 0xae, 0xab, 0xa5], 'Поле'],
    ['CP932', 'CP932', 0, [0x94, 0xa8], '畑'],
  ];
  it.each(pages)('code page: %s', async (_what, cpg, language, bytes, text) => {
    const file = withField({ name: 'C', type: 'C', length: 6 }, [new Uint8Array(bytes), 'b', 'c'], {
      language,
      ...(cpg === undefined ? {} : { cpg }),
    });
    expect(valuesOf(await readShapefile(file), 'C')).toEqual([text, 'b', 'c']);
  });
});

describe('rings of a shapefile', () => {
  const outer = rectangle(-93.6, 42, -93.59, 42.01);
  const hole = [...rectangle(-93.598, 42.002, -93.592, 42.008)].reverse();
  const island = rectangle(-93.596, 42.004, -93.594, 42.006);
  const areas = async (rings: Ring[], shapeType = 5): Promise<[number[], RecordSet]> => {
    const set = await readShapefile(makeShapefile({ records: [rings], prj: WGS84_PRJ, shapeType }));
    return [degrees(set, 0).map((r) => Math.round(signedArea(r) * 1e8) / 1e8), set];
  };

  it('turn as Shapes asks, whatever their winding and order', async () => {
    // Arithmetic: 0.01 x 0.01 outside, 0.006 x 0.006 hole, 0.002 x 0.002 island.
    const expected = [1e-4, -3.6e-5, 4e-6];
    for (const type of [5, 15, 25]) expect((await areas([outer, hole, island], type))[0]).toEqual(expected);
    expect((await areas([hole, outer, island]))[0]).toEqual([expected[1], expected[0], expected[2]]);
    const [wound, set] = await areas([outer, [...hole].reverse(), island]);
    expect([wound, noteCodes(set)]).toEqual([expected, ['holes-by-place']]);
    expect((await areas([[...outer].reverse()]))[0]).toEqual([1e-4]);
  });

  it('go by true containment, not by boxes', async () => {
    // An L around a square that lies within the box of the L but outside it: two parts, no hole.
    const l: Ring = [
      [-93.6, 42],
      [-93.6, 42.01],
      [-93.599, 42.01],
      [-93.599, 42.001],
      [-93.59, 42.001],
      [-93.59, 42],
      [-93.6, 42],
    ];
    const beside = [...rectangle(-93.595, 42.004, -93.594, 42.006)].reverse();
    expect((await areas([l, beside]))[0]).toEqual([1.9e-5, 2e-6]);
  });

  it('bow-ties and concave records are kept', async () => {
    const bowTie: Ring = [
      [-93.6, 42],
      [-93.59, 42.01],
      [-93.59, 42],
      [-93.6, 42.01],
      [-93.6, 42],
    ];
    const [, set] = await areas([bowTie]);
    expect([set.recordNumber.length, set.shapes.xy.length, set.setAside]).toEqual([1, 8, []]);
  });
});
