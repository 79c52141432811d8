import { sumUp } from '../geometry/buckets.ts';
import { EMPTY, type Prepared } from './prepare.ts';

/**
 * One size class of shapes in cells at least their size, each in the cell of its lower left corner. Cells are numbered row by row where that takes few
 * numbers, and hashed where the map is mostly empty. What a search reads is stored in the order of the cells.
 */
export interface Level {
  width: number;
  height: number;
  /** Cell of number 0; for hashed cells `columns` is 0. */
  x0: number;
  y0: number;
  columns: number;
  rows: number;
  mask: number;
  /** First entry of each cell; one more than cells. */
  start: Uint32Array;
  shape: Uint32Array;
  /** minX, minY, maxX, maxY of each entry. */
  box: Int32Array;
}

export interface Cells {
  levels: Level[];
  /** Level of each shape, and its entry there. */
  level: Uint8Array;
  entry: Uint32Array;
}

/** All shapes but the empty ones, level by level. About 30 bytes per shape. */
export function sortIntoCells(p: Prepared): Cells {
  const level = new Uint8Array(p.count);
  const entry = new Uint32Array(p.count);
  const fills = meetAll(p, level);
  for (const f of fills) f.layOut();
  countAll(p, fills, level, entry);
  // After it `start[k + 1]` runs from the first to the last of cell k.
  for (const f of fills) sumUp(f.level.start);
  putAll(p, fills, level, entry);
  return { levels: fills.map((f) => f.level), level, entry };
}

/** Finds the level of every shape. */
function meetAll(p: Prepared, level: Uint8Array): Filling[] {
  const { count, kind, box } = p;
  const [width, height] = usualSize(p);
  const fills: Filling[] = [];
  for (let i = 0; i < count; i++) {
    if (kind[i] === EMPTY) continue;
    const w = box[4 * i + 2] - box[4 * i];
    const h = box[4 * i + 3] - box[4 * i + 1];
    let l = 0;
    for (let scale = 1; width * scale < w || height * scale < h; scale *= 4) l++;
    level[i] = l;
    while (fills.length <= l) fills.push(new Filling(box, width * 4 ** fills.length, height * 4 ** fills.length));
    fills[l].meet(i, w, h);
  }
  return fills;
}

function countAll({ count, kind }: Prepared, fills: Filling[], level: Uint8Array, entry: Uint32Array): void {
  for (let i = 0; i < count; i++) if (kind[i] !== EMPTY) entry[i] = fills[level[i]].count(i);
}

function putAll({ count, kind }: Prepared, fills: Filling[], level: Uint8Array, entry: Uint32Array): void {
  for (let i = 0; i < count; i++) if (kind[i] !== EMPTY) entry[i] = fills[level[i]].put(i, entry[i]);
}

export function bucketOf(cx: number, cy: number, mask: number): number {
  const h = Math.imul(cx, 0x9e3779b1) ^ Math.imul(cy, 0x85ebca6b);
  return (h ^ (h >>> 15)) & mask;
}

/** Width and height that nine shapes of ten keep within. */
function usualSize(p: Prepared): [number, number] {
  const { count, kind, box } = p;
  const step = Math.max(1, Math.floor(count / 2048));
  const widths: number[] = [];
  const heights: number[] = [];
  for (let i = 0; i < count; i += step) {
    if (kind[i] === EMPTY) continue;
    widths.push(box[4 * i + 2] - box[4 * i]);
    heights.push(box[4 * i + 3] - box[4 * i + 1]);
  }
  const most = (v: number[]): number =>
    Math.max(1, Math.ceil(1.05 * (Float64Array.from(v).sort()[Math.floor(0.9 * (v.length - 1))] ?? 0)));
  return [most(widths), most(heights)];
}

/** A level while it is made: every shape is shown to `meet`, then to `count`, then to `put`. */
class Filling {
  level!: Level;
  private members = 0;
  private widest = 1;
  private highest = 1;
  private x0 = 2147483647;
  private y0 = 2147483647;
  private x1 = -2147483648;
  private y1 = -2147483648;

  constructor(
    private readonly box: Int32Array,
    private readonly mostWidth: number,
    private readonly mostHeight: number,
  ) {}

  /** A shape of this level, w wide and h high. */
  meet(i: number, w: number, h: number): void {
    const x = this.box[4 * i];
    const y = this.box[4 * i + 1];
    this.members++;
    if (w > this.widest) this.widest = w;
    if (h > this.highest) this.highest = h;
    if (x < this.x0) this.x0 = x;
    if (x > this.x1) this.x1 = x;
    if (y < this.y0) this.y0 = y;
    if (y > this.y1) this.y1 = y;
  }

  /** Chooses the cells. */
  layOut(): void {
    const { members, widest, highest, x0, y0, x1, y1 } = this;
    // As small as the largest of its shapes, so that few shapes share a cell, but not much smaller than what falls to one shape: of many
    // empty cells every lookup misses the cache.
    const share = members > 0 ? (2 * (x1 - x0) * (y1 - y0)) / members : 0;
    const scale = Math.max(1, Math.sqrt(share / (widest * highest)));
    const width = Math.max(widest, Math.min(this.mostWidth, Math.ceil(scale * widest)));
    const height = Math.max(highest, Math.min(this.mostHeight, Math.ceil(scale * highest)));
    const cx0 = members > 0 ? Math.floor(x0 / width) : 0;
    const cy0 = members > 0 ? Math.floor(y0 / height) : 0;
    let columns = members > 0 ? Math.floor(x1 / width) - cx0 + 1 : 0;
    const rows = members > 0 ? Math.floor(y1 / height) - cy0 + 1 : 0;
    let cells = columns * rows;
    if (cells > 8 * members + 1024) {
      columns = 0;
      cells = 16;
      while (cells < members) cells *= 2;
    }
    this.level = {
      width,
      height,
      x0: cx0,
      y0: cy0,
      columns,
      rows,
      mask: cells - 1,
      start: new Uint32Array(cells + 2),
      shape: new Uint32Array(members),
      box: new Int32Array(4 * members),
    };
  }

  /** Counts shape i and returns its cell. */
  count(i: number): number {
    const { level: l, box } = this;
    const cx = Math.floor(box[4 * i] / l.width);
    const cy = Math.floor(box[4 * i + 1] / l.height);
    const cell = l.columns > 0 ? (cy - l.y0) * l.columns + cx - l.x0 : bucketOf(cx, cy, l.mask);
    l.start[cell + 2]++;
    return cell;
  }

  /** Puts shape i into its cell and returns its entry. */
  put(i: number, cell: number): number {
    const { level: l, box } = this;
    const e = l.start[cell + 1]++;
    l.shape[e] = i;
    l.box[4 * e] = box[4 * i];
    l.box[4 * e + 1] = box[4 * i + 1];
    l.box[4 * e + 2] = box[4 * i + 2];
    l.box[4 * e + 3] = box[4 * i + 3];
    return e;
  }
}
