import { cross } from '../geometry/exact.ts';
import { grown } from '../geometry/grown.ts';
import type { UserError } from '../shared/messages.ts';
import type { Prepared } from './prepare.ts';
import { entangled } from './refusal.ts';

/** Points where arcs begin and end, each stored once. Steps from the middle of the map. */
export class Nodes {
  count = 0;
  x = new Float64Array(1024);
  y = new Float64Array(1024);
  private slots = new Int32Array(4096).fill(-1);
  private readonly floats = new Float64Array(2);
  private readonly words = new Uint32Array(this.floats.buffer);

  /** No point is added after this: what finds them is let go. */
  close(): void {
    this.slots = new Int32Array(0);
  }

  private hash(x: number, y: number): number {
    // + 0 makes -0 and 0 one point.
    this.floats[0] = x + 0;
    this.floats[1] = y + 0;
    const w = this.words;
    let h = Math.imul(w[0] ^ Math.imul(w[1], 0x9e3779b1), 0x85ebca6b);
    h ^= h >>> 15;
    h = Math.imul(h ^ w[2] ^ Math.imul(w[3], 0xc2b2ae35), 0x27d4eb2f);
    return h ^ (h >>> 14);
  }

  get(x: number, y: number): number {
    const mask = this.slots.length - 1;
    let at = this.hash(x, y) & mask;
    for (;;) {
      const i = this.slots[at];
      if (i < 0) break;
      if (this.x[i] === x && this.y[i] === y) return i;
      at = (at + 1) & mask;
    }
    const i = this.count++;
    if (i >= this.x.length) this.grow();
    this.x[i] = x + 0;
    this.y[i] = y + 0;
    this.slots[at] = i;
    if (2 * this.count > this.slots.length) this.rehash();
    return i;
  }

  private grow(): void {
    const x = new Float64Array(2 * this.x.length);
    const y = new Float64Array(2 * this.x.length);
    x.set(this.x);
    y.set(this.y);
    this.x = x;
    this.y = y;
  }

  private rehash(): void {
    const slots = new Int32Array(2 * this.slots.length).fill(-1);
    const mask = slots.length - 1;
    for (let i = 0; i < this.count; i++) {
      let at = this.hash(this.x[i], this.y[i]) & mask;
      while (slots[at] >= 0) at = (at + 1) & mask;
      slots[at] = i;
    }
    this.slots = slots;
  }
}

/**
 * Directed pieces of boundary, the ground on their left, between nodes. Every set is made by `arcSet`, so that the engine knows one kind of
 * object and compiles what walks along arcs once.
 */
export interface ArcSet {
  count: number;
  from: Int32Array;
  to: Int32Array;
  nodes: Pick<Nodes, 'count' | 'x' | 'y'>;
  /** Whole steps from the lattice origin to where nodes are counted from. */
  originX: number;
  originY: number;
  /** Direction of each arc, steps. */
  dx: Float64Array;
  dy: Float64Array;
  /** Directions are whole numbers, of which products are exact. */
  whole: boolean;
}

export function arcSet(
  count: number,
  from: Int32Array,
  to: Int32Array,
  { count: nodes, x, y }: ArcSet['nodes'],
  [originX, originY]: readonly [number, number],
  [dx, dy]: readonly [Float64Array, Float64Array],
  whole: boolean,
): ArcSet {
  return { count, from, to, nodes: { count: nodes, x, y }, originX, originY, dx, dy, whole };
}

/** The same arcs run the other way, with what was on their right on their left: the set is used up. */
export function reversed(arcs: ArcSet): ArcSet {
  const { dx, dy, count } = arcs;
  for (let i = 0; i < count; i++) {
    dx[i] = -dx[i];
    dy[i] = -dy[i];
  }
  return { ...arcs, from: arcs.to, to: arcs.from };
}

/** Above 0 where arc k's direction is to the left of arc i's, 0 where they are parallel. */
export function turn({ dx, dy, whole }: ArcSet, i: number, k: number): number {
  return whole ? cross(dx[i], dy[i], dx[k], dy[k]) : dx[i] * dy[k] - dy[i] * dx[k];
}

/** Above 0 where arc k points the way of arc i rather than against it. */
export function ahead({ dx, dy }: ArcSet, i: number, k: number): number {
  return dx[i] * dx[k] + dy[i] * dy[k];
}

/**
 * Limit of arcs, of covered ground and of ground covered twice each: for any map, and more for each of its points. Fields of shared corners have less than one
 * for each point, planted once or three times over; simulated ones with noise at every corner and a replant up to 3.4. Strips laid across each other have one
 * for each crossing, which no real field has. At the peak an arc takes some 80 bytes.
 */
const MOST_ARCS = 500_000;
const ARCS_EACH = 8;

/** A set of arcs on lattice edges that grows. `a` and `b` are the points whose line the arc lies on, for exact directions. */
export class Arcs {
  count = 0;
  from = new Int32Array(1024);
  to = new Int32Array(1024);
  a = new Uint32Array(1024);
  b = new Uint32Array(1024);
  private readonly most: number;

  constructor(
    readonly p: Prepared,
    readonly nodes: Nodes,
  ) {
    this.most = MOST_ARCS + ARCS_EACH * (p.shapes.xy.length / 2);
  }

  add(x0: number, y0: number, x1: number, y1: number, a: number, b: number): void {
    const from = this.nodes.get(x0, y0);
    const to = this.nodes.get(x1, y1);
    if (from === to) return;
    const i = this.count++;
    if (i >= this.most) throw tooManyCrossings(this.most);
    if (i >= this.from.length) this.grow();
    this.from[i] = from;
    this.to[i] = to;
    this.a[i] = a;
    this.b[i] = b;
  }

  private grow(): void {
    const size = 2 * this.from.length;
    this.from = grown(this.from, size);
    this.to = grown(this.to, size);
    this.a = grown(this.a, size);
    this.b = grown(this.b, size);
  }

  /** The set; nothing is added after this. */
  done(): ArcSet {
    const { count, from, to, a, b, nodes, p } = this;
    const { xy } = p.shapes;
    const dx = new Float64Array(count);
    const dy = new Float64Array(count);
    for (let i = 0; i < count; i++) {
      dx[i] = xy[2 * b[i]] - xy[2 * a[i]];
      dy[i] = xy[2 * b[i] + 1] - xy[2 * a[i] + 1];
    }
    nodes.close();
    this.a = new Uint32Array(0);
    this.b = this.a;
    return arcSet(count, from, to, nodes, [p.originX, p.originY], [dx, dy], true);
  }
}

/** The error for a map whose records cross so often that it reaches the limit of work, `most` pieces of boundary. */
export function tooManyCrossings(most: number): UserError {
  return entangled(
    'too-many-crossings',
    `The records cross each other so often that their outline has more than ${most} pieces, the limit for this map.`,
  );
}
