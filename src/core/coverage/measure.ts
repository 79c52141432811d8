import { type Flux, makeFlux } from './flux.ts';
import type { Near } from './near.ts';
import { COMPLEX, EMPTY, type Prepared } from './prepare.ts';
import { Sweep } from './sweep.ts';
import type { AreaDensity, Coverage, Progress } from './types.ts';

/**
 * For every stretch of boundary: which other shapes lie over it. Where c of them do, it bounds the ground at depth c + 1; and among
 * the shapes in map order it was, until the first of them came, the edge of what was covered. Summing the flux of the stretches gives
 * the area at every depth and each shape's already covered part in one pass, whatever the number of layers.
 *
 * Where boundaries of the same side coincide, the earlier shape counts as slightly larger.
 */
export function measureNear(p: Prepared, near: Near, density: AreaDensity, progress?: Progress): Coverage {
  const total = new Measuring(p, near, density, new Sweep(p));
  for (let i = 0; i < p.count; i++) {
    if ((i & 1023) === 0) progress?.(i / p.count);
    if (total.wants(i)) total.shape(i, progress);
  }
  progress?.(1);
  return total.result();
}

/** A point of each shape: areas are computed from there, so that small shapes far out lose no digits. */
function firstPoints(p: Prepared): Uint32Array {
  const { ringStart, shapeStart } = p.shapes;
  const out = new Uint32Array(p.count);
  for (let i = 0; i < p.count; i++) out[i] = p.kind[i] === EMPTY ? 0 : ringStart[shapeStart[i]];
  return out;
}

/** Areas of the convex shapes; the others' are found along their boundary. */
function ownAreas(p: Prepared, flux: Flux, origin: Uint32Array): Float64Array {
  const { xy, ringStart, shapeStart } = p.shapes;
  const out = new Float64Array(p.count);
  for (let i = 0; i < p.count; i++) {
    if (p.kind[i] === EMPTY || p.kind[i] === COMPLEX) continue;
    const ox = xy[2 * origin[i]];
    const oy = xy[2 * origin[i] + 1];
    const first = ringStart[shapeStart[i]];
    const end = ringStart[shapeStart[i] + 1];
    let sum = 0;
    let c = end - 1;
    for (let d = first; d < end; c = d++)
      sum += flux(xy[2 * c] - ox, xy[2 * c + 1] - oy, xy[2 * d] - ox, xy[2 * d + 1] - oy, oy - p.originY);
    out[i] = sum * p.turn[i];
  }
  return out;
}

export class Measuring {
  private readonly flux: Flux;
  private readonly origin: Uint32Array;
  private readonly area: Float64Array;
  private readonly already: Float64Array;
  private atDepth = new Float64Array(16);
  /** How much larger the area at each depth is than at the depth before, where shapes represent several. */
  private rise = new Float64Array(16);
  private deepest = 0;
  private readonly cluster: Uint32Array;
  private readonly repaired = { reversed: 0, bowTie: 0, concave: 0, empty: 0 };
  /** Slots that lie over the boundary at the current place, as bits. */
  private over = new Uint32Array(1);
  private slots = new Uint32Array(16);
  private overCount = 0;
  private crossesItself = false;
  private done = 0;
  private j = 0;
  private n = 0;
  private own = -1;

  constructor(
    private readonly p: Prepared,
    private readonly near: Near,
    density: AreaDensity,
    private readonly sweep: Sweep,
  ) {
    this.flux = makeFlux(density, p.originY);
    this.origin = firstPoints(p);
    this.area = ownAreas(p, this.flux, this.origin);
    this.already = new Float64Array(p.count);
    this.cluster = clusters(near, p.count);
    for (let i = 0; i < p.count; i++)
      if (p.kind[i] !== EMPTY && p.kind[i] !== COMPLEX && p.turn[i] < 0) this.repaired.reversed++;
  }

  /** Whether the edges of shape j matter. */
  wants(j: number): boolean {
    return this.near.overlaps[j] === 1 || this.p.kind[j] === COMPLEX;
  }

  shape(j: number, progress?: Progress): void {
    const { p, sweep } = this;
    const { xy, ringStart, shapeStart } = p.shapes;
    sweep.ox = xy[2 * this.origin[j]];
    sweep.oy = xy[2 * this.origin[j] + 1];
    const slots = this.open(j, false);
    const backwards = p.kind[j] !== COMPLEX && p.turn[j] < 0;
    for (let r = shapeStart[j]; r < shapeStart[j + 1]; r++) {
      const first = ringStart[r];
      const end = ringStart[r + 1];
      let c = end - 1;
      for (let d = first; d < end; c = d++) {
        if (xy[2 * c] === xy[2 * d] && xy[2 * c + 1] === xy[2 * d + 1]) continue;
        this.done += slots;
        if (this.done > 4096) {
          this.done = 0;
          progress?.(j / p.count);
        }
        // Convex shapes run counter-clockwise here.
        if (backwards) sweep.begin(j, c, d, c, slots);
        else sweep.begin(j, c, c, d, slots);
        for (let k = 0; k < slots; k++) sweep.add(k, this.slots[k]);
        sweep.sort();
        this.walk();
      }
    }
    this.close();
  }

