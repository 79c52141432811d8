import { sumUp } from '../geometry/buckets.ts';
import { Budget } from '../geometry/budget.ts';
import { cross } from '../geometry/exact.ts';
import { UserError } from '../shared/messages.ts';
import { bucketOf, type Level, sortIntoCells } from './cells.ts';
import { CONVEX, EMPTY, type Prepared, type Slabs, STRICT } from './prepare.ts';
import { entangled } from './refusal.ts';

/**
 * Which shapes meet which. Every pair is listed from both sides, but for partners that share no ground: those are met at the edge that they share.
 *
 * Partners are not neighbors: two records that share a side and no ground meet nowhere else, so the shared side is handled separately and neither
 * record is examined along the other's edges. Of 827,000 pairs of 400,000 records 780,000 are such; covering took 17 % less time (`tests/bench/coverage-child.ts`).
 */
export interface Near {
  /** First entry of each shape in `list`; one more than shapes. */
  start: Uint32Array;
  /** Neighbors of each shape, lowest first, as twice their number, plus 1 where they share no more than boundary. A complex shape is its own neighbor. */
  list: Uint32Array;
  /** 1 where a shape shares ground with another one, or may share it. */
  overlaps: Uint8Array;
  /**
   * Per point: 1 + a strictly convex shape that has the edge starting here as its own, run the other way, and is not listed for it; 0 for none. Both
   * shapes of the edge name each other. Of several only one can be the partner; the others are listed. Empty unless asked for.
   */
  partner: Uint32Array;
}

/** Numbers of a full block. */
const BLOCK = 1 << 20;

/** Pairs of whole numbers. A full block is put away: a copy in a larger one would take, for a while, three times the memory of the pairs. */
class Pile {
  n = 0;
  private readonly full: Int32Array[] = [];
  private at = new Int32Array(1 << 16);
  private used = 0;

  push(a: number, b: number): void {
    if (this.used === this.at.length) this.grow();
    this.at[this.used++] = a;
    this.at[this.used++] = b;
    this.n += 2;
  }

  /** All pairs, in the order in which they came. */
  blocks(): Int32Array[] {
    return [...this.full, this.at.subarray(0, this.used)];
  }

  private grow(): void {
    const old = this.at;
    if (old.length === BLOCK) {
      this.full.push(old);
      this.used = 0;
      this.at = new Int32Array(BLOCK);
      return;
    }
    this.at = new Int32Array(2 * old.length);
    this.at.set(old);
  }
}

/**
 * Finds the pairs by cells of several sizes: a shape lies in the one cell of its lower left corner, on the level whose cells are
 * at least its size. With `touching`, pairs that share only boundary are listed too, except where they only share corners.
 */
export function findNear(p: Prepared, touching: boolean, progress?: (done: number) => void): Near {
  return new NearSearch(p, touching).all(progress);
}

/** The search of `findNear`, which can halt where there are many pairs, for its caller to fold the shapes instead, or to go on. */
export class NearSearch {
  private readonly search: Search;

  constructor(
    private readonly p: Prepared,
    touching: boolean,
  ) {
    this.search = new Search(p, touching);
  }

  /** Null, so far, where there are more than `most` pairs. */
  few(most: number, progress?: (done: number) => void): Near | null {
    return this.search.run(2 * most, progress) ? listed(this.p, this.search) : null;
  }

  /** All pairs, from where the search halted. */
  all(progress?: (done: number) => void): Near {
    const most = MOST_PAIRS + PAIRS_EACH * this.p.count;
    const near = this.few(most, progress);
    if (near !== null) return near;
    throw new UserError(
      'too-many-overlaps',
      `More than ${most} pairs of shapes overlap, the limit for ${this.p.count} shapes.`,
      {},
      'Thousands of records lie on the same ground: export the map without those that repeat others.',
    );
  }
}

function tooManyMeet(most: number): UserError {
  return entangled(
    'too-many-overlaps',
    `The records are so entangled that finding those that touch would take more than ${most} comparisons, the limit for this map.`,
  );
}

