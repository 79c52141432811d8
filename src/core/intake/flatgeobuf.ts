import { ByteBuffer } from 'flatbuffers';
import { ColumnType } from 'flatgeobuf/lib/mjs/flat-geobuf/column-type.js';
import { Feature } from 'flatgeobuf/lib/mjs/flat-geobuf/feature.js';
import type { Geometry } from 'flatgeobuf/lib/mjs/flat-geobuf/geometry.js';
import { GeometryType } from 'flatgeobuf/lib/mjs/flat-geobuf/geometry-type.js';
import { fromByteBuffer } from 'flatgeobuf/lib/mjs/header-meta.js';
import { UserError } from '../shared/messages.ts';
import type { Raw } from './assemble.ts';
import { tooBig, Window } from './bytes.ts';
import { ColumnBuilder, columnsLeftOut } from './columns.ts';
import { projectStaging, systemOf } from './crs.ts';
import { POINT } from './geojson-geometry.ts';
import { tooMany, tooManyValues } from './limits.ts';
import { crsOfFile } from './prj.ts';
import { HOLE, OUTER, Staging } from './staging.ts';
import type { Declared, Reading } from './types.ts';

type Header = ReturnType<typeof fromByteBuffer>;

/**
 * Step 3 for FlatGeobuf (specification 3): header, the index skipped, then a feature at a time. The library reads the header's and the features'
 * tables; it would build every geometry as an object, so the coordinates are taken from the tables here.
 */
export async function readFlatGeobuf(reading: Reading): Promise<Raw> {
  const { file, source, limits, notes, pace, crs: wanted } = reading;
  if (file.sizeBytes > limits.fileBytes) throw tooBig(file.name, limits.fileBytes, 'fileBytes');
  const window = new Window(file, limits.recordBytes);
  const staging = new Staging();
  pace.phase(0, 0.85, file.sizeBytes);
  try {
    const header = await readHeader(window, source);
    const columns = await readFeatures(window, header, staging, reading);
    if (header.featuresCount > 0 && header.featuresCount !== staging.records)
      notes.push({
        code: 'fgb-count',
        sentence: `The header says ${header.featuresCount} records, the file holds ${staging.records}.`,
        place: { file: source },
        todo: 'Make sure that the file was copied completely.',
      });
    if (staging.records === 0)
      throw new UserError('no-records', 'The FlatGeobuf holds no records.', { file: source }, 'Export the map again.');
    staging.takePoints();
    pace.phase(0.85, 1, 60 * staging.points);
    const { code, wkt, name } = header.crs ?? { code: 0, wkt: null, name: null };
    const crs = await crsOfFile({ code, wkt, name }, staging, wanted, source, notes);
    if (crs !== null) await projectStaging(staging, crs, pace);
    const words = new TextDecoder();
    return {
      source,
      format: 'flatgeobuf',
      staging,
      columns,
      decode: (b) => words.decode(b),
      system: crs && systemOf(crs),
      notes,
    };
  } finally {
    await window.close();
  }
}

function broken(source: string, sentence: string, record?: number): UserError {
  return new UserError(
    'fgb-broken',
    sentence,
    record === undefined ? { file: source } : { file: source, record },
    'The file was not written or copied completely: export it again.',
  );
}

/** The header; the window is then after the index, at the first feature. */
async function readHeader(window: Window, source: string): Promise<Header> {
  if (!(await window.has(12))) throw broken(source, 'The FlatGeobuf ends in its header.');
  const first = window.buf.subarray(window.start, window.start + 4);
  if (first[0] !== 0x66 || first[1] !== 0x67 || first[2] !== 0x62 || first[3] !== 3)
    throw new UserError(
      'fgb-header',
      'The file is not a FlatGeobuf of version 3.',
      { file: source },
      'Export the map as FlatGeobuf again, or as GeoJSON.',
    );
  window.start += 8;
  const head = await sized(window);
  if (head === null) throw broken(source, 'The FlatGeobuf ends in its header.');
  const header = inTable(() => fromByteBuffer(new ByteBuffer(head)));
  if (header === null) throw broken(source, 'The header of the FlatGeobuf is damaged.');
  if (!(await skip(window, indexBytes(header.featuresCount, header.indexNodeSize))))
    throw broken(source, 'The FlatGeobuf ends in its index.');
  return header;
}