  /** Turns to shape j: lists the shapes that share ground with it, lowest first, and on request those that touch it too. */
  open(j: number, touching: boolean): number {
    const { start, list } = this.near;
    const most = start[j + 1] - start[j];
    if (this.slots.length < most) this.slots = new Uint32Array(2 * most);
    let n = 0;
    this.own = -1;
    for (let e = start[j]; e < start[j + 1]; e++) {
      if (!touching && (list[e] & 1) === 1) continue;
      if (list[e] >> 1 === j) this.own = n;
      this.slots[n++] = list[e] >> 1;
    }
    if (this.over.length * 32 < n) this.over = new Uint32Array((n >> 5) + 1);
    this.j = j;
    this.n = n;
    this.crossesItself = false;
    return n;
  }

  close(): void {
    if (this.p.kind[this.j] !== COMPLEX || this.area[this.j] === 0) return;
    if (this.crossesItself) this.repaired.bowTie++;
    else this.repaired.concave++;
  }

  /** Takes in the edge that begins where the sweep is, its events in order. */
  walk(): void {
    const { sweep: s, j, own, n: slots } = this;
    let inner = this.side(own);
    this.gather(j, slots, own, inner);
    let x = s.ax - s.ox;
    let y = s.ay - s.oy;
    for (let i = 0; i < s.n; i++) {
      const e = s.order[i];
      if (s.x[e] !== x || s.y[e] !== y) {
        this.stretch(j, x, y, s.x[e], s.y[e], inner);
        x = s.x[e];
        y = s.y[e];
      }
      const k = s.slot[e];
      s.left[k] += s.dLeft[e];
      s.right[k] += s.dRight[e];
      if (k === own) {
        if (s.dLeft[e] !== 0) this.crossesItself = true;
        s.ownShadow += s.dShadow[e];
        const now = this.side(own);
        if (now !== inner) {
          inner = now;
          this.gather(j, slots, own, inner);
        }
      } else this.put(k, this.lies(j, k, inner));
    }
    const ex = s.ax + s.dx - s.ox;
    const ey = s.ay + s.dy - s.oy;
    if (x !== ex || y !== ey) this.stretch(j, x, y, ex, ey, inner);
  }

  /** +1 where the own shape lies left of the edge and not right, -1 the other way, 0 where the edge bounds nothing or another edge of the same shape represents it. */
  private side(own: number): number {
    if (own < 0) return 1;
    const { sweep: s } = this;
    if (s.ownShadow > 0) return 0;
    return (s.left[own] !== 0 ? 1 : 0) - (s.right[own] !== 0 ? 1 : 0);
  }

  /** Whether slot k's shape lies over the boundary of j whose inner side is given. */
  private lies(j: number, k: number, inner: number): boolean {
    const { sweep: s } = this;
    const within = inner > 0 ? s.left[k] : s.right[k];
    const beyond = inner > 0 ? s.right[k] : s.left[k];
    return within !== 0 && (beyond !== 0 || this.slots[k] < j);
  }

  private gather(j: number, slots: number, own: number, inner: number): void {
    for (let w = slots >> 5; w >= 0; w--) this.over[w] = 0;
    this.overCount = 0;
    if (inner === 0) return;
    for (let k = 0; k < slots; k++) if (k !== own && this.lies(j, k, inner)) this.put(k, true);
  }

  private put(k: number, on: boolean): void {
    const bit = 1 << (k & 31);
    const word = this.over[k >> 5];
    if (((word & bit) !== 0) === on) return;
    this.over[k >> 5] = word ^ bit;
    const weight = this.p.weight === null ? 1 : this.p.weight[this.slots[k]];
    this.overCount += on ? weight : -weight;
  }

  private firstOver(): number {
    let w = 0;
    while (this.over[w] === 0) w++;
    const word = this.over[w];
    return 32 * w + 31 - Math.clz32(word & -word);
  }

