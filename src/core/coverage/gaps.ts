import { type ArcSet, arcSet, Nodes } from './arcs.ts';
import { makeFlux } from './flux.ts';
import { stitch } from './stitch.ts';
import type { AreaDensity, Polygons } from './types.ts';

/** Uncovered ground of two kinds: narrower than a given width everywhere, and the rest, including the land around the map. */
export interface OpenGround {
  narrow: Polygons;
  wide: Polygons;
}

/**
 * Uncovered ground as polygons. Narrow is what no circle of diameter `widthM` fits in (holes up to 0.6 % wider may count as narrow too).
 * Covered islands inside a hole are holes of its polygon. The land around the map is bounded by a frame `FRAME_STEPS` outside the
 * map's extent. `stepsPerMeter` is lattice steps per meter east and north.
 */
export function openGround(covered: Polygons, stepsPerMeter: readonly [number, number], widthM: number): OpenGround {
  const flux = makeFlux([1, 0, 0, 0], 0);
  const open = stitch(backwards(framed(covered)), flux).polygons;
  const narrow: number[] = [];
  const wide: number[] = [];
  const frame = boxOf(covered);
  for (let i = 0; i + 1 < open.polygonStart.length; i++) {
    const at = open.ringStart[open.polygonStart[i]];
    const around = open.xy[2 * at] < frame.minX || open.xy[2 * at] > frame.maxX;
    (around || circleFits(open, i, stepsPerMeter, widthM / 2) ? wide : narrow).push(i);
  }
  return { narrow: pickPolygons(open, narrow), wide: pickPolygons(open, wide) };
}

/** Whole steps, so that the frame is on the lattice. */
const FRAME_STEPS = 1000;

function boxOf({ xy }: Polygons): { minX: number; minY: number; maxX: number; maxY: number } {
  const box = { minX: Infinity, minY: Infinity, maxX: -Infinity, maxY: -Infinity };
  for (let i = 0; i < xy.length; i += 2) {
    if (xy[i] < box.minX) box.minX = xy[i];
    if (xy[i] > box.maxX) box.maxX = xy[i];
    if (xy[i + 1] < box.minY) box.minY = xy[i + 1];
    if (xy[i + 1] > box.maxY) box.maxY = xy[i + 1];
  }
  return box;
}

/** The polygons, and a frame around them run clockwise, as the edge of covered ground beyond. */
function framed(p: Polygons): Polygons {
  if (p.xy.length === 0) return p;
  const { minX, minY, maxX, maxY } = boxOf(p);
  const [x0, y0] = [Math.floor(minX) - FRAME_STEPS, Math.floor(minY) - FRAME_STEPS];
  const [x1, y1] = [Math.ceil(maxX) + FRAME_STEPS, Math.ceil(maxY) + FRAME_STEPS];
  const frame = {
    xy: Float64Array.from([x0, y0, x0, y1, x1, y1, x1, y0]),
    ringStart: Uint32Array.from([0, 4]),
    polygonStart: Uint32Array.from([0, 1]),
  };
  return joinPolygons([p, frame]);
}

/** All polygons of `list`, one set after the other. */
export function joinPolygons(list: readonly Polygons[]): Polygons {
  if (list.length === 1) return list[0];
  const sum = (of: (p: Polygons) => number): number => list.reduce((n, p) => n + of(p), 0);
  const ringsOf = (p: Polygons): number => Math.max(0, p.ringStart.length - 1);
  const polygonsOf = (p: Polygons): number => Math.max(0, p.polygonStart.length - 1);
  const xy = new Float64Array(sum((p) => p.xy.length));
  const ringStart = new Uint32Array(sum(ringsOf) + 1);
  const polygonStart = new Uint32Array(sum(polygonsOf) + 1);
  let [points, rings, polygons] = [0, 0, 0];
  for (const p of list) {
    xy.set(p.xy, 2 * points);
    for (let r = 0; r < ringsOf(p); r++) ringStart[rings + r] = points + p.ringStart[r];
    for (let i = 0; i < polygonsOf(p); i++) polygonStart[polygons + i] = rings + p.polygonStart[i];
    points += p.xy.length / 2;
    rings += ringsOf(p);
    polygons += polygonsOf(p);
  }
  ringStart[rings] = points;
  polygonStart[polygons] = rings;
  return { xy, ringStart, polygonStart };
}

