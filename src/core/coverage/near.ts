import { cross } from '../geometry/exact.ts';
import { CONVEX, EMPTY, type Prepared, STRICT } from './prepare.ts';

/** Which shapes meet which. Every pair is listed from both sides. */
export interface Near {
  /** First entry of each shape in `list`; one more than shapes. */
  start: Uint32Array;
  /** Neighbours of each shape, lowest first; a complex shape is its own neighbour. */
  list: Uint32Array;
  /** 1 where a shape shares ground with another one, or may. */
  overlaps: Uint8Array;
  /** Per point: 1 + the strictly convex shape that has the edge starting here as its own, run the other way; 0 for none. Empty unless asked for. */
  partner: Uint32Array;
}

/** Whole numbers in a growing array. */
class Pile {
  at = new Int32Array(1 << 16);
  n = 0;
  push(a: number, b: number): void {
    if (this.n + 2 > this.at.length) {
      const bigger = new Int32Array(this.at.length * 2);
      bigger.set(this.at);
      this.at = bigger;
    }
    this.at[this.n++] = a;
    this.at[this.n++] = b;
  }
}

/**
 * Finds the pairs by hashed cells of several sizes: a shape lies in the one cell of its lower left corner, on the level whose cells are
 * at least its size. With `touching`, pairs that share only boundary are listed too, except where they only share corners.
 */
export function findNear(p: Prepared, touching: boolean, progress?: (done: number) => void): Near {
  const { count, kind, box, shapes } = p;
  const pairs = new Pile();
  const overlaps = new Uint8Array(count);
  const partner = new Uint32Array(touching ? shapes.xy.length >> 1 : 0);

  const visit = (i: number, k: number): void => {
    const a = 4 * i;
    const b = 4 * k;
    if (box[a] > box[b + 2] || box[b] > box[a + 2] || box[a + 1] > box[b + 3] || box[b + 1] > box[a + 3]) return;
    const met = kind[i] <= CONVEX && kind[k] <= CONVEX ? contact(p, i, k, partner) : SHARED;
    if (met === APART || (met === TOUCH && !touching)) return;
    if (met === SHARED) {
      overlaps[i] = 1;
      overlaps[k] = 1;
    }
    pairs.push(i, k);
  };
  searchCells(p, visit, progress);
  for (let i = 0; i < count; i++) {
    if (kind[i] > CONVEX) pairs.push(i, i);
  }

  const start = new Uint32Array(count + 1);
  const { at, n } = pairs;
  for (let e = 0; e < n; e += 2) {
    start[at[e] + 1]++;
    if (at[e] !== at[e + 1]) start[at[e + 1] + 1]++;
  }
  for (let i = 0; i < count; i++) start[i + 1] += start[i];
  const list = new Uint32Array(start[count]);
  const fill = start.slice(0, count);
  for (let e = 0; e < n; e += 2) {
    const i = at[e];
    const k = at[e + 1];
    list[fill[i]++] = k;
    if (i !== k) list[fill[k]++] = i;
  }
  for (let i = 0; i < count; i++) sortPart(list, start[i], start[i + 1]);
  return { start, list, overlaps, partner };
}

function sortPart(list: Uint32Array, from: number, to: number): void {
  if (to - from > 24) {
    list.subarray(from, to).sort();
    return;
  }
  for (let i = from + 1; i < to; i++) {
    const v = list[i];
    let k = i - 1;
    while (k >= from && list[k] > v) {
      list[k + 1] = list[k];
      k--;
    }
    list[k + 1] = v;
  }
}

interface Level {
  cell: number;
  mask: number;
  start: Uint32Array;
  shape: Uint32Array;
}

function hash(cx: number, cy: number, mask: number): number {
  const h = Math.imul(cx, 0x9e3779b1) ^ Math.imul(cy, 0x85ebca6b);
  return (h ^ (h >>> 15)) & mask;
}

/** Calls `visit` once for every two shapes whose boxes may meet. */
function searchCells(p: Prepared, visit: (i: number, k: number) => void, progress?: (done: number) => void): void {
  const { count, kind, box } = p;
  const size = (i: number): number => Math.max(box[4 * i + 2] - box[4 * i], box[4 * i + 3] - box[4 * i + 1]);
  const base = usualSize(count, kind, size);
  const level = new Uint8Array(count);
  let top = 0;
  for (let i = 0; i < count; i++) {
    if (kind[i] === EMPTY) continue;
    let l = 0;
    for (let cell = base; cell < size(i); cell *= 4) l++;
    level[i] = l;
    if (l > top) top = l;
  }
  const levels: Level[] = [];
  for (let l = 0; l <= top; l++) levels.push(fillLevel(p, level, l, base * 4 ** l));

  let done = 0;
  for (let l = 0; l <= top; l++) {
    const own = levels[l];
    for (let e = 0; e < own.shape.length; e++) {
      if ((done++ & 2047) === 0) progress?.(done / count);
      const i = own.shape[e];
      const cx = Math.floor(box[4 * i] / own.cell);
      const cy = Math.floor(box[4 * i + 1] / own.cell);
      // Own level: the rest of the own cell, then the four cells that look back at this one no more.
      cellRest(p, own, hash(cx, cy, own.mask), e + 1, cx, cy, i, visit);
      cellRest(p, own, hash(cx + 1, cy, own.mask), 0, cx + 1, cy, i, visit);
      cellRest(p, own, hash(cx - 1, cy + 1, own.mask), 0, cx - 1, cy + 1, i, visit);
      cellRest(p, own, hash(cx, cy + 1, own.mask), 0, cx, cy + 1, i, visit);
      cellRest(p, own, hash(cx + 1, cy + 1, own.mask), 0, cx + 1, cy + 1, i, visit);
      for (let up = l + 1; up <= top; up++) {
        const over = levels[up];
        if (over.shape.length === 0) continue;
        const x0 = Math.floor((box[4 * i] - over.cell) / over.cell);
        const y0 = Math.floor((box[4 * i + 1] - over.cell) / over.cell);
        const x1 = Math.floor(box[4 * i + 2] / over.cell);
        const y1 = Math.floor(box[4 * i + 3] / over.cell);
        for (let x = x0; x <= x1; x++) {
          for (let y = y0; y <= y1; y++) cellRest(p, over, hash(x, y, over.mask), 0, x, y, i, visit);
        }
      }
    }
  }
}

