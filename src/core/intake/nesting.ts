import { cross } from '../geometry/exact.ts';

/**
 * Why the rings of a record are no valid polygon. Where several hold, the first in this order is told.
 * `crosses-itself`: a ring crosses itself (a bow-tie). `hole-crosses`: a hole crosses another ring. `parts-overlap`: parts of a record overlap.
 * `ring-repeated`: a ring appears twice. `hole-outside`: a ring that was written as a hole lies outside the ring that it should cut.
 * `hole-in-hole`: a ring that was written as a hole lies in another hole.
 *
 * One rule for invalid rings, here and in `coverage/tangles.ts`: a ring alone is even-odd; rings that do not cross are ground and hole in turn; of those that
 * cross, the ones written as outer rings are ground, and holes only take away. GEOS has two rules: `make_valid` by lines makes ground of the part of a hole
 * outside its shell, and by structure fills what a ring goes around twice. Crossings stay exact, because coverage follows each ring's parity; nothing is
 * redrawn. Checked with GEOS 3.11 (`tests/intake/geos-rings.test.ts`).
 */
export const RING_KINDS = [
  'crosses-itself',
  'hole-crosses',
  'parts-overlap',
  'ring-repeated',
  'hole-outside',
  'hole-in-hole',
] as const;
export type RingKind = (typeof RING_KINDS)[number];

/** What sorting the rings of one record found. */
export interface SortedRings {
  /** What each ring is, as in `Tangled`. */
  roles: Int32Array;
  /** Rings cross themselves or one another, so that winding numbers do not tell what the record covers. */
  tangled: boolean;
  /** The first of the kinds that may hold; for the first three, areas decide. */
  kind: RingKind | null;
}

/** Looks at two edges or two boxes that sorting the rings of one record may take, beside `PER_POINT` a point; far beyond any real record. */
const RECORD_BUDGET = 20_000_000;
const PER_POINT = 400;
/** The same for all records of a map together. */
const MAP_BUDGET = 400_000_000;
/** Rings with more points are searched through an index. */
const FEW = 32;

/** How two rings meet: they touch and lie apart; they touch and the one of the greater or the smaller number lies inside the other; they cross. */
const TOUCHES = 1;
const GREATER_INSIDE = 2;
const SMALLER_INSIDE = 3;
const CROSSES = 4;

/**
 * Tells which rings of one record lie inside which and which cross, by their points and not by their boxes. The rule for invalid rings follows
 * `make_valid` of GEOS (method "structure") but for rings alone, which are even-odd: rings that do not cross one another are ground and hole in
 * turn, from the outside inward, whatever they were written as; of rings that cross, those written as outer rings are ground, and the others holes in
 * the ground around them or across them.
 */
export class RingSorter {
  /** Looks spent on this record, and on those before it. */
  private spent = 0;
  private before = 0;
  private budget = RECORD_BUDGET;
  private readonly indexes = new Map<number, RowIndex>();

  constructor(
    private readonly xy: Int32Array,
    private readonly ringStart: Uint32Array,
  ) {}

  isSpent(): boolean {
    return this.spent > this.budget || this.before + this.spent > MAP_BUDGET;
  }

  /** Ends a record. */
  rest(): void {
    this.before += this.spent;
    this.spent = 0;
    this.indexes.clear();
  }

