import type { Shapes, Tangled } from '../geometry/shapes.ts';
import { RING_KINDS, type RingKind, RingSorter, type SortedRings } from './nesting.ts';
import type { Pace } from './pace.ts';
import { doubleArea, plainTurn } from './ring-winding.ts';
import { BLOCK, HOLE, OUTER, type Staging, UNKNOWN } from './staging.ts';

/** Repairs of the rings of a map, as counts of records. */
interface RingCounts {
  unclosed: number;
  firstUnclosed: number;
  /** A shapefile hole wound like an outer ring, recognized by where it lies. */
  sameWound: number;
  firstSameWound: number;
}

export interface Built {
  xy: Int32Array;
  ringStart: Uint32Array;
  shapeStart: Uint32Array;
  tangled: Tangled;
  /** Shapes whose rings are invalid, or may be. */
  suspects: { shape: number; kind: RingKind }[];
  /** Record (from 0) of each shape. */
  keep: Uint32Array;
  counts: RingCounts;
}

/**
 * Step 5 of the intake: the used records of `staging` as rings on the lattice.
 *
 * Rings lose their closing point and repeated points; a ring without any area (all its points on one line, or there and back) is left out, and so
 * is a record without a ring, which is skipped. Outer rings turn counter-clockwise, holes clockwise. Rings that cross themselves or others are kept
 * as they are; `tangled` says what they are, and `nesting.ts` how that is found.
 * `staging` holds degrees and gives up its blocks when done.
 */
export async function buildRings(
  staging: Staging,
  stepsPerDegree: number,
  originX: number,
  originY: number,
  pace: Pace,
): Promise<Built> {
  const builder = new RingBuilder(staging, stepsPerDegree, originX, originY);
  for (let r = 0; r < staging.records; await pace.rest()) {
    while (r < staging.records && !(staging.status[r] === 0 && pace.add(16 * builder.build(r) + 8))) r++;
    r++;
  }
  staging.blocks.length = 0;
  return builder.built();
}

/** Only maps with invalid rings have `tangled`. */
export function shapesOf({ xy, ringStart, shapeStart, tangled }: Built): Shapes {
  return tangled.size > 0 ? { xy, ringStart, shapeStart, tangled } : { xy, ringStart, shapeStart };
}

/** Lays one record after another: its points on the lattice (`layRings`), its rings in order (`orderRings`), then it is kept or skipped. */
class RingBuilder {
  private readonly staging: Staging;
  private readonly stepsPerDegree: number;
  private readonly originX: number;
  private readonly originY: number;
  private readonly xy: Int32Array;
  private readonly ringStart: Uint32Array;
  private readonly shapeStart: Uint32Array;
  private readonly keep: Uint32Array;
  private readonly counts: RingCounts = { unclosed: 0, firstUnclosed: 0, sameWound: 0, firstSameWound: 0 };
  private readonly sorter: RingSorter;
  private readonly tangled = new Map<number, Int32Array>();
  private readonly suspects: Built['suspects'] = [];
  /** Per ring of the current record: its polygon, and whether it was written as an outer ring. */
  private polygon = new Int32Array(64);
  private leads = new Uint8Array(64);
  /** Where the next point, ring and shape go. */
  private at = 0;
  private ring = 0;
  private shape = 0;

  constructor(staging: Staging, stepsPerDegree: number, originX: number, originY: number) {
    this.staging = staging;
    this.stepsPerDegree = stepsPerDegree;
    this.originX = originX;
    this.originY = originY;
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
    this.xy = new Int32Array(2 * points);
    this.ringStart = new Uint32Array(rings + 1);
    this.shapeStart = new Uint32Array(shapes + 1);
    this.keep = new Uint32Array(shapes);
    this.sorter = new RingSorter(this.xy, this.ringStart);
  }

