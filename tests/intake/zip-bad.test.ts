import { crc32 as zlibCrc32 } from 'node:zlib';
import { zipSync } from 'fflate';
import { describe, expect, it } from 'vitest';
import { named, read } from '../../src/core/intake/index.ts';
import { crc32 } from '../../src/core/intake/zip.ts';
import { central, edited, file, json, parts, zip } from '../hard/zip-cases.ts';
import { codeOf, noteCodes, readParts, seeded, utf8 } from './helpers.ts';
import { makeShapefile, makeZip, partsOf, rectangle, WGS84_PRJ } from './make-shapefile.ts';

const readZip = (bytes: Uint8Array, layer?: string) =>
  read([named('map.zip', bytes)], layer === undefined ? {} : { layer });

describe('archives that are refused', () => {
  it('every cut of an archive ends at once with a sentence', async () => {
    for (let n = 0; n < zip.length; n += 7) expect(await codeOf(readZip(zip.slice(0, n)))).toBe('zip-truncated');
  });

  it('bombs, at their limits', async () => {
    const zeros = new Uint8Array(20 * 1024 ** 2);
    const shp = zeros.slice();
    shp.set(file.shp.subarray(0, 100));
    new DataView(shp.buffer).setInt32(24, shp.length / 2);
    // Twenty megabytes of zeros in twenty kilobytes; below the size where the ratio counts, the first record without content ends it.
    expect(await codeOf(readZip(makeZip({ ...parts, 'Field.shp': shp })))).toBe('zip-bomb');
    const less = edited(shp.slice(0, 8e6), (v) => v.setInt32(24, 4e6));
    expect(await codeOf(readZip(makeZip({ ...parts, 'Field.shp': less })))).toBe('shp-record');
    expect(await codeOf(readZip(makeZip({ 'map.geojson': zeros.fill(0x20) })))).toBe('zip-bomb');
    const limits = { unpackedBytes: 50 };
    expect(await codeOf(read([named('map.zip', zip)], { limits }))).toBe('zip-bomb');
    expect(await codeOf(read([named('map.zip', zip)], { limits: { archiveEntries: 2 } }))).toBe('zip-too-many-files');
    expect(await codeOf(read([named('map.zip', zip)], { limits: { archiveBytes: 100 } }))).toBe('file-too-big');
  });
});

describe('archives that are read', () => {
  it('a layer is chosen by its name, in any letter case, or by its path', async () => {
    const other = makeShapefile({ records: [[rectangle(10, 50, 10.0001, 50.0001)]], prj: WGS84_PRJ });
    const two = makeZip({ ...partsOf('2025/Field', file), ...partsOf('2026/Field', other), ...partsOf('Third', file) });
    expect((await readZip(two, 'third')).source).toBe('map.zip/Third.shp');
    expect(
      (await readZip(two, '2026/field')).lattice.originY / (await readZip(two, '2026/field')).lattice.stepsPerDegree,
    ).toBeCloseTo(50, 3);
    expect(await codeOf(readZip(two, 'Field'))).toBe('layer-not-found');
    expect(await codeOf(readZip(two, 'Fourth'))).toBe('layer-not-found');
    await expect(readZip(two)).rejects.toThrow('"2025/Field" (1 record), "2026/Field" (1 record), "Third" (1 record)');
  });

  it('parts under another name do not count as parts of the layer', async () => {
    const { 'Field.dbf': dbf, ...others } = parts;
    expect(noteCodes(await readZip(makeZip({ ...others, 'Fields.dbf': dbf })))).toEqual([
      'part-not-read',
      'dbf-missing',
    ]);
  });

  it('names that climb out are only names', async () => {
    expect((await readZip(makeZip(partsOf('../../etc/Field', file)))).recordNumber.length).toBe(1);
  });

  it('a GeoJSON, and a .json only where there is nothing better', async () => {
    expect((await readZip(makeZip({ 'sub/map.geojson': json }))).format).toBe('geojson');
    expect((await readZip(makeZip({ 'map.json': json }))).format).toBe('geojson');
    expect((await readZip(makeZip({ ...parts, 'about.json': utf8('{"made":"by"}') }))).format).toBe('shapefile');
  });

  it('an archive in an archive is named when there is a map beside it', async () => {
    expect(noteCodes(await readZip(makeZip({ ...parts, 'more.zip': zip })))).toEqual(['zip-nested']);
  });

  it('sizes in the ZIP64 extra field', async () => {
    const wide = zipSync({ ...parts, 'Field.shp': [file.shp, { extra: { 1: new Uint8Array(16) } }] }, { level: 6 });
    const at = central(wide);
    const view = new DataView(wide.buffer);
    const extra = at + 46 + 'Field.shp'.length + 4;
    view.setBigUint64(extra, BigInt(view.getUint32(at + 24, true)), true);
    view.setBigUint64(extra + 8, BigInt(view.getUint32(at + 20, true)), true);
    view.setUint32(at + 24, 0xffffffff, true);
    view.setUint32(at + 20, 0xffffffff, true);
    expect((await readZip(wide)).recordNumber.length).toBe(1);
  });
});

describe('files that are not maps', () => {
  it.each([
    ['no-file', {}],
    ['no-records', { 'map.kml': utf8('<kml/>') }],
    ['unknown-format', { 'map.7z': utf8('7z') }],
    ['unknown-format', { 'notes.txt': utf8('hello') }],
    ['empty-file', { map: new Uint8Array(0) }],
    ['several-layers', { 'a.geojson': json, 'b.geojson': json }],
    ['several-layers', { 'a.zip': zip, 'b.zip': zip }],
    ['several-layers', { 'a.zip': zip, 'b.geojson': json }],
  ] as [string, Record<string, Uint8Array>][])('%s', async (code, given) => {
    expect(await codeOf(readParts(given))).toBe(code);
  });

  it('a file without an extension is recognized by its first bytes', async () => {
    for (const bytes of [zip, json]) expect((await readParts({ download: bytes })).recordNumber.length).toBe(1);
  });
});

describe('CRC-32', () => {
  it('agrees with zlib and the check value of its definition (cbf43926 for "123456789")', () => {
    const random = seeded(5);
    expect((crc32(-1, utf8('123456789')) ^ -1) >>> 0).toBe(0xcbf43926);
    for (let n = 0; n < 40; n++) {
      const bytes = Uint8Array.from({ length: n }, () => random() * 256);
      if (zlibCrc32) expect((crc32(-1, bytes) ^ -1) >>> 0).toBe(zlibCrc32(bytes));
    }
  });
});
