import { EMPTY, type Prepared } from './prepare.ts';

/**
 * One size class of shapes in cells at least their size, each in the cell of its lower left corner. Cells are numbered row by row where that takes few
 * numbers, and hashed where the map is mostly empty. What a search looks at stands in the order of the cells.
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
  const { count, kind, box } = p;
  const [width, height] = usualSize(p);
  const level = new Uint8Array(count);
  const members: number[] = [];
  // The largest shape of each level: cells larger than that would only be fuller.
  const widest: number[] = [];
  const highest: number[] = [];
  for (let i = 0; i < count; i++) {
    if (kind[i] === EMPTY) continue;
    const w = box[4 * i + 2] - box[4 * i];
    const h = box[4 * i + 3] - box[4 * i + 1];
    let l = 0;
    for (let scale = 1; width * scale < w || height * scale < h; scale *= 4) l++;
    level[i] = l;
    while (members.length <= l) {
      members.push(0);
      widest.push(1);
      highest.push(1);
    }
    members[l]++;
    if (w > widest[l]) widest[l] = w;
    if (h > highest[l]) highest[l] = h;
  }
  const entry = new Uint32Array(count);
  const levels = members.map((m, l) => {
    const most = 4 ** l;
    return fillLevel(p, level, entry, l, widest[l], highest[l], width * most, height * most, m);
  });
  return { levels, level, entry };
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

function fillLevel(
  p: Prepared,
  level: Uint8Array,
  entry: Uint32Array,
  l: number,
  widest: number,
  highest: number,
  mostWidth: number,
  mostHeight: number,
  members: number,
): Level {
  const { count, kind, box } = p;
  let x0 = Infinity;
  let y0 = Infinity;
  let x1 = -Infinity;
  let y1 = -Infinity;
  for (let i = 0; i < count; i++) {
    if (level[i] !== l || kind[i] === EMPTY) continue;
    if (box[4 * i] < x0) x0 = box[4 * i];
    if (box[4 * i] > x1) x1 = box[4 * i];
    if (box[4 * i + 1] < y0) y0 = box[4 * i + 1];
    if (box[4 * i + 1] > y1) y1 = box[4 * i + 1];
  }
  // As small as the largest of its shapes, so that few shapes share a cell, but not much smaller than what falls to one shape: of many
  // empty cells every look is waited for.
  const share = (2 * (x1 - x0) * (y1 - y0)) / members;
  const scale = Math.max(1, Math.sqrt(share / (widest * highest)) || 1);
  const width = Math.max(widest, Math.min(mostWidth, Math.ceil(scale * widest)));
  const height = Math.max(highest, Math.min(mostHeight, Math.ceil(scale * highest)));
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
  const mask = cells - 1;
  // Counted first; then `start[k + 1]` runs from the first to the last of cell k.
  const start = new Uint32Array(cells + 2);
  for (let i = 0; i < count; i++) {
    if (level[i] !== l || kind[i] === EMPTY) continue;
    const cx = Math.floor(box[4 * i] / width);
    const cy = Math.floor(box[4 * i + 1] / height);
    const k = columns > 0 ? (cy - cy0) * columns + cx - cx0 : bucketOf(cx, cy, mask);
    entry[i] = k;
    start[k + 2]++;
  }
  for (let k = 2; k <= cells; k++) start[k + 1] += start[k];
  const out: Level = {
    width,
    height,
    x0: cx0,
    y0: cy0,
    columns,
    rows,
    mask,
    start,
    shape: new Uint32Array(members),
    box: new Int32Array(4 * members),
  };
  for (let i = 0; i < count; i++) {
    if (level[i] !== l || kind[i] === EMPTY) continue;
    const e = start[entry[i] + 1]++;
    entry[i] = e;
    out.shape[e] = i;
    out.box[4 * e] = box[4 * i];
    out.box[4 * e + 1] = box[4 * i + 1];
    out.box[4 * e + 2] = box[4 * i + 2];
    out.box[4 * e + 3] = box[4 * i + 3];
  }
  return out;
}
