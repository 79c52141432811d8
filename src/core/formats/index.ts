/**
 * Polygons with columns to bytes that other programs open.
 *
 * Assumes a `Layer`: valid polygons in WGS84 degrees. Guarantees coordinates to the last digit of a double, missing values as missing,
 * and the same bytes for the same layer. Reads nothing and writes nothing.
 *
 * `geojson.ts` (RFC 7946), `shapefile.ts` (zipped, with .prj and .cpg), `flatgeobuf.ts`, `parquet.ts` (GeoParquet 1.1).
 *
 * Known limit: a polygon across the antimeridian goes on beyond 180 degrees instead of being cut in two.
 */
export { flatGeobuf } from './flatgeobuf.ts';
export { geoJson } from './geojson.ts';

import type { Layer } from './layer.ts';

export { geoParquet } from './parquet.ts';
export type { Layer };

/** A GeoPackage; its writer, a database, is loaded when one is asked for. */
export async function geoPackage(layer: Layer): Promise<Uint8Array> {
  return (await import('./geopackage.ts')).geoPackage(layer);
}
export { shapefileZip } from './shapefile.ts';