/** m² of each polygon, holes taken off. */
export function areaOf(polygons: Polygons, density: AreaDensity): Float64Array {
  const { xy, ringStart, polygonStart } = polygons;
  const count = Math.max(0, polygonStart.length - 1);
  const out = new Float64Array(count);
  if (count === 0) return out;
  const oy = xy.length > 1 ? Math.floor(xy[1]) : 0;
  const flux = makeFlux(density, oy);
  for (let i = 0; i < count; i++) {
    const at = ringStart[polygonStart[i]];
    const x0 = xy[2 * at];
    const y0 = xy[2 * at + 1];
    for (let r = polygonStart[i]; r < polygonStart[i + 1]; r++) {
      let q = ringStart[r + 1] - 1;
      for (let p = ringStart[r]; p < ringStart[r + 1]; q = p++) {
        out[i] += flux(xy[2 * q] - x0, xy[2 * q + 1] - y0, xy[2 * p] - x0, xy[2 * p + 1] - y0, y0 - oy);
      }
    }
  }
  return out;
}

/** The rings of the covered ground run the other way round: boundaries of what is not covered. */
function backwards(polygons: Polygons): ArcSet {
  const { xy, ringStart } = polygons;
  const count = xy.length >> 1;
  const from = new Int32Array(count);
  const to = new Int32Array(count);
  const nodes = new Nodes();
  const originX = count > 0 ? Math.floor(xy[0]) : 0;
  const originY = count > 0 ? Math.floor(xy[1]) : 0;
  for (let p = 0; p < count; p++) {
    from[p] = nodes.get(xy[2 * p] - originX, xy[2 * p + 1] - originY);
    if (p > 0) to[p] = from[p - 1];
  }
  for (let r = 0; r + 1 < ringStart.length; r++)
    if (ringStart[r + 1] > ringStart[r]) to[ringStart[r]] = from[ringStart[r + 1] - 1];
  const dx = new Float64Array(count);
  const dy = new Float64Array(count);
  for (let i = 0; i < count; i++) {
    dx[i] = nodes.x[to[i]] - nodes.x[from[i]];
    dy[i] = nodes.y[to[i]] - nodes.y[from[i]];
  }
  return arcSet(count, from, to, nodes, [originX, originY], [dx, dy], false);
}

/** The edges of one polygon in meters from its corner, the longer side of its box along `u`, in slices across that side. */
interface Sliced {
  lengthM: number;
  widthM: number;
  perM: number;
  slices: number;
  start: Uint32Array;
  edge: Uint32Array;
  /** u and v of both ends of each edge. */
  uv: Float64Array;
}

/** The box around one polygon: its corner in lattice steps, its sides in meters, and whether the longer one runs north. */
interface Sides {
  minX: number;
  minY: number;
  lengthM: number;
  widthM: number;
  turned: boolean;
}

function sidesOf(
  { xy, ringStart, polygonStart }: Polygons,
  i: number,
  stepsPerMeter: readonly [number, number],
): Sides {
  let minX = Infinity;
  let minY = Infinity;
  let maxX = -Infinity;
  let maxY = -Infinity;
  const outer = polygonStart[i];
  for (let k = ringStart[outer]; k < ringStart[outer + 1]; k++) {
    minX = Math.min(minX, xy[2 * k]);
    maxX = Math.max(maxX, xy[2 * k]);
    minY = Math.min(minY, xy[2 * k + 1]);
    maxY = Math.max(maxY, xy[2 * k + 1]);
  }
  const wide = (maxX - minX) / stepsPerMeter[0];
  const high = (maxY - minY) / stepsPerMeter[1];
  return { minX, minY, lengthM: Math.max(wide, high), widthM: Math.min(wide, high), turned: high > wide };
}

function slice(p: Polygons, i: number, stepsPerMeter: readonly [number, number]): Sliced {
  const { xy, ringStart, polygonStart } = p;
  const { minX, minY, lengthM, widthM, turned } = sidesOf(p, i, stepsPerMeter);
  const outer = polygonStart[i];
  const count = ringStart[polygonStart[i + 1]] - ringStart[outer];
  const uv = new Float64Array(4 * count);
  let n = 0;
  const put = (k: number): void => {
    const x = (xy[2 * k] - minX) / stepsPerMeter[0];
    const y = (xy[2 * k + 1] - minY) / stepsPerMeter[1];
    uv[n++] = turned ? y : x;
    uv[n++] = turned ? x : y;
  };
  for (let r = outer; r < polygonStart[i + 1]; r++) {
    let b = ringStart[r + 1] - 1;
    for (let a = ringStart[r]; a < ringStart[r + 1]; b = a++) {
      put(b);
      put(a);
    }
  }
  const slices = Math.max(1, Math.min(4096, count >> 2));
  const perM = slices / (lengthM || 1);
  const at = (u: number): number => Math.min(slices - 1, Math.max(0, Math.floor(u * perM)));
  const start = new Uint32Array(slices + 1);
  const span = (e: number, visit: (s: number) => void): void => {
    const a = at(Math.min(uv[4 * e], uv[4 * e + 2]));
    const b = at(Math.max(uv[4 * e], uv[4 * e + 2]));
    for (let s = a; s <= b; s++) visit(s);
  };
  for (let e = 0; e < count; e++) span(e, (s) => start[s + 1]++);
  for (let s = 0; s < slices; s++) start[s + 1] += start[s];
  const fill = start.slice(0, slices);
  const edge = new Uint32Array(start[slices]);
  for (let e = 0; e < count; e++) {
    span(e, (s) => {
      edge[fill[s]++] = e;
    });
  }
  return { lengthM, widthM, perM, slices, start, edge, uv };
}

