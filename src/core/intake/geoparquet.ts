import { gunzipSync } from 'fflate';
import { decompress } from 'fzstd';
import { parquetMetadataAsync } from 'hyparquet/src/metadata.js';
import { parquetRead } from 'hyparquet/src/read.js';
import { deserializeTCompactProtocol } from 'hyparquet/src/thrift.js';
import type { FileMetaData, SchemaElement } from 'hyparquet/src/types.js';
import { UserError } from '../shared/messages.ts';
import type { Raw } from './assemble.ts';
import { readAll, shown } from './bytes.ts';
import { ColumnBuilder } from './columns.ts';
import { projectStaging, systemOf } from './crs.ts';
import { POINT } from './geojson-geometry.ts';
import { tooMany, tooManyValues } from './limits.ts';
import { crsOfFile } from './prj.ts';
import { HOLE, OUTER, Staging } from './staging.ts';
import type { Declared, Reading } from './types.ts';
import { stageWkb } from './wkb.ts';

/** The file metadata "geo" of GeoParquet 1.0 and 1.1, as far as it is used. */
interface Geo {
  primary_column?: unknown;
  columns?: Record<string, { encoding?: unknown; crs?: unknown } | undefined>;
}

/** Rows that are taken out of the file at a time. */
const ROWS = 20_000;

/** Step 3 for GeoParquet (versions 1.0 and 1.1: WKB, or the native point, polygon and multipolygon). The file is held in memory. */
export async function readGeoParquet({ file, source, limits, notes, pace, crs: wanted }: Reading): Promise<Raw> {
  const broken = (sentence: string): UserError =>
    new UserError(
      'parquet-broken',
      sentence,
      { file: source },
      'The file was not written or copied completely: export it again.',
    );
  const bytes = await readAll(file, limits.archiveBytes, 'archiveBytes');
  if (bytes.length < 12) throw broken('The file is too short for a Parquet file.');
  const buffer = bytes.buffer.slice(bytes.byteOffset, bytes.byteOffset + bytes.byteLength) as ArrayBuffer;
  const metadata = await orBroken(
    () => parquetMetadataAsync(buffer, { geoparquet: false }),
    () => broken('The end of the Parquet file, which says what is in it, is damaged or missing.'),
  );
  if (!pagesFollow(buffer, metadata)) throw broken('The Parquet file is damaged: its pages are out of sequence.');
  const geo = geoOf(metadata, source);
  const rows = Number(metadata.num_rows);
  const over = tooMany(source, 1, rows, 0, limits);
  if (over) throw over;
  const fields = fieldsOf(metadata).filter((f) => f.name !== geo.name);
  const expected = { rows };
  const columns = fields
    .filter((f) => f.flat)
    .slice(0, limits.columns)
    .map((f) => new ColumnBuilder(f.name, expected, f.as));
  const left = fields.length - columns.length;
  if (left > 0)
    notes.push({
      code: 'columns-left-out',
      sentence: `${left} column(s) hold lists or groups of values, or are beyond the limit of ${limits.columns}; they were left out.`,
      place: { file: source },
      todo: 'No action needed, unless one of them is needed.',
    });
  if (rows * columns.length > limits.values) throw tooManyValues(source, limits);
  const staging = new Staging();
  pace.phase(0, 0.85, rows);
  for (let from = 0; from < rows; from += ROWS) {
    const to = Math.min(rows, from + ROWS);
    const read = await orBroken(
      () => rowsOf(buffer, metadata, [geo.name, ...columns.map((c) => c.name)], from, to),
      (e) =>
        broken(
          /compression/i.test(e)
            ? `The Parquet file is compressed in a way that is not supported (${shown(e, 80)}).`
            : `The Parquet file is damaged between records ${from + 1} and ${to}.`,
        ),
    );
    for (let i = 0; i < read.length; i++) {
      stage(read[i][0], geo.native, staging);
      for (let k = 0; k < columns.length; k++) put(columns[k], from + i, read[i][k + 1]);
    }
    const many = tooMany(source, to, to, staging.points, limits);
    if (many) throw many;
    if (pace.add(100 * (to - from))) await pace.rest();
  }
  if (staging.records === 0)
    throw new UserError('no-records', 'The Parquet file holds no records.', { file: source }, 'Export the map again.');
  staging.takePoints();
  pace.phase(0.85, 1, 60 * staging.points);
  const crs = geo.degrees ? null : await crsOfFile(geo.system, staging, wanted, source, notes);
  if (crs !== null) await projectStaging(staging, crs, pace);
  const words = new TextDecoder();
  return {
    source,
    format: 'geoparquet',
    staging,
    columns,
    decode: (b) => words.decode(b),
    system: crs && systemOf(crs),
    notes,
  };
}

