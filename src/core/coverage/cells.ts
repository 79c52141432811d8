import { EMPTY, type Prepared, STRICT } from './prepare.ts';

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
  /** 1 where the entry is a strictly convex quadrilateral that runs counter-clockwise, on a map small enough for plain products. */
  quad: Uint8Array;
  /** Corners of such an entry, eight numbers. */
  corner: Int32Array;
}

export interface Cells {
  levels: Level[];
  /** Level of each shape, and its entry there. */
  level: Uint8Array;
  entry: Uint32Array;
}

/** All shapes but the empty ones, level by level. About 60 bytes per shape. */
export function sortIntoCells(p: Prepared): Cells {
  const { count, kind, box } = p;
  const [width, height] = usualSize(p);
  const level = new Uint8Array(count);
  const members = [0];
  for (let i = 0; i < count; i++) {
    if (kind[i] === EMPTY) continue;
    const w = box[4 * i + 2] - box[4 * i];
    const h = box[4 * i + 3] - box[4 * i + 1];
    let l = 0;
    for (let scale = 1; width * scale < w || height * scale < h; scale *= 4) l++;
    level[i] = l;
    while (members.length <= l) members.push(0);
    members[l]++;
  }
  const entry = new Uint32Array(count);
  const levels = members.map((m, l) => fillLevel(p, level, entry, l, width * 4 ** l, height * 4 ** l, m));
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
  width: number,
  height: number,
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
    quad: new Uint8Array(members),
    corner: new Int32Array(p.plain ? 8 * members : 0),
  };
  for (let i = 0; i < count; i++) {
    if (level[i] !== l || kind[i] === EMPTY) continue;
    const e = start[entry[i] + 1]++;
    entry[i] = e;
    put(p, out, i, e);
  }
  return out;
}

function put(p: Prepared, l: Level, i: number, e: number): void {
  const { box, kind, turn, plain } = p;
  const { xy, ringStart, shapeStart } = p.shapes;
  l.shape[e] = i;
  for (let k = 0; k < 4; k++) l.box[4 * e + k] = box[4 * i + k];
  const first = ringStart[shapeStart[i]];
  if (!plain || kind[i] !== STRICT || turn[i] < 0 || ringStart[shapeStart[i] + 1] - first !== 4) return;
  l.quad[e] = 1;
  for (let k = 0; k < 8; k++) l.corner[8 * e + k] = xy[2 * first + k];
}
