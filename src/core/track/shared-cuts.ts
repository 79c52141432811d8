import type { Budget } from '../geometry/budget.ts';
import type { EdgeGrid } from '../geometry/edgegrid.ts';
import { lengthOf } from '../geometry/length.ts';
import { type Landing, linesAcross, sidesOf } from './across.ts';
import { nearestOn } from './laps.ts';
import { LONGEST_SIDE_M } from './quads.ts';
import { alongSide, LEAST_M, type StripPasses } from './strip-passes.ts';

/** A corner of the neighbor lies on a side within this, meters: lines are thinned by a few centimeters where they are nearly straight. */
const ON_SIDE_M = 0.06;
/**
 * Sections of one pass that were dissolved separately keep their own corners, where their sides bend, and would be cut in different places: no bar would
 * hold them all. So each gets the corners of its neighbors, and the ends of the lines across them, as points of its own sides, over all sections
 * of the pass (`beside`: the rings beside each in its own pass; `across`: those beyond a strip that stays empty). Where that would take more than `most` points, all strips stay as they are. Every search draws on `budget`.
 */
export function shareCuts(
  rings: readonly Float64Array[],
  { beside, across }: Pick<StripPasses, 'beside' | 'across'>,
  most: number,
  budget: Budget,
): Float64Array[] {
  const out = [...rings];
  if ([...beside, ...across].every((list) => list.length === 0)) return out;
  let left = most;
  const grow = (r: number, grown: Float64Array): void => {
    left -= (grown.length - out[r].length) / 2;
    out[r] = grown;
  };
  // Corners first: the ends of lines come to lie on them where they can.
  rings.forEach((m, r) => {
    const corners = beside[r].map((o) => rings[o]);
    if (left >= 0) grow(r, insert(m, corners, budget)[0]);
  });
  /** Points of each ring that its neighbors have not seen, x and y in turn. */
  let fresh = out.map((m, r): ArrayLike<number> => {
    if (left < 0 || beside[r].length + across[r].length === 0) return [];
    grow(r, withLandings(m, null, budget)[0]);
    return out[r];
  });
  while (fresh.some((f) => f.length > 0)) {
    const next: number[][] = rings.map(() => []);
    for (let r = 0; r < rings.length && left >= 0; r++) {
      const [grown, added] = insert(
        out[r],
        [...beside[r].map((o) => fresh[o]), ...across[r].map((o) => thrown(fresh[o], out[r], budget))],
        budget,
      );
      if (added.length === 0) continue;
      const [whole, landings] = withLandings(grown, added, budget);
      grow(r, whole);
      next[r] = [...added, ...landings];
    }
    fresh = next;
  }
  return left < 0 ? [...rings] : out;
}

/** The ring with the places where the lines across it end, from all of its points or from those `from` (x and y in turn); and these places. */
function withLandings(
  m: Float64Array,
  from: readonly number[] | null,
  budget: Budget,
): [ring: Float64Array, added: number[]] {
  const sides = sidesOf(m, budget);
  const wanted = from === null ? null : new Points(from);
  const landed = new Map<number, Landing[]>();
  const places: number[] = [];
  for (let i = 0; i < m.length / 2; i++) {
    if (wanted && !wanted.has(m[2 * i], m[2 * i + 1])) continue;
    for (const c of linesAcross(m, i, landed, sides)) {
      if (c.lengthM > LONGEST_SIDE_M) continue;
      const [at, x, y] = c.near === i ? [c.far, c.fx, c.fy] : [c.near, c.nx, c.ny];
      if (!Number.isInteger(at)) places.push(x, y);
    }
  }
  return insert(m, [places], budget);
}

/** Where lines across from these points meet a strip on the other side of a hole: the places on its side nearest to them. */
function thrown(points: ArrayLike<number>, m: Float64Array, budget: Budget): number[] {
  budget.spend((points.length * m.length) / 4);
  const out: number[] = [];
  for (let k = 0; k < points.length; k += 2) {
    const at = nearestOn(m, points[k], points[k + 1]);
    if (!at.corner && at.awayM < LONGEST_SIDE_M) out.push(at.x, at.y);
  }
  return out;
}

/** A set of points, x and y in turn. Few of those that are asked for are in it, and most others have no x in common with one. */
class Points {
  private readonly ys = new Map<number, number[]>();

  constructor(list: readonly number[]) {
    for (let k = 0; k < list.length; k += 2) {
      const ys = this.ys.get(list[k]);
      if (ys) ys.push(list[k + 1]);
      else this.ys.set(list[k], [list[k + 1]]);
    }
  }

  has(x: number, y: number): boolean {
    return this.ys.get(x)?.includes(y) ?? false;
  }
}

/** The ring with those of the points that lie on a side of it, away from its corners; and the points that were put in. Each list has x and y in turn. */
function insert(
  m: Float64Array,
  lists: readonly ArrayLike<number>[],
  budget: Budget,
): [ring: Float64Array, added: number[]] {
  if (lists.every((points) => points.length === 0)) return [m, []];
  const n = m.length / 2;
  const sides = sidesOf(m, budget);
  const on = new Map<number, { t: number; x: number; y: number }[]>();
  let found = 0;
  for (const points of lists)
    for (let k = 0; k < points.length; k += 2) {
      const [x, y] = [points[k], points[k + 1]];
      const side = sideUnder(m, x, y, sides, found);
      if (side === null) continue;
      found = side.e;
      const list = on.get(side.e) ?? [];
      if (list.length === 0) on.set(side.e, list);
      if (list.every((o) => lengthOf(o.x - x, o.y - y) >= LEAST_M)) list.push({ t: side.t, x, y });
    }
  if (on.size === 0) return [m, []];
  const ring: number[] = [];
  const added: number[] = [];
  for (let i = 0; i < n; i++) {
    ring.push(m[2 * i], m[2 * i + 1]);
    for (const { x, y } of (on.get(i) ?? []).sort((a, b) => a.t - b.t)) {
      ring.push(x, y);
      added.push(x, y);
    }
  }
  return [Float64Array.from(ring), added];
}

/** The side of the ring that a point lies on, of several the one nearest around the ring to side `found`, where the last point lay; and how far along it. */
function sideUnder(
  m: Float64Array,
  x: number,
  y: number,
  sides: EdgeGrid,
  found: number,
): { e: number; t: number } | null {
  const n = m.length / 2;
  let best: { e: number; t: number } | null = null;
  let least = Infinity;
  const near = sides.near(x - ON_SIDE_M, y - ON_SIDE_M, x + ON_SIDE_M, y + ON_SIDE_M);
  for (let k = 0; k < near; k++) {
    const e = sides.found[k];
    const ahead = (e - found + n) % n;
    const steps = Math.min(2 * ahead, 2 * (n - ahead) - 1);
    if (steps >= least) continue;
    const t = alongSide(m, e, x, y, ON_SIDE_M)?.t;
    if (t === undefined) continue;
    best = { e, t };
    least = steps;
  }
  return best;
}