/** Distance from a point to the boundary, meters, positive inside; nothing beyond `reachM` is searched. */
function depth(p: Sliced, u: number, v: number, reachM: number): number {
  const { start, edge, uv, slices, perM } = p;
  const at = (w: number): number => Math.min(slices - 1, Math.max(0, Math.floor(w * perM)));
  const own = at(u);
  let inside = false;
  let best = reachM * reachM;
  for (let s = at(u - reachM); s <= at(u + reachM); s++) {
    for (let k = start[s]; k < start[s + 1]; k++) {
      const e = 4 * edge[k];
      const au = uv[e] - u;
      const av = uv[e + 1] - v;
      const bu = uv[e + 2] - u;
      const bv = uv[e + 3] - v;
      if (s === own && au > 0 !== bu > 0 && 0 < ((bv - av) * (0 - au)) / (bu - au) + av) inside = !inside;
      const du = bu - au;
      const dv = bv - av;
      const l = du * du + dv * dv;
      const t = l > 0 ? Math.max(0, Math.min(1, -(au * du + av * dv) / l)) : 0;
      const pu = au + t * du;
      const pv = av + t * dv;
      const d = pu * pu + pv * pv;
      if (d < best) best = d;
    }
  }
  return inside ? Math.sqrt(best) : -Math.sqrt(best);
}

/**
 * Whether a circle of radius `radiusM` fits into polygon i, by halving squares that could still hold its center. A square is dropped when
 * its middle lies too near the boundary for any point in it; the search stops at 1/256 of the radius and
 * then says no, so that a hole up to 0.6 % wider may count as too narrow.
 */
function circleFits(p: Polygons, i: number, stepsPerMeter: readonly [number, number], radiusM: number): boolean {
  // Most holes need no search.
  if (sidesOf(p, i, stepsPerMeter).widthM < 2 * radiusM) return false;
  const sliced = slice(p, i, stepsPerMeter);
  const { lengthM, widthM } = sliced;
  const first = widthM / 2;
  const stack: number[] = [];
  for (let u = first; u < lengthM + first; u += widthM) stack.push(u, first, first);
  while (stack.length > 0) {
    const h = stack.pop()!;
    const v = stack.pop()!;
    const u = stack.pop()!;
    // Beyond this the answer is the same.
    const d = depth(sliced, u, v, radiusM + h * Math.SQRT2);
    if (d >= radiusM) return true;
    if (d + h * Math.SQRT2 < radiusM || h < radiusM / 256) continue;
    const q = h / 2;
    stack.push(u - q, v - q, q, u + q, v - q, q, u - q, v + q, q, u + q, v + q, q);
  }
  return false;
}

export function pickPolygons(p: Polygons, keep: number[]): Polygons {
  let rings = 0;
  let points = 0;
  for (const i of keep) {
    rings += p.polygonStart[i + 1] - p.polygonStart[i];
    points += p.ringStart[p.polygonStart[i + 1]] - p.ringStart[p.polygonStart[i]];
  }
  const xy = new Float64Array(2 * points);
  const ringStart = new Uint32Array(rings + 1);
  const polygonStart = new Uint32Array(keep.length + 1);
  let r = 0;
  let at = 0;
  keep.forEach((i, n) => {
    for (let q = p.polygonStart[i]; q < p.polygonStart[i + 1]; q++) {
      xy.set(p.xy.subarray(2 * p.ringStart[q], 2 * p.ringStart[q + 1]), 2 * at);
      at += p.ringStart[q + 1] - p.ringStart[q];
      ringStart[++r] = at;
    }
    polygonStart[n + 1] = r;
  });
  return { xy, ringStart, polygonStart };
}