  /** Builds one record; returns how many points it has. */
  build(r: number): number {
    const { staging, ringStart, counts } = this;
    const firstRing = this.ring;
    const unclosed = this.layRings(r);
    const { sorted, tooMany } = this.orderRings(r, firstRing);
    const used = this.at - ringStart[firstRing];
    const empty = this.ring === firstRing || (!sorted?.tangled && this.netArea(firstRing, this.ring) === 0);
    if (tooMany || empty) {
      staging.skip(r, tooMany ? 'too many rings across or inside each other' : 'zero area');
      this.ring = firstRing;
      this.at = ringStart[firstRing];
    } else {
      if (unclosed && counts.unclosed++ === 0) counts.firstUnclosed = r + 1;
      if (sorted?.tangled) this.tangled.set(this.shape, sorted.roles);
      if (sorted?.kind) this.suspects.push({ shape: this.shape, kind: sorted.kind });
      this.keep[this.shape++] = r;
      this.shapeStart[this.shape] = this.ring;
    }
    return used;
  }

  built(): Built {
    const { xy, at, ring, shape } = this;
    return {
      xy: 2 * at === xy.length ? xy : xy.slice(0, 2 * at),
      ringStart: this.ringStart.slice(0, ring + 1),
      shapeStart: this.shapeStart.slice(0, shape + 1),
      tangled: this.tangled,
      suspects: this.suspects,
      keep: this.keep.slice(0, shape),
      counts: this.counts,
    };
  }

  /** Lays the rings of a record that have an area; returns whether one of them was not closed. */
  private layRings(r: number): boolean {
    const { staging, xy, ringStart } = this;
    const firstRing = this.ring;
    const from = staging.recordStart[r];
    const to = staging.recordStart[r + 1];
    const byPlace = this.byPlace(r);
    let unclosed = false;
    let outerKept = false;
    let polygons = 0;
    if (to - from > this.polygon.length) {
      this.polygon = new Int32Array(2 * (to - from));
      this.leads = new Uint8Array(2 * (to - from));
    }
    for (let k = from; k < to; k++) {
      const role = staging.ringRole[k];
      if (role === OUTER) {
        outerKept = false;
        polygons++;
      } else if (role === HOLE && !outerKept) continue;
      const a = staging.ringStart[k];
      const b = staging.ringStart[k + 1];
      if (b - a > 1 && (staging.x(a) !== staging.x(b - 1) || staging.y(a) !== staging.y(b - 1))) unclosed = true;
      const begin = this.at;
      let at = this.layPoints(a, b, begin);
      while (at - begin > 1 && xy[2 * at - 2] === xy[2 * begin] && xy[2 * at - 1] === xy[2 * begin + 1]) at--;
      const area = doubleArea(xy, begin, at);
      if (at - begin < 3 || (area === 0 && isFlat(xy, begin, at))) continue;
      this.at = at;
      ringStart[this.ring + 1] = at;
      if (role === OUTER) outerKept = true;
      // In a shapefile outer rings run clockwise (ESRI Shapefile Technical Description, 1998).
      this.leads[this.ring - firstRing] = role === OUTER || (byPlace && area < 0) ? 1 : 0;
      this.polygon[this.ring - firstRing] = polygons;
      this.ring++;
    }
    return unclosed;
  }

  /** Whether only their places distinguish outer rings and holes of a record, as in a shapefile. */
  private byPlace(r: number): boolean {
    return this.staging.ringRole[this.staging.recordStart[r]] === UNKNOWN;
  }

