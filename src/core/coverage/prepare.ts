import { cross } from '../geometry/exact.ts';
import type { Shapes } from '../geometry/shapes.ts';

/** No area of its own: it covers nothing. */
export const EMPTY = 0;
/** One ring, convex, every corner a real corner. */
export const STRICT = 1;
/** One ring, convex, with straight corners or repeated points. */
export const CONVEX = 2;
/** Anything else: concave, self-crossing, several rings, many points. */
export const COMPLEX = 3;

/** Convex rings up to this many points are clipped edge by edge; larger ones are searched through an index. */
const FEW = 12;

export interface Prepared {
  shapes: Shapes;
  count: number;
  kind: Uint8Array;
  /** +1 counter-clockwise, -1 clockwise, for convex shapes. */
  turn: Int8Array;
  /** minX, minY, maxX, maxY per shape; inverted for empty shapes. */
  box: Int32Array;
  /** Middle of the map, whole steps. */
  originX: number;
  originY: number;
  /** The map is small enough (2^25 steps) that products of two differences are exact. */
  plain: boolean;
  /** Only for COMPLEX shapes. */
  index: Map<number, EdgeIndex>;
  /** Only for COMPLEX shapes of many points. */
  slabs: Map<number, Slabs>;
  /** How many shapes each represents; null where each is only itself. */
  weight: Uint32Array | null;
}

/** The edges of one shape in buckets along its longer side. Point indices; degenerate edges are left out. */
export interface EdgeIndex {
  alongX: boolean;
  low: number;
  perStep: number;
  buckets: number;
  start: Uint32Array;
  from: Uint32Array;
  to: Uint32Array;
  /** How far the edges of each bucket reach across its long side. */
  least: Int32Array;
  most: Int32Array;
  /** Of a tangled shape what its rings are (see `Tangled`), and the ring of each entry, counted from the shape's first; null for sound shapes. */
  roles: Int32Array | null;
  ring: Uint32Array;
}

/** How far a shape reaches north and south, in slabs of equal width from west to east. Shapes that share no slab are apart, even if their boxes meet, like slanted strips. */
export interface Slabs {
  low: number;
  perStep: number;
  /** Lowest and highest y of slab s. */
  minY: Int32Array;
  maxY: Int32Array;
}

const NO_RINGS = new Uint32Array(0);
/** Shapes of this many points have slabs, one for every fourth point up to the most. */
const SLABS_FROM = 16;
const MOST_SLABS = 64;

/** Kind, box and turn of every shape. 18 bytes per shape, and about 40 per point of the complex ones. */
export function prepare(
  shapes: Shapes,
  progress?: (done: number) => void,
  weight: Uint32Array | null = null,
): Prepared {
  const count = Math.max(0, shapes.shapeStart.length - 1);
  const { xy, ringStart, shapeStart } = shapes;
  const kind = new Uint8Array(count);
  const turn = new Int8Array(count);
  const box = new Int32Array(4 * count);
  const index = new Map<number, EdgeIndex>();
  const slabs = new Map<number, Slabs>();
  let mapMinX = Infinity;
  let mapMinY = Infinity;
  let mapMaxX = -Infinity;
  let mapMaxY = -Infinity;
  for (let i = 0; i < count; i++) {
    if ((i & 8191) === 0) progress?.(i / count);
    const firstRing = shapeStart[i];
    const endRing = shapeStart[i + 1];
    let minX = 2147483647;
    let minY = 2147483647;
    let maxX = -2147483648;
    let maxY = -2147483648;
    for (let p = ringStart[firstRing]; p < ringStart[endRing]; p++) {
      const x = xy[2 * p];
      const y = xy[2 * p + 1];
      if (x < minX) minX = x;
      if (x > maxX) maxX = x;
      if (y < minY) minY = y;
      if (y > maxY) maxY = y;
    }
    let k = EMPTY;
    if (minX < maxX && minY < maxY) {
      k = COMPLEX;
      if (endRing - firstRing === 1 && !shapes.tangled?.has(i)) {
        const sorted = sortOut(xy, ringStart[firstRing], ringStart[endRing]);
        k = Math.abs(sorted);
        turn[i] = sorted < 0 ? -1 : 1;
      }
    }
    kind[i] = k;
    box[4 * i] = minX;
    box[4 * i + 1] = minY;
    box[4 * i + 2] = maxX;
    box[4 * i + 3] = maxY;
    if (k === EMPTY) continue;
    if (k === COMPLEX) {
      index.set(i, indexEdges(shapes, i, minX, minY, maxX, maxY));
      if (ringStart[endRing] - ringStart[firstRing] >= SLABS_FROM) slabs.set(i, slabsOf(shapes, i, minX, maxX));
    }
    if (minX < mapMinX) mapMinX = minX;
    if (maxX > mapMaxX) mapMaxX = maxX;
    if (minY < mapMinY) mapMinY = minY;
    if (maxY > mapMaxY) mapMaxY = maxY;
  }
  // Not rounded: half a step below zero would be a minus zero, no small integer to the engine, and all code compiled for the usual case be thrown away.
  const originX = mapMinX <= mapMaxX ? Math.floor((mapMinX + mapMaxX) / 2) : 0;
  const originY = mapMinY <= mapMaxY ? Math.floor((mapMinY + mapMaxY) / 2) : 0;
  const plain = !(Math.max(mapMaxX - mapMinX, mapMaxY - mapMinY) >= 2 ** 25);
  return { shapes, count, kind, turn, box, originX, originY, plain, index, slabs, weight };
}

