import { Budget } from '../geometry/budget.ts';
import { cross, crossing } from '../geometry/exact.ts';
import { grown } from '../geometry/grown.ts';
import type { UserError } from '../shared/messages.ts';
import { COMPLEX, type EdgeIndex, type Prepared } from './prepare.ts';
import { entangled } from './refusal.ts';
import { Tangles } from './tangles.ts';

/** Up to this many events on one edge are sorted by insertion. */
const FEW = 32;
/**
 * Limit of comparisons while walking along all edges: for any map, and more for each of its points; some 8 ns each. A field planted
 * twice over takes 400 per point, and so does a strip in a thousand pieces beside its neighbors.
 */
const MOST_WORK = 1_000_000_000;
const WORK_EACH = 3000;
/** Cost of any shape beside the edge, in comparisons. */
const EACH_SLOT = 4;
/** Cost of an event, in comparisons: it is computed, sorted and walked past. */
const EVENT = 30;

/** Places in `Sweep.at`: the crossing found last, where a shape begins to lie over the edge, and where it ceases to. */
const HERE = 0;
const ENTER = 2;
const LEAVE = 4;

/**
 * One edge, and everything that happens along it: where other shapes begin and cease to cover the ground just left and just right of
 * it. Events carry their point; points compare exactly (see `crossing`), so their order along the edge is the true one.
 */
export class Sweep {
  readonly p: Prepared;
  /** The edge: from (ax, ay) by (dx, dy), with the point index that names it, and its shape. */
  shape = 0;
  edge = 0;
  ax = 0;
  ay = 0;
  dx = 0;
  dy = 0;
  /** Origin of event points, whole steps. */
  ox = 0;
  oy = 0;
  /** Winding of each slot's shape left and right of the edge, at the current place. */
  left = new Int32Array(16);
  right = new Int32Array(16);
  /** How many edges with a lower number lie on this one, at the current place. */
  shadow = 0;
  /** Of these, edges of the own shape. */
  ownShadow = 0;
  /** Shapes over the whole edge, on both sides. */
  whole = 0;
  /** Another edge, with a lower number, lies on the whole of this one. */
  hidden = false;
  /** Events: their point, slot, change of winding left and right, and of `shadow`. `order` lists them along the edge. */
  n = 0;
  x = new Float64Array(64);
  y = new Float64Array(64);
  slot = new Int32Array(64);
  dLeft = new Int8Array(64);
  dRight = new Int8Array(64);
  dShadow = new Int8Array(64);
  order = new Int32Array(64);
  private left0 = new Int32Array(16);
  private right0 = new Int32Array(16);
  private spare = new Int32Array(64);
  private place = new Uint32Array(64);
  private readonly counts = new Uint32Array(2049);
  private minX = 0;
  private maxX = 0;
  private minY = 0;
  private maxY = 0;
  private mainX = true;
  private signX = 1;
  private signY = 1;
  /** Points in places `HERE`, `ENTER` and `LEAVE`: in an array, because numbers with fractions that are handed from function to function are put on the heap. */
  private readonly at = new Float64Array(6);
  private readonly tangles = new Tangles();
  private readonly budget: Budget;

  constructor(p: Prepared) {
    this.p = p;
    this.budget = new Budget(MOST_WORK, WORK_EACH, p.shapes.xy.length / 2, tooMuchWork);
  }

  /** Starts on the edge from point `a` to point `b`. */
  begin(shape: number, edge: number, a: number, b: number, slots: number): void {
    const { xy } = this.p.shapes;
    this.shape = shape;
    this.edge = edge;
    this.ax = xy[2 * a];
    this.ay = xy[2 * a + 1];
    this.dx = xy[2 * b] - this.ax;
    this.dy = xy[2 * b + 1] - this.ay;
    this.minX = this.dx < 0 ? this.ax + this.dx : this.ax;
    this.maxX = this.dx < 0 ? this.ax : this.ax + this.dx;
    this.minY = this.dy < 0 ? this.ay + this.dy : this.ay;
    this.maxY = this.dy < 0 ? this.ay : this.ay + this.dy;
    this.mainX = Math.abs(this.dx) >= Math.abs(this.dy);
    this.signX = this.dx < 0 ? -1 : 1;
    this.signY = this.dy < 0 ? -1 : 1;
    this.budget.spend(EACH_SLOT * slots);
    this.n = 0;
    this.shadow = 0;
    this.ownShadow = 0;
    this.whole = 0;
    this.hidden = false;
    if (this.tangles.any) this.tangles.clear();
    if (slots > this.left.length) {
      this.left = new Int32Array(2 * slots);
      this.right = new Int32Array(2 * slots);
    }
    // A handful of slots: the engine's `fill` costs more than these two lines.
    const { left, right } = this;
    for (let k = 0; k < slots; k++) {
      left[k] = 0;
      right[k] = 0;
    }
  }

