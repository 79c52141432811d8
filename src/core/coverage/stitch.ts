import { sumUp } from '../geometry/buckets.ts';
import type { ArcSet } from './arcs.ts';
import type { Flux } from './flux.ts';
import type { Polygons, Progress } from './index.ts';
import { further, joinUp, type Loops, walk } from './loops.ts';

/** Arcs joined to valid polygons, and their area by their rings. */
export interface Stitched {
  polygons: Polygons;
  areaM2: number;
}

/**
 * At a node with several ways on, an arc goes on to the one that bounds the same ground: the sharpest turn to the left. A walk is then one
 * connected side of one polygon; where it comes back to a node it is pinched off there. Loops run counter-clockwise round ground and
 * clockwise round holes; the holes of a walk without outer loop are given to the polygon that lies just west of them.
 */
export function stitch(arcs: ArcSet, flux: Flux, progress?: Progress): Stitched {
  const next = joinUp(arcs);
  progress?.(0.3);
  const loops = walk(arcs, next);
  progress?.(0.6);
  const owner = ownHoles(arcs, loops);
  progress?.(0.8);
  return build(arcs, loops, owner, flux);
}

/** The outer loop of each loop (itself for outer loops; -1 where a hole has none). */
function ownHoles(arcs: ArcSet, loops: Loops): Int32Array {
  const owner = new Int32Array(loops.count).fill(-1);
  const open: number[] = [];
  /** Of a walk without an outer loop, the loop that reaches furthest west speaks for all. */
  const speaker = new Int32Array(loops.count).fill(-1);
  for (let l = 0; l < loops.count; ) {
    let end = l;
    let outer = -1;
    while (end < loops.count && loops.walk[end] === loops.walk[l]) {
      if (loops.way[end] > 0) {
        outer = end;
        owner[end] = end;
      }
      end++;
    }
    if (outer >= 0) for (let k = l; k < end; k++) if (owner[k] < 0) owner[k] = outer;
    if (outer < 0) {
      let west = l;
      for (let k = l + 1; k < end; k++)
        if (further(arcs, westernmost(arcs, loops, k), westernmost(arcs, loops, west))) west = k;
      speaker.fill(west, l, end);
      open.push(west);
    }
    l = end;
  }
  if (open.length > 0) seekOwners(arcs, loops, owner, open, speaker);
  for (let l = 0; l < loops.count; l++) if (owner[l] < 0 && speaker[l] >= 0) owner[l] = owner[speaker[l]];
  return owner;
}

function westernmost(arcs: ArcSet, loops: Loops, l: number): number {
  let best = arcs.from[loops.arc[loops.start[l]]];
  for (let k = loops.start[l] + 1; k < loops.start[l + 1]; k++) {
    const v = arcs.from[loops.arc[k]];
    if (further(arcs, v, best)) best = v;
  }
  return best;
}

/** Lowest and highest end of the arcs, and how much they rise and fall in all. */
function heightOf({ count, from, to, nodes }: ArcSet): { minY: number; maxY: number; rise: number } {
  let minY = Infinity;
  let maxY = -Infinity;
  let rise = 0;
  for (let i = 0; i < count; i++) {
    const y = nodes.y[from[i]];
    rise += Math.abs(nodes.y[to[i]] - y);
    if (y < minY) minY = y;
    if (y > maxY) maxY = y;
  }
  return { minY, maxY, rise };
}

/** Counts in `rowStart` how many arcs reach into each wanted row. */
function tallyRows(firstRow: Int32Array, lastRow: Int32Array, wanted: Uint8Array, rowStart: Uint32Array): void {
  for (let i = 0; i < firstRow.length; i++)
    for (let r = firstRow[i]; r <= lastRow[i]; r++) if (wanted[r] === 1) rowStart[r]++;
}

function placeInRows(
  firstRow: Int32Array,
  lastRow: Int32Array,
  wanted: Uint8Array,
  rowStart: Uint32Array,
  inRow: Int32Array,
): void {
  for (let i = firstRow.length - 1; i >= 0; i--)
    for (let r = firstRow[i]; r <= lastRow[i]; r++) if (wanted[r] === 1) inRow[--rowStart[r]] = i;
}