/** The pairs that a search found, by shape. */
function listed({ count, kind, weight }: Prepared, { pairs, overlaps, partner }: Search): Near {
  for (let i = 0; weight !== null && i < count; i++) if (weight[i] > 1) overlaps[i] = 1;
  for (let i = 0; i < count; i++) {
    if (kind[i] > CONVEX) pairs.push(i, 2 * i);
  }
  // Two places ahead, as in `intoBuckets`.
  const start = new Uint32Array(count + 2);
  const blocks = pairs.blocks();
  for (const block of blocks) tallyPairs(block, start);
  sumUp(start);
  const list = new Uint32Array(start[count + 1]);
  for (const block of blocks) placePairs(block, start, list);
  for (let i = 0; i < count; i++) if (start[i + 1] - start[i] > 1) sortPart(list, start[i], start[i + 1]);
  return { start: start.subarray(0, count + 1), list, overlaps, partner };
}

/** Counts every pair at both of its shapes. */
function tallyPairs(at: Int32Array, start: Uint32Array): void {
  for (let e = 0; e < at.length; e += 2) {
    const k = at[e + 1] >> 1;
    start[at[e] + 2]++;
    if (at[e] !== k) start[k + 2]++;
  }
}

function placePairs(at: Int32Array, start: Uint32Array, list: Uint32Array): void {
  for (let e = 0; e < at.length; e += 2) {
    const i = at[e];
    const k = at[e + 1] >> 1;
    list[start[i + 1]++] = at[e + 1];
    if (i !== k) list[start[k + 1]++] = 2 * i + (at[e + 1] & 1);
  }
}

function sortPart(list: Uint32Array, from: number, to: number): void {
  if (to - from > 24) {
    list.subarray(from, to).sort();
    return;
  }
  for (let i = from + 1; i < to; i++) {
    const v = list[i];
    let k = i - 1;
    while (k >= from && list[k] > v) {
      list[k + 1] = list[k];
      k--;
    }
    list[k + 1] = v;
  }
}

/** Limit of pairs: for any map, and more for each of its shapes. A field planted twice over has some twelve per shape. */
const MOST_PAIRS = 4_000_000;
const PAIRS_EACH = 16;

const APART = 0;
const TOUCH = 1;
const SHARED = 2;
/** Touching as partners. */
const PARTNERS = 3;

/** Limit of comparisons of boxes: for any map, and more for each of its shapes; and the cost of a pair whose boxes meet. */
const MOST_LOOKS = 500_000_000;
const LOOKS_EACH = 3000;
const PAIR = 10;

class Search {
  readonly pairs = new Pile();
  readonly overlaps: Uint8Array;
  readonly partner: Uint32Array;
  /** First point of each shape that is a strictly convex quadrilateral run counter-clockwise, where products are exact: the usual case. -1 for others. */
  private readonly quad: Int32Array;
  /**
   * Of the last two partners that were as far apart in the map: the edge of the first in two bits, and of the second in two more. Bars follow one
   * another, and whoever comes after mostly shares the same edges: four equal numbers then replace a dozen products.
   */
  private readonly shared = new Uint8Array(64);

  private readonly budget: Budget;
  private readonly cells: ReturnType<typeof sortIntoCells>;
  /** Shapes before this one have been compared. */
  private next = 0;

  constructor(
    private readonly p: Prepared,
    private readonly touching: boolean,
  ) {
    const { count, kind, turn, plain } = p;
    this.budget = new Budget(MOST_LOOKS, LOOKS_EACH, count, tooManyMeet);
    const { xy, ringStart, shapeStart } = p.shapes;
    this.overlaps = new Uint8Array(count);
    this.partner = new Uint32Array(touching ? xy.length >> 1 : 0);
    this.cells = sortIntoCells(p);
    this.quad = new Int32Array(count);
    for (let i = 0; i < count; i++) {
      const first = ringStart[shapeStart[i]];
      const usual = plain && kind[i] === STRICT && turn[i] > 0 && ringStart[shapeStart[i] + 1] - first === 4;
      this.quad[i] = usual ? first : -1;
    }
  }

  /**
   * Compares every two shapes whose boxes meet once, in the order of the map, in which neighbors are mostly consecutive. Halts and says false where `pairs` has
   * more than `most` numbers; the next call goes on from there.
   */
  run(most: number, progress?: (done: number) => void): boolean {
    const { count, kind } = this.p;
    const { levels, level, entry } = this.cells;
    while (this.next < count && this.pairs.n <= most) {
      const i = this.next++;
      if ((i & 2047) === 0) progress?.(i / count);
      if (kind[i] !== EMPTY) this.look(i, levels, level[i], entry[i]);
    }
    return this.pairs.n <= most;
  }

