import type { Pace } from './pace.ts';
import { BLOCK, HOLE, OUTER, type Staging, UNKNOWN } from './staging.ts';

/** What the rings of a map needed. Counts are of records. */
export interface RingCounts {
  unclosed: number;
  firstUnclosed: number;
  /** A hole that lies outside its outer ring, or inside another hole: left out. */
  strayHole: number;
  firstStrayHole: number;
  /** A shapefile hole wound like an outer ring, told by where it lies. */
  sameWound: number;
  firstSameWound: number;
}

export interface Built {
  xy: Int32Array;
  ringStart: Uint32Array;
  shapeStart: Uint32Array;
  /** Record (from 0) of each shape. */
  keep: Uint32Array;
  counts: RingCounts;
}

/** Edge visits that sorting the rings of one record may take; far beyond any real record, it keeps a hostile one from hanging the reader. */
const NESTING_BUDGET = 50_000_000;
/** The same for all records of a map together. */
const MAP_BUDGET = 10 * NESTING_BUDGET;

/**
 * Step 5 of the intake: the used records of `staging` as rings on the lattice.
 *
 * Rings lose their closing point and repeated points; a ring without any area (all its points on one line, or there and back) is left out, and so
 * is a record without a ring, which is set aside. Outer rings turn counter-clockwise, holes clockwise. Crossing rings are kept as they are.
 * `staging` holds degrees and gives up its blocks when done.
 */