/** Stages every feature; returns the columns of their properties. */
async function readFeatures(
  window: Window,
  header: Header,
  staging: Staging,
  { source, limits, notes, pace }: Reading,
): Promise<ColumnBuilder[]> {
  const expected = { rows: Math.min(header.featuresCount, limits.records) };
  const known = header.columns ?? [];
  const columns = known.slice(0, limits.columns).map((c) => new ColumnBuilder(c.name, expected, typeOf(c.type)));
  if (known.length > limits.columns) notes.push(columnsLeftOut(limits.columns, source));
  for (;;) {
    const row = staging.records;
    const bytes = await sized(window);
    if (bytes === null) {
      if (window.end > window.start) throw broken(source, `The file ends in record ${row + 1}.`, row + 1);
      return columns;
    }
    const good = inTable(() => {
      const feature = Feature.getSizePrefixedRootAsFeature(new ByteBuffer(bytes));
      readProperties(feature.propertiesArray(), known, columns, row);
      stage(feature.geometry(), header.geometryType, staging);
      return true;
    });
    if (good === null) {
      staging.rollback();
      throw broken(source, `Record ${row + 1} of the FlatGeobuf is damaged.`, row + 1);
    }
    const over = tooMany(source, row + 1, row + 1, staging.points, limits);
    if (over) throw over;
    if (row * columns.length > limits.values) throw tooManyValues(source, limits);
    if (pace.add(bytes.length)) await pace.rest();
  }
}

/** The next table with its length before it, in memory of its own (its numbers must lie on multiples of 8); null at the end of the file. */
async function sized(window: Window): Promise<Uint8Array | null> {
  if (!(await window.has(4))) return null;
  const size = new DataView(window.buf.buffer).getUint32(window.start, true);
  if (!(await window.has(4 + size))) return null;
  const out = window.buf.slice(window.start, window.start + 4 + size);
  window.start += 4 + size;
  return out;
}

async function skip(window: Window, bytes: number): Promise<boolean> {
  for (let left = bytes; left > 0; ) {
    if (!(await window.has(1))) return false;
    const take = Math.min(left, window.end - window.start);
    window.start += take;
    left -= take;
  }
  return true;
}

/** Bytes of the packed R-tree before the features: 40 for each node, nodes of `size` entries, level by level up to one (specification, "Index"). */
function indexBytes(features: number, size: number): number {
  if (size < 2 || features === 0) return 0;
  // One feature has a root above it too.
  let n = features;
  let nodes = n;
  do {
    n = Math.ceil(n / size);
    nodes += n;
  } while (n > 1);
  return 40 * nodes;
}

/** Null where a damaged table makes the library throw. */
function inTable<T>(read: () => T): T | null {
  try {
    return read();
  } catch (e) {
    if (e instanceof UserError) throw e;
    return null;
  }
}

function typeOf(type: ColumnType): Declared | undefined {
  if (type === ColumnType.Bool) return 'boolean';
  if (type === ColumnType.DateTime) return 'datetime';
  if (type === ColumnType.Float || type === ColumnType.Double) return 'real';
  return type > ColumnType.Double ? undefined : 'integer';
}

