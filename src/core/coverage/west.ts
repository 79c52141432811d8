import type { ArcSet } from './arcs.ts';
import type { Loops } from './loops.ts';

/**
 * For each of some points the arc that lies next to it in the west, -1 for none; an arc through the point is none. Just above the point counts where arcs
 * begin or end at its height.
 *
 * Arcs do not cross, so that those over a whole range of heights are in order from west to east. A segment tree over the heights of the points holds each
 * arc in at most two ranges a level; a point asks the ranges that it lies in, by halves. Time and memory: arcs over some point times the logarithm of
 * the number of heights; the others cost one comparison each.
 */
export function nearestWest(arcs: ArcSet, loops: Loops, px: readonly number[], py: readonly number[]): Int32Array {
  const heights = Float64Array.from(new Set(py)).sort();
  const tree = plant(arcs, loops, heights);
  return Int32Array.from(px, (x, i) => tree.west(x, py[i], lowerBound(heights, py[i])));
}

/** How many of the rising values lie below v. */
function lowerBound(values: Float64Array, v: number): number {
  let low = 0;
  let high = values.length;
  while (low < high) {
    const mid = (low + high) >> 1;
    if (values[mid] < v) low = mid + 1;
    else high = mid;
  }
  return low;
}

function plant(arcs: ArcSet, loops: Loops, heights: Float64Array): Tree {
  const { count, from, to, nodes } = arcs;
  let leaves = 1;
  while (leaves < heights.length) leaves *= 2;
  // Two arcs meet in most nodes, and each arc is placed twice: the height of a node is looked up once.
  const leaf = new Uint32Array(nodes.count);
  for (let v = 0; v < nodes.count; v++) leaf[v] = leaves + lowerBound(heights, nodes.y[v]);
  // Counted, then placed, in one array: two places ahead.
  const start = new Uint32Array(2 * leaves + 2);
  for (let i = 0; i < count; i++) {
    if (loops.loopOf[i] < 0) continue;
    let a = Math.min(leaf[from[i]], leaf[to[i]]);
    let b = Math.max(leaf[from[i]], leaf[to[i]]);
    for (; a < b; a >>= 1, b >>= 1) {
      if ((a & 1) === 1) start[a++ + 2]++;
      if ((b & 1) === 1) start[--b + 2]++;
    }
  }
  for (let k = 2; k < start.length; k++) start[k] += start[k - 1];
  const list = new Int32Array(start[start.length - 1]);
  for (let i = 0; i < count; i++) {
    if (loops.loopOf[i] < 0) continue;
    let a = Math.min(leaf[from[i]], leaf[to[i]]);
    let b = Math.max(leaf[from[i]], leaf[to[i]]);
    for (; a < b; a >>= 1, b >>= 1) {
      if ((a & 1) === 1) list[start[a++ + 1]++] = i;
      if ((b & 1) === 1) list[start[--b + 1]++] = i;
    }
  }
  const tree = new Tree(arcs, leaves, start, list);
  for (let node = 1; node < 2 * leaves; node++) {
    if (start[node + 1] - start[node] < 2) continue;
    // Any height of the range will do; in its middle arcs that share an end are apart.
    let first = node;
    let last = node;
    while (first < leaves) {
      first *= 2;
      last = 2 * last + 1;
    }
    const y0 = heights[first - leaves];
    const y1 = heights[Math.min(last - leaves, heights.length - 1)];
    tree.order(node, (y0 + y1) / 2);
  }
  return tree;
}

class Tree {
  /** Where each arc lies at the height in hand. */
  private readonly place: Float64Array;

  constructor(
    private readonly arcs: ArcSet,
    private readonly leaves: number,
    private readonly start: Uint32Array,
    private readonly list: Int32Array,
  ) {
    this.place = new Float64Array(arcs.count);
  }

  /** Puts the arcs of a range in order from west to east, as they are at height y. */
  order(node: number, y: number): void {
    const { place } = this;
    const part = this.list.subarray(this.start[node], this.start[node + 1]);
    for (const i of part) place[i] = this.xAt(i, y);
    part.sort((a, b) => place[a] - place[b] || this.slope(a) - this.slope(b));
  }

  /** The arc next to (px, py) in the west, where py is height number `height`. */
  west(px: number, py: number, height: number): number {
    let best = -1;
    let bestX = -Infinity;
    let bestSlope = 0;
    for (let node = height + this.leaves; node >= 1; node >>= 1) {
      let low = this.start[node];
      let high = this.start[node + 1];
      while (low < high) {
        const mid = (low + high) >> 1;
        if (this.xAt(this.list[mid], py) < px) low = mid + 1;
        else high = mid;
      }
      if (low === this.start[node]) continue;
      const arc = this.list[low - 1];
      const x = this.xAt(arc, py);
      const slope = this.slope(arc);
      // Just above the ray the arc with the greater slope lies further east.
      if (x > bestX || (x === bestX && slope > bestSlope)) {
        best = arc;
        bestX = x;
        bestSlope = slope;
      }
    }
    return best;
  }

  private xAt(i: number, y: number): number {
    const { from, to, nodes } = this.arcs;
    const y0 = nodes.y[from[i]];
    const y1 = nodes.y[to[i]];
    const x0 = nodes.x[from[i]];
    return y === y0 ? x0 : y === y1 ? nodes.x[to[i]] : x0 + (y - y0) * this.slope(i);
  }

  private slope(i: number): number {
    const { from, to, nodes } = this.arcs;
    return (nodes.x[to[i]] - nodes.x[from[i]]) / (nodes.y[to[i]] - nodes.y[from[i]]);
  }
}
