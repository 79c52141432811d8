import { areaOf, enclosed, type Polygons, pickPolygons } from '../coverage/index.ts';
import { intoBuckets } from '../geometry/buckets.ts';
import { joinShapes, type Shapes } from '../geometry/shapes.ts';
import type { Chords } from './chords.ts';
import { Discs } from './discs.ts';
import { finenessOf, quadsOf, scaled } from './draw.ts';
import type { Edges } from './edges.ts';
import type { Ground } from './types.ts';

/** Chords and edges are drawn so much larger, in steps of the finer lattice, that what rounding leaves between them is closed. */
const SHUT_STEPS = 3;
/** Smaller pieces are what rounding leaves beside chords, square meters. */
const CRUMB_M2 = 1e-3;

/**
 * Open ground that none of the chords in `list` sees but they enclose, together with the edges in `around`: where two strips cross, the mouth of a
 * slit in a strip's side, the tip of a wedge. A circle of diameter `limitM` reaches none of it. On the map's lattice.
 */
export function enclosedGround(
  list: readonly number[],
  chords: Chords,
  edges: Edges,
  around: readonly number[],
  g: Ground,
  limitM: number,
): Polygons {
  if (list.length === 0) return NONE;
  const factor = finenessOf(g);
  const holes = enclosed(chordsAndWalls(list, chords, edges, around, g));
  const areas = areaOf(holes, g.fineDensity);
  const large: number[] = [];
  areas.forEach((m2, i) => {
    if (m2 >= CRUMB_M2) large.push(i);
  });
  if (large.length === 0) return NONE;
  const onMap = scaled(pickPolygons(holes, large), 1 / factor);
  const sides = new Sides(edges, around);
  const discs = limitM < Infinity ? new Discs(edges, limitM / 2) : null;
  const isOpen = (_: number, i: number): boolean =>
    pointsInside(onMap, i, g).every(([x, y]) => sides.isOpen(x, y) && !discs?.covers(x, y));
  return pickPolygons(onMap, [...large.keys()].filter(isOpen));
}

function chordsAndWalls(
  list: readonly number[],
  chords: Chords,
  edges: Edges,
  around: readonly number[],
  g: Ground,
): Shapes {
  const shutM = SHUT_STEPS / (finenessOf(g) * Math.min(...g.plane.stepsPerMeter));
  const walls = quadsOf([...around.keys()], wallsOf(edges, around, shutM), g, shutM);
  return joinShapes([quadsOf(list, chords.quad, g, shutM), walls]);
}

export const NONE: Polygons = {
  xy: new Float64Array(0),
  ringStart: new Uint32Array(1),
  polygonStart: new Uint32Array(1),
};

/** A thin quad on the covered side of each edge, eight numbers each. */
function wallsOf({ xy }: Edges, around: readonly number[], thickM: number): Float64Array {
  const out = new Float64Array(8 * around.length);
  let k = 0;
  for (const e of around) {
    const ax = xy[4 * e];
    const ay = xy[4 * e + 1];
    const bx = xy[4 * e + 2];
    const by = xy[4 * e + 3];
    const l = Math.hypot(bx - ax, by - ay) || 1;
    // The region is on the left.
    const rx = ((by - ay) / l) * thickM;
    const ry = ((ax - bx) / l) * thickM;
    out[k++] = ax + rx;
    out[k++] = ay + ry;
    out[k++] = bx + rx;
    out[k++] = by + ry;
    out[k++] = bx;
    out[k++] = by;
    out[k++] = ax;
    out[k++] = ay;
  }
  return out;
}

/** At these parts of its height a polygon is looked at. */
const HEIGHTS = [0.27, 0.5, 0.73];

/** Points well inside polygon i, meters: the middle of its longest stretch at some heights. */
function pointsInside({ xy, ringStart, polygonStart }: Polygons, i: number, g: Ground): [number, number][] {
  const [first, end] = [ringStart[polygonStart[i]], ringStart[polygonStart[i + 1]]];
  const m = new Float64Array(2 * (end - first));
  g.plane.toMeters(xy, first, end, m);
  let [low, high] = [Infinity, -Infinity];
  for (let k = 1; k < m.length; k += 2) {
    low = Math.min(low, m[k]);
    high = Math.max(high, m[k]);
  }
  return HEIGHTS.map((part): [number, number] => {
    const y = low + (high - low) * part;
    const cuts: number[] = [];
    for (let r = polygonStart[i]; r < polygonStart[i + 1]; r++) {
      let q = ringStart[r + 1] - 1 - first;
      for (let k = ringStart[r] - first; k < ringStart[r + 1] - first; q = k++) {
        const ay = m[2 * q + 1];
        const by = m[2 * k + 1];
        if (ay > y !== by > y) cuts.push(m[2 * q] + ((m[2 * k] - m[2 * q]) * (y - ay)) / (by - ay));
      }
    }
    cuts.sort((a, b) => a - b);
    let at = 0;
    for (let k = 2; k + 1 < cuts.length; k += 2) if (cuts[k + 1] - cuts[k] > cuts[at + 1] - cuts[at]) at = k;
    return [(cuts[at] + cuts[at + 1]) / 2, y];
  });
}

/** Rows of edges, meters. */
const ROW_M = 4;

/** Whether a point lies on the open side of the edges around it. */
class Sides {
  private readonly low: number;
  private readonly start: Uint32Array;
  private readonly list: Uint32Array;
  private readonly rows: number;
  /** The frame around the map is no edge: with wide ground, what no edge surrounds is open. */
  private readonly beyond: boolean;

  constructor(
    private readonly edges: Edges,
    around: readonly number[],
  ) {
    const { xy } = edges;
    this.beyond = around[0] >= edges.wholeEdges;
    let low = Infinity;
    let high = -Infinity;
    for (const e of around) {
      low = Math.min(low, xy[4 * e + 1], xy[4 * e + 3]);
      high = Math.max(high, xy[4 * e + 1], xy[4 * e + 3]);
    }
    this.low = low;
    this.rows = Math.floor((high - low) / ROW_M) + 1;
    let entries = 0;
    for (const e of around) entries += 1 + Math.abs(this.row(xy[4 * e + 1]) - this.row(xy[4 * e + 3]));
    const rows = new Int32Array(entries);
    const own = new Uint32Array(entries);
    let n = 0;
    for (const e of around) {
      const a = this.row(xy[4 * e + 1]);
      const b = this.row(xy[4 * e + 3]);
      for (let r = Math.min(a, b); r <= Math.max(a, b); r++) {
        rows[n] = r;
        own[n++] = e;
      }
    }
    const { start, list } = intoBuckets(rows, n, this.rows);
    for (let k = 0; k < n; k++) list[k] = own[list[k]];
    this.start = start;
    this.list = list;
  }

  isOpen(x: number, y: number): boolean {
    const { xy } = this.edges;
    const r = this.row(y);
    let open = this.beyond;
    for (let k = this.start[r]; k < this.start[r + 1]; k++) {
      const e = 4 * this.list[k];
      const ay = xy[e + 1];
      const by = xy[e + 3];
      if (ay > y !== by > y && x < xy[e] + ((xy[e + 2] - xy[e]) * (y - ay)) / (by - ay)) open = !open;
    }
    return open;
  }

  private row(y: number): number {
    return Math.max(0, Math.min(this.rows - 1, Math.floor((y - this.low) / ROW_M)));
  }
}
