import type { DrawnField } from './spec.ts';

/** The map as GeoJSON, one feature a line. */
export function toGeoJson(drawn: DrawnField): Uint8Array {
  const lines = drawn.features.features.map((f) => JSON.stringify(f));
  return new TextEncoder().encode(`{"type":"FeatureCollection","features":[\n${lines.join(',\n')}\n]}\n`);
}

export function toShapefileZip(_drawn: DrawnField, _epsg: number): Uint8Array {
  throw new Error('not written yet');
}
