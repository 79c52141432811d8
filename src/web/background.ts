/** A background of the reader's own for the map: drawn, never measured. */

const MOST_BYTES = 20 * 1024 * 1024;

export interface Background {
  name: string;
  geojson: GeoJSON.GeoJSON;
}

/** The file as a background, or the sentence that says why it is none. Longitude and latitude in degrees, as GeoJSON has them. */
export async function readBackground(file: File): Promise<Background | string> {
  if (file.size > MOST_BYTES) return `${file.name} is larger than 20 MB. Simplify it, or cut it to the field.`;
  let json: unknown;
  try {
    json = JSON.parse(await file.text());
  } catch {
    return `${file.name} is not GeoJSON: it cannot be read as JSON. Export the background as GeoJSON.`;
  }
  const first = firstPosition(json);
  if (!first) return `${file.name} holds no shape that could be drawn. Export the background as GeoJSON.`;
  if (Math.abs(first[0]) > 180 || Math.abs(first[1]) > 90)
    return `${file.name} is not in degrees. Export the background in longitude and latitude (WGS 84).`;
  return { name: file.name, geojson: json as GeoJSON.GeoJSON };
}

function firstPosition(json: unknown): [number, number] | null {
  if (typeof json !== 'object' || json === null) return null;
  if (Array.isArray(json)) {
    if (typeof json[0] === 'number' && typeof json[1] === 'number') return [json[0], json[1]];
    for (const one of json) {
      const found = firstPosition(one);
      if (found) return found;
    }
    return null;
  }
  const { features, geometry, geometries, coordinates } = json as Record<string, unknown>;
  return firstPosition(features ?? geometry ?? geometries ?? coordinates ?? null);
}
