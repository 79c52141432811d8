import { ColumnType } from 'flatgeobuf/lib/mjs/flat-geobuf/column-type.js';
import { GeometryType } from 'flatgeobuf/lib/mjs/flat-geobuf/geometry-type.js';
import { buildFeature } from 'flatgeobuf/lib/mjs/generic/feature.js';
import { buildHeader } from 'flatgeobuf/lib/mjs/generic/featurecollection.js';
import { parseGeometry } from 'flatgeobuf/lib/mjs/geojson/geometry.js';
import { cellOf, type Layer, ringsOf } from './layer.ts';

/** "fgb", the version of the specification (3), "fgb", patch level 0: the first eight bytes of a file. */
const MAGIC = Uint8Array.from([0x66, 0x67, 0x62, 3, 0x66, 0x67, 0x62, 0]);
const WGS84 = 4326;

/**
 * A FlatGeobuf file without spatial index, in pieces: header first, then a feature a piece. Every record is a MultiPolygon, so that the
 * layer has one type. The library's own way in takes the columns' types from the first record and would write missing
 * numbers as NaN; its parts are used here with the types of the layer.
 */
export function* flatGeobuf(layer: Layer): Generator<Uint8Array> {
  const columns = layer.columns.map((c) => ({
    name: c.name,
    type: c.kind === 'number' ? ColumnType.Double : ColumnType.String,
    title: null,
    description: null,
    width: -1,
    precision: -1,
    scale: -1,
    nullable: true,
    unique: false,
    primary_key: false,
  }));
  const header = {
    geometryType: GeometryType.MultiPolygon,
    columns,
    envelope: null,
    featuresCount: layer.recordStart.length - 1,
    indexNodeSize: 0,
    crs: null,
    title: null,
    description: null,
    metadata: null,
  };
  yield MAGIC;
  yield buildHeader(header, WGS84);
  for (let r = 0; r + 1 < layer.recordStart.length; r++) {
    const geometry = parseGeometry({ type: 'MultiPolygon', coordinates: ringsOf(layer, r) });
    const properties = Object.fromEntries(layer.columns.map((c) => [c.name, cellOf(c, r)]));
    yield buildFeature(geometry, properties as Parameters<typeof buildFeature>[1], header);
  }
}
