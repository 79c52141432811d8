import { cross } from '../geometry/exact.ts';
import type { LookBudget, RingLocator } from './ring-inside.ts';

/** How two rings meet: they touch and lie apart; they touch and the one of the greater or the smaller number lies inside the other; they cross. */
const TOUCHES = 1;
export const GREATER_INSIDE = 2;
export const SMALLER_INSIDE = 3;
export const CROSSES = 4;

export interface Contacts {
  /** 1 for rings that meet themselves. */
  self: Uint8Array;
  /** How two rings meet, under the greater number times the number of rings, plus the smaller. */
  pairs: Map<number, number>;
}

/** The rings of the record that is sorted, and what searches in them. */
export interface RingsAtHand {
  xy: Int32Array;
  ringStart: Uint32Array;
  locator: RingLocator;
  looks: LookBudget;
}

/** Where rings of a record meet themselves and each other: every edge against those that reach over the same stretch of the better axis. */
export function findContacts(at: RingsAtHand, first: number, end: number): Contacts | null {
  const { xy, ringStart, looks } = at;
  const n = end - first;
  const from = ringStart[first];
  const count = ringStart[end] - from;
  const ringOf = new Uint32Array(count);
  const reach = [0, 0];
  const low = [Infinity, Infinity];
  const high = [-Infinity, -Infinity];
  /** The other end of the edge that begins at each point. */
  const next = new Uint32Array(count);
  for (let r = first; r < end; r++) {
    for (let p = ringStart[r]; p < ringStart[r + 1]; p++) {
      const q = p + 1 < ringStart[r + 1] ? p + 1 : ringStart[r];
      ringOf[p - from] = r - first;
      next[p - from] = q;
      for (let axis = 0; axis < 2; axis++) {
        const v = xy[2 * p + axis];
        reach[axis] += Math.abs(xy[2 * q + axis] - v);
        low[axis] = Math.min(low[axis], v);
        high[axis] = Math.max(high[axis], v);
      }
    }
  }
  const axis = reach[0] * (high[1] - low[1]) <= reach[1] * (high[0] - low[0]) ? 0 : 1;
  const lowOf = (e: number, a: number): number => Math.min(xy[2 * (from + e) + a], xy[2 * next[e] + a]);
  const highOf = (e: number, a: number): number => Math.max(xy[2 * (from + e) + a], xy[2 * next[e] + a]);
  const begin = Int32Array.from({ length: count }, (_, e) => lowOf(e, axis));
  const order = Uint32Array.from({ length: count }, (_, e) => e).sort((a, b) => begin[a] - begin[b]);
  const active = new Uint32Array(count);
  let alive = 0;
  /** Edges in contact of each pair of rings: see `relation`. */
  const touching = new Map<number, number[]>();
  const found: Contacts = { self: new Uint8Array(n), pairs: new Map() };
  for (const e of order) {
    let kept = 0;
    const e0 = lowOf(e, 1 - axis);
    const e1 = highOf(e, 1 - axis);
    looks.spend(alive + 1);
    if (looks.isSpent()) return null;
    for (let i = 0; i < alive; i++) {
      const f = active[i];
      if (highOf(f, axis) < begin[e]) continue;
      active[kept++] = f;
      if (lowOf(f, 1 - axis) > e1 || highOf(f, 1 - axis) < e0) continue;
      const [a, b] = [ringOf[e], ringOf[f]];
      if (a === b && (found.self[a] === 1 || next[e] === from + f || next[f] === from + e)) continue;
      const key = Math.max(a, b) * n + Math.min(a, b);
      if (a !== b && found.pairs.get(key) === CROSSES) continue;
      const how = meet(xy, from + e, next[e], from + f, next[f]);
      if (how === 0) continue;
      if (a === b) found.self[a] = 1;
      else if (how === CROSSES) found.pairs.set(key, CROSSES);
      else {
        const list = touching.get(key) ?? [];
        if (a > b) list.push(from + e, next[e], from + f, next[f]);
        else list.push(from + f, next[f], from + e, next[e]);
        touching.set(key, list);
        looks.spend(8);
      }
    }
    alive = kept;
    active[alive++] = e;
  }
  for (const [key, edges] of touching) {
    if (found.pairs.has(key)) continue;
    found.pairs.set(key, relation(at, first + Math.floor(key / n), first + (key % n), edges));
    if (looks.isSpent()) return null;
  }
  return found;
}