function readProperties(
  bytes: Uint8Array | null,
  all: NonNullable<Header['columns']>,
  columns: readonly ColumnBuilder[],
  row: number,
): void {
  if (bytes === null) return;
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  const words = new TextDecoder();
  for (let at = 0; at + 2 <= bytes.length; ) {
    const k = view.getUint16(at, true);
    at += 2;
    const known = all[k];
    if (known === undefined) throw new RangeError('no such column');
    const to = columns[k] as ColumnBuilder | undefined;
    const size = SIZES[known.type];
    if (size !== undefined) {
      const value = numberAt(view, at, known.type);
      if (known.type === ColumnType.Bool) to?.boolean(row, value !== 0);
      else to?.number(row, value);
      at += size;
    } else {
      const length = view.getUint32(at, true);
      if (at + 4 + length > bytes.length) throw new RangeError('cut off');
      if (known.type !== ColumnType.Binary) to?.text(row, words.decode(bytes.subarray(at + 4, at + 4 + length)));
      at += 4 + length;
    }
  }
}

/** Bytes of the types of fixed size. */
const SIZES: Readonly<Partial<Record<ColumnType, number>>> = {
  [ColumnType.Byte]: 1,
  [ColumnType.UByte]: 1,
  [ColumnType.Bool]: 1,
  [ColumnType.Short]: 2,
  [ColumnType.UShort]: 2,
  [ColumnType.Int]: 4,
  [ColumnType.UInt]: 4,
  [ColumnType.Long]: 8,
  [ColumnType.ULong]: 8,
  [ColumnType.Float]: 4,
  [ColumnType.Double]: 8,
};

function numberAt(view: DataView, at: number, type: ColumnType): number {
  switch (type) {
    case ColumnType.Byte:
      return view.getInt8(at);
    case ColumnType.Short:
      return view.getInt16(at, true);
    case ColumnType.UShort:
      return view.getUint16(at, true);
    case ColumnType.Int:
      return view.getInt32(at, true);
    case ColumnType.UInt:
      return view.getUint32(at, true);
    case ColumnType.Long:
      return Number(view.getBigInt64(at, true));
    case ColumnType.ULong:
      return Number(view.getBigUint64(at, true));
    case ColumnType.Float:
      return view.getFloat32(at, true);
    case ColumnType.Double:
      return view.getFloat64(at, true);
    default:
      return view.getUint8(at);
  }
}

/** Stages the record of one geometry. */
function stage(geometry: Geometry | null, ofFile: GeometryType, staging: Staging): void {
  if (geometry === null) {
    staging.record('no geometry');
    return;
  }
  const type = ofFile === GeometryType.Unknown ? geometry.type() : ofFile;
  if (type === GeometryType.Point) {
    if (geometry.xyLength() < 2) staging.record('no coordinates');
    else staging.pointRecord(geometry.xy(0) ?? Number.NaN, geometry.xy(1) ?? Number.NaN, POINT);
    return;
  }
  if (type !== GeometryType.Polygon && type !== GeometryType.MultiPolygon) {
    staging.record(`${GeometryType[type] ?? 'unknown'} geometry`);
    return;
  }
  const parts = type === GeometryType.MultiPolygon ? geometry.partsLength() : 0;
  if (parts === 0) polygon(geometry, staging);
  for (let i = 0; i < parts; i++) {
    const part = geometry.parts(i);
    if (part !== null) polygon(part, staging);
  }
  staging.record(staging.rings > staging.recordStart[staging.records] ? '' : 'empty polygon');
}

function polygon(geometry: Geometry, staging: Staging): void {
  const points = geometry.xyLength() / 2;
  const rings = Math.max(1, geometry.endsLength());
  let from = 0;
  for (let k = 0; k < rings; k++) {
    const to = geometry.endsLength() === 0 ? points : (geometry.ends(k) ?? -1);
    if (to < from || to > points) throw new RangeError('a ring that ends before it begins');
    for (let i = from; i < to; i++) {
      const x = geometry.xy(2 * i) ?? Number.NaN;
      const y = geometry.xy(2 * i + 1) ?? Number.NaN;
      if (!Number.isFinite(x) || !Number.isFinite(y)) throw new RangeError('not a number');
      staging.point(x, y);
    }
    if (to > from) staging.ring(k === 0 ? OUTER : HOLE);
    from = to;
  }
}