/** An error of the library becomes a `UserError`; a `UserError` or a request to stop passes unchanged. */
async function orBroken<T>(work: () => Promise<T>, refusal: (said: string) => UserError): Promise<T> {
  try {
    return await work();
  } catch (e) {
    if (e instanceof UserError) throw e;
    throw refusal(e instanceof Error ? e.message : '');
  }
}

/**
 * Whether the pages of every column lie one behind the other inside the file (parquet-format, PageHeader: field 3 is the size that follows the
 * header). The library follows pages by that size, and would loop forever where one is negative.
 */
function pagesFollow(file: ArrayBuffer, { row_groups }: FileMetaData): boolean {
  for (const { columns } of row_groups)
    for (const { meta_data: m } of columns) {
      if (!m) continue;
      const from = Number(m.dictionary_page_offset ?? m.data_page_offset);
      const to = Math.min(from, Number(m.data_page_offset)) + Number(m.total_compressed_size);
      if (!(from >= 0 && to >= from && to <= file.byteLength)) return false;
      const reader = { view: new DataView(file), offset: Math.min(from, Number(m.data_page_offset)) };
      while (reader.offset < to) {
        let size: number;
        try {
          size = Number(deserializeTCompactProtocol(reader).field_3);
        } catch {
          return false;
        }
        if (!(size >= 0)) return false;
        reader.offset += size;
      }
    }
  return true;
}

async function rowsOf(
  file: ArrayBuffer,
  metadata: FileMetaData,
  columns: string[],
  rowStart: number,
  rowEnd: number,
): Promise<unknown[][]> {
  let out: unknown[][] = [];
  await parquetRead({
    file,
    metadata,
    columns,
    rowStart,
    rowEnd,
    rowFormat: 'array',
    geoparquet: false,
    // Texts are recognized by their type; bytes without one are the geometry, and stay bytes.
    utf8: false,
    compressors: { ZSTD: (b, size) => decompress(b, new Uint8Array(size)), GZIP: (b) => gunzipSync(b) },
    onComplete: (rows: unknown[][]) => {
      out = rows;
    },
  });
  return out;
}

function geoOf(
  metadata: FileMetaData,
  file: string,
): { name: string; native: boolean; degrees: boolean; system: Parameters<typeof crsOfFile>[0] } {
  const text = metadata.key_value_metadata?.find((k) => k.key === 'geo')?.value;
  const none = (why: string): UserError =>
    new UserError('not-geoparquet', why, { file }, 'Export the map as GeoParquet 1.1, or as GeoJSON.');
  if (text === undefined) throw none('The Parquet file does not say which of its columns is the geometry.');
  let geo: Geo;
  try {
    geo = JSON.parse(text) as Geo;
  } catch {
    throw none('What the Parquet file says of its geometry cannot be read.');
  }
  const name = geo?.primary_column;
  const about = typeof name === 'string' ? geo.columns?.[name] : undefined;
  if (typeof name !== 'string' || about === undefined || !metadata.schema.some((s) => s.name === name))
    throw none('What the Parquet file says of its geometry names no column of it.');
  const encoding = String(about.encoding);
  if (!/^(wkb|point|polygon|multipolygon)$/i.test(encoding))
    throw none(`The geometry is written in a way that is not supported ("${shown(encoding, 30)}").`);
  const crs = about.crs as { id?: { authority?: unknown; code?: unknown }; name?: unknown } | null | undefined;
  const code = crs?.id?.code;
  return {
    name,
    native: !/^wkb$/i.test(encoding),
    // Left out, the system is OGC:CRS84; null says that none is known (specification, "crs").
    degrees: crs === undefined || code === 'CRS84' || code === 'CRS84h',
    system: {
      code: crs?.id?.authority === 'EPSG' ? Number(code) : 0,
      json: crs ?? null,
      name: typeof crs?.name === 'string' ? crs.name : null,
    },
  };
}

