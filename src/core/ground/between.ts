import { narrowPolygons, type Polygons } from '../coverage/index.ts';
import type { Chords } from './chords.ts';
import { finenessOf, finer, quadsOf, scaled, shareOut } from './draw.ts';
import type { Edges } from './edges.ts';
import type { Ground } from './types.ts';

/** Chords are drawn so much larger, meters, that what rounding leaves between them and the edges is closed. */
const SHUT_M = 0.002;

/**
 * Ground of wide polygons that no strip's chord sees but strips enclose, together with covered ground: where two strips cross, the mouth of a slit in a
 * strip's side, the tip of a wedge. A circle of diameter `limitM` fits into none of it. On the map's lattice.
 */
export function enclosedByStrips(
  wide: Polygons,
  chords: Chords,
  keep: Uint8Array,
  edges: Edges,
  g: Ground,
  limitM: number,
): Polygons {
  const list: number[] = [];
  for (let c = 0; c < chords.count; c++) {
    const e = chords.near[c];
    if (keep[c] === 1 && e >= edges.wholeEdges && e < edges.openEdges) list.push(c);
  }
  if (list.length === 0) return NONE;
  const factor = finenessOf(g);
  const [, rest] = shareOut([quadsOf(list, chords, g, SHUT_M), finer(wide, factor)], g);
  return narrowPolygons(scaled(rest.polygons, 1 / factor), g.plane.stepsPerMeter, limitM);
}

export const NONE: Polygons = {
  xy: new Float64Array(0),
  ringStart: new Uint32Array(1),
  polygonStart: new Uint32Array(1),
};
