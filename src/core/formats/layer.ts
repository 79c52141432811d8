import type { Column } from '../intake/types.ts';

/**
 * Polygons with columns, ready to be written: one layer, WGS84 degrees. A record is one polygon or several; the first ring of a polygon
 * is its outer one, counter-clockwise, the rest are holes, clockwise; a ring's first point is not repeated at its end.
 */
export interface Layer {
  name: string;
  /** Longitude and latitude in turn. */
  lonLat: Float64Array;
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
export function cellOf(c: Column, r: number): number | string | null {
  if (c.kind === 'number') return Number.isFinite(c.values[r]) ? c.values[r] : null;
  return c.codes[r] === 0 ? null : c.words[c.codes[r]];
}
