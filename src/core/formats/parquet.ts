import { parquetWriteBuffer } from 'hyparquet-writer/src/write.js';
import { cellOf, type Layer, ringsOf } from './layer.ts';

/**
 * A GeoParquet file, version 1.1.0 of the specification (https://geoparquet.org/releases/v1.1.0/): column `geometry` holds WKB, the file
 * metadata `geo` says so. No `crs` is given, which by the specification means OGC:CRS84, longitude before latitude on WGS84.
 */
export function geoParquet(layer: Layer): Uint8Array {
  const n = layer.recordStart.length - 1;
  const types = new Set<string>();
  const wkb: Uint8Array[] = [];
  for (let r = 0; r < n; r++) {
    types.add(layer.recordStart[r + 1] - layer.recordStart[r] === 1 ? 'Polygon' : 'MultiPolygon');
    wkb.push(toWkb(layer, r));
  }
  const geo = {
    version: '1.1.0',
    primary_column: 'geometry',
    columns: {
      geometry: {
        encoding: 'WKB',
        geometry_types: [...types].sort(),
        orientation: 'counterclockwise',
        edges: 'planar',
        bbox: boxOf(layer),
      },
    },
  };
  const buffer = parquetWriteBuffer({
    columnData: [
      { name: 'geometry', data: wkb, type: 'BYTE_ARRAY', nullable: false },
      ...layer.columns.map((c) => ({
        name: c.name,
        data: Array.from({ length: n }, (_, r) => cellOf(c, r)),
        type: c.kind === 'number' ? ('DOUBLE' as const) : ('STRING' as const),
        nullable: true,
      })),
    ],
    kvMetadata: [{ key: 'geo', value: JSON.stringify(geo) }],
    createdBy: 'guessrow',
  });
  return new Uint8Array(buffer);
}

function boxOf({ lonLat }: Layer): number[] {
  const box = [Infinity, Infinity, -Infinity, -Infinity];
  for (let i = 0; i < lonLat.length; i += 2) {
    box[0] = Math.min(box[0], lonLat[i]);
    box[1] = Math.min(box[1], lonLat[i + 1]);
    box[2] = Math.max(box[2], lonLat[i]);
    box[3] = Math.max(box[3], lonLat[i + 1]);
  }
  return box;
}

/** Well-known binary, little-endian (OGC 06-103r4, section 8.2): 3 is a Polygon, 6 a MultiPolygon. */
function toWkb(layer: Layer, r: number): Uint8Array {
  const polygons = ringsOf(layer, r);
  const many = polygons.length !== 1;
  let size = many ? 9 : 0;
  for (const rings of polygons) size += 9 + rings.reduce((s, ring) => s + 4 + 16 * ring.length, 0);
  const view = new DataView(new ArrayBuffer(size));
  let at = 0;
  const head = (type: number, count: number): void => {
    view.setUint8(at, 1);
    view.setUint32(at + 1, type, true);
    view.setUint32(at + 5, count, true);
    at += 9;
  };
  if (many) head(6, polygons.length);
  for (const rings of polygons) {
    head(3, rings.length);
    for (const ring of rings) {
      view.setUint32(at, ring.length, true);
      at += 4;
      for (const [x, y] of ring) {
        view.setFloat64(at, x, true);
        view.setFloat64(at + 8, y, true);
        at += 16;
      }
    }
  }
  return new Uint8Array(view.buffer);
}