function cellRest(
  p: Prepared,
  l: Level,
  bucket: number,
  from: number,
  cx: number,
  cy: number,
  i: number,
  visit: (i: number, k: number) => void,
): void {
  const { box } = p;
  const end = l.start[bucket + 1];
  for (let e = Math.max(from, l.start[bucket]); e < end; e++) {
    const k = l.shape[e];
    // Cells can share a bucket; a shape is met only through its own cell.
    if (Math.floor(box[4 * k] / l.cell) === cx && Math.floor(box[4 * k + 1] / l.cell) === cy) visit(i, k);
  }
}

function usualSize(count: number, kind: Uint8Array, size: (i: number) => number): number {
  const step = Math.max(1, Math.floor(count / 2048));
  const sample: number[] = [];
  for (let i = 0; i < count; i += step) if (kind[i] !== EMPTY) sample.push(size(i));
  if (sample.length === 0) return 1;
  const s = Float64Array.from(sample).sort();
  return Math.max(1, s[Math.floor(0.9 * (s.length - 1))]);
}

function fillLevel(p: Prepared, level: Uint8Array, l: number, cell: number): Level {
  const { count, kind, box } = p;
  let members = 0;
  for (let i = 0; i < count; i++) if (kind[i] !== EMPTY && level[i] === l) members++;
  let size = 16;
  while (size < members) size *= 2;
  const mask = size - 1;
  const start = new Uint32Array(size + 1);
  const shape = new Uint32Array(members);
  const at = (i: number): number => hash(Math.floor(box[4 * i] / cell), Math.floor(box[4 * i + 1] / cell), mask);
  for (let i = 0; i < count; i++) if (kind[i] !== EMPTY && level[i] === l) start[at(i) + 1]++;
  for (let b = 0; b < size; b++) start[b + 1] += start[b];
  const fill = start.slice(0, size);
  for (let i = 0; i < count; i++) if (kind[i] !== EMPTY && level[i] === l) shape[fill[at(i)]++] = i;
  return { cell, mask, start, shape };
}

const APART = 0;
const TOUCH = 1;
const SHARED = 2;

/** Whether two convex shapes share ground, only boundary, or neither (or no more than corners). */
function contact(p: Prepared, i: number, k: number, partner: Uint32Array): number {
  const first = separates(p, i, k, partner);
  return first !== SHARED ? first : separates(p, k, i, partner);
}

/** Looks for an edge of shape i that has all of shape k on its outer side. */
function separates(p: Prepared, i: number, k: number, partner: Uint32Array): number {
  const { xy, ringStart, shapeStart } = p.shapes;
  const a0 = ringStart[shapeStart[i]];
  const a1 = ringStart[shapeStart[i] + 1];
  const b0 = ringStart[shapeStart[k]];
  const b1 = ringStart[shapeStart[k] + 1];
  const turn = p.turn[i];
  let q = a1 - 1;
  for (let e = a0; e < a1; q = e++) {
    const ax = xy[2 * q];
    const ay = xy[2 * q + 1];
    const dx = (xy[2 * e] - ax) * turn;
    const dy = (xy[2 * e + 1] - ay) * turn;
    if (dx === 0 && dy === 0) continue;
    let on = 0;
    let v0 = -1;
    let v1 = -1;
    let b = b0;
    for (; b < b1; b++) {
      const c = cross(dx, dy, xy[2 * b] - ax, xy[2 * b + 1] - ay);
      if (c > 0) break;
      if (c === 0) {
        on++;
        if (v0 < 0) v0 = b;
        else v1 = b;
      }
    }
    if (b < b1) continue;
    if (on === 0) return APART;
    if (p.kind[i] !== STRICT || p.kind[k] !== STRICT) return TOUCH;
    const ex = xy[2 * e];
    const ey = xy[2 * e + 1];
    const s0 = place(ax, ay, ex, ey, xy[2 * v0], xy[2 * v0 + 1]);
    if (v1 < 0) return s0 === 2 ? TOUCH : APART;
    const s1 = place(ax, ay, ex, ey, xy[2 * v1], xy[2 * v1 + 1]);
    if ((s0 === 1 && s1 === 3) || (s0 === 3 && s1 === 1)) {
      if (partner.length > 0) {
        partner[q] = k + 1;
        // The edge of k starts at whichever of its two points comes first along its ring.
        partner[v1 === v0 + 1 ? v0 : v1] = i + 1;
      }
      return TOUCH;
    }
    return Math.max(s0, s1) <= 1 || Math.min(s0, s1) >= 3 ? APART : TOUCH;
  }
  return SHARED;
}

/** Where a point of the line through a segment lies along it: 0 before, 1 at the start, 2 inside, 3 at the end, 4 beyond. */
function place(ax: number, ay: number, ex: number, ey: number, x: number, y: number): number {
  const mainX = Math.abs(ex - ax) >= Math.abs(ey - ay);
  const l = mainX ? ex - ax : ey - ay;
  const s = (mainX ? x - ax : y - ay) * Math.sign(l);
  return s < 0 ? 0 : s === 0 ? 1 : s < Math.abs(l) ? 2 : s === Math.abs(l) ? 3 : 4;
}
