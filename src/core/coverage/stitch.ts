import { type ArcSet, turn } from './arcs.ts';
import type { Flux } from './flux.ts';
import { further, joinUp, type Loops, walk } from './loops.ts';
import type { Polygons, Progress } from './types.ts';
import { nearestWest } from './west.ts';

/** Arcs joined to valid polygons, and their area by their rings. */
interface Stitched {
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
  /** Of a walk without an outer loop, the loop that reaches furthest west represents all. */
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

/** Looks west from each open hole: the arc met first belongs to the same polygon, as its outer loop or as another hole of it. */
function seekOwners(arcs: ArcSet, loops: Loops, owner: Int32Array, open: number[], speaker: Int32Array): void {
  const { nodes } = arcs;
  const seats = open.map((l) => westernmost(arcs, loops, l));
  const nearest = nearestWest(
    arcs,
    loops,
    seats.map((v) => nodes.x[v]),
    seats.map((v) => nodes.y[v]),
  );
  const neighbor = new Int32Array(loops.count).fill(-1);
  open.forEach((l, i) => {
    neighbor[l] = nearest[i] < 0 ? -1 : loops.loopOf[nearest[i]];
  });
  // From neighbor to neighbor; the result is stored along the whole way, because the next may go the same way.
  const seen = new Uint8Array(loops.count);
  const way: number[] = [];
  for (const l of open) {
    let at = l;
    for (; at >= 0 && owner[at] < 0 && seen[at] === 0; at = neighbor[speaker[at]]) {
      at = speaker[at];
      seen[at] = 1;
      way.push(at);
    }
    const found = at < 0 ? -1 : owner[at];
    for (const w of way) owner[w] = found;
    way.length = 0;
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
  const xy = new Float64Array(2 * countCorners(arcs, loops, owner));
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
      if (!isCorner(arcs, loops, before, a)) continue;
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
  return { polygons: { xy, ringStart, polygonStart }, areaM2 };
}

/** Whether there is a corner between two arcs that follow one another: a node that no other ring passes, on a straight line, is none. */
const isCorner = (arcs: ArcSet, { degree }: Loops, before: number, a: number): boolean =>
  degree[arcs.from[a]] !== 1 || turn(arcs, before, a) !== 0;

/** Corners of all loops that belong to a polygon: counted first, so that what they are written to is as large as they need. */
function countCorners(arcs: ArcSet, loops: Loops, owner: Int32Array): number {
  let corners = 0;
  for (let l = 0; l < loops.count; l++) if (owner[l] >= 0) corners += cornersOf(arcs, loops, l);
  return corners;
}

function cornersOf(arcs: ArcSet, loops: Loops, l: number): number {
  let corners = 0;
  let before = loops.arc[loops.start[l + 1] - 1];
  for (let k = loops.start[l]; k < loops.start[l + 1]; k++) {
    if (isCorner(arcs, loops, before, loops.arc[k])) corners++;
    before = loops.arc[k];
  }
  return corners;
}
