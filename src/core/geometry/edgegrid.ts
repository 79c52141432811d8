import { sumUp } from './buckets.ts';
import { Budget, tooClose } from './budget.ts';

/** Limit of edges found by all searches together: for any map, and more for each edge of the grid. */
const MOST_MET = 50_000_000;
const MET_EACH = 2000;

/** Cells for each edge, and cells that an edge's box touches, on average; a few thousand more in any map. */
const MOST_CELLS_EACH = 16;

/** Square cells over edges (four numbers an edge, meters), each edge in every cell that its box touches. */
export class EdgeGrid {
  /** The edges found by the last search, each once. */
  found = new Int32Array(64);
  private readonly cell: number;
  private readonly x0: number;
  private readonly y0: number;
  private readonly columns: number;
  private readonly rows: number;
  private readonly start: Uint32Array;
  private readonly list: Uint32Array;
  private readonly mark: Uint32Array;
  private round = 0;

  /** All searches draw on `budget`; beyond it they throw `UserError` 'too-close'. */
  constructor(
    xy: Float64Array,
    count: number,
    cellM = 4,
    private readonly budget = new Budget(MOST_MET, MET_EACH, count, tooClose),
  ) {
    let [x0, y0, x1, y1] = [Infinity, Infinity, -Infinity, -Infinity];
    for (let i = 0; i < 4 * count; i += 2) {
      if (xy[i] < x0) x0 = xy[i];
      if (xy[i] > x1) x1 = xy[i];
      if (xy[i + 1] < y0) y0 = xy[i + 1];
      if (xy[i + 1] > y1) y1 = xy[i + 1];
    }
    // Few edges over wide ground, or long ones: larger cells, so that there are never many more cells than edges, nor many cells for each edge.
    let cell = cellM;
    const most = MOST_CELLS_EACH * count + 1024;
    const cellsOf = (c: number): number => (Math.floor((x1 - x0) / c) + 1) * (Math.floor((y1 - y0) / c) + 1);
    while (count > 0 && (cellsOf(cell) > most || placesOf(xy, count, cell) > most)) cell *= 2;
    this.cell = cell;
    this.x0 = x0;
    this.y0 = y0;
    this.columns = count > 0 ? Math.floor((x1 - x0) / cell) + 1 : 0;
    this.rows = count > 0 ? Math.floor((y1 - y0) / cell) + 1 : 0;
    const cells = Math.max(1, this.columns * this.rows);
    // Counted, then placed: what lies in which cell is known without a second list. Two places ahead, as `intoBuckets` does.
    const start = new Uint32Array(cells + 2);
    this.tally(xy, count, start);
    sumUp(start);
    this.list = new Uint32Array(start[cells + 1]);
    this.place(xy, count, start);
    this.start = start.subarray(0, cells + 1);
    this.mark = new Uint32Array(count);
  }

  private tally(xy: Float64Array, count: number, start: Uint32Array): void {
    const { rows } = this;
    for (let e = 0; e < count; e++) {
      const b = this.column(Math.max(xy[4 * e], xy[4 * e + 2]));
      const c = this.row(Math.min(xy[4 * e + 1], xy[4 * e + 3]));
      const d = this.row(Math.max(xy[4 * e + 1], xy[4 * e + 3]));
      for (let i = this.column(Math.min(xy[4 * e], xy[4 * e + 2])); i <= b; i++)
        for (let j = c; j <= d; j++) start[i * rows + j + 2]++;
    }
  }

  private place(xy: Float64Array, count: number, start: Uint32Array): void {
    const { rows, list } = this;
    for (let e = 0; e < count; e++) {
      const b = this.column(Math.max(xy[4 * e], xy[4 * e + 2]));
      const c = this.row(Math.min(xy[4 * e + 1], xy[4 * e + 3]));
      const d = this.row(Math.max(xy[4 * e + 1], xy[4 * e + 3]));
      for (let i = this.column(Math.min(xy[4 * e], xy[4 * e + 2])); i <= b; i++)
        for (let j = c; j <= d; j++) list[start[i * rows + j + 1]++] = e;
    }
  }

  /** Looks up every edge in cells that the box touches; returns how many. */
  near(minX: number, minY: number, maxX: number, maxY: number): number {
    if (this.columns === 0) return 0;
    this.round++;
    let n = 0;
    const a = this.column(minX);
    const b = this.column(maxX);
    const c = this.row(minY);
    const d = this.row(maxY);
    for (let i = a; i <= b; i++) {
      this.budget.spend(this.start[i * this.rows + d + 1] - this.start[i * this.rows + c]);
      for (let k = this.start[i * this.rows + c]; k < this.start[i * this.rows + d + 1]; k++) {
        const e = this.list[k];
        if (this.mark[e] === this.round) continue;
        this.mark[e] = this.round;
        if (n === this.found.length) this.found = larger(this.found, n);
        this.found[n++] = e;
      }
    }
    return n;
  }

  private column(x: number): number {
    return Math.min(this.columns - 1, Math.max(0, Math.floor((x - this.x0) / this.cell)));
  }

  private row(y: number): number {
    return Math.min(this.rows - 1, Math.max(0, Math.floor((y - this.y0) / this.cell)));
  }
}

/** How many cells of a side the boxes of all edges touch, or one more in each direction. */
function placesOf(xy: Float64Array, count: number, cell: number): number {
  let n = 0;
  for (let e = 0; e < 4 * count; e += 4)
    n += (Math.abs(xy[e + 2] - xy[e]) / cell + 1) * (Math.abs(xy[e + 3] - xy[e + 1]) / cell + 1);
  return n;
}

/** The numbers, with room for twice as many as `least`. */
function larger(list: Int32Array<ArrayBuffer>, least: number): Int32Array<ArrayBuffer> {
  const out = new Int32Array(2 * least);
  out.set(list);
  return out;
}