/**
 * How two rings that touch lie, by the middles of all stretches of their edges in contact: between two contacts a ring stays on one side of the other.
 * `edges` lists pairs of edges in contact: the point that each begins and ends at, those of the ring of the greater number first.
 */
function relation(
  { xy, locator, looks }: RingsAtHand,
  greater: number,
  smaller: number,
  edges: readonly number[],
): number {
  const sides = [0, 0];
  for (let which = 0; which < 2; which++) {
    const other = which === 0 ? smaller : greater;
    /** Places along each edge where the other ring begins or ends to lie on it, as points. */
    const cuts = new Map<number, number[]>();
    for (let i = 0; i < edges.length; i += 4) {
      const [a, b, c, d] =
        which === 0 ? edges.slice(i, i + 4) : [...edges.slice(i + 2, i + 4), ...edges.slice(i, i + 2)];
      const list = cuts.get(a) ?? [a, b];
      for (const v of [c, d]) if (isOn(xy, v, a, b)) list.push(v);
      cuts.set(a, list);
    }
    for (const list of cuts.values()) {
      const [a, b] = list;
      const dx = Math.sign(xy[2 * b] - xy[2 * a]);
      const dy = Math.sign(xy[2 * b + 1] - xy[2 * a + 1]);
      const at = (v: number): number => xy[2 * v] * dx + xy[2 * v + 1] * dy;
      list.sort((u, v) => at(u) - at(v));
      for (let i = 0; i + 1 < list.length; i++) {
        if (at(list[i]) === at(list[i + 1])) continue;
        const side = locator.pointIn(
          (xy[2 * list[i]] + xy[2 * list[i + 1]]) / 2,
          (xy[2 * list[i] + 1] + xy[2 * list[i + 1] + 1]) / 2,
          other,
        );
        if (side !== 0) sides[which] |= side > 0 ? 1 : 2;
        if (looks.isSpent()) return CROSSES;
      }
    }
  }
  if (sides[0] === 3 || sides[1] === 3) return CROSSES;
  if (sides[0] === 1) return sides[1] === 1 ? CROSSES : GREATER_INSIDE;
  if (sides[1] === 1) return SMALLER_INSIDE;
  // Nothing but shared boundary: the same ring with other points on its sides.
  return sides[0] === 0 && sides[1] === 0 ? GREATER_INSIDE : TOUCHES;
}

function isOn(xy: Int32Array, v: number, a: number, b: number): boolean {
  const ax = xy[2 * a] - xy[2 * v];
  const ay = xy[2 * a + 1] - xy[2 * v + 1];
  const bx = xy[2 * b] - xy[2 * v];
  const by = xy[2 * b + 1] - xy[2 * v + 1];
  return ax * bx <= 0 && ay * by <= 0 && cross(ax, ay, bx, by) === 0;
}

/** How the edges a-b and c-d meet: not at all, touching, or each with its ends on both sides of the other. */
function meet(xy: Int32Array, a: number, b: number, c: number, d: number): number {
  const [ax, ay, cx, cy] = [xy[2 * a], xy[2 * a + 1], xy[2 * c], xy[2 * c + 1]];
  const [ux, uy, vx, vy] = [xy[2 * b] - ax, xy[2 * b + 1] - ay, xy[2 * d] - cx, xy[2 * d + 1] - cy];
  const c1 = cross(ux, uy, cx - ax, cy - ay);
  const c2 = cross(ux, uy, xy[2 * d] - ax, xy[2 * d + 1] - ay);
  if ((c1 > 0 && c2 > 0) || (c1 < 0 && c2 < 0)) return 0;
  const d1 = cross(vx, vy, ax - cx, ay - cy);
  const d2 = cross(vx, vy, xy[2 * b] - cx, xy[2 * b + 1] - cy);
  if ((d1 > 0 && d2 > 0) || (d1 < 0 && d2 < 0)) return 0;
  // On one line they meet, because their boxes do.
  return c1 !== 0 && c2 !== 0 && d1 !== 0 && d2 !== 0 ? CROSSES : TOUCHES;
}
