import { EdgeGrid } from '../geometry/edgegrid.ts';
import { grown } from '../geometry/grown.ts';
import { lengthOf } from '../geometry/length.ts';

/** Directed boundary of a region in meters on the plane: the region lies to the left of every edge. */
export interface Boundary {
  /** x and y of the edge's start and end, four numbers an edge. Edges of one ring follow each other. */
  xy: Float64Array;
  count: number;
  /** Ring of each edge, rising. */
  ring: Uint32Array;
}

/**
 * Pieces of the region seen straight across: a part of edge `near`, and the part of edge `far` that it faces first. `quad` holds the four
 * corners of the ground between them, counter-clockwise, eight numbers a chord; widths are measured square to `near`.
 */
export interface Chords {
  count: number;
  near: Uint32Array;
  far: Uint32Array;
  quad: Float64Array;
  /** Mean distance between the two parts, and length of the part of `near`, meters. */
  widthM: Float64Array;
  lengthM: Float64Array;
}

/** Two edges face each other within 60 degrees of parallel; closer to square they form a corner, not a strip. */
const FACING_COS = -0.5;
/** Parts of an edge shorter than this are rounding, meters. */
const LEAST_PART_M = 1e-4;
/** First reach of a search, meters; it grows fourfold up to the widest chord wanted. */
const FIRST_REACH_M = 1;

/**
 * Every chord of at most `widestM` that starts square to an edge, runs through the region and ends on an edge that faces back. Each strip
 * is seen twice, from either side. A wedge is two chords where it becomes wider than `slitM`.
 */
export function findChords(boundary: Boundary, widestM: number, slitM: number): Chords {
  const { xy, count } = boundary;
  const grid = new EdgeGrid(xy, count);
  const out = new ChordList();
  const view = new View(xy, grid, widestM, slitM);
  for (let e = 0; e < count; e++) view.look(e, out);
  return out.done();
}

/** Cell size for searches as short as a slit is wide, meters. */
const SLIT_CELL_M = 1;

/** The same, of edges only that have more than `slitM` in front of them somewhere: most edges of a web of slits have not. */
export function findWideChords(boundary: Boundary, widestM: number, slitM: number): Chords {
  const { xy, count } = boundary;
  const out = new ChordList();
  if (count === 0) return out.done();
  const close = new View(xy, new EdgeGrid(xy, count, SLIT_CELL_M), slitM, slitM);
  const view = new View(xy, new EdgeGrid(xy, count), widestM, slitM);
  for (let e = 0; e < count; e++) if (close.hasRoom(e)) view.look(e, out);
  return out.done();
}

/** Chords of `a`, then those of `b`, whose edges are counted from `firstOfB`. */
export function joinChords(a: Chords, b: Chords, firstOfB: number): Chords {
  if (b.count === 0) return a;
  const floats = (x: Float64Array, y: Float64Array): Float64Array => {
    const out = new Float64Array(x.length + y.length);
    out.set(x);
    out.set(y, x.length);
    return out;
  };
  const edges = (x: Uint32Array, y: Uint32Array): Uint32Array => {
    const out = new Uint32Array(x.length + y.length);
    out.set(x);
    y.forEach((e, i) => {
      out[x.length + i] = firstOfB + e;
    });
    return out;
  };
  return {
    count: a.count + b.count,
    near: edges(a.near, b.near),
    far: edges(a.far, b.far),
    quad: floats(a.quad, b.quad),
    widthM: floats(a.widthM, b.widthM),
    lengthM: floats(a.lengthM, b.lengthM),
  };
}

/** Chords in growing arrays: on a map of many slits there are more of them than records. */
export class ChordList {
  count = 0;
  private near = new Uint32Array(64);
  private far = new Uint32Array(64);
  private quad = new Float64Array(8 * 64);
  private widthM = new Float64Array(64);
  private lengthM = new Float64Array(64);
  private corners = 0;

  add(near: number, far: number, widthM: number, lengthM: number): void {
    if (this.count === this.near.length) this.grow();
    const c = this.count++;
    this.near[c] = near;
    this.far[c] = far;
    this.widthM[c] = widthM;
    this.lengthM[c] = lengthM;
    this.corners = 0;
  }