  /** Every pair of shape i, entry e of level l, that is not compared from its other shape. */
  private look(i: number, levels: readonly Level[], l: number, e: number): void {
    const { box } = this.p;
    const own = levels[l];
    const x1 = box[4 * i + 2];
    const y1 = box[4 * i + 3];
    const cx = Math.floor(box[4 * i] / own.width);
    const cy = Math.floor(box[4 * i + 1] / own.height);
    // Own level: the rest of the own cell, then the four cells that do not check this one.
    const right = (cx + 1) * own.width <= x1;
    if (own.columns > 0) this.meet(own, cx, right ? cx + 1 : cx, cy, e + 1, i);
    else {
      this.meet(own, cx, cx, cy, e + 1, i);
      if (right) this.meet(own, cx + 1, cx + 1, cy, 0, i);
    }
    if ((cy + 1) * own.height <= y1) this.meet(own, cx - 1, right ? cx + 1 : cx, cy + 1, 0, i);
    for (let up = l + 1; up < levels.length; up++) {
      const over = levels[up];
      if (over.shape.length === 0) continue;
      const from = Math.floor((box[4 * i] - over.width) / over.width);
      const to = Math.floor(x1 / over.width);
      for (let y = Math.floor((box[4 * i + 1] - over.height) / over.height); y <= Math.floor(y1 / over.height); y++) {
        this.meet(over, from, to, y, 0, i);
      }
    }
  }

  /** Takes up the members of cells from..to of row cy, from entry `after` on, whose box meets that of shape i. */
  private meet(l: Level, from: number, to: number, cy: number, after: number, i: number): void {
    const own = this.p.box;
    const { box, start } = l;
    const x0 = own[4 * i];
    const y0 = own[4 * i + 1];
    const x1 = own[4 * i + 2];
    const y1 = own[4 * i + 3];
    if (l.columns > 0) {
      const row = cy - l.y0;
      if (row < 0 || row >= l.rows) return;
      const a = from < l.x0 ? 0 : from - l.x0;
      const b = to - l.x0 < l.columns ? to - l.x0 : l.columns - 1;
      if (a > b) return;
      const end = start[row * l.columns + b + 1];
      const first = start[row * l.columns + a];
      this.budget.spend(end - first);
      for (let e = Math.max(first, after); e < end; e++) {
        if (box[4 * e] <= x1 && box[4 * e + 2] >= x0 && box[4 * e + 1] <= y1 && box[4 * e + 3] >= y0)
          this.pair(i, l.shape[e]);
      }
      return;
    }
    for (let cx = from; cx <= to; cx++) {
      const bucket = bucketOf(cx, cy, l.mask);
      const end = start[bucket + 1];
      this.budget.spend(end - start[bucket] + 1);
      for (let e = Math.max(after, start[bucket]); e < end; e++) {
        if (box[4 * e] > x1 || box[4 * e + 2] < x0 || box[4 * e + 1] > y1 || box[4 * e + 3] < y0) continue;
        // Cells can share a bucket; a shape is met only through its own cell.
        if (Math.floor(box[4 * e] / l.width) === cx && Math.floor(box[4 * e + 1] / l.height) === cy)
          this.pair(i, l.shape[e]);
      }
    }
  }

  private pair(i: number, k: number): void {
    this.budget.spend(PAIR);
    const { p, touching, overlaps, quad } = this;
    const met = quad[i] >= 0 && quad[k] >= 0 ? this.quads(i, k) : contact(p, i, k, this.partner);
    if (met === APART || met === PARTNERS || (met === TOUCH && !touching)) return;
    if (met === SHARED) {
      overlaps[i] = 1;
      overlaps[k] = 1;
    }
    this.pairs.push(i, 2 * k + (met === TOUCH ? 1 : 0));
  }