  /**
   * Sorts the rings from `first` to `end`. `polygon` numbers the polygon of each, rising; `leads` is 1 for rings written as outer ones; `byPlace` says
   * that the file does not tell holes from islands (shapefile). Null when that takes more looks than any real record needs.
   */
  sort(first: number, end: number, polygon: Int32Array, leads: Uint8Array, byPlace: boolean): SortedRings | null {
    const n = end - first;
    this.budget = RECORD_BUDGET + PER_POINT * (this.ringStart[end] - this.ringStart[first]);
    const contacts = this.contacts(first, end);
    if (contacts === null) return null;
    const { self, pairs } = contacts;
    const nest =
      n > 1 ? this.nest(first, end, polygon, pairs) : { depth: new Uint32Array(n), around: [[]], boxM2: [0] };
    if (nest === null) return null;
    const { depth, around, boxM2 } = nest;
    const crossed = new Int32Array(n).fill(-1);
    for (const [key, how] of pairs) {
      if (how !== CROSSES) continue;
      const [a, b] = [key % n, Math.floor(key / n)];
      if (polygon[a] !== polygon[b]) continue;
      // An outer ring that it crosses is what a hole is cut from.
      if (crossed[a] < 0 || (leads[b] === 1 && leads[crossed[a]] === 0)) crossed[a] = b;
      if (crossed[b] < 0 || (leads[a] === 1 && leads[crossed[b]] === 0)) crossed[b] = a;
    }
    const roles = new Int32Array(n);
    let parts = 0;
    for (let i = 0; i < n; i++) {
      const ground = crossed[i] >= 0 ? leads[i] === 1 : depth[i] % 2 === 0;
      if (ground) roles[i] = ++parts;
    }
    for (let i = 0; i < n; i++) {
      if (roles[i] !== 0) continue;
      // The nearest ground around it, or else the outer ring that it crosses.
      let from = -1;
      for (const k of around[i]) if (roles[k] > 0 && (from < 0 || boxM2[k] < boxM2[from])) from = k;
      if (from < 0 && crossed[i] >= 0 && leads[crossed[i]] === 1) from = crossed[i];
      roles[i] = from >= 0 ? -roles[from] : ++parts;
    }
    const tangled = self.includes(1) || [...pairs.values()].includes(CROSSES);
    return { roles, tangled, kind: this.kindOf(first, contacts, roles, depth, polygon, leads, byPlace) };
  }

  private kindOf(
    first: number,
    { self, pairs }: Contacts,
    roles: Int32Array,
    depth: Uint32Array,
    polygon: Int32Array,
    leads: Uint8Array,
    byPlace: boolean,
  ): RingKind | null {
    const n = roles.length;
    if (self.includes(1)) return 'crosses-itself';
    let parts = false;
    for (const [key, how] of pairs) {
      if (how !== CROSSES) continue;
      if (roles[key % n] < 0 || roles[Math.floor(key / n)] < 0) return 'hole-crosses';
      parts = true;
    }
    if (parts || (polygon[n - 1] > polygon[0] && this.boxesMeet(first, polygon))) return 'parts-overlap';
    if (byPlace) return null;
    let odd: RingKind | null = null;
    for (let i = 0; i < n; i++) {
      if (depth[i] > 1) odd ??= 'hole-in-hole';
      // A ring written as a hole that no other ring holds, or an outer ring that lies in its hole.
      else if (depth[i] === leads[i]) return 'hole-outside';
    }
    return odd;
  }

  /** Whether the boxes of two polygons meet. */
  private boxesMeet(first: number, polygon: Int32Array): boolean {
    const boxes: number[][] = [];
    for (let i = 0; i < polygon.length; i++) {
      if (i > 0 && polygon[i] === polygon[i - 1]) continue;
      boxes.push(this.boxOf(first + i));
    }
    boxes.sort((a, b) => a[0] - b[0]);
    for (let i = 0; i < boxes.length; i++) {
      for (let k = i + 1; k < boxes.length && boxes[k][0] < boxes[i][2]; k++) {
        if (this.spent++ > this.budget) return true;
        if (boxes[k][1] < boxes[i][3] && boxes[k][3] > boxes[i][1]) return true;
      }
    }
    return false;
  }

  private boxOf(ring: number): [number, number, number, number] {
    let [x0, y0, x1, y1] = [Infinity, Infinity, -Infinity, -Infinity];
    for (let p = this.ringStart[ring]; p < this.ringStart[ring + 1]; p++) {
      x0 = Math.min(x0, this.xy[2 * p]);
      x1 = Math.max(x1, this.xy[2 * p]);
      y0 = Math.min(y0, this.xy[2 * p + 1]);
      y1 = Math.max(y1, this.xy[2 * p + 1]);
    }
    return [x0, y0, x1, y1];
  }

