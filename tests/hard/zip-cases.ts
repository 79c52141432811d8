import { collection, feature, square, utf8 } from '../intake/helpers.ts';
import { makeShapefile, makeZip, partsOf, rectangle, WGS84_PRJ } from '../intake/make-shapefile.ts';

export const file = makeShapefile({ records: [[rectangle(-93.6, 42, -93.5999, 42.0001)]], prj: WGS84_PRJ });
export const parts = partsOf('Field', file);
export const zip = makeZip(parts);
const stored = makeZip(parts, 0);
export const json = utf8(JSON.stringify(collection([feature([square(-93.6, 42)])])));

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
export function edited(bytes: Uint8Array, edit: (view: DataView) => void): Uint8Array {
  const copy = bytes.slice();
  edit(new DataView(copy.buffer));
  return copy;
}
export const central = (bytes: Uint8Array, name = 'Field.shp'): number => find(bytes, name, 0x02014b50);

/** What it is, the code of the refusal, the archive. */
export const zipRefused: [string, string, () => Uint8Array][] = [
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