/** Looks west from each open hole: the arc met first belongs to the same polygon, as its outer loop or as another hole of it. */
function seekOwners(arcs: ArcSet, loops: Loops, owner: Int32Array, open: number[], speaker: Int32Array): void {
  const { count, from, to, nodes } = arcs;
  const { minY, maxY, rise } = heightOf(arcs);
  // Rows about as high as an arc, so that an arc lies in few of them.
  const rows = Math.max(1, Math.min(1 << 16, count >> 2, Math.ceil(((maxY - minY) * count) / (rise || 1))));
  const perStep = rows / (maxY - minY || 1);
  const row = (y: number): number => Math.min(rows - 1, Math.max(0, Math.floor((y - minY) * perStep)));
  // Only rows with an open hole are filled.
  const wanted = new Uint8Array(rows);
  const west = new Float64Array(open.length);
  const low = new Float64Array(open.length);
  open.forEach((l, i) => {
    const v = westernmost(arcs, loops, l);
    west[i] = nodes.x[v];
    low[i] = nodes.y[v];
    wanted[row(low[i])] = 1;
  });
  // Counted first; then each arc is put into its rows, from the last arc on, so that the starts can be counted down in place.
  const rowStart = new Uint32Array(rows + 1);
  const firstRow = new Int32Array(count);
  const lastRow = new Int32Array(count).fill(-1);
  const span = (i: number): void => {
    const a = row(nodes.y[from[i]]);
    const b = row(nodes.y[to[i]]);
    firstRow[i] = Math.min(a, b);
    lastRow[i] = Math.max(a, b);
  };
  for (let i = 0; i < count; i++) if (loops.loopOf[i] >= 0) span(i);
  tallyRows(firstRow, lastRow, wanted, rowStart);
  sumUp(rowStart);
  const inRow = new Int32Array(rowStart[rows]);
  placeInRows(firstRow, lastRow, wanted, rowStart, inRow);
  const neighbour = new Map<number, number>();
  open.forEach((l, i) => {
    const px = west[i];
    const py = low[i];
    let bestX = -Infinity;
    let bestSlope = 0;
    let best = -1;
    const r = row(py);
    for (let e = rowStart[r]; e < rowStart[r + 1]; e++) {
      const k = inRow[e];
      const y0 = nodes.y[from[k]];
      const y1 = nodes.y[to[k]];
      if (y0 <= py === y1 <= py) continue;
      const x0 = nodes.x[from[k]];
      const x1 = nodes.x[to[k]];
      if (Math.min(x0, x1) >= px) continue;
      const slope = (x1 - x0) / (y1 - y0);
      const x = y0 === py ? x0 : y1 === py ? x1 : x0 + (py - y0) * slope;
      if (x >= px) continue;
      // Just above the ray the arc with the greater slope lies further east.
      if (x > bestX || (x === bestX && slope > bestSlope)) {
        bestX = x;
        bestSlope = slope;
        best = loops.loopOf[k];
      }
    }
    neighbour.set(l, best);
  });
  for (const l of open) {
    let at = l;
    for (let step = 0; at >= 0 && owner[at] < 0 && step <= open.length; step++) at = neighbour.get(speaker[at]) ?? -1;
    owner[l] = at < 0 ? -1 : owner[at];
  }
}

function build(arcs: ArcSet, loops: Loops, owner: Int32Array, flux: Flux): Stitched {
  const { from, nodes, originX, originY } = arcs;
  const first = new Int32Array(loops.count).fill(-1);
  const following = new Int32Array(loops.count).fill(-1);
  let rings = 0;
  let polygons = 0;
  for (let l = loops.count - 1; l >= 0; l--) {
    const o = owner[l];
    if (o < 0) continue;
    rings++;
    if (o === l) polygons++;
    else {
      following[l] = first[o];
      first[o] = l;
    }
  }
  let total = 0;
  for (let l = 0; l < loops.count; l++) if (owner[l] >= 0) total += loops.start[l + 1] - loops.start[l];
  const xy = new Float64Array(2 * total);
  const ringStart = new Uint32Array(rings + 1);
  const polygonStart = new Uint32Array(polygons + 1);
  let ring = 0;
  let point = 0;
  let areaM2 = 0;
  const put = (l: number): void => {
    const s = loops.start[l];
    const e = loops.start[l + 1];
    const x0 = nodes.x[from[loops.arc[s]]];
    let area = 0;
    for (let k = s; k < e; k++) {
      const before = loops.arc[k === s ? e - 1 : k - 1];
      const a = loops.arc[k];
      const v = from[a];
      const w = arcs.to[a];
      area += flux(nodes.x[v] - x0, nodes.y[v], nodes.x[w] - x0, nodes.y[w], 0);
      // A node that no other ring passes, on a straight line, is no corner.
      if (loops.degree[v] === 1 && arcs.turn(before, a) === 0) continue;
      xy[2 * point] = nodes.x[v] + originX;
      xy[2 * point + 1] = nodes.y[v] + originY;
      point++;
    }
    areaM2 += area;
    ringStart[++ring] = point;
  };
  let polygon = 0;
  for (let l = 0; l < loops.count; l++) {
    if (owner[l] !== l) continue;
    put(l);
    for (let h = first[l]; h >= 0; h = following[h]) put(h);
    polygonStart[++polygon] = ring;
  }
  return { polygons: { xy: xy.slice(0, 2 * point), ringStart, polygonStart }, areaM2 };
}