/** The kind of a ring, negative when it runs clockwise. */
function sortOut(xy: Int32Array, first: number, end: number): number {
  const n = end - first;
  if (n < 3) return EMPTY;
  if (n > FEW) return COMPLEX;
  if (n === 4) {
    // The usual case: four true corners to one side.
    const p = 2 * first;
    const ax = xy[p + 2] - xy[p];
    const ay = xy[p + 3] - xy[p + 1];
    const bx = xy[p + 4] - xy[p + 2];
    const by = xy[p + 5] - xy[p + 3];
    const cx = xy[p + 6] - xy[p + 4];
    const cy = xy[p + 7] - xy[p + 5];
    const dx = xy[p] - xy[p + 6];
    const dy = xy[p + 1] - xy[p + 7];
    const u = cross(ax, ay, bx, by);
    const v = cross(bx, by, cx, cy);
    const w = cross(cx, cy, dx, dy);
    const z = cross(dx, dy, ax, ay);
    if (u > 0 && v > 0 && w > 0 && z > 0) return STRICT;
    if (u < 0 && v < 0 && w < 0 && z < 0) return -STRICT;
  }
  let left = false;
  let right = false;
  let straight = false;
  let repeated = false;
  let flips = 0;
  let lastWay = 0;
  let firstWay = 0;
  let px = xy[2 * end - 2];
  let py = xy[2 * end - 1];
  let ux = px - xy[2 * end - 4];
  let uy = py - xy[2 * end - 3];
  for (let p = first; p < end; p++) {
    const x = xy[2 * p];
    const y = xy[2 * p + 1];
    const vx = x - px;
    const vy = y - py;
    if (vx === 0 && vy === 0) repeated = true;
    const c = cross(ux, uy, vx, vy);
    if (c > 0) left = true;
    else if (c < 0) right = true;
    else {
      straight = true;
      if (ux * vx + uy * vy < 0) return n === 3 ? EMPTY : COMPLEX;
    }
    const way = Math.sign(vx);
    if (way !== 0) {
      if (lastWay !== 0 && way !== lastWay) flips++;
      if (firstWay === 0) firstWay = way;
      lastWay = way;
    }
    ux = vx;
    uy = vy;
    px = x;
    py = y;
  }
  if (lastWay !== firstWay) flips++;
  if (!left && !right) return n <= 4 ? EMPTY : COMPLEX;
  // A repeated point hides the turn at it, which is harmless only where three points remain; more than one turn round is a star.
  if ((left && right) || (repeated && n > 4) || flips > 2) return COMPLEX;
  return (straight ? CONVEX : STRICT) * (left ? 1 : -1);
}

/** Along the longer side of a shape its edges mostly are short; where they leave this many times fewer buckets, the other side is tried. */
const FAR_FEWER = 16;

