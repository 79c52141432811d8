/**
 * A background that the reader adds to the map: drawn, never measured.
 *
 * Decision: there is no tile address. The page's policy allows no host but its own; a policy that allowed others would break the promise that
 * nothing leaves the computer.
 */

import { clean } from '../core/report/index.ts';

const MOST_BYTES = 20 * 1024 * 1024;

export interface Background {
  name: string;
  geojson: GeoJSON.GeoJSON;
}

/** The file as a background, or a sentence that says why it cannot be one. Longitude and latitude in degrees, as GeoJSON has them. */
export async function readBackground(file: File): Promise<Background | string> {
  const name = clean(file.name);
  if (file.size > MOST_BYTES) return `${name} is larger than 20 MB. Simplify it, or cut it to the field.`;
  let json: unknown;
  try {
    json = JSON.parse(await file.text());
  } catch {
    return `${name} is not GeoJSON: it cannot be read as JSON. Export the background as GeoJSON.`;
  }
  const { type } = (typeof json === 'object' && json !== null ? json : {}) as { type?: unknown };
  if (!TYPES.has(type as string))
    return `${name} is not GeoJSON: its "type" is none of GeoJSON. Export the background as GeoJSON.`;
  const found = positions(json);
  if (found === 'deep') return `${name} is nested deeper than GeoJSON is. Export the background again, as GeoJSON.`;
  if (found === 'odd')
    return `${name} holds a place that is no longitude and latitude. Export the background again, as GeoJSON.`;
  if (found === 'none') return `${name} holds no shape that could be drawn. Export the background as GeoJSON.`;
  if (found === 'not degrees')
    return `${name} is not in degrees. Export the background in longitude and latitude (WGS 84).`;
  return { name, geojson: json as GeoJSON.GeoJSON };
}

/** RFC 7946, section 1.4. */
const TYPES = new Set([
  ...['FeatureCollection', 'Feature', 'GeometryCollection', 'Point', 'MultiPoint'],
  ...['LineString', 'MultiLineString', 'Polygon', 'MultiPolygon'],
]);
/** A position of a polygon of a collection within a collection lies this deep; no real background lies deeper. */
const DEEPEST = 40;

/** Checks every position of a GeoJSON: there must be one, and all must be drawable. */
function positions(json: unknown): 'none' | 'deep' | 'odd' | 'not degrees' | 'sound' {
  let any = false;
  const open: [unknown, number][] = [[json, 0]];
  for (let next = open.pop(); next !== undefined; next = open.pop()) {
    const [v, depth] = next;
    if (typeof v !== 'object' || v === null) continue;
    if (depth > DEEPEST) return 'deep';
    if (!Array.isArray(v)) {
      const { features, geometry, geometries, coordinates } = v as Record<string, unknown>;
      for (const inner of [features, geometry, geometries, coordinates]) open.push([inner, depth + 1]);
    } else if (v.length > 0 && v.every((one) => typeof one !== 'object' || one === null)) {
      const [x, y] = v as unknown[];
      if (typeof x !== 'number' || typeof y !== 'number') return 'odd';
      if (Math.abs(x) > 180 || Math.abs(y) > 90) return 'not degrees';
      any = true;
    } else for (const one of v) open.push([one, depth + 1]);
  }
  return any ? 'sound' : 'none';
}
