import { intoBuckets, sumUp } from '../geometry/buckets.ts';
import type { ArcSet } from './arcs.ts';
import type { Flux } from './flux.ts';
import type { Polygons, Progress } from './index.ts';

/** Arcs joined to valid polygons, and their area by their rings. */
export interface Stitched {
  polygons: Polygons;
  areaM2: number;
}

/**
 * At a node with several ways on, an arc goes on to the one that bounds the same ground: the sharpest turn to the left. A walk is then one
 * connected side of one polygon; where it comes back to a node it is pinched off there. Loops run counter-clockwise round ground and
 * clockwise round holes; the holes of a walk without outer loop are given to the polygon that lies just west of them.
 */
export function stitch(arcs: ArcSet, flux: Flux, progress?: Progress): Stitched {
  const next = joinUp(arcs);
  progress?.(0.3);
  const loops = walk(arcs, next);
  progress?.(0.6);
  const owner = ownHoles(arcs, loops);
  progress?.(0.8);
  return build(arcs, loops, owner, flux);
}

/** For each arc the arc that follows it. */
function joinUp(arcs: ArcSet): Int32Array {
  const { count, from, to, nodes } = arcs;
  const out = intoBuckets(from, count, nodes.count);
  const into = intoBuckets(to, count, nodes.count);
  const next = new Int32Array(count).fill(-1);
  const taken = new Uint8Array(count);
  for (let v = 0; v < nodes.count; v++) {
    const i0 = into.start[v];
    const i1 = into.start[v + 1];
    const o0 = out.start[v];
    const o1 = out.start[v + 1];
    if (i1 - i0 === 1 && o1 - o0 === 1) {
      next[into.list[i0]] = out.list[o0];
      continue;
    }
    for (let i = i0; i < i1; i++) {
      const a = into.list[i];
      let best = -1;
      for (let o = o0; o < o1; o++) {
        const b = out.list[o];
        if (taken[b] === 0 && (best < 0 || sooner(arcs, a, b, best))) best = b;
      }
      if (best < 0) break;
      taken[best] = 1;
      next[a] = best;
    }
  }
  return next;
}

/** Clockwise from the way back along `a`, whether arc b comes before arc c. */
function sooner(arcs: ArcSet, a: number, b: number, c: number): boolean {
  const kb = quarter(arcs, a, b);
  const kc = quarter(arcs, a, c);
  if (kb !== kc) return kb < kc;
  return arcs.turn(b, c) < 0;
}

/** 0 left of arc a, 1 straight on, 2 right of it, 3 straight back. */
function quarter(arcs: ArcSet, a: number, b: number): number {
  const t = arcs.turn(a, b);
  if (t > 0) return 0;
  if (t < 0) return 2;
  return arcs.ahead(a, b) > 0 ? 1 : 3;
}

interface Loops {
  count: number;
  /** Arcs of each loop, in order. */
  start: Int32Array;
  arc: Int32Array;
  /** +1 round ground, -1 round a hole. */
  way: Int8Array;
  /** The walk that the loop was cut from. */
  walk: Int32Array;
  /** Per arc its loop, -1 for arcs that were dropped. */
  loopOf: Int32Array;
  /** Per node how many arcs of the set leave it. */
  degree: Uint32Array;
}

function walk(arcs: ArcSet, next: Int32Array): Loops {
  const walking = new Walking(arcs, next);
  walking.all();
  return walking.result();
}

/** Follows arcs from each that was not yet come by. */
class Walking {
  private readonly seen: Uint8Array;
  /** The arcs that lead to where the walk is, and per node the place of the one that leaves it, -1 for none. */
  private readonly stack: Int32Array;
  private readonly stackAt: Int32Array;
  private readonly arc: Int32Array;
  private readonly loopOf: Int32Array;
  private readonly start: number[] = [0];
  private readonly way: number[] = [];
  private readonly walkOf: number[] = [];
  private filled = 0;
  private walks = 0;

  constructor(
    private readonly arcs: ArcSet,
    private readonly next: Int32Array,
  ) {
    const { count, nodes } = arcs;
    this.seen = new Uint8Array(count);
    this.stack = new Int32Array(count);
    this.stackAt = new Int32Array(nodes.count).fill(-1);
    this.arc = new Int32Array(count);
    this.loopOf = new Int32Array(count).fill(-1);
  }