  /** Points a to b on the lattice from place `at` on, without those that repeat the one before; returns the place after the last. */
  private layPoints(a: number, b: number, at: number): number {
    const { staging, xy, stepsPerDegree, originX, originY } = this;
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

  /** Separates the outer rings of the current record from its holes and turns them; `tooMany` when there are too many to sort. */
  private orderRings(r: number, firstRing: number): { sorted: SortedRings | null; tooMany: boolean } {
    const { xy, ringStart } = this;
    const byPlace = this.byPlace(r);
    const single = this.ring - firstRing === 1;
    const turn = single ? plainTurn(xy, ringStart[firstRing], this.at) : 0;
    if (turn < 0) reverse(xy, ringStart[firstRing], this.at);
    if (turn !== 0 || this.ring === firstRing) return { sorted: null, tooMany: false };
    const repeated = !single && this.dropRepeats(firstRing, byPlace);
    const sorted = this.sorter.sort(firstRing, this.ring, this.polygon, this.leads, byPlace);
    if (sorted === null) return { sorted, tooMany: true };
    this.turnAll(firstRing, sorted.roles, byPlace, r);
    if (repeated && (sorted.kind === null || RING_KINDS.indexOf(sorted.kind) > RING_KINDS.indexOf('ring-repeated')))
      sorted.kind = 'ring-repeated';
    return { sorted, tooMany: false };
  }

  /** Turns outer rings counter-clockwise and holes clockwise. */
  private turnAll(first: number, roles: Int32Array, byPlace: boolean, r: number): void {
    const { xy, ringStart, counts } = this;
    let same = false;
    for (let i = 0; i < roles.length; i++) {
      const k = first + i;
      const area = doubleArea(xy, ringStart[k], ringStart[k + 1]);
      const hole = roles[i] < 0;
      if (byPlace && hole && area < 0) same = true;
      if (hole ? area > 0 : area < 0) reverse(xy, ringStart[k], ringStart[k + 1]);
    }
    if (same && counts.sameWound++ === 0) counts.firstSameWound = r + 1;
  }

  /** Leaves out rings that repeat an earlier one of their polygon, whichever point and direction they begin with. */
  private dropRepeats(first: number, byPlace: boolean): boolean {
    const seen = new Map<string, number[]>();
    const { xy, ringStart, leads, polygon } = this;
    const end = this.ring;
    let to = first;
    let write = ringStart[first];
    for (let k = first; k < end; k++) {
      const a = ringStart[k];
      const b = ringStart[k + 1];
      const key = `${byPlace ? 0 : polygon[k - first]} ${markOf(xy, a, b)}`;
      const like = seen.get(key) ?? [];
      if (like.some((p) => sameRing(xy, p, a, b - a))) continue;
      xy.copyWithin(2 * write, 2 * a, 2 * b);
      // Only a few of one mark are kept: different rings with the same mark are not an accident.
      if (like.length < 8) seen.set(key, [...like, write]);
      leads[to - first] = leads[k - first];
      polygon[to - first] = polygon[k - first];
      ringStart[to++] = write;
      write += b - a;
    }
    this.ring = to;
    this.at = write;
    ringStart[to] = write;
    return to < end;
  }

  /** Zero only when holes take all the area away again; a bow-tie of one ring was checked as a ring. */
  private netArea(first: number, end: number): number {
    if (end - first === 1) return 1;
    const { xy, ringStart } = this;
    let sum = 0;
    for (let k = first; k < end; k++) sum += doubleArea(xy, ringStart[k], ringStart[k + 1]);
    return sum;
  }
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

/** The same for a ring whichever point and direction it begins with. */
function markOf(xy: Int32Array, from: number, to: number): string {
  let sumX = 0;
  let sumY = 0;
  let mixed = 0;
  for (let p = from; p < to; p++) {
    sumX += xy[2 * p];
    sumY += xy[2 * p + 1];
    mixed = (mixed + Math.imul(xy[2 * p] ^ 0x2c1b3c6d, xy[2 * p + 1] | 1)) | 0;
  }
  return `${to - from} ${sumX} ${sumY} ${mixed}`;
}

/** Whether the n points from a on go round as those from b on do, in either direction. */
function sameRing(xy: Int32Array, a: number, b: number, n: number): boolean {
  for (let shift = 0; shift < n; shift++) {
    if (!same(xy, a, b + shift)) continue;
    for (const way of [1, n - 1]) {
      let i = 1;
      while (i < n && same(xy, a + i, b + ((shift + i * way) % n))) i++;
      if (i === n) return true;
    }
  }
  return false;
}