  /** Remembers the state at the start of the edge, to walk along it again. */
  keep(slots: number): void {
    if (this.left0.length < slots) {
      this.left0 = new Int32Array(2 * slots);
      this.right0 = new Int32Array(2 * slots);
    }
    for (let k = 0; k < slots; k++) {
      this.left0[k] = this.left[k];
      this.right0[k] = this.right[k];
    }
  }

  back(slots: number): void {
    for (let k = 0; k < slots; k++) {
      this.left[k] = this.left0[k];
      this.right[k] = this.right0[k];
    }
  }

  /** Adds shape `k` as slot `s`. */
  add(s: number, k: number): void {
    const { box } = this.p;
    const b = 4 * k;
    if (this.maxX < box[b] || this.minX > box[b + 2] || this.maxY < box[b + 1] || this.minY > box[b + 3]) return;
    if (this.p.kind[k] === COMPLEX) this.addComplex(s, k);
    else this.addConvex(s, k);
  }

  private addConvex(s: number, k: number): void {
    const { xy, ringStart, shapeStart } = this.p.shapes;
    const first = ringStart[shapeStart[k]];
    const end = ringStart[shapeStart[k] + 1];
    const { turn: turns, plain } = this.p;
    const turn = turns[k];
    const { ax, ay, dx, dy, at } = this;
    let enters = false;
    let leaves = false;
    let side = 0;
    let c = end - 1;
    for (let d = first; d < end; c = d++) {
      const cx = xy[2 * c];
      const cy = xy[2 * c + 1];
      const gx = (xy[2 * d] - cx) * turn;
      const gy = (xy[2 * d + 1] - cy) * turn;
      if (gx === 0 && gy === 0) continue;
      const o1 = plain ? gx * (ay - cy) - gy * (ax - cx) : cross(gx, gy, ax - cx, ay - cy);
      const o2 = plain ? o1 + gx * dy - gy * dx : cross(gx, gy, ax + dx - cx, ay + dy - cy);
      if (o1 <= 0 && o2 <= 0) {
        if (o1 < 0 || o2 < 0) return;
        side = gx * dx + gy * dy > 0 ? 1 : -1;
        continue;
      }
      if (o1 >= 0 && o2 >= 0) continue;
      crossing(at, ax, ay, dx, dy, cx, cy, gx, gy, this.ox, this.oy);
      if (o1 < 0) {
        if (!enters || this.further(HERE, ENTER)) this.copy(ENTER);
        enters = true;
      } else {
        if (!leaves || this.further(LEAVE, HERE)) this.copy(LEAVE);
        leaves = true;
      }
    }
    if (enters && leaves && !this.further(LEAVE, ENTER)) return;
    const onLeft = side >= 0 ? 1 : 0;
    const onRight = side <= 0 ? 1 : 0;
    const hides = side !== 0 && k < this.shape ? 1 : 0;
    if (enters) this.pushAt(ENTER, s, onLeft, onRight, hides);
    else {
      this.left[s] = onLeft;
      this.right[s] = onRight;
      this.shadow += hides;
      if (!leaves) {
        if (side === 0) this.whole++;
        else if (hides === 1) this.hidden = true;
      }
    }
    // 0 - 0 is 0, but -0 makes the engine recompile all of this.
    if (leaves) this.pushAt(LEAVE, s, 0 - onLeft, 0 - onRight, 0 - hides);
  }

