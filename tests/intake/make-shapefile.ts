import { zipSync } from 'fflate';

/**
 * A small shapefile writer for tests (ESRI Shapefile Technical Description, July 1998; dBASE III table). It writes any input, wrong things
 * too, so that a test can make any broken file from a good one.
 */
export type Ring = readonly (readonly [number, number])[];

export interface FieldSpec {
  /** At most 10 characters reach the file. */
  name: string;
  /** C text, N number, F number, D date as YYYYMMDD, L logical as T, F or ?. */
  type: 'C' | 'N' | 'F' | 'D' | 'L' | 'M' | 'I' | 'B' | 'T';
  length: number;
  decimals?: number;
}

export interface ShapefileSpec {
  /** Rings of each record, outer rings clockwise and holes counter-clockwise as the format asks; null for a null shape. */
  records: readonly (readonly Ring[] | null)[];
  fields?: readonly FieldSpec[];
  /** One value per field; numbers are written with the field's decimals, texts as they are, bytes as they are. */
  rows?: readonly (readonly (string | number | null | Uint8Array)[])[];
  /** Rows (from 0) marked as deleted. */
  deleted?: readonly number[];
  /** 5 (default), 15 with z = 0, or 25. */
  shapeType?: number;
  prj?: string;
  cpg?: string;
  /** Language byte of the .dbf; 0 says nothing. */
  language?: number;
  encode?: (text: string) => Uint8Array;
}

export interface Shapefile {
  shp: Uint8Array;
  shx: Uint8Array;
  dbf: Uint8Array;
  prj: Uint8Array | null;
  cpg: Uint8Array | null;
}

export const WGS84_PRJ =
  'GEOGCS["GCS_WGS_1984",DATUM["D_WGS_1984",SPHEROID["WGS_1984",6378137.0,298.257223563]],PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]]';

/** ESRI's text for WGS84 / UTM, e.g. `utmPrj(15, 'N')`. */
export function utmPrj(zone: number, half: 'N' | 'S'): string {
  return `PROJCS["WGS_1984_UTM_Zone_${zone}${half}",${WGS84_PRJ},PROJECTION["Transverse_Mercator"],PARAMETER["False_Easting",500000.0],PARAMETER["False_Northing",${half === 'S' ? '10000000.0' : '0.0'}],PARAMETER["Central_Meridian",${zone * 6 - 183}.0],PARAMETER["Scale_Factor",0.9996],PARAMETER["Latitude_Of_Origin",0.0],UNIT["Meter",1.0]]`;
}

export function makeShapefile(spec: ShapefileSpec): Shapefile {
  const shapeType = spec.shapeType ?? 5;
  const sizes = spec.records.map((rings) => contentBytes(rings, shapeType));
  const total = 100 + sizes.reduce((s, n) => s + 8 + n, 0);
  const shp = new DataView(new ArrayBuffer(total));
  const shx = new DataView(new ArrayBuffer(100 + 8 * spec.records.length));
  const box = boxOf(spec.records.flatMap((r) => r ?? []));
  header(shp, total, shapeType, box);
  header(shx, shx.byteLength, shapeType, box);
  let at = 100;
  spec.records.forEach((rings, i) => {
    shp.setInt32(at, i + 1);
    shp.setInt32(at + 4, sizes[i] / 2);
    shx.setInt32(100 + 8 * i, at / 2);
    shx.setInt32(104 + 8 * i, sizes[i] / 2);
    if (rings === null) shp.setInt32(at + 8, 0, true);
    else writePolygon(shp, at + 8, rings, shapeType);
    at += 8 + sizes[i];
  });
  return {
    shp: new Uint8Array(shp.buffer),
    shx: new Uint8Array(shx.buffer),
    dbf: makeDbf(spec),
    prj: spec.prj === undefined ? null : new TextEncoder().encode(spec.prj),
    cpg: spec.cpg === undefined ? null : new TextEncoder().encode(spec.cpg),
  };
}

function contentBytes(rings: readonly Ring[] | null, shapeType: number): number {
  if (rings === null) return 4;
  const points = rings.reduce((s, r) => s + r.length, 0);
  const extra = shapeType === 15 ? 2 * (16 + 8 * points) : shapeType === 25 ? 16 + 8 * points : 0;
  return 44 + 4 * rings.length + 16 * points + extra;
}

function boxOf(rings: readonly Ring[]): [number, number, number, number] {
  const box: [number, number, number, number] = [Infinity, Infinity, -Infinity, -Infinity];
  for (const ring of rings) {
    for (const [x, y] of ring) {
      box[0] = Math.min(box[0], x);
      box[1] = Math.min(box[1], y);
      box[2] = Math.max(box[2], x);
      box[3] = Math.max(box[3], y);
    }
  }
  return Number.isFinite(box[0]) ? box : [0, 0, 0, 0];
}