function indexEdges(shapes: Shapes, shape: number, minX: number, minY: number, maxX: number, maxY: number): EdgeIndex {
  const { xy, ringStart, shapeStart } = shapes;
  const from: number[] = [];
  const to: number[] = [];
  const roles = shapes.tangled?.get(shape) ?? null;
  const rings: number[] = [];
  for (let r = shapeStart[shape]; r < shapeStart[shape + 1]; r++) {
    const end = ringStart[r + 1];
    for (let p = ringStart[r]; p < end; p++) {
      const q = p + 1 < end ? p + 1 : ringStart[r];
      if (xy[2 * p] === xy[2 * q] && xy[2 * p + 1] === xy[2 * q + 1]) continue;
      from.push(p);
      to.push(q);
      if (roles !== null) rings.push(r - shapeStart[shape]);
    }
  }
  const wanted = Math.min(65536, Math.max(1, from.length >> 1));
  /** As many buckets along an axis as keep the index linear in the number of edges: long ones fall into many. */
  const layOut = (axis: 0 | 1, low: number, length: number): { buckets: number; perStep: number } => {
    for (let buckets = wanted; ; buckets = Math.max(1, buckets >> 1)) {
      const perStep = buckets / (length + 1);
      let entries = 0;
      for (let i = 0; i < from.length; i++) {
        entries +=
          1 +
          Math.abs(
            Math.floor((xy[2 * from[i] + axis] - low) * perStep) - Math.floor((xy[2 * to[i] + axis] - low) * perStep),
          );
      }
      if (entries <= 8 * from.length + 64 || buckets === 1) return { buckets, perStep };
    }
  };
  let alongX = maxX - minX > maxY - minY;
  let laid = alongX ? layOut(0, minX, maxX - minX) : layOut(1, minY, maxY - minY);
  if (laid.buckets * FAR_FEWER <= wanted) {
    // The teeth of a comb all run along it: across them each falls into one bucket.
    const other = alongX ? layOut(1, minY, maxY - minY) : layOut(0, minX, maxX - minX);
    if (other.buckets > laid.buckets) {
      alongX = !alongX;
      laid = other;
    }
  }
  const { buckets, perStep } = laid;
  const low = alongX ? minX : minY;
  const axis = alongX ? 0 : 1;
  const start = new Uint32Array(buckets + 1);
  const bucketOf = (point: number): number => Math.floor((xy[2 * point + axis] - low) * perStep);
  for (let i = 0; i < from.length; i++) {
    const a = bucketOf(from[i]);
    const b = bucketOf(to[i]);
    for (let k = Math.min(a, b); k <= Math.max(a, b); k++) start[k + 1]++;
  }
  for (let k = 0; k < buckets; k++) start[k + 1] += start[k];
  const fill = start.slice();
  const outFrom = new Uint32Array(start[buckets]);
  const outTo = new Uint32Array(start[buckets]);
  const outRing = roles === null ? NO_RINGS : new Uint32Array(start[buckets]);
  const least = new Int32Array(buckets).fill(2147483647);
  const most = new Int32Array(buckets).fill(-2147483648);
  for (let i = 0; i < from.length; i++) {
    const a = bucketOf(from[i]);
    const b = bucketOf(to[i]);
    const u = xy[2 * from[i] + 1 - axis];
    const v = xy[2 * to[i] + 1 - axis];
    for (let k = Math.min(a, b); k <= Math.max(a, b); k++) {
      least[k] = Math.min(least[k], u, v);
      most[k] = Math.max(most[k], u, v);
      if (roles !== null) outRing[fill[k]] = rings[i];
      outFrom[fill[k]] = from[i];
      outTo[fill[k]++] = to[i];
    }
  }
  return { alongX, low, perStep, buckets, start, from: outFrom, to: outTo, least, most, roles, ring: outRing };
}

function slabsOf({ xy, ringStart, shapeStart }: Shapes, shape: number, minX: number, maxX: number): Slabs {
  const points = ringStart[shapeStart[shape + 1]] - ringStart[shapeStart[shape]];
  const count = Math.min(MOST_SLABS, points >> 2);
  const perStep = count / (maxX - minX + 1);
  const minY = new Int32Array(count).fill(2147483647);
  const maxY = new Int32Array(count).fill(-2147483648);
  for (let r = shapeStart[shape]; r < shapeStart[shape + 1]; r++) {
    let q = ringStart[r + 1] - 1;
    for (let p = ringStart[r]; p < ringStart[r + 1]; q = p++) {
      const a = xy[2 * p] < xy[2 * q] ? p : q;
      const b = a === p ? q : p;
      const x0 = xy[2 * a];
      const y0 = xy[2 * a + 1];
      const x1 = xy[2 * b];
      const y1 = xy[2 * b + 1];
      const last = Math.floor((x1 - minX) * perStep);
      for (let s = Math.floor((x0 - minX) * perStep); s <= last; s++) {
        // The part of the edge in the slab, a step longer on either side than rounding could make it shorter.
        const from = Math.max(x0, minX + s / perStep - 1);
        const to = Math.min(x1, minX + (s + 1) / perStep + 1);
        const ya = x1 > x0 ? y0 + ((y1 - y0) * (from - x0)) / (x1 - x0) : y0;
        const yb = x1 > x0 ? y0 + ((y1 - y0) * (to - x0)) / (x1 - x0) : y1;
        minY[s] = Math.min(minY[s], Math.floor(Math.min(ya, yb)));
        maxY[s] = Math.max(maxY[s], Math.ceil(Math.max(ya, yb)));
      }
    }
  }
  return { low: minX, perStep, minY, maxY };
}