  /** Whether the point in place i of `at` lies further along the edge than the one in place j. */
  private further(i: number, j: number): boolean {
    const { at } = this;
    const ex = (at[i] - at[j]) * this.signX;
    const ey = (at[i + 1] - at[j + 1]) * this.signY;
    return this.mainX ? (ex === 0 ? ey > 0 : ex > 0) : ey === 0 ? ex > 0 : ey > 0;
  }

  private copy(to: number): void {
    this.at[to] = this.at[HERE];
    this.at[to + 1] = this.at[HERE + 1];
  }

  private pushAt(i: number, slot: number, dLeft: number, dRight: number, dShadow: number): void {
    this.push(this.at[i], this.at[i + 1], slot, dLeft, dRight, dShadow);
  }

  /** Along any shape, through its index: winding at the start of the edge by a ray, then every change on the way. */
  private addComplex(s: number, k: number): void {
    const ix = this.p.index.get(k)!;
    const { xy } = this.p.shapes;
    const { ax, ay, dx, dy, at, ox, oy } = this;
    const own = k === this.shape;
    const axis = ix.alongX ? 0 : 1;
    const p0 = ix.alongX ? ax : ay;
    const p1 = p0 + (ix.alongX ? dx : dy);
    const bucketOf = (v: number): number =>
      Math.min(ix.buckets - 1, Math.max(0, Math.floor((v - ix.low) * ix.perStep)));
    const from = bucketOf(Math.min(p0, p1));
    const to = bucketOf(Math.max(p0, p1));
    if (this.isClear(ix, from, to)) return;
    this.budget.spend(ix.start[to + 1] - ix.start[from]);
    const tangle = ix.roles === null ? -1 : this.tangles.open(s, ix.roles);
    const start = this.windingAtStart(ix, bucketOf(p0), tangle);
    if (tangle < 0) {
      this.left[s] = start;
      this.right[s] = start;
    }
    for (let b = from; b <= to; b++) {
      for (let e = ix.start[b]; e < ix.start[b + 1]; e++) {
        const f = ix.from[e];
        const g = ix.to[e];
        // An edge in several buckets is taken in the first that both it and this edge reach.
        if (b !== Math.max(from, bucketOf(Math.min(xy[2 * f + axis], xy[2 * g + axis])))) continue;
        const cx = xy[2 * f];
        const cy = xy[2 * f + 1];
        const gx = xy[2 * g] - cx;
        const gy = xy[2 * g + 1] - cy;
        const c1 = cross(dx, dy, cx - ax, cy - ay);
        const c2 = cross(dx, dy, cx + gx - ax, cy + gy - ay);
        // Events of a tangled shape name its ring, and become its own when all are known.
        const slot = tangle < 0 ? s : this.tangles.slotOf(tangle, ix.ring[e]);
        if (c1 === 0 && c2 === 0) {
          this.alongside(slot, f, g, own, own ? f < this.edge : k < this.shape);
          continue;
        }
        // Just left of the edge, a point on its line counts as lying to the right.
        if (c1 > 0 === c2 > 0) continue;
        const o1 = cross(gx, gy, ax - cx, ay - cy);
        const o2 = cross(gx, gy, ax + dx - cx, ay + dy - cy);
        if (o1 === 0 || o2 === 0 || o1 > 0 === o2 > 0) continue;
        crossing(at, ax, ay, dx, dy, cx, cy, gx, gy, ox, oy);
        const change = c1 > 0 ? 1 : -1;
        this.push(at[0], at[1], slot, change, change, 0);
      }
    }
  }

  /** Whether the edge passes beside all that an indexed shape has in buckets from..to: it is outside then, and meets nothing. */
  private isClear(ix: EdgeIndex, from: number, to: number): boolean {
    const low = ix.alongX ? this.minY : this.minX;
    const high = ix.alongX ? this.maxY : this.maxX;
    for (let b = from; b <= to; b++) if (low <= ix.most[b] && high >= ix.least[b]) return false;
    return true;
  }