  all(): void {
    const { seen, stack, stackAt } = this;
    const { count, from } = this.arcs;
    for (let i = 0; i < count; i++) {
      if (seen[i] === 1) continue;
      const top = this.follow(i);
      // Back at the first arc, the rest of the stack is the last loop. Arcs that lead nowhere cannot close and are left out.
      const last = this.next[stack[top - 1]];
      if (last >= 0 && from[last] === from[stack[0]]) this.close(0, top);
      else for (let k = 0; k < top; k++) stackAt[from[stack[k]]] = -1;
      this.walks++;
    }
  }

  /** Walks on from arc i to one that was come by, pinching off loops; how many arcs are then on the stack. */
  private follow(i: number): number {
    const { seen, stack, stackAt, next } = this;
    const { from } = this.arcs;
    let top = 0;
    for (let a = i; a >= 0 && seen[a] === 0; a = next[a]) {
      const at = stackAt[from[a]];
      if (at >= 0) {
        this.close(at, top);
        top = at;
      }
      seen[a] = 1;
      stackAt[from[a]] = top;
      stack[top++] = a;
    }
    return top;
  }

  /** Makes a loop of the arcs on the stack from place `depth` on. */
  private close(depth: number, top: number): void {
    const { arcs, arc, way } = this;
    const first = this.filled;
    const end = first + top - depth;
    this.take(depth, top, first);
    const turn = sense(arcs, arc, first, end);
    if (end - first < 3 || turn === 0) return;
    this.filled = end;
    this.number(first, end, way.length);
    this.start.push(end);
    way.push(turn);
    this.walkOf.push(this.walks);
  }

  private take(depth: number, top: number, first: number): void {
    const { arc, stack, stackAt } = this;
    const { from } = this.arcs;
    for (let k = depth; k < top; k++) {
      arc[first + k - depth] = stack[k];
      stackAt[from[stack[k]]] = -1;
    }
  }

  private number(first: number, end: number, loop: number): void {
    const { arc, loopOf } = this;
    for (let k = first; k < end; k++) loopOf[arc[k]] = loop;
  }

  result(): Loops {
    const { start, way, walkOf, arc, loopOf } = this;
    return {
      count: way.length,
      start: Int32Array.from(start),
      arc,
      way: Int8Array.from(way),
      walk: Int32Array.from(walkOf),
      loopOf,
      degree: degrees(this.arcs),
    };
  }
}

function degrees({ count, from, nodes }: ArcSet): Uint32Array {
  const degree = new Uint32Array(nodes.count);
  for (let i = 0; i < count; i++) degree[from[i]]++;
  return degree;
}

/** Which way a simple loop runs: its turn at the lowest of its westernmost nodes, exact by the directions of the two arcs there. */
function sense(arcs: ArcSet, arc: Int32Array, first: number, end: number): number {
  const { from, nodes } = arcs;
  let best = first;
  for (let k = first + 1; k < end; k++) {
    if (further(arcs, from[arc[k]], from[arc[best]])) best = k;
  }
  const before = arc[best === first ? end - 1 : best - 1];
  const t = arcs.turn(before, arc[best]);
  if (t !== 0) return t > 0 ? 1 : -1;
  let area = 0;
  const x0 = nodes.x[from[arc[first]]];
  for (let k = first; k < end; k++) {
    const v = from[arc[k]];
    const w = arcs.to[arc[k]];
    area += (nodes.x[v] + nodes.x[w] - 2 * x0) * (nodes.y[w] - nodes.y[v]);
  }
  return Math.sign(area);
}