  /**
   * For each ring from `first` to `end`, in how many others of its polygon it lies, and in which. `pairs` knows
   * of those in contact.
   */
  private nest(
    first: number,
    end: number,
    polygon: Int32Array,
    pairs: Map<number, number>,
  ): { depth: Uint32Array; around: number[][]; boxM2: ArrayLike<number> } | null {
    const n = end - first;
    const box = new Float64Array(4 * n);
    const size = new Float64Array(n);
    for (let i = 0; i < n; i++) {
      box.set(this.boxOf(first + i), 4 * i);
      size[i] = Math.abs(doubleArea(this.xy, this.ringStart[first + i], this.ringStart[first + i + 1]));
    }
    const boxM2 = size.map((_, i) => (box[4 * i + 2] - box[4 * i]) * (box[4 * i + 3] - box[4 * i + 1]));
    const byLeft = Uint32Array.from({ length: n }, (_, i) => i).sort(
      (a, b) => box[4 * a] - box[4 * b] || boxM2[b] - boxM2[a],
    );
    const depth = new Uint32Array(n);
    const around: number[][] = Array.from({ length: n }, () => []);
    for (let i = 0, from = 0; i < n; i++) {
      const outer = byLeft[i];
      while (box[4 * byLeft[from]] < box[4 * outer]) from++;
      for (let k = from; k < n; k++) {
        const inner = byLeft[k];
        if (box[4 * inner] > box[4 * outer + 2]) break;
        this.spent++;
        if (this.isSpent()) return null;
        if (inner === outer || polygon[inner] !== polygon[outer]) continue;
        if (box[4 * inner + 1] < box[4 * outer + 1] || box[4 * inner + 2] > box[4 * outer + 2]) continue;
        if (box[4 * inner + 3] > box[4 * outer + 3]) continue;
        const same = boxM2[inner] === boxM2[outer];
        if (same && (size[inner] > size[outer] || (size[inner] === size[outer] && inner < outer))) continue;
        const key = Math.max(inner, outer) * n + Math.min(inner, outer);
        const how = pairs.get(key);
        if (how === CROSSES) continue;
        const within =
          how === undefined
            ? this.inside(first + inner, first + outer) > 0
            : how === (inner > outer ? GREATER_INSIDE : SMALLER_INSIDE);
        if (this.isSpent()) return null;
        if (!within) continue;
        depth[inner]++;
        around[inner].push(outer);
        // Lists of rings in rings are memory.
        this.spent += 2;
      }
    }
    return { depth, around, boxM2 };
  }

  /** 1 when ring `a` lies inside ring `b`, -1 outside, 0 when every point of `a` is on `b`. The first point of `a` that is not on `b` decides. */
  private inside(a: number, b: number): number {
    for (let p = this.ringStart[a]; p < this.ringStart[a + 1]; p++) {
      const side = this.pointIn(this.xy[2 * p], this.xy[2 * p + 1], b);
      if (side !== 0 || this.isSpent()) return side;
    }
    return 0;
  }