  /** An edge of slot `s` that lies on this edge's line: between its ends, left and right of it differ by one turn. */
  private alongside(s: number, f: number, g: number, own: boolean, hides: boolean): void {
    const { xy } = this.p.shapes;
    const sign = this.mainX ? this.signX : this.signY;
    const axis = this.mainX ? 0 : 1;
    const length = Math.abs(this.mainX ? this.dx : this.dy);
    const zero = this.mainX ? this.ax : this.ay;
    const a = (xy[2 * f + axis] - zero) * sign;
    const b = (xy[2 * g + axis] - zero) * sign;
    const same = a < b;
    const low = same ? a : b;
    const high = same ? b : a;
    if (high <= 0 || low >= length) return;
    const step = same ? -1 : 1;
    const h = hides ? 1 : 0;
    if (low <= 0) {
      if (s < 0) this.tangles.turnRight(s);
      else this.right[s] += step;
      this.shadow += h;
      if (own) this.ownShadow += h;
    } else {
      const v = same ? f : g;
      this.push(xy[2 * v] - this.ox, xy[2 * v + 1] - this.oy, s, 0, step, h);
    }
    if (high < length) {
      const v = same ? g : f;
      this.push(xy[2 * v] - this.ox, xy[2 * v + 1] - this.oy, s, 0, -step, -h);
    }
  }

  /**
   * Winding just after the start of the edge and, nearer still, just left of it: a ray across the index's long axis. Ties are broken as
   * that displaced point lies: first by the edge's direction, then by its left side.
   */
  private windingAtStart(ix: EdgeIndex, bucket: number, tangle: number): number {
    const { xy } = this.p.shapes;
    const { ax, ay, dx, dy } = this;
    const axis = ix.alongX ? 0 : 1;
    const p0 = ix.alongX ? ax : ay;
    const forward = ix.alongX ? dx || -dy : dy || dx;
    let w = 0;
    for (let e = ix.start[bucket]; e < ix.start[bucket + 1]; e++) {
      const f = ix.from[e];
      const g = ix.to[e];
      const f0 = xy[2 * f + axis];
      const g0 = xy[2 * g + axis];
      const fBefore = forward > 0 ? f0 <= p0 : f0 < p0;
      const gBefore = forward > 0 ? g0 <= p0 : g0 < p0;
      if (fBefore === gBefore) continue;
      const gx = xy[2 * g] - xy[2 * f];
      const gy = xy[2 * g + 1] - xy[2 * f + 1];
      const o = cross(gx, gy, ax - xy[2 * f], ay - xy[2 * f + 1]) || cross(gx, gy, dx, dy) || gx * dx + gy * dy;
      // Ray up (index along x) or to the east (along y).
      const positive = ix.alongX ? gBefore : fBefore;
      if (positive ? o > 0 : o < 0) {
        w += positive ? 1 : -1;
        if (tangle >= 0) this.tangles.turnBoth(tangle, ix.ring[e]);
      }
    }
    return w;
  }

  /** Adds a mark without change where corners of shape `k` lie on the edge: rings that touch there must meet in a point of both. */
  touch(s: number, k: number): void {
    const { xy, ringStart, shapeStart } = this.p.shapes;
    const { ax, ay, dx, dy, ox, oy } = this;
    const box = this.p.box;
    const { minX: x0, minY: y0, maxX: x1, maxY: y1 } = this;
    if (x1 < box[4 * k] || x0 > box[4 * k + 2] || y1 < box[4 * k + 1] || y0 > box[4 * k + 3]) return;
    if (this.p.kind[k] !== COMPLEX) {
      const end = ringStart[shapeStart[k] + 1];
      for (let v = ringStart[shapeStart[k]]; v < end; v++) {
        const x = xy[2 * v];
        const y = xy[2 * v + 1];
        if (x >= x0 && x <= x1 && y >= y0 && y <= y1 && cross(dx, dy, x - ax, y - ay) === 0)
          this.push(x - ox, y - oy, s, 0, 0, 0);
      }
      return;
    }
    const ix = this.p.index.get(k)!;
    const low = ix.alongX ? x0 : y0;
    const high = ix.alongX ? x1 : y1;
    const from = Math.max(0, Math.floor((low - ix.low) * ix.perStep));
    const to = Math.min(ix.buckets - 1, Math.floor((high - ix.low) * ix.perStep));
    if (this.isClear(ix, from, to)) return;
    this.budget.spend(ix.start[to + 1] - ix.start[from]);
    for (let b = from; b <= to; b++) {
      for (let e = ix.start[b]; e < ix.start[b + 1]; e++) {
        const x = xy[2 * ix.from[e]];
        const y = xy[2 * ix.from[e] + 1];
        if (x >= x0 && x <= x1 && y >= y0 && y <= y1 && cross(dx, dy, x - ax, y - ay) === 0)
          this.push(x - ox, y - oy, s, 0, 0, 0);
      }
    }
  }