/** The outer loop of each loop (itself for outer loops; -1 where a hole has none). */
function ownHoles(arcs: ArcSet, loops: Loops): Int32Array {
  const owner = new Int32Array(loops.count).fill(-1);
  const open: number[] = [];
  /** Of a walk without an outer loop, the loop that reaches furthest west speaks for all. */
  const speaker = new Int32Array(loops.count).fill(-1);
  for (let l = 0; l < loops.count; ) {
    let end = l;
    let outer = -1;
    while (end < loops.count && loops.walk[end] === loops.walk[l]) {
      if (loops.way[end] > 0) {
        outer = end;
        owner[end] = end;
      }
      end++;
    }
    if (outer >= 0) for (let k = l; k < end; k++) if (owner[k] < 0) owner[k] = outer;
    if (outer < 0) {
      let west = l;
      for (let k = l + 1; k < end; k++)
        if (further(arcs, westernmost(arcs, loops, k), westernmost(arcs, loops, west))) west = k;
      speaker.fill(west, l, end);
      open.push(west);
    }
    l = end;
  }
  if (open.length > 0) seekOwners(arcs, loops, owner, open, speaker);
  for (let l = 0; l < loops.count; l++) if (owner[l] < 0 && speaker[l] >= 0) owner[l] = owner[speaker[l]];
  return owner;
}

/** Whether node v lies further west than node w, or as far and lower. */
function further({ nodes }: ArcSet, v: number, w: number): boolean {
  return nodes.x[v] < nodes.x[w] || (nodes.x[v] === nodes.x[w] && nodes.y[v] < nodes.y[w]);
}

function westernmost(arcs: ArcSet, loops: Loops, l: number): number {
  let best = arcs.from[loops.arc[loops.start[l]]];
  for (let k = loops.start[l] + 1; k < loops.start[l + 1]; k++) {
    const v = arcs.from[loops.arc[k]];
    if (further(arcs, v, best)) best = v;
  }
  return best;
}

/** Lowest and highest end of the arcs, and how much they rise and fall in all. */
function heightOf({ count, from, to, nodes }: ArcSet): { minY: number; maxY: number; rise: number } {
  let minY = Infinity;
  let maxY = -Infinity;
  let rise = 0;
  for (let i = 0; i < count; i++) {
    const y = nodes.y[from[i]];
    rise += Math.abs(nodes.y[to[i]] - y);
    if (y < minY) minY = y;
    if (y > maxY) maxY = y;
  }
  return { minY, maxY, rise };
}

/** Counts in `rowStart` how many arcs reach into each wanted row. */
function tallyRows(firstRow: Int32Array, lastRow: Int32Array, wanted: Uint8Array, rowStart: Uint32Array): void {
  for (let i = 0; i < firstRow.length; i++)
    for (let r = firstRow[i]; r <= lastRow[i]; r++) if (wanted[r] === 1) rowStart[r]++;
}

function placeInRows(
  firstRow: Int32Array,
  lastRow: Int32Array,
  wanted: Uint8Array,
  rowStart: Uint32Array,
  inRow: Int32Array,
): void {
  for (let i = firstRow.length - 1; i >= 0; i--)
    for (let r = firstRow[i]; r <= lastRow[i]; r++) if (wanted[r] === 1) inRow[--rowStart[r]] = i;
}

