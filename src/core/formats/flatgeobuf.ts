import { ColumnType } from 'flatgeobuf/lib/mjs/flat-geobuf/column-type.js';
import { GeometryType } from 'flatgeobuf/lib/mjs/flat-geobuf/geometry-type.js';
import { buildFeature } from 'flatgeobuf/lib/mjs/generic/feature.js';
import { buildHeader } from 'flatgeobuf/lib/mjs/generic/featurecollection.js';
import { parseGeometry } from 'flatgeobuf/lib/mjs/geojson/geometry.js';
import { cellOf, type Layer, ringsOf, typeOf } from './layer.ts';
import { NODE_SIZE, packedRTree } from './rtree.ts';

/** "fgb", the version of the specification (3), "fgb", patch level 0: the first eight bytes of a file. */
const MAGIC = Uint8Array.from([0x66, 0x67, 0x62, 3, 0x66, 0x67, 0x62, 0]);
const WGS84 = 4326;

/** FlatGeobuf has no type for a day alone. */
const TYPES: Readonly<Record<ReturnType<typeof typeOf>, ColumnType>> = {
  integer: ColumnType.Long,
  real: ColumnType.Double,
  boolean: ColumnType.Bool,
  date: ColumnType.DateTime,
  datetime: ColumnType.DateTime,
  text: ColumnType.String,
};

/**
 * A FlatGeobuf file with its index, in pieces: header, index, then a feature a piece. Every record is a MultiPolygon, so that the layer has one
 * type. The library's own function takes the columns' types from the first record, would write missing numbers as NaN, and writes no index; its
 * parts are used here with the types of the layer.
 */
export function* flatGeobuf(layer: Layer): Generator<Uint8Array> {
  const columns = layer.columns.map((c) => ({
    name: c.name,
    type: TYPES[typeOf(c)],
    title: null,
    description: null,
    width: -1,
    precision: -1,
    scale: -1,
    nullable: true,
    unique: false,
    primary_key: false,
  }));
  const count = layer.recordStart.length - 1;
  const header = {
    geometryType: GeometryType.MultiPolygon,
    columns,
    envelope: null,
    featuresCount: count,
    indexNodeSize: 0,
    crs: null,
    title: null,
    description: null,
    metadata: null,
  };
  const features: Uint8Array[] = [];
  const starts = new Float64Array(count);
  let at = 0;
  for (let r = 0; r < count; r++) {
    const geometry = parseGeometry({ type: 'MultiPolygon', coordinates: ringsOf(layer, r) });
    const properties = Object.fromEntries(layer.columns.map((c) => [c.name, cellOf(c, r)]));
    const feature = buildFeature(geometry, properties as Parameters<typeof buildFeature>[1], header);
    features.push(feature);
    starts[r] = at;
    at += feature.length;
  }
  yield MAGIC;
  const head = withName(buildHeader(header, layer.system?.code ?? WGS84), layer.name);
  // There is no index of nothing.
  if (count > 0) {
    setNodeSize(head);
    yield head;
    yield packedRTree(boxesOf(layer), starts);
  } else yield head;
  yield* features;
}

/** Where field `n` of the header's table (schema header.fbs) begins, according to its vtable. */
function fieldAt(view: DataView, n: number): number {
  const table = 4 + view.getUint32(4, true);
  const vtable = table - view.getInt32(table, true);
  return table + view.getUint16(vtable + 4 + 2 * n, true);
}

/** The library's header says that there is no index. The size of a node is field 9. */
function setNodeSize(header: Uint8Array): void {
  const view = new DataView(header.buffer, header.byteOffset, header.byteLength);
  view.setUint16(fieldAt(view, 9), NODE_SIZE, true);
}

/** The library calls every layer "L1". The name is field 0, the distance to a text further on, so another text is appended. */
function withName(header: Uint8Array, name: string): Uint8Array {
  const text = new TextEncoder().encode(name);
  // Texts begin at multiples of 4 and end in a zero; the next part of the file is left as aligned as it was.
  const at = Math.ceil(header.length / 4) * 4;
  const out = new Uint8Array(Math.ceil((at + 4 + text.length + 1) / 8) * 8 + (header.length % 8));
  out.set(header);
  out.set(text, at + 4);
  const view = new DataView(out.buffer);
  view.setUint32(at, text.length, true);
  const field = fieldAt(view, 0);
  view.setUint32(field, at - field, true);
  // The first four bytes are the length of what follows them.
  view.setUint32(0, out.length - 4, true);
  return out;
}

/** West, south, east and north of each record. */
function boxesOf({ lonLat, ringStart, polygonStart, recordStart }: Layer): Float64Array {
  const out = new Float64Array(4 * (recordStart.length - 1));
  for (let r = 0; 4 * r < out.length; r++) {
    const from = ringStart[polygonStart[recordStart[r]]];
    const to = ringStart[polygonStart[recordStart[r + 1]]];
    const box = [Infinity, Infinity, -Infinity, -Infinity];
    for (let i = from; i < to; i++) {
      box[0] = Math.min(box[0], lonLat[2 * i]);
      box[1] = Math.min(box[1], lonLat[2 * i + 1]);
      box[2] = Math.max(box[2], lonLat[2 * i]);
      box[3] = Math.max(box[3], lonLat[2 * i + 1]);
    }
    out.set(box, 4 * r);
  }
  return out;
}
