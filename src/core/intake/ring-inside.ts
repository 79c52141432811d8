import { cross } from '../geometry/exact.ts';

/** Comparisons of two edges or two boxes that sorting the rings of one record may take, and as many again for each of its points; far beyond any real record. */
const RECORD_BUDGET = 20_000_000;
const PER_POINT = 400;
/** The same for all records of a map together. */
const MAP_BUDGET = 400_000_000;

/** Counts the comparisons that sorting rings takes. A search that has spent them all stops, and its record is skipped. */
export class LookBudget {
  /** Spent on this record, and on those before it. */
  private spent = 0;
  private before = 0;
  private most = RECORD_BUDGET;

  begin(points: number): void {
    this.before += this.spent;
    this.spent = 0;
    this.most = RECORD_BUDGET + PER_POINT * points;
  }

  spend(looks: number): void {
    this.spent += looks;
  }

  isSpent(): boolean {
    return this.spent > this.most || this.before + this.spent > MAP_BUDGET;
  }
}

/** Rings with more points are searched through an index. */
const FEW = 32;

/** Tells whether points and rings lie inside the rings of one record. */
export class RingLocator {
  private readonly indexes = new Map<number, RowIndex>();

  constructor(
    private readonly xy: Int32Array,
    private readonly ringStart: Uint32Array,
    private readonly looks: LookBudget,
  ) {}

  /** Forgets the rings of the last record. */
  begin(): void {
    this.indexes.clear();
  }

  /** 1 when ring `a` lies inside ring `b`, -1 outside, 0 when every point of `a` is on `b`. The first point of `a` that is not on `b` decides. */
  inside(a: number, b: number): number {
    for (let p = this.ringStart[a]; p < this.ringStart[a + 1]; p++) {
      const side = this.pointIn(this.xy[2 * p], this.xy[2 * p + 1], b);
      if (side !== 0 || this.looks.isSpent()) return side;
    }
    return 0;
  }

  /** 1 when a point lies inside a ring, -1 outside, 0 on it. */
  pointIn(x: number, y: number, ring: number): number {
    const { xy } = this;
    const from = this.ringStart[ring];
    const to = this.ringStart[ring + 1];
    if (to - from > FEW) return this.pointInRows(x, y, ring);
    this.looks.spend(to - from);
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
    this.looks.spend(1 + rows.start[row + 1] - rows.start[row]);
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
