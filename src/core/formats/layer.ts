import type { System } from '../intake/index.ts';
import type { Column } from '../intake/types.ts';

/**
 * Polygons with columns, ready to be written: one layer, WGS84 degrees unless `system` says otherwise. A record is one polygon or several; the first ring of a polygon
 * is its outer one, counter-clockwise, the rest are holes, clockwise; a ring's first point is not repeated at its end.
 */
export interface Layer {
  name: string;
  /** Longitude and latitude in turn; x and y where there is a `system`. */
  lonLat: Float64Array;
  /** The system of the coordinates; WGS84 degrees when left out. */
  system?: System;
  /** First point of each ring, first ring of each polygon, first polygon of each record; one more entry than there are. */
  ringStart: Uint32Array;
  polygonStart: Uint32Array;
  recordStart: Uint32Array;
  /** One value for each record; NaN and '' are missing. */
  columns: Column[];
}

export type Position = [lon: number, lat: number];

/** Polygons of record `r` as closed rings; `backwards` turns every ring. */
export function ringsOf(layer: Layer, r: number, backwards = false): Position[][][] {
  const { lonLat, ringStart, polygonStart, recordStart } = layer;
  const out: Position[][][] = [];
  for (let g = recordStart[r]; g < recordStart[r + 1]; g++) {
    const rings: Position[][] = [];
    for (let k = polygonStart[g]; k < polygonStart[g + 1]; k++) {
      const ring: Position[] = [];
      for (let i = ringStart[k]; i < ringStart[k + 1]; i++) ring.push([lonLat[2 * i], lonLat[2 * i + 1]]);
      ring.push([ring[0][0], ring[0][1]]);
      if (backwards) ring.reverse();
      rings.push(ring);
    }
    out.push(rings);
  }
  return out;
}

/** Value of a column for record `r`, null where it has none. */
export function cellOf(c: Column, r: number): number | string | boolean | null {
  if (c.kind === 'number') return Number.isFinite(c.values[r]) ? c.values[r] : null;
  if (c.codes[r] === 0) return null;
  const word = c.words[c.codes[r]];
  return c.as === 'boolean' ? word === 'true' : word;
}

const DATE = /^\d{4}-\d\d-\d\d$/;
const DATETIME = /^\d{4}-\d\d-\d\dT\d\d:\d\d(:\d\d(\.\d+)?)?(Z|[-+]\d\d:?\d\d)?$/;
/** Not every format keeps whole numbers beyond this exact. */
const MOST = 2 ** 53;

/**
 * The type of a column: the one in its file, where all values fit it; for a file without types (GeoJSON, CSV, KML), whole numbers
 * throughout mean integers.
 */
export function typeOf(c: Column): 'integer' | 'real' | 'boolean' | 'date' | 'datetime' | 'text' {
  if (c.kind === 'number') {
    if (c.as === 'real') return 'real';
    const whole = c.values.every((v) => Number.isNaN(v) || (Number.isInteger(v) && Math.abs(v) < MOST));
    return whole && c.values.some((v) => !Number.isNaN(v)) ? 'integer' : 'real';
  }
  if (c.as === 'boolean') return 'boolean';
  const all = (pattern: RegExp): boolean => c.codes.every((k) => k === 0 || pattern.test(c.words[k]));
  if (c.as === 'date' && all(DATE)) return 'date';
  return c.as === 'datetime' && all(DATETIME) ? 'datetime' : 'text';
}

/** Formats that a layer can be written in, by the ending of the file. */
export const LAYER_FORMATS = ['.geojson', '.zip', '.fgb', '.parquet', '.gpkg'] as const;

export type LayerFormat = (typeof LAYER_FORMATS)[number];