  /**
   * How two rings that touch lie, by the middles of all stretches of their edges in contact: between two contacts a ring stays on one side of the other.
   * `edges` lists pairs of edges in contact: the point that each begins and ends at, those of the ring of the greater number first.
   */
  private relation(greater: number, smaller: number, edges: readonly number[]): number {
    const sides = [0, 0];
    for (let which = 0; which < 2; which++) {
      const other = which === 0 ? smaller : greater;
      /** Places along each edge where the other ring begins or ends to lie on it, as points. */
      const cuts = new Map<number, number[]>();
      for (let i = 0; i < edges.length; i += 4) {
        const [a, b, c, d] =
          which === 0 ? edges.slice(i, i + 4) : [...edges.slice(i + 2, i + 4), ...edges.slice(i, i + 2)];
        const list = cuts.get(a) ?? [a, b];
        for (const v of [c, d]) if (this.isOn(v, a, b)) list.push(v);
        cuts.set(a, list);
      }
      for (const list of cuts.values()) {
        const { xy } = this;
        const [a, b] = list;
        const dx = Math.sign(xy[2 * b] - xy[2 * a]);
        const dy = Math.sign(xy[2 * b + 1] - xy[2 * a + 1]);
        const at = (v: number): number => xy[2 * v] * dx + xy[2 * v + 1] * dy;
        list.sort((u, v) => at(u) - at(v));
        for (let i = 0; i + 1 < list.length; i++) {
          if (at(list[i]) === at(list[i + 1])) continue;
          const side = this.pointIn(
            (xy[2 * list[i]] + xy[2 * list[i + 1]]) / 2,
            (xy[2 * list[i] + 1] + xy[2 * list[i + 1] + 1]) / 2,
            other,
          );
          if (side !== 0) sides[which] |= side > 0 ? 1 : 2;
          if (this.isSpent()) return CROSSES;
        }
      }
    }
    if (sides[0] === 3 || sides[1] === 3) return CROSSES;
    if (sides[0] === 1) return sides[1] === 1 ? CROSSES : GREATER_INSIDE;
    if (sides[1] === 1) return SMALLER_INSIDE;
    // Nothing but shared boundary: the same ring with other points on its sides.
    return sides[0] === 0 && sides[1] === 0 ? GREATER_INSIDE : TOUCHES;
  }

  private isOn(v: number, a: number, b: number): boolean {
    const { xy } = this;
    const ax = xy[2 * a] - xy[2 * v];
    const ay = xy[2 * a + 1] - xy[2 * v + 1];
    const bx = xy[2 * b] - xy[2 * v];
    const by = xy[2 * b + 1] - xy[2 * v + 1];
    return ax * bx <= 0 && ay * by <= 0 && cross(ax, ay, bx, by) === 0;
  }

  private pointIn(x: number, y: number, ring: number): number {
    const { xy } = this;
    const from = this.ringStart[ring];
    const to = this.ringStart[ring + 1];
    if (to - from > FEW) return this.pointInRows(x, y, ring);
    this.spent += to - from;
    let odd = false;
    let ax = xy[2 * to - 2] - x;
    let ay = xy[2 * to - 1] - y;
    for (let p = from; p < to; p++) {
      const bx = xy[2 * p] - x;
      const by = xy[2 * p + 1] - y;
      const c = cross(2 * ax, 2 * ay, 2 * bx, 2 * by);
      if (c === 0 && ax * bx <= 0 && ay * by <= 0) return 0;
      if (ay > 0 !== by > 0 && c > 0 === by > ay) odd = !odd;
      ax = bx;
      ay = by;
    }
    return odd ? 1 : -1;
  }

  private pointInRows(x: number, y: number, ring: number): number {
    const { xy } = this;
    let rows = this.indexes.get(ring);
    if (rows === undefined) {
      rows = new RowIndex(xy, this.ringStart[ring], this.ringStart[ring + 1]);
      this.indexes.set(ring, rows);
    }
    const row = Math.floor((y - rows.low) * rows.perStep);
    if (row < 0 || row >= rows.count) return -1;
    this.spent += 1 + rows.start[row + 1] - rows.start[row];
    let odd = false;
    for (let e = rows.start[row]; e < rows.start[row + 1]; e++) {
      const p = rows.edge[e];
      const q = p === this.ringStart[ring] ? this.ringStart[ring + 1] - 1 : p - 1;
      const ax = xy[2 * q] - x;
      const ay = xy[2 * q + 1] - y;
      const bx = xy[2 * p] - x;
      const by = xy[2 * p + 1] - y;
      const c = cross(2 * ax, 2 * ay, 2 * bx, 2 * by);
      if (c === 0 && ax * bx <= 0 && ay * by <= 0) return 0;
      if (ay > 0 !== by > 0 && c > 0 === by > ay) odd = !odd;
    }
    return odd ? 1 : -1;
  }