  private stretch(j: number, x0: number, y0: number, x1: number, y1: number, inner: number): void {
    if (inner === 0) return;
    const { sweep: s, p, origin } = this;
    const { xy } = p.shapes;
    if (p.kind[j] === COMPLEX) {
      this.area[j] += inner * this.flux(x0, y0, x1, y1, s.oy - p.originY);
    }
    const c = this.overCount;
    if (p.weight !== null && p.weight[j] > 1) this.repeat(j, x0, y0, x1, y1, inner, c);
    if (c === 0) return;
    const first = this.slots[this.firstOver()];
    const later = Math.max(j, first);
    const lx = s.ox - xy[2 * origin[later]];
    const ly = s.oy - xy[2 * origin[later] + 1];
    this.already[later] += inner * this.flux(x0 + lx, y0 + ly, x1 + lx, y1 + ly, s.oy - p.originY - ly);
    if (p.weight !== null && p.weight[j] > 1) return;
    const root = this.cluster[j];
    const cx = s.ox - xy[2 * origin[root]];
    const cy = s.oy - xy[2 * origin[root] + 1];
    if (c >= this.atDepth.length) {
      const bigger = new Float64Array(2 * c);
      bigger.set(this.atDepth);
      this.atDepth = bigger;
    }
    this.atDepth[c] += inner * this.flux(x0 + cx, y0 + cy, x1 + cx, y1 + cy, s.oy - p.originY - cy);
    if (c > this.deepest) this.deepest = c;
  }

  /** A stretch of shape j, which represents several, under c others: it bounds the ground at depth c + 1 for the first, and one deeper for each further one. */
  private repeat(j: number, x0: number, y0: number, x1: number, y1: number, inner: number, c: number): void {
    const { sweep: s, p, origin } = this;
    const { xy } = p.shapes;
    const root = this.cluster[j];
    const cx = s.ox - xy[2 * origin[root]];
    const cy = s.oy - xy[2 * origin[root] + 1];
    const end = c + p.weight![j];
    if (end >= this.rise.length) {
      const bigger = new Float64Array(2 * end);
      bigger.set(this.rise);
      this.rise = bigger;
    }
    const area = inner * this.flux(x0 + cx, y0 + cy, x1 + cx, y1 + cy, s.oy - p.originY - cy);
    this.rise[Math.max(1, c)] += area;
    this.rise[end] -= area;
    this.deepest = Math.max(this.deepest, end - 1);
  }

  /** Adds the depths of shapes that represent several to the others. */
  private deepen(): void {
    if (this.p.weight === null) return;
    const all = new Float64Array(this.deepest + 1);
    all.set(this.atDepth.subarray(0, this.deepest + 1));
    let sum = 0;
    for (let k = 1; k <= this.deepest; k++) {
      sum += this.rise[k] ?? 0;
      all[k] += sum;
    }
    this.atDepth = all;
  }

  result(): Coverage {
    this.deepen();
    const { weight } = this.p;
    const { area, already, atDepth } = this;
    let sumM2 = 0;
    let againM2 = 0;
    for (let i = 0; i < this.p.count; i++) {
      if (!(area[i] > 0)) {
        this.repaired.empty++;
        area[i] = 0;
      }
      // Rounding must not leave a shape with less than nothing, or more than itself, already covered.
      if (already[i] < 0) already[i] = 0;
      else if (already[i] > area[i]) already[i] = area[i];
      const times = weight === null ? 1 : weight[i];
      sumM2 += area[i] * times;
      againM2 += already[i] + area[i] * (times - 1);
    }
    let deeperM2 = 0;
    for (let k = 1; k <= this.deepest; k++) deeperM2 += atDepth[k];
    let depths = this.deepest;
    while (depths > 0 && !(atDepth[depths] > 0)) depths--;
    const areaAtDepthM2 = atDepth.slice(0, depths + 1);
    areaAtDepthM2[0] = sumM2 - againM2;
    const residual = sumM2 > 0 ? (againM2 - deeperM2) / sumM2 : 0;
    return {
      sumM2,
      areaAtDepthM2: sumM2 > 0 ? areaAtDepthM2 : new Float64Array(0),
      areaM2: area,
      alreadyCoveredM2: already,
      residual,
      repaired: this.repaired,
    };
  }
}

/** For each shape the lowest one that it is joined to by overlaps: a common origin for what they bound together. */
function clusters(near: Near, count: number): Uint32Array {
  const root = new Uint32Array(count);
  for (let i = 0; i < count; i++) root[i] = i;
  const find = (i: number): number => {
    let r = i;
    while (root[r] !== r) {
      root[r] = root[root[r]];
      r = root[r];
    }
    return r;
  };
  for (let i = 0; i < count; i++) {
    if (near.overlaps[i] === 0) continue;
    // The other shape's list has the pair too, so the lower ones do; they come first.
    for (let e = near.start[i]; e < near.start[i + 1] && near.list[e] >> 1 < i; e++) {
      if ((near.list[e] & 1) === 1) continue;
      const a = find(i);
      const b = find(near.list[e] >> 1);
      if (a < b) root[b] = a;
      else if (b < a) root[a] = b;
    }
  }
  for (let i = 0; i < count; i++) root[i] = find(i);
  return root;
}