export async function buildRings(
  staging: Staging,
  stepsPerDegree: number,
  originX: number,
  originY: number,
  pace: Pace,
): Promise<Built> {
  let points = 0;
  let rings = 0;
  let shapes = 0;
  for (let r = 0; r < staging.records; r++) {
    if (staging.status[r] !== 0) continue;
    const a = staging.recordStart[r];
    const b = staging.recordStart[r + 1];
    points += staging.ringStart[b] - staging.ringStart[a];
    rings += b - a;
    shapes++;
  }
  const xy = new Int32Array(2 * points);
  const ringStart = new Uint32Array(rings + 1);
  const shapeStart = new Uint32Array(shapes + 1);
  const keep = new Uint32Array(shapes);
  const counts = { unclosed: 0, firstUnclosed: 0, strayHole: 0, firstStrayHole: 0, sameWound: 0, firstSameWound: 0 };
  const sorter = new RingSorter(xy, ringStart);
  let at = 0;
  let ring = 0;
  let shape = 0;

  for (let r = 0; r < staging.records; await pace.rest()) r = buildOn(r);

  /** Builds records from `r` on until it is time to rest; returns the next one. */
  function buildOn(r: number): number {
    while (r < staging.records && !(staging.status[r] === 0 && pace.add(16 * build(r) + 8))) r++;
    return r + 1;
  }

  /** Points a to b on the lattice from place `at` on, without those that repeat the one before; returns the place after the last. */
  function layPoints(a: number, b: number, at: number): number {
    const begin = at;
    // floor(v + 0.5) rounds as well as Math.round below 2^51 and is much faster.
    const block = staging.blockOf(a, b);
    const first = 2 * (a & (BLOCK - 1));
    for (let p = a; p < b; p++) {
      const lon = block === null ? staging.x(p) : block[first + 2 * (p - a)];
      const lat = block === null ? staging.y(p) : block[first + 2 * (p - a) + 1];
      const x = Math.floor(lon * stepsPerDegree + 0.5) - originX;
      const y = Math.floor(lat * stepsPerDegree + 0.5) - originY;
      if (at > begin && xy[2 * at - 2] === x && xy[2 * at - 1] === y) continue;
      xy[2 * at] = x;
      xy[2 * at + 1] = y;
      at++;
    }
    return at;
  }

  /** Builds one record; returns how many points it has. */
  function build(r: number): number {
    const firstRing = ring;
    const from = staging.recordStart[r];
    const to = staging.recordStart[r + 1];
    let unclosed = false;
    let strayHole = false;
    let outerKept = false;
    let firstHole = 0;
    for (let k = from; k < to; k++) {
      const role = staging.ringRole[k];
      if (role === OUTER) {
        if (dropNestedHoles(firstHole)) strayHole = true;
        outerKept = false;
      } else if (role === HOLE && !outerKept) continue;
      const a = staging.ringStart[k];
      const b = staging.ringStart[k + 1];
      if (b - a > 1 && (staging.x(a) !== staging.x(b - 1) || staging.y(a) !== staging.y(b - 1))) unclosed = true;
      const begin = at;
      at = layPoints(a, b, at);
      while (at - begin > 1 && xy[2 * at - 2] === xy[2 * begin] && xy[2 * at - 1] === xy[2 * begin + 1]) at--;
      const area = doubleArea(xy, begin, at);
      if (at - begin < 3 || (area === 0 && isFlat(xy, begin, at))) {
        at = begin;
        continue;
      }
      ringStart[ring + 1] = at;
      if (role === OUTER) {
        if (area < 0) reverse(xy, begin, at);
        outerKept = true;
        firstHole = ring + 1;
      } else if (role === HOLE) {
        if (sorter.inside(ring, firstHole - 1) < 0) {
          strayHole = true;
          at = begin;
          continue;
        }
        if (area > 0) reverse(xy, begin, at);
      }
      ring++;
    }
    if (dropNestedHoles(firstHole)) strayHole = true;

    let tangled = sorter.isSpent();
    if (ring - firstRing === 1 && staging.ringRole[from] === UNKNOWN) {
      if (doubleArea(xy, ringStart[firstRing], at) < 0) reverse(xy, ringStart[firstRing], at);
    } else if (ring - firstRing > 1 && staging.ringRole[from] === UNKNOWN) {
      const depth = sorter.depths(firstRing, ring);
      tangled = depth === null;
      let same = false;
      for (let k = firstRing; depth !== null && k < ring; k++) {
        const area = doubleArea(xy, ringStart[k], ringStart[k + 1]);
        const hole = depth[k - firstRing] % 2 === 1;
        // In a shapefile outer rings run clockwise (ESRI Shapefile Technical Description, 1998).
        if (hole && area < 0) same = true;
        if (hole ? area > 0 : area < 0) reverse(xy, ringStart[k], ringStart[k + 1]);
      }
      if (same && counts.sameWound++ === 0) counts.firstSameWound = r + 1;
    }
    const used = at - ringStart[firstRing];
    if (tangled || ring === firstRing || netArea(firstRing, ring) === 0) {
      staging.setAside(r, tangled ? 'too many rings inside one another' : 'zero area');
      ring = firstRing;
      at = ringStart[firstRing];
    } else {
      if (unclosed && counts.unclosed++ === 0) counts.firstUnclosed = r + 1;
      if (strayHole && counts.strayHole++ === 0) counts.firstStrayHole = r + 1;
      keep[shape++] = r;
      shapeStart[shape] = ring;
    }
    sorter.rest();
    return used;
  }

  /** Leaves out holes that lie in another hole of the same outer ring: that ground is empty already. */
  function dropNestedHoles(first: number): boolean {
    if (first === 0 || ring - first < 2) return false;
    const depth = sorter.depths(first, ring);
    if (depth === null || depth.every((d) => d === 0)) return false;
    const end = ring;
    let to = first;
    let write = ringStart[first];
    for (let k = first; k < end; k++) {
      const a = ringStart[k];
      const b = k + 1 === end ? at : ringStart[k + 1];
      if (depth[k - first] > 0) continue;
      xy.copyWithin(2 * write, 2 * a, 2 * b);
      ringStart[to++] = write;
      write += b - a;
    }
    ring = to;
    at = write;
    ringStart[ring] = at;
    return true;
  }

  /** Zero only when holes take all the area away again; a bow-tie of one ring has been looked at as a ring. */
  function netArea(first: number, end: number): number {
    if (end - first === 1) return 1;
    let sum = 0;
    for (let k = first; k < end; k++) sum += doubleArea(xy, ringStart[k], ringStart[k + 1]);
    return sum;
  }

  staging.blocks.length = 0;
  return {
    xy: 2 * at === xy.length ? xy : xy.slice(0, 2 * at),
    ringStart: ringStart.slice(0, ring + 1),
    shapeStart: shapeStart.slice(0, shape + 1),
    keep: keep.slice(0, shape),
    counts,
  };
}

/** Twice the signed area in lattice steps squared, + counter-clockwise; exact while the ring spans less than about 5e7 steps. */
export function doubleArea(xy: Int32Array, from: number, to: number): number {
  const x0 = xy[2 * from];
  const y0 = xy[2 * from + 1];
  let sum = 0;
  let px = 0;
  let py = 0;
  for (let p = from + 1; p < to; p++) {
    const x = xy[2 * p] - x0;
    const y = xy[2 * p + 1] - y0;
    sum += px * y - x * py;
    px = x;
    py = y;
  }
  return sum;
}

function reverse(xy: Int32Array, from: number, to: number): void {
  for (let a = from, b = to - 1; a < b; a++, b--) {
    const x = xy[2 * a];
    const y = xy[2 * a + 1];
    xy[2 * a] = xy[2 * b];
    xy[2 * a + 1] = xy[2 * b + 1];
    xy[2 * b] = x;
    xy[2 * b + 1] = y;
  }
}