  /** Where rings of a record meet themselves and one another: every edge against those that reach over the same stretch of the better axis. */
  private contacts(first: number, end: number): Contacts | null {
    const { xy, ringStart } = this;
    const n = end - first;
    const from = ringStart[first];
    const count = ringStart[end] - from;
    const ringOf = new Uint32Array(count);
    const reach = [0, 0];
    const low = [Infinity, Infinity];
    const high = [-Infinity, -Infinity];
    /** The other end of the edge that begins at each point. */
    const next = new Uint32Array(count);
    for (let r = first; r < end; r++) {
      for (let p = ringStart[r]; p < ringStart[r + 1]; p++) {
        const q = p + 1 < ringStart[r + 1] ? p + 1 : ringStart[r];
        ringOf[p - from] = r - first;
        next[p - from] = q;
        for (let axis = 0; axis < 2; axis++) {
          const v = xy[2 * p + axis];
          reach[axis] += Math.abs(xy[2 * q + axis] - v);
          low[axis] = Math.min(low[axis], v);
          high[axis] = Math.max(high[axis], v);
        }
      }
    }
    const axis = reach[0] * (high[1] - low[1]) <= reach[1] * (high[0] - low[0]) ? 0 : 1;
    const lowOf = (e: number, a: number): number => Math.min(xy[2 * (from + e) + a], xy[2 * next[e] + a]);
    const highOf = (e: number, a: number): number => Math.max(xy[2 * (from + e) + a], xy[2 * next[e] + a]);
    const begin = Int32Array.from({ length: count }, (_, e) => lowOf(e, axis));
    const order = Uint32Array.from({ length: count }, (_, e) => e).sort((a, b) => begin[a] - begin[b]);
    const active = new Uint32Array(count);
    let alive = 0;
    /** Edges in contact of each pair of rings: see `relation`. */
    const touching = new Map<number, number[]>();
    const found: Contacts = { self: new Uint8Array(n), pairs: new Map() };
    for (const e of order) {
      let kept = 0;
      const e0 = lowOf(e, 1 - axis);
      const e1 = highOf(e, 1 - axis);
      this.spent += alive + 1;
      if (this.isSpent()) return null;
      for (let i = 0; i < alive; i++) {
        const f = active[i];
        if (highOf(f, axis) < begin[e]) continue;
        active[kept++] = f;
        if (lowOf(f, 1 - axis) > e1 || highOf(f, 1 - axis) < e0) continue;
        const [a, b] = [ringOf[e], ringOf[f]];
        if (a === b && (found.self[a] === 1 || next[e] === from + f || next[f] === from + e)) continue;
        const key = Math.max(a, b) * n + Math.min(a, b);
        if (a !== b && found.pairs.get(key) === CROSSES) continue;
        const how = meet(xy, from + e, next[e], from + f, next[f]);
        if (how === 0) continue;
        if (a === b) found.self[a] = 1;
        else if (how === CROSSES) found.pairs.set(key, CROSSES);
        else {
          const list = touching.get(key) ?? [];
          if (a > b) list.push(from + e, next[e], from + f, next[f]);
          else list.push(from + f, next[f], from + e, next[e]);
          touching.set(key, list);
          this.spent += 8;
        }
      }
      alive = kept;
      active[alive++] = e;
    }
    for (const [key, edges] of touching) {
      if (found.pairs.has(key)) continue;
      found.pairs.set(key, this.relation(first + Math.floor(key / n), first + (key % n), edges));
      if (this.isSpent()) return null;
    }
    return found;
  }
}

interface Contacts {
  /** 1 for rings that meet themselves. */
  self: Uint8Array;
  /** How two rings meet, under the greater number times the number of rings, plus the smaller. */
  pairs: Map<number, number>;
}

/** The edges of one ring, each named by the point it ends at, in rows by their height. */
class RowIndex {
  readonly low: number;
  readonly perStep: number;
  readonly count: number;
  readonly start: Uint32Array;
  readonly edge: Uint32Array;