  /** `contact` in the usual case. */
  private quads(i: number, k: number): number {
    const { p, partner } = this;
    const { xy } = p.shapes;
    const a = this.quad[i];
    const b = this.quad[k];
    const like = (k - i) & 63;
    const q = this.shared[like] & 3;
    const v = this.shared[like] >> 2;
    const q0 = 2 * (a + q);
    const q1 = 2 * (a + ((q + 1) & 3));
    const v0 = 2 * (b + v);
    const v1 = 2 * (b + ((v + 1) & 3));
    if (xy[q0] === xy[v1] && xy[q1] === xy[v0] && xy[q0 + 1] === xy[v1 + 1] && xy[q1 + 1] === xy[v0 + 1])
      return partner.length === 0 ? TOUCH : join(partner, i, k, q0 >> 1, v0 >> 1);
    const e = splits(xy, a, b);
    if (e >= 0) {
      if (e < 4) return APART;
      const met = along(p, i, k, a + (e & 3), a + ((e + 1) & 3), b, e >> 2, partner);
      // Two neighboring corners of the second lie on the edge: it starts at the first of them, or at its last corner.
      if (met === PARTNERS) this.shared[like] = (e & 3) | (e >> 2 === 9 ? 12 : (31 - Math.clz32(e >> 3)) << 2);
      return met;
    }
    const f = splits(xy, b, a);
    if (f >= 0) return f > 3 ? along(p, k, i, b + (f & 3), b + ((f + 1) & 3), a, f >> 2, partner) : APART;
    return SHARED;
  }
}

/** Whether two convex shapes share ground, only boundary (as partners or not), or neither (or no more than corners); shapes of other kinds may share ground. */
function contact(p: Prepared, i: number, k: number, partner: Uint32Array): number {
  if (p.kind[i] > CONVEX || p.kind[k] > CONVEX) {
    const a = p.slabs.get(i);
    const b = p.slabs.get(k);
    return a !== undefined && b !== undefined && slabsApart(a, b) ? APART : SHARED;
  }
  const first = separates(p, i, k, partner);
  return first !== SHARED ? first : separates(p, k, i, partner);
}

/** Whether two shapes have no slab in which both reach to one height. */
function slabsApart(a: Slabs, b: Slabs): boolean {
  // Slabs are widened by one at each side: their bounds are rounded.
  let from = Math.max(0, Math.floor((b.low - a.low) * a.perStep) - 1);
  const end = Math.min(a.minY.length, Math.floor((b.low + b.minY.length / b.perStep - a.low) * a.perStep) + 2);
  for (; from < end; from++) {
    const first = Math.max(0, Math.floor((a.low + from / a.perStep - b.low) * b.perStep) - 1);
    const last = Math.min(b.minY.length - 1, Math.floor((a.low + (from + 1) / a.perStep - b.low) * b.perStep) + 1);
    for (let s = first; s <= last; s++) if (b.minY[s] <= a.maxY[from] && b.maxY[s] >= a.minY[from]) return false;
  }
  return true;
}

/**
 * `separates` for two quadrilaterals that run counter-clockwise from points a and b on, their products exact. Below 0 where no edge of the
 * first has the second on its outer side; else the edge's number in two bits, and above them a bit for each corner of the second that lies
 * on its line.
 */
function splits(xy: Int32Array, a: number, b: number): number {
  const x0 = xy[2 * b];
  const y0 = xy[2 * b + 1];
  const x1 = xy[2 * b + 2];
  const y1 = xy[2 * b + 3];
  const x2 = xy[2 * b + 4];
  const y2 = xy[2 * b + 5];
  const x3 = xy[2 * b + 6];
  const y3 = xy[2 * b + 7];
  let px = xy[2 * a + 6];
  let py = xy[2 * a + 7];
  for (let e = 0; e < 4; e++) {
    const qx = xy[2 * (a + e)];
    const qy = xy[2 * (a + e) + 1];
    const dx = qx - px;
    const dy = qy - py;
    const c0 = dx * (y0 - py) - dy * (x0 - px);
    if (c0 <= 0) {
      const c1 = dx * (y1 - py) - dy * (x1 - px);
      if (c1 <= 0) {
        const c2 = dx * (y2 - py) - dy * (x2 - px);
        if (c2 <= 0) {
          const c3 = dx * (y3 - py) - dy * (x3 - px);
          if (c3 <= 0)
            return ((e + 3) & 3) | (c0 < 0 ? 0 : 4) | (c1 < 0 ? 0 : 8) | (c2 < 0 ? 0 : 16) | (c3 < 0 ? 0 : 32);
        }
      }
    }
    px = qx;
    py = qy;
  }
  return -1;
}