  /** The next corner of the chord that was added last, which has four. */
  corner(x: number, y: number): void {
    const at = 8 * (this.count - 1) + 2 * this.corners++;
    this.quad[at] = x;
    this.quad[at + 1] = y;
  }

  done(): Chords {
    const { count, near, far, quad, widthM, lengthM } = this;
    return {
      count,
      near: near.slice(0, count),
      far: far.slice(0, count),
      quad: quad.slice(0, 8 * count),
      widthM: widthM.slice(0, count),
      lengthM: lengthM.slice(0, count),
    };
  }

  private grow(): void {
    const size = 2 * this.near.length;
    this.near = grown(this.near, size);
    this.far = grown(this.far, size);
    this.quad = grown(this.quad, 8 * size);
    this.widthM = grown(this.widthM, size);
    this.lengthM = grown(this.lengthM, size);
  }
}

/** An edge in front of the searching edge: its part over [x0, x1], at heights h0 and h1 above the searching edge. */
interface Seen {
  edge: number;
  x0: number;
  x1: number;
  h0: number;
  h1: number;
  facing: boolean;
}

class View {
  /** The first `count` are those of the last search; the others are kept to be written over: there are millions on a map. */
  private readonly seen: Seen[] = [];
  private count = 0;
  private readonly cuts: number[] = [];

  constructor(
    private readonly xy: Float64Array,
    private readonly grid: EdgeGrid,
    private readonly widestM: number,
    private readonly slitM: number,
  ) {}

  /** Whether some of the edge has nothing in front of it within the widest reach. */
  hasRoom(e: number): boolean {
    const { xy, widestM } = this;
    const ax = xy[4 * e];
    const ay = xy[4 * e + 1];
    const length = lengthOf(xy[4 * e + 2] - ax, xy[4 * e + 3] - ay);
    if (length < LEAST_PART_M) return false;
    this.collect(e, ax, ay, (xy[4 * e + 2] - ax) / length, (xy[4 * e + 3] - ay) / length, length, widestM);
    return !this.isClosed(length, widestM);
  }

  look(e: number, out: ChordList): void {
    const { xy } = this;
    const ax = xy[4 * e];
    const ay = xy[4 * e + 1];
    const length = lengthOf(xy[4 * e + 2] - ax, xy[4 * e + 3] - ay);
    if (length < LEAST_PART_M) return;
    const dx = (xy[4 * e + 2] - ax) / length;
    const dy = (xy[4 * e + 3] - ay) / length;
    for (let reach = Math.min(FIRST_REACH_M, this.widestM); ; reach = Math.min(4 * reach, this.widestM)) {
      this.collect(e, ax, ay, dx, dy, length, reach);
      if (reach >= this.widestM || this.isClosed(length, reach)) break;
    }
    this.emit(e, ax, ay, dx, dy, length, out);
  }

  /** Edges within `reach` in front of `e` that face it. */
  private collect(e: number, ax: number, ay: number, dx: number, dy: number, length: number, reach: number): void {
    const { xy, grid } = this;
    this.count = 0;
    const bx = ax + dx * length;
    const by = ay + dy * length;
    // The region is on the left: its normal is (-dy, dx).
    const tx = -dy * reach;
    const ty = dx * reach;
    const n = grid.near(
      Math.min(ax, bx, ax + tx, bx + tx),
      Math.min(ay, by, ay + ty, by + ty),
      Math.max(ax, bx, ax + tx, bx + tx),
      Math.max(ay, by, ay + ty, by + ty),
    );
    for (let k = 0; k < n; k++) {
      const f = grid.found[k];
      if (f === e) continue;
      const px = xy[4 * f] - ax;
      const py = xy[4 * f + 1] - ay;
      const qx = xy[4 * f + 2] - ax;
      const qy = xy[4 * f + 3] - ay;
      const pu = px * dx + py * dy;
      const qu = qx * dx + qy * dy;
      // Runs against `e`, or it shows its back.
      if (qu >= pu) continue;
      const pv = py * dx - px * dy;
      const qv = qy * dx - qx * dy;
      const x0 = Math.max(0, qu);
      const x1 = Math.min(length, pu);
      if (x1 - x0 < LEAST_PART_M) continue;
      const slope = (pv - qv) / (pu - qu);
      const h0 = qv + slope * (x0 - qu);
      const h1 = qv + slope * (x1 - qu);
      if (h0 + h1 <= 0 || Math.min(h0, h1) > reach) continue;
      const facing = (qu - pu) / lengthOf(qx - px, qy - py) <= FACING_COS;
      this.see(f, x0, x1, Math.max(0, h0), Math.max(0, h1), facing);
    }
  }

