import { crc32 as zlibCrc32 } from 'node:zlib';
import { zipSync } from 'fflate';
import { describe, expect, it } from 'vitest';
import { named, read } from '../../src/core/intake/index.ts';
import { crc32 } from '../../src/core/intake/zip.ts';
import { codeOf, collection, feature, noteCodes, readParts, seeded, square, utf8 } from './helpers.ts';
import { makeShapefile, makeZip, partsOf, rectangle, WGS84_PRJ } from './make-shapefile.ts';

const file = makeShapefile({ records: [[rectangle(-93.6, 42, -93.5999, 42.0001)]], prj: WGS84_PRJ });
const parts = partsOf('Field', file);
const zip = makeZip(parts);
const stored = makeZip(parts, 0);
const json = utf8(JSON.stringify(collection([feature([square(-93.6, 42)])])));
const readZip = (bytes: Uint8Array, layer?: string) =>
  read([named('map.zip', bytes)], layer === undefined ? {} : { layer });

/** Offset of the directory entry of a name, or of its local header. */
function find(bytes: Uint8Array, name: string, signature: number): number {
  const view = new DataView(bytes.buffer);
  const header = signature === 0x02014b50 ? 46 : 30;
  for (let i = 0; i + header < bytes.length; i++) {
    if (view.getUint32(i, true) !== signature) continue;
    if (new TextDecoder().decode(bytes.subarray(i + header, i + header + name.length)) === name) return i;
  }
  throw new Error(`no ${name}`);
}
function edited(bytes: Uint8Array, edit: (view: DataView) => void): Uint8Array {
  const copy = bytes.slice();
  edit(new DataView(copy.buffer));
  return copy;
}
const central = (bytes: Uint8Array, name = 'Field.shp'): number => find(bytes, name, 0x02014b50);

const refused: [string, string, () => Uint8Array][] = [
  ['cut in half', 'zip-truncated', () => zip.slice(0, zip.length / 2)],
  ['cut to its first 200 bytes', 'zip-truncated', () => zip.slice(0, 200)],
  ['cut by its last byte', 'zip-truncated', () => zip.slice(0, -1)],
  ['empty', 'zip-truncated', () => new Uint8Array(0)],
  ['not a zip', 'zip-truncated', () => utf8('PK\u0003\u0004 not really')],
  [
    'a wrong byte in a stored file',
    'zip-crc',
    () => edited(stored, (v) => v.setUint8(find(stored, 'Field.shp', 0x04034b50) + 39 + 150, 99)),
  ],
  ['a wrong checksum', 'zip-crc', () => edited(zip, (v) => v.setUint32(central(zip) + 16, 1, true))],
  [
    'packed data damaged',
    'zip-broken',
    () => edited(zip, (v) => v.setUint32(find(zip, 'Field.shp', 0x04034b50) + 39, 0xffffffff)),
  ],
  ['a size that is too small', 'zip-broken', () => edited(zip, (v) => v.setUint32(central(zip) + 24, 120, true))],
  ['a size that is too large', 'zip-broken', () => edited(zip, (v) => v.setUint32(central(zip) + 24, 1e6, true))],
  ['packed size beyond the file', 'zip-truncated', () => edited(zip, (v) => v.setUint32(central(zip) + 20, 1e6, true))],
  ['a local header elsewhere', 'zip-broken', () => edited(zip, (v) => v.setUint32(central(zip) + 42, 7, true))],
  ['a directory elsewhere', 'zip-broken', () => edited(zip, (v) => v.setUint32(zip.length - 6, 1, true))],
  [
    'two files in the same bytes',
    'zip-broken',
    () => edited(zip, (v) => v.setUint32(central(zip, 'Field.dbf') + 42, v.getUint32(central(zip) + 42, true), true)),
  ],
  ['encrypted', 'zip-encrypted', () => edited(zip, (v) => v.setUint16(central(zip) + 8, 1, true))],
  [
    'packed in another way (12, bzip2)',
    'zip-unsupported',
    () => edited(zip, (v) => v.setUint16(central(zip) + 10, 12, true)),
  ],
  ['an archive in the archive', 'zip-nested', () => makeZip({ 'inner.zip': zip })],
  ['nothing to read', 'no-layer', () => makeZip({ 'readme.txt': utf8('hello') })],
  ['nothing at all', 'no-layer', () => makeZip({})],
  [
    'only what a system left behind',
    'no-layer',
    () => makeZip({ '__MACOSX/._Field.shp': utf8('x'), '.DS_Store': utf8('x') }),
  ],
  ['two layers', 'several-layers', () => makeZip({ ...parts, ...partsOf('Other', file) })],
  ['a shapefile and a GeoJSON', 'several-layers', () => makeZip({ ...parts, 'map.geojson': json })],
  ['a .dbf without its .shp', 'shp-missing', () => makeZip({ 'Field.dbf': file.dbf })],
];

describe('archives that are refused', () => {
  it.each(refused)('%s: %s', async (_what, code, bytes) => {
    expect(await codeOf(readZip(bytes()))).toBe(code);
  });

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
    await expect(readZip(two)).rejects.toThrow('"2025/Field", "2026/Field", "Third"');
  });

  it('parts under another name are not taken for parts of the layer', async () => {
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

describe('files that are no map', () => {
  it.each([
    ['no-file', {}],
    ['unknown-format', { 'map.kml': utf8('<kml/>') }],
    ['unknown-format', { 'map.7z': utf8('7z') }],
    ['unknown-format', { 'notes.txt': utf8('hello') }],
    ['empty-file', { map: new Uint8Array(0) }],
    ['several-layers', { 'a.geojson': json, 'b.geojson': json }],
    ['several-layers', { 'a.zip': zip, 'b.zip': zip }],
    ['several-layers', { 'a.zip': zip, 'b.geojson': json }],
  ] as [string, Record<string, Uint8Array>][])('%s', async (code, given) => {
    expect(await codeOf(readParts(given))).toBe(code);
  });

  it('a file without an extension is known by its first bytes', async () => {
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