/** Columns at the top of the schema; `flat` where they hold one value a row. */
function fieldsOf({ schema }: FileMetaData): { name: string; flat: boolean; as: Declared | undefined }[] {
  const out: { name: string; flat: boolean; as: Declared | undefined }[] = [];
  for (let i = 1; i < schema.length; ) {
    const s = schema[i];
    out.push({
      name: s.name,
      flat: (s.num_children ?? 0) === 0 && s.repetition_type !== 'REPEATED',
      as: declaredOf(s),
    });
    // Its content is skipped.
    let left = s.num_children ?? 0;
    for (i++; left > 0 && i < schema.length; i++) left += (schema[i].num_children ?? 0) - 1;
  }
  return out;
}

function declaredOf(s: SchemaElement): Declared | undefined {
  const kind = s.logical_type?.type ?? s.converted_type;
  if (s.type === 'BOOLEAN') return 'boolean';
  if (kind === 'DATE') return 'date';
  if (kind === 'TIMESTAMP' || kind === 'TIMESTAMP_MILLIS' || kind === 'TIMESTAMP_MICROS') return 'datetime';
  if (s.type === 'DOUBLE' || s.type === 'FLOAT') return 'real';
  return (s.type === 'INT32' || s.type === 'INT64') && kind !== 'DECIMAL' ? 'integer' : undefined;
}

function put(column: ColumnBuilder, row: number, value: unknown): void {
  if (value === null || value === undefined) return;
  if (typeof value === 'number') column.number(row, value);
  else if (typeof value === 'bigint') {
    if (value > BigInt(Number.MAX_SAFE_INTEGER) || value < BigInt(Number.MIN_SAFE_INTEGER)) column.rounded = true;
    column.number(row, Number(value));
  } else if (typeof value === 'boolean') column.boolean(row, value);
  else if (value instanceof Date) {
    const text = Number.isNaN(value.getTime()) ? '' : value.toISOString();
    column.text(row, column.declared === 'date' ? text.slice(0, 10) : text.replace(/\.000Z$/, 'Z'));
  } else if (typeof value === 'string') column.text(row, value);
  else if (!(value instanceof Uint8Array)) column.text(row, JSON.stringify(value));
}

/** A native geometry is lists of {x, y}: a point one of them, a polygon rings, a multipolygon polygons. */
function stage(value: unknown, native: boolean, staging: Staging): void {
  if (!native) {
    stageWkb(value as Uint8Array | null, staging);
    return;
  }
  if (value === null || value === undefined) {
    staging.record('no geometry');
    return;
  }
  const isPosition = (v: unknown): v is { x: number; y: number } =>
    typeof (v as { x?: unknown })?.x === 'number' && typeof (v as { y?: unknown }).y === 'number';
  if (isPosition(value)) {
    staging.pointRecord(value.x, value.y, POINT);
    return;
  }
  const list = value as unknown[][][];
  const polygons = (isPosition(list?.[0]?.[0]) ? [list] : list) as { x: number; y: number }[][][];
  for (const rings of polygons) {
    if (!Array.isArray(rings)) continue;
    rings.forEach((ring, k) => {
      if (!Array.isArray(ring) || ring.length === 0) return;
      for (const p of ring) staging.point(isPosition(p) ? p.x : Number.NaN, isPosition(p) ? p.y : Number.NaN);
      staging.ring(k === 0 ? OUTER : HOLE);
    });
  }
  staging.record(staging.rings > staging.recordStart[staging.records] ? '' : 'empty polygon');
}