/** Looks west from each open hole: the arc met first belongs to the same polygon, as its outer loop or as another hole of it. */
function seekOwners(arcs: ArcSet, loops: Loops, owner: Int32Array, open: number[], speaker: Int32Array): void {
  const { count, from, to, nodes } = arcs;
  const { minY, maxY, rise } = heightOf(arcs);
  // Rows about as high as an arc, so that an arc lies in few of them.
  const rows = Math.max(1, Math.min(1 << 16, count >> 2, Math.ceil(((maxY - minY) * count) / (rise || 1))));
  const perStep = rows / (maxY - minY || 1);
  const row = (y: number): number => Math.min(rows - 1, Math.max(0, Math.floor((y - minY) * perStep)));
  // Only rows with an open hole are filled.
  const wanted = new Uint8Array(rows);
  const west = new Float64Array(open.length);
  const low = new Float64Array(open.length);
  open.forEach((l, i) => {
    const v = westernmost(arcs, loops, l);
    west[i] = nodes.x[v];
    low[i] = nodes.y[v];
    wanted[row(low[i])] = 1;
  });
  // Counted first; then each arc is put into its rows, from the last arc on, so that the starts can be counted down in place.
  const rowStart = new Uint32Array(rows + 1);
  const firstRow = new Int32Array(count);
  const lastRow = new Int32Array(count).fill(-1);
  const span = (i: number): void => {
    const a = row(nodes.y[from[i]]);
    const b = row(nodes.y[to[i]]);
    firstRow[i] = Math.min(a, b);
    lastRow[i] = Math.max(a, b);
  };
  for (let i = 0; i < count; i++) if (loops.loopOf[i] >= 0) span(i);
  tallyRows(firstRow, lastRow, wanted, rowStart);
  sumUp(rowStart);
  const inRow = new Int32Array(rowStart[rows]);
  placeInRows(firstRow, lastRow, wanted, rowStart, inRow);
  const neighbour = new Map<number, number>();
  open.forEach((l, i) => {
    const px = west[i];
    const py = low[i];
    let bestX = -Infinity;
    let bestSlope = 0;
    let best = -1;
    const r = row(py);
    for (let e = rowStart[r]; e < rowStart[r + 1]; e++) {
      const k = inRow[e];
      const y0 = nodes.y[from[k]];
      const y1 = nodes.y[to[k]];
      if (y0 <= py === y1 <= py) continue;
      const x0 = nodes.x[from[k]];
      const x1 = nodes.x[to[k]];
      if (Math.min(x0, x1) >= px) continue;
      const slope = (x1 - x0) / (y1 - y0);
      const x = y0 === py ? x0 : y1 === py ? x1 : x0 + (py - y0) * slope;
      if (x >= px) continue;
      // Just above the ray the arc with the greater slope lies further east.
      if (x > bestX || (x === bestX && slope > bestSlope)) {
        bestX = x;
        bestSlope = slope;
        best = loops.loopOf[k];
      }
    }
    neighbour.set(l, best);
  });
  for (const l of open) {
    let at = l;
    for (let step = 0; at >= 0 && owner[at] < 0 && step <= open.length; step++) at = neighbour.get(speaker[at]) ?? -1;
    owner[l] = at < 0 ? -1 : owner[at];
  }
}

function build(arcs: ArcSet, loops: Loops, owner: Int32Array, flux: Flux): Stitched {
  const { from, nodes, originX, originY } = arcs;
  const first = new Int32Array(loops.count).fill(-1);
  const following = new Int32Array(loops.count).fill(-1);
  let rings = 0;
  let polygons = 0;
  for (let l = loops.count - 1; l >= 0; l--) {
    const o = owner[l];
    if (o < 0) continue;
    rings++;
    if (o === l) polygons++;
    else {
      following[l] = first[o];
      first[o] = l;
    }
  }
  let total = 0;
  for (let l = 0; l < loops.count; l++) if (owner[l] >= 0) total += loops.start[l + 1] - loops.start[l];
  const xy = new Float64Array(2 * total);
  const ringStart = new Uint32Array(rings + 1);
  const polygonStart = new Uint32Array(polygons + 1);
  let ring = 0;
  let point = 0;
  let areaM2 = 0;
  const put = (l: number): void => {
    const s = loops.start[l];
    const e = loops.start[l + 1];
    const x0 = nodes.x[from[loops.arc[s]]];
    let area = 0;
    for (let k = s; k < e; k++) {
      const before = loops.arc[k === s ? e - 1 : k - 1];
      const a = loops.arc[k];
      const v = from[a];
      const w = arcs.to[a];
      area += flux(nodes.x[v] - x0, nodes.y[v], nodes.x[w] - x0, nodes.y[w], 0);
      // A node that no other ring passes, on a straight line, is no corner.
      if (loops.degree[v] === 1 && arcs.turn(before, a) === 0) continue;
      xy[2 * point] = nodes.x[v] + originX;
      xy[2 * point + 1] = nodes.y[v] + originY;
      point++;
    }
    areaM2 += area;
    ringStart[++ring] = point;
  };
  let polygon = 0;
  for (let l = 0; l < loops.count; l++) {
    if (owner[l] !== l) continue;
    put(l);
    for (let h = first[l]; h >= 0; h = following[h]) put(h);
    polygonStart[++polygon] = ring;
  }
  return { polygons: { xy: xy.slice(0, 2 * point), ringStart, polygonStart }, areaM2 };
}
