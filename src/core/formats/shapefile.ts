import { zipSync } from 'fflate';
import type { Column } from '../intake/types.ts';
import { UserError } from '../shared/messages.ts';
import { cellOf, type Layer, ringsOf, typeOf } from './layer.ts';
import { wktOf } from './system.ts';

/** Sizes in the format are counted in signed 32 bits. */
const MOST_BYTES = 2 ** 31 - 1;
/** A field's width is one byte, its name ten characters and a zero (dBASE III). */
const WIDEST = 254;
const NAME_BYTES = 10;
const MOST_FIELDS = 255;
/** Characters that would end a line of text, act on a terminal, or reverse the direction of writing. */
// biome-ignore lint/suspicious/noControlCharactersInRegex: they are what is looked for
const UNSAFE = /[\u0000-\u001F\u007F-\u009F\u061C\u200E\u200F\u2028-\u202E\u2066-\u2069]/g;

const PRJ =
  'GEOGCS["GCS_WGS_1984",DATUM["D_WGS_1984",SPHEROID["WGS_1984",6378137.0,298.257223563]],PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]]';

/**
 * A shapefile as one .zip (ESRI Shapefile Technical Description, July 1998): outer rings clockwise with their holes, counter-clockwise,
 * after them; .prj; .cpg with UTF-8; and `NAME.columns.txt`, which maps the ten-character field names to the columns' own, tab between.
 * `note` reports texts that were cut at 254 bytes. The same layer gives the same bytes.
 */
export function shapefileZip(layer: Layer, note: (sentence: string) => void = () => {}): Uint8Array {
  const { shp, shx } = shapes(layer);
  const fields = layer.columns.map((c, i) => fieldOf(c, layer.recordStart.length - 1, i, note));
  nameFields(fields);
  const text = new TextEncoder();
  const names = fields.map((f) => `${f.name}\t${f.column.name.replaceAll(UNSAFE, ' ')}\n`).join('');
  const files: Record<string, Uint8Array> = {
    [`${layer.name}.shp`]: shp,
    [`${layer.name}.shx`]: shx,
    [`${layer.name}.dbf`]: table(layer, fields),
    [`${layer.name}.prj`]: text.encode((layer.system && wktOf(layer.system)) ?? PRJ),
    [`${layer.name}.cpg`]: text.encode('UTF-8'),
    [`${layer.name}.columns.txt`]: text.encode(`field\tcolumn\n${names}`),
  };
  return zipSync(files, { level: 6, mtime: '1980-01-01T00:00:00' });
}

function shapes(layer: Layer): { shp: Uint8Array; shx: Uint8Array } {
  const n = layer.recordStart.length - 1;
  const sizes = new Float64Array(n);
  let total = 100;
  for (let r = 0; r < n; r++) {
    const rings = layer.polygonStart[layer.recordStart[r + 1]] - layer.polygonStart[layer.recordStart[r]];
    const points =
      layer.ringStart[layer.polygonStart[layer.recordStart[r + 1]]] -
      layer.ringStart[layer.polygonStart[layer.recordStart[r]]];
    sizes[r] = 44 + 4 * rings + 16 * (points + rings);
    total += 8 + sizes[r];
  }
  if (total > MOST_BYTES) throw tooBig();
  const shp = new DataView(new ArrayBuffer(total));
  const shx = new DataView(new ArrayBuffer(100 + 8 * n));
  const box = [Infinity, Infinity, -Infinity, -Infinity];
  let at = 100;
  for (let r = 0; r < n; r++) {
    const rings = ringsOf(layer, r, true).flat();
    shx.setInt32(100 + 8 * r, at / 2);
    shx.setInt32(104 + 8 * r, sizes[r] / 2);
    shp.setInt32(at, r + 1);
    shp.setInt32(at + 4, sizes[r] / 2);
    at += 8;
    const own = [Infinity, Infinity, -Infinity, -Infinity];
    let point = 0;
    const points = at + 44 + 4 * rings.length;
    rings.forEach((ring, k) => {
      shp.setInt32(at + 44 + 4 * k, point, true);
      for (const [x, y] of ring) {
        shp.setFloat64(points + 16 * point, x, true);
        shp.setFloat64(points + 16 * point + 8, y, true);
        point++;
        own[0] = Math.min(own[0], x);
        own[1] = Math.min(own[1], y);
        own[2] = Math.max(own[2], x);
        own[3] = Math.max(own[3], y);
      }
    });
    shp.setInt32(at, 5, true);
    own.forEach((v, k) => {
      shp.setFloat64(at + 4 + 8 * k, v, true);
      box[k] = k < 2 ? Math.min(box[k], v) : Math.max(box[k], v);
    });
    shp.setInt32(at + 36, rings.length, true);
    shp.setInt32(at + 40, point, true);
    at += sizes[r];
  }
  for (const view of [shp, shx]) {
    view.setInt32(0, 9994);
    view.setInt32(24, view.byteLength / 2);
    view.setInt32(28, 1000, true);
    view.setInt32(32, 5, true);
    box.forEach((v, k) => {
      view.setFloat64(36 + 8 * k, n > 0 ? v : 0, true);
    });
  }
  return { shp: new Uint8Array(shp.buffer), shx: new Uint8Array(shx.buffer) };
}

function tooBig(): UserError {
  return new UserError(
    'shapefile-size',
    'The map is too large for a shapefile, which holds 2 GB at most.',
    {},
    'Write it as .fgb or .parquet.',
  );
}

interface Field {
  column: Column;
  name: string;
  kind: 'N' | 'C' | 'L' | 'D';
  width: number;
  decimals: number;
}

