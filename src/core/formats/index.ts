/**
 * Polygons with columns to bytes that other programs open.
 *
 * Assumes a `Layer`: valid polygons, in WGS84 degrees or in a system that the format can name (`system.ts`). Guarantees coordinates to the last digit of a double, missing values as missing,
 * and the same bytes for the same layer. Reads nothing and writes nothing.
 *
 * `geojson.ts` (RFC 7946), `shapefile.ts` (zipped, with .prj and .cpg), `flatgeobuf.ts`, `parquet.ts` (GeoParquet 1.1), `geopackage.ts`.
 *
 * Known limit: a polygon across the antimeridian runs beyond 180 degrees instead of being cut in two.
 */
import { geoJson } from './geojson.ts';
import type { Layer, LayerFormat } from './layer.ts';
import { shapefileZip } from './shapefile.ts';

export { LAYER_FORMATS } from './layer.ts';
export { canBear, inSystem } from './system.ts';
export type { Layer, LayerFormat };
export { geoJson, shapefileZip };

/** A layer as a file. `name` is that of the file without its ending; `note` gets a sentence for whatever the format cannot hold. */
export async function encodeLayer(
  layer: Layer,
  format: LayerFormat,
  name: string,
  note: (says: string) => void,
): Promise<Iterable<string> | Uint8Array> {
  if (format === '.geojson') return geoJson(layer);
  if (format === '.zip')
    return shapefileZip({ ...layer, name: name.replaceAll(/[^A-Za-z0-9_-]+/g, '_') || 'rebuilt' }, note);
  if (format === '.parquet') return geoParquet(layer);
  if (format === '.gpkg') return geoPackage({ ...layer, name });
  return flatGeobuf({ ...layer, name });
}

// The writers below need libraries. Each is loaded when its format is wanted.

/** A FlatGeobuf file with its index. */
export async function flatGeobuf(layer: Layer): Promise<Uint8Array> {
  const parts = [...(await import('./flatgeobuf.ts')).flatGeobuf(layer)];
  const bytes = new Uint8Array(parts.reduce((s, p) => s + p.length, 0));
  let at = 0;
  for (const p of parts) {
    bytes.set(p, at);
    at += p.length;
  }
  return bytes;
}

/** A GeoParquet file. */
export async function geoParquet(layer: Layer): Promise<Uint8Array> {
  return (await import('./parquet.ts')).geoParquet(layer);
}

/** A GeoPackage: a database. */
export async function geoPackage(layer: Layer): Promise<Uint8Array> {
  return (await import('./geopackage.ts')).geoPackage(layer);
}
