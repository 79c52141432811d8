import { intoBuckets } from './buckets.ts';
import { Budget, tooClose } from './budget.ts';

/** Points in square cells, built once and searched many times. Points of one cell are adjacent in memory. */
export interface PointGrid {
  /**
   * Looks up every point in cells that touch the square of half side `r` around (x, y). Returns how many; they are the first of `found`,
   * until the next search: cells from west to east and in each column from south to north, in each cell the points as they were numbered.
   * Throws `UserError` 'too-close' when all searches together have found far more than on any real map.
   */
  near(x: number, y: number, r: number): number;
  found: Int32Array;
}

/** Limit of points found by all searches together: for any map, and more for each point of the grid; real maps have some hundred. */
const MOST_FOUND = 70_000_000;
const FOUND_EACH = 1000;
/** The same for a grid of bars that is asked for whole widths around each: at five bars a second some find thousands. */
export const FOUND_EACH_BAR = 5000;
/** And more for each of its sections, where each of them asks. */
export const FOUND_EACH_SECTION = 500;

/** Index over points (meters, interleaved in `xy`) of the numbers in `points`, which rise. `cell` is the cell side in meters. */
export function makePointGrid(xy: Float64Array, points: Uint32Array, cell: number, each = FOUND_EACH): PointGrid {
  return new Grid(xy, points, cell, each);
}

/** The numbers 0..n-1. */
export function upTo(n: number): Uint32Array {
  const out = new Uint32Array(n);
  for (let i = 0; i < n; i++) out[i] = i;
  return out;
}

class Grid implements PointGrid {
  found = new Int32Array(64);
  private readonly inv: number;
  private readonly x0: number;
  private readonly y0: number;
  private readonly columns: number;
  /** Cells are numbered column by column; 0 where the map is mostly empty and they are hashed. */
  private readonly rows: number;
  private readonly mask: number;
  private readonly start: Uint32Array;
  private readonly list: Uint32Array;
  private readonly budget: Budget;

  constructor(
    private readonly xy: Float64Array,
    points: Uint32Array,
    cell: number,
    each: number,
  ) {
    const inv = 1 / cell;
    const n = points.length;
    const [x0, y0, x1, y1] = boxOf(xy, points);
    this.inv = inv;
    this.x0 = n > 0 ? Math.floor(x0 * inv) : 0;
    this.y0 = n > 0 ? Math.floor(y0 * inv) : 0;
    this.columns = n > 0 ? Math.floor(x1 * inv) - this.x0 + 1 : 0;
    let rows = n > 0 ? Math.floor(y1 * inv) - this.y0 + 1 : 0;
    let cells = this.columns * rows;
    if (!(cells <= 8 * n + 1024)) {
      rows = 0;
      cells = 16;
      while (cells < 2 * n) cells *= 2;
    }
    this.rows = rows;
    this.mask = cells - 1;
    const { start, list } = intoBuckets(this.cellsOf(points), n, cells);
    this.start = start;
    this.list = pointsOf(list, points);
    this.budget = new Budget(MOST_FOUND, each, n, tooClose);
  }

  private cellsOf(points: Uint32Array): Int32Array {
    const { xy, inv, rows, x0, y0, mask } = this;
    const out = new Int32Array(points.length);
    for (let e = 0; e < out.length; e++) {
      const cx = Math.floor(xy[2 * points[e]] * inv);
      const cy = Math.floor(xy[2 * points[e] + 1] * inv);
      out[e] = rows > 0 ? (cx - x0) * rows + cy - y0 : bucketOf(cx, cy, mask);
    }
    return out;
  }

  near(x: number, y: number, r: number): number {
    const { inv } = this;
    const x0 = Math.floor((x - r) * inv);
    const x1 = Math.floor((x + r) * inv);
    const y0 = Math.floor((y - r) * inv);
    const y1 = Math.floor((y + r) * inv);
    const n = this.rows > 0 ? this.inColumns(x0, x1, y0, y1) : this.inBuckets(x0, x1, y0, y1);
    this.budget.spend(n);
    return n;
  }

  private inColumns(x0: number, x1: number, y0: number, y1: number): number {
    const { rows, start, list } = this;
    const from = Math.max(0, x0 - this.x0);
    const to = Math.min(this.columns - 1, x1 - this.x0);
    const low = Math.max(0, y0 - this.y0);
    const high = Math.min(rows - 1, y1 - this.y0);
    if (low > high) return 0;
    let n = 0;
    for (let c = from; c <= to; c++) {
      const first = start[c * rows + low];
      const end = start[c * rows + high + 1];
      if (n + end - first > this.found.length) this.grow(n + end - first);
      const { found } = this;
      for (let e = first; e < end; e++) found[n++] = list[e];
    }
    return n;
  }

  private inBuckets(x0: number, x1: number, y0: number, y1: number): number {
    const { start, list, xy, inv, mask } = this;
    let n = 0;
    for (let cx = x0; cx <= x1; cx++) {
      for (let cy = y0; cy <= y1; cy++) {
        const k = bucketOf(cx, cy, mask);
        const end = start[k + 1];
        if (n + end - start[k] > this.found.length) this.grow(n + end - start[k]);
        const { found } = this;
        // Cells can share a bucket, so a point is found only through its own cell.
        for (let e = start[k]; e < end; e++) {
          const i = list[e];
          if (Math.floor(xy[2 * i] * inv) === cx && Math.floor(xy[2 * i + 1] * inv) === cy) found[n++] = i;
        }
      }
    }
    return n;
  }

  private grow(least: number): void {
    const bigger = new Int32Array(2 * least);
    bigger.set(this.found);
    this.found = bigger;
  }
}

/** Smallest and largest x and y: x0, y0, x1, y1. */
function boxOf(xy: Float64Array, points: Uint32Array): [number, number, number, number] {
  let x0 = Infinity;
  let y0 = Infinity;
  let x1 = -Infinity;
  let y1 = -Infinity;
  for (let e = 0; e < points.length; e++) {
    const x = xy[2 * points[e]];
    const y = xy[2 * points[e] + 1];
    if (x < x0) x0 = x;
    if (x > x1) x1 = x;
    if (y < y0) y0 = y;
    if (y > y1) y1 = y;
  }
  return [x0, y0, x1, y1];
}

/** The points at the indices in `list`, which is overwritten. */
function pointsOf(list: Uint32Array, points: Uint32Array): Uint32Array {
  for (let e = 0; e < list.length; e++) list[e] = points[list[e]];
  return list;
}

function bucketOf(cx: number, cy: number, mask: number): number {
  const h = Math.imul(cx, 0x9e3779b1) ^ Math.imul(cy, 0x85ebca6b);
  return (h ^ (h >>> 15)) & mask;
}