  constructor(xy: Int32Array, from: number, to: number) {
    let low = Infinity;
    let high = -Infinity;
    let rise = 0;
    for (let p = from, q = to - 1; p < to; q = p++) {
      low = Math.min(low, xy[2 * p + 1]);
      high = Math.max(high, xy[2 * p + 1]);
      rise += Math.abs(xy[2 * p + 1] - xy[2 * q + 1]);
    }
    const n = to - from;
    // Rows about as high as an edge, so that an edge lies in few of them.
    this.count = Math.max(1, Math.min(n >> 1, Math.ceil(((high - low + 1) * n) / (rise || 1))));
    this.low = low;
    this.perStep = this.count / (high - low + 1);
    const start = new Uint32Array(this.count + 2);
    const each = (visit: (row: number, p: number) => void): void => {
      for (let p = from, q = to - 1; p < to; q = p++) {
        const a = Math.floor((Math.min(xy[2 * p + 1], xy[2 * q + 1]) - low) * this.perStep);
        const b = Math.floor((Math.max(xy[2 * p + 1], xy[2 * q + 1]) - low) * this.perStep);
        for (let row = a; row <= b; row++) visit(row, p);
      }
    };
    each((row) => start[row + 2]++);
    for (let row = 0; row < this.count; row++) start[row + 2] += start[row + 1];
    this.edge = new Uint32Array(start[this.count + 1]);
    each((row, p) => {
      this.edge[start[row + 1]++] = p;
    });
    this.start = start.subarray(0, this.count + 1);
  }
}

/** How the edges a-b and c-d meet: not at all, touching, or each with its ends on both sides of the other. */
function meet(xy: Int32Array, a: number, b: number, c: number, d: number): number {
  const [ax, ay, cx, cy] = [xy[2 * a], xy[2 * a + 1], xy[2 * c], xy[2 * c + 1]];
  const [ux, uy, vx, vy] = [xy[2 * b] - ax, xy[2 * b + 1] - ay, xy[2 * d] - cx, xy[2 * d + 1] - cy];
  const c1 = cross(ux, uy, cx - ax, cy - ay);
  const c2 = cross(ux, uy, xy[2 * d] - ax, xy[2 * d + 1] - ay);
  if ((c1 > 0 && c2 > 0) || (c1 < 0 && c2 < 0)) return 0;
  const d1 = cross(vx, vy, ax - cx, ay - cy);
  const d2 = cross(vx, vy, xy[2 * b] - cx, xy[2 * b + 1] - cy);
  if ((d1 > 0 && d2 > 0) || (d1 < 0 && d2 < 0)) return 0;
  // On one line they meet, because their boxes do.
  return c1 !== 0 && c2 !== 0 && d1 !== 0 && d2 !== 0 ? CROSSES : TOUCHES;
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

/** 1 or -1 for a ring that turns to the left, or to the right, all the way and goes round once; 0 for any other. */
export function plainTurn(xy: Int32Array, from: number, to: number): number {
  let way = 0;
  let flips = 0;
  let lastX = 0;
  let firstX = 0;
  let ux = xy[2 * to - 2] - xy[2 * to - 4];
  let uy = xy[2 * to - 1] - xy[2 * to - 3];
  let q = to - 1;
  for (let p = from; p < to; q = p++) {
    const vx = xy[2 * p] - xy[2 * q];
    const vy = xy[2 * p + 1] - xy[2 * q + 1];
    const c = cross(ux, uy, vx, vy);
    if (c > 0) {
      if (way < 0) return 0;
      way = 1;
    } else if (c < 0) {
      if (way > 0) return 0;
      way = -1;
    } else if (ux * vx + uy * vy < 0) return 0;
    if (vx !== 0) {
      const x = vx > 0 ? 1 : -1;
      if (lastX !== 0 && x !== lastX) flips++;
      if (firstX === 0) firstX = x;
      lastX = x;
    }
    ux = vx;
    uy = vy;
  }
  if (lastX !== firstX) flips++;
  return flips <= 2 ? way : 0;
}
