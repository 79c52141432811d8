import { intoBuckets } from '../geometry/buckets.ts';
import { type ArcSet, ahead, turn } from './arcs.ts';

/** For each arc the arc that follows it. */
export function joinUp(arcs: ArcSet): Int32Array {
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
  return turn(arcs, b, c) < 0;
}

/** 0 left of arc a, 1 straight on, 2 right of it, 3 straight back. */
function quarter(arcs: ArcSet, a: number, b: number): number {
  const t = turn(arcs, a, b);
  if (t > 0) return 0;
  if (t < 0) return 2;
  return ahead(arcs, a, b) > 0 ? 1 : 3;
}

/** Walks cut into simple loops. */
export interface Loops {
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

/** Follows the arcs by `next` and cuts each walk where it comes back to a node. */
export function walk(arcs: ArcSet, next: Int32Array): Loops {
  const walking = new Walking(arcs, next);
  walking.all();
  return walking.result();
}

/** Follows arcs from each unvisited one. */
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

  /** Walks on from arc i to a visited one, pinching off loops. Returns how many arcs are then on the stack. */
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
    const { arcs, arc } = this;
    const first = this.filled;
    const end = first + top - depth;
    this.take(depth, top, first);
    const way = sense(arcs, arc, first, end);
    if (end - first < 3 || way === 0) return;
    this.filled = end;
    this.number(first, end, this.way.length);
    this.start.push(end);
    this.way.push(way);
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
      start: new Int32Array(start),
      arc,
      way: new Int8Array(way),
      walk: new Int32Array(walkOf),
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
  const t = turn(arcs, before, arc[best]);
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

/** Whether node v lies further west than node w, or as far and lower. */
export function further({ nodes }: ArcSet, v: number, w: number): boolean {
  return nodes.x[v] < nodes.x[w] || (nodes.x[v] === nodes.x[w] && nodes.y[v] < nodes.y[w]);
}
