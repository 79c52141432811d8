import { parquetWriteBuffer } from 'hyparquet-writer/src/write.js';
import type { Column } from '../intake/types.ts';
import { cellOf, type Layer, typeOf } from './layer.ts';
import { toWkb } from './wkb.ts';

/**
 * A GeoParquet file, version 1.1.0 of the specification (https://geoparquet.org/releases/v1.1.0/): column `geometry` holds WKB, the file
 * metadata `geo` says so. Without a `crs` it is in OGC:CRS84 by the specification, longitude before latitude on WGS84; a layer in another system gives its PROJJSON.
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
        ...(layer.system ? { crs: layer.system.json } : {}),
      },
    },
  };
  const buffer = parquetWriteBuffer({
    columnData: [
      { name: 'geometry', data: wkb, type: 'BYTE_ARRAY', nullable: false },
      ...layer.columns.map((c) => dataOf(c, n)),
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

/** A column in the type that Parquet has for it. A time of day without its zone, and a day alone, stay the text that they are. */
function dataOf(c: Column, n: number) {
  const type = typeOf(c);
  const cells = Array.from({ length: n }, (_, r) => cellOf(c, r));
  const column = { name: c.name, nullable: true };
  if (type === 'boolean') return { ...column, data: cells, type: 'BOOLEAN' as const };
  if (type === 'real') return { ...column, data: cells, type: 'DOUBLE' as const };
  if (type === 'integer') {
    const small = cells.every((v) => v === null || Math.abs(v as number) < 2 ** 31);
    return small
      ? { ...column, data: cells, type: 'INT32' as const }
      : { ...column, data: cells.map((v) => (v === null ? null : BigInt(v as number))), type: 'INT64' as const };
  }
  if (type === 'datetime' && cells.every((v) => v === null || /(Z|[-+]\d\d:?\d\d)$/.test(String(v))))
    return { ...column, data: cells.map((v) => (v === null ? null : new Date(String(v)))), type: 'TIMESTAMP' as const };
  return { ...column, data: cells, type: 'STRING' as const };
}