/** True when a ring of zero signed area covers nothing: on one line, or every edge is run there and back. A bow-tie of equal lobes covers ground. */
function isFlat(xy: Int32Array, from: number, to: number): boolean {
  const stack: number[] = [];
  for (let p = from; p < to; p++) {
    const n = stack.length;
    if (n >= 2 && same(xy, stack[n - 2], p)) stack.pop();
    else if (n === 0 || !same(xy, stack[n - 1], p)) stack.push(p);
  }
  // The ring's two ends meet: take off what runs there and back across the join.
  let a = 0;
  let b = stack.length - 1;
  while (b - a >= 2) {
    if (same(xy, stack[a], stack[b])) b--;
    else if (same(xy, stack[a + 1], stack[b])) a++;
    else if (same(xy, stack[a], stack[b - 1])) b--;
    else break;
  }
  if (b - a < 2) return true;
  const x0 = xy[2 * stack[a]];
  const y0 = xy[2 * stack[a] + 1];
  const dx = xy[2 * stack[a + 1]] - x0;
  const dy = xy[2 * stack[a + 1] + 1] - y0;
  for (let i = a + 2; i <= b; i++) {
    if (dx * (xy[2 * stack[i] + 1] - y0) !== dy * (xy[2 * stack[i]] - x0)) return false;
  }
  return true;
}

function same(xy: Int32Array, p: number, q: number): boolean {
  return xy[2 * p] === xy[2 * q] && xy[2 * p + 1] === xy[2 * q + 1];
}

/** Tells which rings of one record lie inside which, by their points and not by their boxes. */
class RingSorter {
  /** Edges looked at for this record, and for those before it. */
  private spent = 0;
  private before = 0;
  private readonly xy: Int32Array;
  private readonly ringStart: Uint32Array;

  constructor(xy: Int32Array, ringStart: Uint32Array) {
    this.xy = xy;
    this.ringStart = ringStart;
  }

  isSpent(): boolean {
    return this.spent > NESTING_BUDGET || this.before + this.spent > MAP_BUDGET;
  }

  /** Ends a record. */
  rest(): void {
    this.before += this.spent;
    this.spent = 0;
  }

  /** 1 when ring `a` lies inside ring `b`, -1 outside, 0 when every point of `a` is on `b`. The first point of `a` that is not on `b` decides. */
  inside(a: number, b: number): number {
    for (let p = this.ringStart[a]; p < this.ringStart[a + 1]; p++) {
      const side = this.pointIn(this.xy[2 * p], this.xy[2 * p + 1], b);
      if (side !== 0 || this.isSpent()) return side;
    }
    return 0;
  }

  private pointIn(x: number, y: number, ring: number): number {
    const { xy } = this;
    const from = this.ringStart[ring];
    const to = this.ringStart[ring + 1];
    this.spent += to - from;
    let odd = false;
    let ax = xy[2 * to - 2] - x;
    let ay = xy[2 * to - 1] - y;
    for (let p = from; p < to; p++) {
      const bx = xy[2 * p] - x;
      const by = xy[2 * p + 1] - y;
      const cross = ax * by - bx * ay;
      if (cross === 0 && ax * bx <= 0 && ay * by <= 0) return 0;
      if (ay > 0 !== by > 0 && cross > 0 === by > ay) odd = !odd;
      ax = bx;
      ay = by;
    }
    return odd ? 1 : -1;
  }

  /** For each ring from `first` to `end`, how many of the others it lies in; null when that takes more work than any real record needs. */
  depths(first: number, end: number): Uint32Array | null {
    const n = end - first;
    const box = new Float64Array(4 * n);
    const size = new Float64Array(n);
    for (let i = 0; i < n; i++) {
      let [x0, y0, x1, y1] = [Infinity, Infinity, -Infinity, -Infinity];
      for (let p = this.ringStart[first + i]; p < this.ringStart[first + i + 1]; p++) {
        x0 = Math.min(x0, this.xy[2 * p]);
        x1 = Math.max(x1, this.xy[2 * p]);
        y0 = Math.min(y0, this.xy[2 * p + 1]);
        y1 = Math.max(y1, this.xy[2 * p + 1]);
      }
      box.set([x0, y0, x1, y1], 4 * i);
      size[i] = Math.abs(doubleArea(this.xy, this.ringStart[first + i], this.ringStart[first + i + 1]));
    }
    const byLeft = Uint32Array.from({ length: n }, (_, i) => i).sort((a, b) => box[4 * a] - box[4 * b]);
    const depth = new Uint32Array(n);
    for (let i = 0; i < n; i++) {
      const outer = byLeft[i];
      for (let k = 0; k < n; k++) {
        const inner = byLeft[k];
        if (box[4 * inner] > box[4 * outer + 2]) break;
        this.spent++;
        if (this.isSpent()) return null;
        if (inner === outer || size[inner] >= size[outer] || box[4 * inner] < box[4 * outer]) continue;
        if (box[4 * inner + 1] < box[4 * outer + 1] || box[4 * inner + 2] > box[4 * outer + 2]) continue;
        if (box[4 * inner + 3] > box[4 * outer + 3]) continue;
        if (this.inside(first + inner, first + outer) > 0) depth[inner]++;
      }
    }
    return depth;
  }
}