/** Finds an edge of shape i that has all of shape k on its outer side. */
function separates(p: Prepared, i: number, k: number, partner: Uint32Array): number {
  const { xy, ringStart, shapeStart } = p.shapes;
  const a0 = ringStart[shapeStart[i]];
  const a1 = ringStart[shapeStart[i] + 1];
  const b0 = ringStart[shapeStart[k]];
  const b1 = ringStart[shapeStart[k] + 1];
  const turn = p.turn[i];
  let q = a1 - 1;
  for (let e = a0; e < a1; q = e++) {
    const ax = xy[2 * q];
    const ay = xy[2 * q + 1];
    const dx = (xy[2 * e] - ax) * turn;
    const dy = (xy[2 * e + 1] - ay) * turn;
    if (dx === 0 && dy === 0) continue;
    let on = 0;
    let b = b0;
    for (; b < b1; b++) {
      const c = cross(dx, dy, xy[2 * b] - ax, xy[2 * b + 1] - ay);
      if (c > 0) break;
      if (c === 0) on |= 1 << (b - b0);
    }
    if (b < b1) continue;
    if (on === 0) return APART;
    if (p.kind[i] !== STRICT || p.kind[k] !== STRICT) return TOUCH;
    return along(p, i, k, q, e, b0, on, partner);
  }
  return SHARED;
}

/** How two strictly convex shapes meet that the line of i's edge from point q to point e parts; `on` has a bit for each point of k, from b0, on it. */
function along(
  p: Prepared,
  i: number,
  k: number,
  q: number,
  e: number,
  b0: number,
  on: number,
  partner: Uint32Array,
): number {
  // Without places for partners, only shared ground counts.
  if (partner.length === 0) return TOUCH;
  const { xy } = p.shapes;
  const ax = xy[2 * q];
  const ay = xy[2 * q + 1];
  const ex = xy[2 * e];
  const ey = xy[2 * e + 1];
  const v0 = b0 + 31 - Math.clz32(on & -on);
  const x0 = xy[2 * v0];
  const y0 = xy[2 * v0 + 1];
  const rest = on & (on - 1);
  // The usual case: records that share one corner.
  if (rest === 0 && ((x0 === ax && y0 === ay) || (x0 === ex && y0 === ey))) return APART;
  const v1 = rest === 0 ? -1 : b0 + 31 - Math.clz32(rest);
  // The other usual case: records that share a side.
  const whole = v1 >= 0 && x0 === ex && y0 === ey && xy[2 * v1] === ax && xy[2 * v1 + 1] === ay;
  if (whole) return mates(partner, i, k, q, v0, v1);
  const s0 = place(ax, ay, ex, ey, x0, y0);
  if (v1 < 0) return s0 === 2 ? TOUCH : APART;
  const s1 = place(ax, ay, ex, ey, xy[2 * v1], xy[2 * v1 + 1]);
  if ((s0 === 1 && s1 === 3) || (s0 === 3 && s1 === 1)) {
    return mates(partner, i, k, q, v0, v1);
  }
  return Math.max(s0, s1) <= 1 || Math.min(s0, s1) >= 3 ? APART : TOUCH;
}

/** Notes that the edge of i from point q on is the edge of k between v0 and v1, where neither has another partner there. */
function mates(partner: Uint32Array, i: number, k: number, q: number, v0: number, v1: number): number {
  // The edge of k starts at whichever of its two points comes first along its ring.
  return join(partner, i, k, q, v1 === v0 + 1 ? v0 : v1);
}

function join(partner: Uint32Array, i: number, k: number, q: number, v: number): number {
  if (partner[q] !== 0 || partner[v] !== 0) return TOUCH;
  partner[q] = k + 1;
  partner[v] = i + 1;
  return PARTNERS;
}

/** Where a point of the line through a segment lies along it: 0 before, 1 at the start, 2 inside, 3 at the end, 4 beyond. */
function place(ax: number, ay: number, ex: number, ey: number, x: number, y: number): number {
  const mainX = Math.abs(ex - ax) >= Math.abs(ey - ay);
  const l = mainX ? ex - ax : ey - ay;
  const s = (mainX ? x - ax : y - ay) * Math.sign(l);
  return s < 0 ? 0 : s === 0 ? 1 : s < Math.abs(l) ? 2 : s === Math.abs(l) ? 3 : 4;
}