/** Numbers get as many decimals as they have; where that does not fit, they are written as text. */
function fieldOf(column: Column, n: number, i: number, note: (sentence: string) => void): Field {
  const name = `F${i + 1}`;
  const type = typeOf(column);
  if (type === 'boolean') return { column, name, kind: 'L', width: 1, decimals: 0 };
  if (type === 'date') return { column, name, kind: 'D', width: 8, decimals: 0 };
  if (column.kind === 'number') {
    let decimals = 0;
    for (const v of column.values) {
      if (!Number.isFinite(v) || Number.isInteger(v)) continue;
      const m = /^-?\d*\.?(\d*?)(?:e([+-]\d+))?$/.exec(String(v));
      decimals = Math.max(decimals, (m?.[1].length ?? 0) - Number(m?.[2] ?? 0));
    }
    let width = 1;
    if (decimals <= 15)
      for (const v of column.values) if (Number.isFinite(v)) width = Math.max(width, plain(v, decimals).length);
    if (decimals <= 15 && width <= 30) return { column, name, kind: 'N', width, decimals };
  }
  let width = 1;
  let cut = 0;
  const encoder = new TextEncoder();
  const seen = new Map<number | string | boolean | null, number>();
  for (let r = 0; r < n; r++) {
    const v = cellOf(column, r);
    let bytes = seen.get(v);
    if (bytes === undefined) {
      bytes = v === null ? 0 : encoder.encode(String(v)).length;
      seen.set(v, bytes);
    }
    if (bytes > WIDEST) cut++;
    width = Math.max(width, bytes);
  }
  if (cut > 0)
    note(
      `${cut} value(s) of column "${column.name}" are longer than a shapefile can hold and were cut at ${WIDEST} bytes.`,
    );
  return { column, name, kind: 'C', width: Math.min(width, WIDEST), decimals: 0 };
}

const plain = (v: number, decimals: number): string =>
  decimals === 0 && Math.abs(v) >= 1e21 ? BigInt(v).toString() : v.toFixed(decimals);

/** Ten plain characters, no two alike whatever their case. */
function nameFields(fields: Field[]): void {
  if (fields.length > MOST_FIELDS)
    throw new UserError(
      'shapefile-columns',
      `A shapefile holds ${MOST_FIELDS} columns at most; there are ${fields.length}.`,
      {},
      'Write it as .fgb or .parquet.',
    );
  const taken = new Set<string>();
  // Names that fit keep theirs, whatever comes before them.
  const fits = (s: string): boolean => /^[A-Za-z][A-Za-z0-9_]*$/.test(s) && s.length <= NAME_BYTES;
  for (const f of fields) {
    if (!fits(f.column.name) || taken.has(f.column.name.toLowerCase())) continue;
    f.name = f.column.name;
    taken.add(f.name.toLowerCase());
  }
  for (const f of fields) {
    if (f.name === f.column.name) continue;
    let base = f.column.name
      .normalize('NFKD')
      .replaceAll(/[^A-Za-z0-9_]+/g, '_')
      .replace(/^_+|_+$/g, '');
    if (!/^[A-Za-z]/.test(base)) base = `f_${base}`;
    let name = base.slice(0, NAME_BYTES);
    for (let k = 2; taken.has(name.toLowerCase()); k++)
      name = `${base.slice(0, NAME_BYTES - 1 - String(k).length)}_${k}`;
    f.name = name;
    taken.add(name.toLowerCase());
  }
}

function table(layer: Layer, fields: Field[]): Uint8Array {
  const n = layer.recordStart.length - 1;
  const row = 1 + fields.reduce((s, f) => s + f.width, 0);
  const head = 33 + 32 * fields.length;
  if (head + row * n + 1 > MOST_BYTES) throw tooBig();
  const bytes = new Uint8Array(head + row * n + 1).fill(0x20, head);
  const view = new DataView(bytes.buffer);
  const encoder = new TextEncoder();
  // Version 3, dated 1 January 1980 so that the same map gives the same bytes.
  bytes.set([3, 80, 1, 1]);
  view.setUint32(4, n, true);
  view.setUint16(8, head, true);
  view.setUint16(10, row, true);
  fields.forEach((f, i) => {
    bytes.set(encoder.encode(f.name), 32 + 32 * i);
    bytes[43 + 32 * i] = f.kind.charCodeAt(0);
    bytes[48 + 32 * i] = f.width;
    bytes[49 + 32 * i] = f.decimals;
  });
  bytes[head - 1] = 0x0d;
  for (let r = 0; r < n; r++) {
    let at = head + r * row + 1;
    for (const f of fields) {
      const v = cellOf(f.column, r);
      if (v !== null) {
        if (f.kind === 'L') bytes[at] = v === true ? 0x54 : 0x46;
        else if (f.kind === 'D') bytes.set(encoder.encode(String(v).replaceAll('-', '')), at);
        else if (f.kind === 'N') bytes.set(encoder.encode(plain(v as number, f.decimals).padStart(f.width)), at);
        else bytes.set(whole(encoder.encode(String(v)), f.width), at);
      }
      at += f.width;
    }
  }
  bytes[bytes.length - 1] = 0x1a;
  return bytes;
}

/** The first `most` bytes of UTF-8, without half a character at the end. */
function whole(bytes: Uint8Array, most: number): Uint8Array {
  if (bytes.length <= most) return bytes;
  let end = most;
  while (end > 0 && (bytes[end] & 0xc0) === 0x80) end--;
  return bytes.subarray(0, end);
}