  private push(x: number, y: number, slot: number, dLeft: number, dRight: number, dShadow: number): void {
    const i = this.n++;
    if (i >= this.x.length) this.grow();
    this.x[i] = x;
    this.y[i] = y;
    this.slot[i] = slot;
    this.dLeft[i] = dLeft;
    this.dRight[i] = dRight;
    this.dShadow[i] = dShadow;
  }

  private grow(): void {
    const size = 2 * this.x.length;
    this.x = grown(this.x, size);
    this.y = grown(this.y, size);
    this.slot = grown(this.slot, size);
    this.dLeft = grown(this.dLeft, size);
    this.dRight = grown(this.dRight, size);
    this.dShadow = grown(this.dShadow, size);
    this.order = new Int32Array(size);
    this.spare = new Int32Array(size);
    this.place = new Uint32Array(size);
  }

  /** Puts `order` in order along the edge. */
  sort(): void {
    const { n, order } = this;
    this.budget.spend(EVENT * n);
    for (let i = 0; i < n; i++) order[i] = i;
    if (n > FEW) this.sortMany();
    this.settle();
    if (this.tangles.any) this.tangles.settle(this);
  }

  /** Nearly in order: by the place along the edge in steps of 2^-31 of its length, some bits at a time from the lowest. */
  private sortMany(): void {
    const { n, mainX, signX, signY, place, counts } = this;
    const key = mainX ? this.x : this.y;
    const start = mainX ? this.ax - this.ox : this.ay - this.oy;
    const scale = ((mainX ? signX : signY) * 2 ** 31) / Math.abs(mainX ? this.dx : this.dy);
    for (let i = 0; i < n; i++) place[i] = Math.max(0, Math.floor((key[i] - start) * scale));
    const bits = n > 1000 ? 11 : 8;
    const mask = (1 << bits) - 1;
    for (let shift = 0; shift < 32; shift += bits) {
      const { order, spare } = this;
      for (let b = 0; b <= mask; b++) counts[b] = 0;
      for (let i = 0; i < n; i++) counts[((place[i] >>> shift) & mask) + 1]++;
      for (let b = 1; b <= mask; b++) counts[b] += counts[b - 1];
      for (let i = 0; i < n; i++) {
        const v = order[i];
        spare[counts[(place[v] >>> shift) & mask]++] = v;
      }
      this.order = spare;
      this.spare = order;
    }
  }

  /** Insertion sort: for few events, or what is nearly in order. */
  private settle(): void {
    const { n, order, x, y, signX, signY, mainX } = this;
    const key = mainX ? x : y;
    const sign = mainX ? signX : signY;
    const other = mainX ? y : x;
    const otherSign = mainX ? signY : signX;
    for (let i = 1; i < n; i++) {
      const v = order[i];
      let k = i - 1;
      for (; k >= 0; k--) {
        const d = (key[order[k]] - key[v]) * sign;
        if (d < 0 || (d === 0 && (other[order[k]] - other[v]) * otherSign <= 0)) break;
        order[k + 1] = order[k];
      }
      order[k + 1] = v;
    }
  }
}

/** The error for a map whose records overlap in so many places that the work would not end; `most` is the limit of comparisons. */
function tooMuchWork(most: number): UserError {
  return entangled(
    'too-many-overlaps',
    `The records overlap in so many places that measuring them would take more than ${most} comparisons, the limit for this map.`,
  );
}