  private see(edge: number, x0: number, x1: number, h0: number, h1: number, facing: boolean): void {
    const i = this.count++;
    if (i === this.seen.length) {
      this.seen.push({ edge, x0, x1, h0, h1, facing });
      return;
    }
    const s = this.seen[i];
    s.edge = edge;
    s.x0 = x0;
    s.x1 = x1;
    s.h0 = h0;
    s.h1 = h1;
    s.facing = facing;
  }

  /** Whether something nearer than `reach` lies in front of the whole edge. */
  private isClosed(length: number, reach: number): boolean {
    // On from where the edge is known to be closed, by the part that goes furthest of those that begin before.
    for (let to = LEAST_PART_M; ; ) {
      let next = to;
      for (let i = 0; i < this.count; i++) {
        const s = this.seen[i];
        if (s.x0 <= to && s.h0 <= reach && s.h1 <= reach && s.x1 + LEAST_PART_M > next) next = s.x1 + LEAST_PART_M;
      }
      if (next >= length || next === to) return next >= length;
      to = next;
    }
  }

  /** The nearest edge over each part of the searching edge. Boundaries do not cross, so the middle of a part decides for all of it. */
  private emit(e: number, ax: number, ay: number, dx: number, dy: number, length: number, out: ChordList): void {
    const { seen, count, cuts, widestM } = this;
    if (count === 0) return;
    cuts.length = 0;
    cuts.push(0, length);
    for (let i = 0; i < count; i++) cuts.push(seen[i].x0, seen[i].x1);
    cuts.sort((a, b) => a - b);
    let from = 0;
    let held: Seen | null = null;
    const close = (to: number): void => {
      if (held?.facing) this.put(e, held, from, to, ax, ay, dx, dy, out);
    };
    for (let i = 1; i < cuts.length; i++) {
      const x0 = cuts[i - 1];
      const x1 = cuts[i];
      if (x1 - x0 < LEAST_PART_M) continue;
      const mid = (x0 + x1) / 2;
      let best: Seen | null = null;
      let bestH = widestM;
      for (let k = 0; k < count; k++) {
        const s = seen[k];
        if (s.x0 > mid || s.x1 < mid) continue;
        const h = heightAt(s, mid);
        if (h < bestH) {
          bestH = h;
          best = s;
        }
      }
      if (best === held) continue;
      close(x0);
      held = best;
      from = x0;
    }
    close(length);
  }

  private put(
    e: number,
    s: Seen,
    from: number,
    to: number,
    ax: number,
    ay: number,
    dx: number,
    dy: number,
    out: ChordList,
  ): void {
    const x0 = Math.max(from, s.x0);
    const x1 = Math.min(to, s.x1);
    if (x1 - x0 < LEAST_PART_M) return;
    const at = (x: number, h: number): void => out.corner(ax + dx * x - dy * h, ay + dy * x + dx * h);
    const add = (u: number, v: number): void => {
      const h0 = heightAt(s, u);
      const h1 = heightAt(s, v);
      out.add(e, s.edge, (h0 + h1) / 2, v - u);
      at(u, 0);
      at(v, 0);
      at(v, h1);
      at(u, h0);
    };
    const h0 = heightAt(s, x0);
    const h1 = heightAt(s, x1);
    const cut = x0 + ((x1 - x0) * (this.slitM - h0)) / (h1 - h0 || 1);
    if (cut - x0 < LEAST_PART_M || x1 - cut < LEAST_PART_M) {
      add(x0, x1);
      return;
    }
    add(x0, cut);
    add(cut, x1);
  }
}

function heightAt(s: Seen, x: number): number {
  const width = s.x1 - s.x0;
  return width > 0 ? s.h0 + ((s.h1 - s.h0) * (x - s.x0)) / width : s.h0;
}
