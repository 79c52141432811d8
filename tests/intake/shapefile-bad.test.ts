import { describe, expect, it } from 'vitest';
import type { RecordSet } from '../../src/core/intake/index.ts';
import { shapefileNoted as noted, shapefileSetAside as setAside, withField } from '../hard/shapefile-cases.ts';
import { degrees, noteCodes, readParts, readShapefile, signedArea, utf8, valuesOf } from './helpers.ts';
import {
  type FieldSpec,
  makeShapefile,
  type Ring,
  rectangle,
  type ShapefileSpec,
  utmPrj,
  WGS84_PRJ,
} from './make-shapefile.ts';

describe('records that are skipped, counted and named', () => {
  it.each(setAside)('%s: %s', async (_what, reason, file) => {
    const set = await readShapefile(file());
    expect(set.skipped).toEqual([{ reason, count: 1, firstRecord: 2 }]);
    expect([set.total, Array.from(set.recordNumber), valuesOf(set, 'ID')]).toEqual([3, [1, 3], [1, 3]]);
  });

  it('a ring of zeros in meters', async () => {
    const at = (i: number): Ring => rectangle(450309 + 10 * i, 4649950, 450319 + 10 * i, 4649960);
    const set = await readShapefile(
      makeShapefile({ records: [[at(0)], [rectangle(0, 0, 1, 1)], [at(2)]], prj: utmPrj(15, 'N') }),
    );
    expect(set.skipped.map((s) => [s.count, s.firstRecord])).toEqual([[1, 2]]);
    expect(noteCodes(set)).toContain('stray-records');
  });
});

describe('assumptions and repairs are reported', () => {
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
    expect([set.recordNumber.length, set.shapes.xy.length, set.skipped]).toEqual([1, 8, []]);
  });
});