function header(view: DataView, bytes: number, shapeType: number, box: readonly number[]): void {
  view.setInt32(0, 9994);
  view.setInt32(24, bytes / 2);
  view.setInt32(28, 1000, true);
  view.setInt32(32, shapeType, true);
  box.forEach((v, i) => {
    view.setFloat64(36 + 8 * i, v, true);
  });
}

function writePolygon(view: DataView, at: number, rings: readonly Ring[], shapeType: number): void {
  const points = rings.reduce((s, r) => s + r.length, 0);
  view.setInt32(at, shapeType, true);
  boxOf(rings).forEach((v, i) => {
    view.setFloat64(at + 4 + 8 * i, v, true);
  });
  view.setInt32(at + 36, rings.length, true);
  view.setInt32(at + 40, points, true);
  let first = 0;
  let p = at + 44 + 4 * rings.length;
  rings.forEach((ring, i) => {
    view.setInt32(at + 44 + 4 * i, first, true);
    first += ring.length;
    for (const [x, y] of ring) {
      view.setFloat64(p, x, true);
      view.setFloat64(p + 8, y, true);
      p += 16;
    }
  });
}

/** The .dbf alone. Without fields it has one numeric column ID, as the format asks for at least one. */
export function makeDbf(spec: ShapefileSpec): Uint8Array {
  const encode = spec.encode ?? ((text: string) => new TextEncoder().encode(text));
  const fields: readonly FieldSpec[] = spec.fields ?? [{ name: 'ID', type: 'N', length: 8 }];
  const rows = spec.rows ?? spec.records.map((_, i) => (spec.fields ? fields.map(() => null) : [i + 1]));
  const rowLength = 1 + fields.reduce((s, f) => s + f.length, 0);
  const headerLength = 32 + 32 * fields.length + 1;
  const out = new Uint8Array(headerLength + rowLength * rows.length + 1);
  const view = new DataView(out.buffer);
  out.set([3, 126, 4, 1]);
  view.setUint32(4, rows.length, true);
  view.setUint16(8, headerLength, true);
  view.setUint16(10, rowLength, true);
  out[29] = spec.language ?? 0;
  fields.forEach((f, i) => {
    out.set(encode(f.name).subarray(0, 10), 32 + 32 * i);
    out[32 + 32 * i + 11] = f.type.charCodeAt(0);
    out[32 + 32 * i + 16] = f.length;
    out[32 + 32 * i + 17] = f.decimals ?? 0;
  });
  out[headerLength - 1] = 0x0d;
  rows.forEach((row, r) => {
    let at = headerLength + r * rowLength;
    out.fill(0x20, at, at + rowLength);
    if (spec.deleted?.includes(r)) out[at] = 0x2a;
    at++;
    fields.forEach((f, i) => {
      const value = row[i] ?? '';
      const isNumber = f.type === 'N' || f.type === 'F';
      const bytes =
        value instanceof Uint8Array
          ? value
          : encode(typeof value === 'number' && isNumber ? value.toFixed(f.decimals ?? 0) : String(value));
      const cut = bytes.subarray(0, f.length);
      out.set(cut, isNumber && !(value instanceof Uint8Array) ? at + f.length - cut.length : at);
      at += f.length;
    });
  });
  out[out.length - 1] = 0x1a;
  return out;
}

/** The parts under their usual names, e.g. Field.shp, Field.dbf; absent ones are left out. */
export function partsOf(base: string, file: Shapefile): Record<string, Uint8Array> {
  const parts: Record<string, Uint8Array> = {};
  for (const ext of ['shp', 'shx', 'dbf', 'prj', 'cpg'] as const) {
    const bytes = file[ext];
    if (bytes !== null) parts[`${base}.${ext}`] = bytes;
  }
  return parts;
}

/** A .zip of files by name; `level` 0 stores them as they are. */
export function makeZip(files: Record<string, Uint8Array>, level: 0 | 6 = 6): Uint8Array {
  // Without a fixed time two runs would make different bytes.
  return zipSync(files, { level, mtime: '2026-04-01T12:00:00' });
}

/** A closed rectangle, clockwise as an outer ring of a shapefile runs. */
export function rectangle(x0: number, y0: number, x1: number, y1: number): Ring {
  return [
    [x0, y0],
    [x0, y1],
    [x1, y1],
    [x1, y0],
    [x0, y0],
  ];
}
