import { intoBuckets } from '../geometry/buckets.ts';
import type { Budget } from '../geometry/budget.ts';
import type { EdgeGrid } from '../geometry/edgegrid.ts';
import { lengthOf } from '../geometry/length.ts';
import { type Landing, linesAcross, sidesOf } from './across.ts';
import { LONGEST_SIDE_M } from './quads.ts';

/** On a coarser lattice than this, meters, the sides of two passes that were steered well fall together. */
const COARSE_M = 0.03;

/** Whether strips of one pass can be distinguished from strips of two by what they share. */
export const tellsStripsApart = (stepM: number): boolean => stepM <= COARSE_M;

/** Strips with at least so many corners in common, digit for digit, are sections of one pass: two passes share none but by chance. */
const FEWEST_SHARED = 3;
/** A corner of the neighbor lies on a side within this, meters: lines are thinned by a few centimeters where they are nearly straight. */
const ON_SIDE_M = 0.06;
/** Nothing is cut closer to a corner than this, meters. */
const LEAST_M = 0.3;

/**
 * Sections of one pass that were dissolved separately keep their own corners, where their sides bend, and would be cut in different places: no bar would
 * hold them all. So each gets the corners of its neighbors, and the ends of the lines across them, as points of its own sides, over all sections
 * of the pass. Where that would take more than `most` points, all strips stay as they are. Every search draws on `budget`.
 */
export function shareCuts(rings: readonly Float64Array[], stepM: number, most: number, budget: Budget): Float64Array[] {
  const out = [...rings];
  if (!tellsStripsApart(stepM)) return out;
  const beside = besideOf(rings, stepM, budget);
  if (beside.every((list) => list.length === 0)) return out;
  let left = most;
  const grow = (r: number, grown: Float64Array): void => {
    left -= (grown.length - out[r].length) / 2;
    out[r] = grown;
  };
  // Corners first: the ends of lines come to lie on them where they can.
  rings.forEach((m, r) => {
    const corners = beside[r].flatMap((o) => Array.from(rings[o]));
    if (left >= 0) grow(r, insert(m, corners, budget)[0]);
  });
  /** Points of each ring that its neighbors have not seen, x and y in turn. */
  let fresh = out.map((m, r) => {
    if (left < 0 || beside[r].length === 0) return [];
    grow(r, withLandings(m, null, budget)[0]);
    return Array.from(out[r]);
  });
  while (fresh.some((f) => f.length > 0)) {
    const next: number[][] = rings.map(() => []);
    for (let r = 0; r < rings.length && left >= 0; r++) {
      const [grown, added] = insert(
        out[r],
        beside[r].flatMap((o) => fresh[o]),
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

/** Looks that a corner that two rings have in common costs: it is counted in a table. */
const PAIR = 100;
/** And the first one of every two rings: it takes a place in the table. */
const NEW_PAIR = 2000;

/** How many corners every two rings have in common that have any; the key is the number of the first times the number of rings, and the second. */
function countShared(rings: readonly Float64Array[], stepM: number, budget: Budget): Map<number, number> {
  const points = rings.reduce((n, m) => n + m.length / 2, 0);
  /** Ring of each point, and where it lies, in half steps. */
  const of = new Uint32Array(points);
  const at = new Float64Array(2 * points);
  const bucket = new Int32Array(points);
  const buckets = 2 ** Math.ceil(Math.log2(points + 1));
  let n = 0;
  rings.forEach((m, r) => {
    for (let i = 0; i < m.length; i += 2, n++) {
      const [x, y] = [Math.round((2 * m[i]) / stepM), Math.round((2 * m[i + 1]) / stepM)];
      of[n] = r;
      at[2 * n] = x;
      at[2 * n + 1] = y;
      const g = Math.imul(x, 0x9e3779b1) ^ Math.imul(y, 0x85ebca6b);
      const h = Math.imul(g ^ (g >>> 15), 0x2c1b3c6d);
      bucket[n] = (h ^ (h >>> 12)) & (buckets - 1);
    }
  });
  const { start, list } = intoBuckets(bucket, points, buckets);
  const shared = new Map<number, number>();
  for (let b = 0; b < buckets; b++)
    for (let k = start[b] + 1; k < start[b + 1]; k++) {
      const p = list[k];
      budget.spend(k - start[b]);
      /** The ring that the last point in the same place is of: those of one ring follow one another. */
      let last = of[p];
      for (let e = k - 1; e >= start[b]; e--) {
        const q = list[e];
        if (at[2 * q] !== at[2 * p] || at[2 * q + 1] !== at[2 * p + 1]) continue;
        if (of[q] === of[p]) break;
        if (of[q] === last) continue;
        last = of[q];
        const pair = last * rings.length + of[p];
        const known = shared.get(pair) ?? 0;
        budget.spend(known > 0 ? PAIR : NEW_PAIR);
        shared.set(pair, known + 1);
      }
    }
  return shared;
}

/** The rings that each ring shares corners with. */
function besideOf(rings: readonly Float64Array[], stepM: number, budget: Budget): number[][] {
  const shared = countShared(rings, stepM, budget);
  // Whole passes share no corners; where some strips do, the others are sections too: those that end each at its own place and run straight share none,
  // but are adjacent in the file, and touch.
  if ([...shared.values()].filter((n) => n >= FEWEST_SHARED).length < MOSTLY * rings.length) shared.clear();
  else
    for (let r = 1; r < rings.length; r++)
      if (touches(rings[r], rings[r - 1], sidesOf(rings[r - 1], budget)))
        shared.set((r - 1) * rings.length + r, FEWEST_SHARED);
  const out = rings.map((): number[] => []);
  for (const [pair, count] of shared) {
    if (count < FEWEST_SHARED) continue;
    const [a, b] = [Math.floor(pair / rings.length), pair % rings.length];
    out[a].push(b);
    out[b].push(a);
  }
  for (const list of out) list.sort((a, b) => a - b);
  return out;
}

/** Where strips lie side by side, points of one lie on the side of the other within the first, meters; of two passes, some lie within the second. */
const TOUCHES_M = 0.022;
const BESIDE_M = 0.1;
/** Fewer points are no side, nor is a smaller part of them. */
const FEWEST_BESIDE = 6;
const PART_BESIDE = 0.2;
const PART_TOUCHING = 0.9;
/** Pairs that share corners, for each strip, from which on the strips are sections. */
const MOSTLY = 0.3;

/** True when ring `m` touches ring `o`, whose edges are `sides`, as sections of one pass do; two passes never stay that close. */
function touches(m: Float64Array, o: Float64Array, sides: EdgeGrid): boolean {
  let near = 0;
  let on = 0;
  for (let i = 0; i < m.length; i += 2) {
    const [x, y] = [m[i], m[i + 1]];
    let least = Number.POSITIVE_INFINITY;
    const met = sides.near(x - BESIDE_M, y - BESIDE_M, x + BESIDE_M, y + BESIDE_M);
    for (let k = 0; k < met; k++) {
      const at = alongSide(o, sides.found[k], x, y, BESIDE_M);
      if (at) least = Math.min(least, at.asideM);
    }
    if (least <= BESIDE_M) near++;
    if (least <= TOUCHES_M) on++;
  }
  return near >= Math.max(FEWEST_BESIDE, (PART_BESIDE * m.length) / 2) && on >= PART_TOUCHING * near;
}

/** The ring with the places where the lines across it end, from all of its points or from those `from` (x and y in turn); and these places. */
function withLandings(
  m: Float64Array,
  from: readonly number[] | null,
  budget: Budget,
): [ring: Float64Array, added: number[]] {
  const sides = sidesOf(m, budget);
  const wanted = from === null ? null : new Set(pointsOf(from));
  const landed = new Map<number, Landing[]>();
  const places: number[] = [];
  for (let i = 0; i < m.length / 2; i++) {
    if (wanted && !wanted.has(`${m[2 * i]} ${m[2 * i + 1]}`)) continue;
    for (const c of linesAcross(m, i, landed, sides)) {
      if (c.lengthM > LONGEST_SIDE_M) continue;
      const [at, x, y] = c.near === i ? [c.far, c.fx, c.fy] : [c.near, c.nx, c.ny];
      if (!Number.isInteger(at)) places.push(x, y);
    }
  }
  return insert(m, places, budget);
}

const pointsOf = (list: readonly number[]): string[] =>
  list.flatMap((x, k) => (k % 2 === 0 ? [`${x} ${list[k + 1]}`] : []));

/** The ring with those of the points that lie on a side of it, away from its corners; and the points that were put in. */
function insert(m: Float64Array, points: readonly number[], budget: Budget): [ring: Float64Array, added: number[]] {
  if (points.length === 0) return [m, []];
  const n = m.length / 2;
  const sides = sidesOf(m, budget);
  const on = new Map<number, { t: number; x: number; y: number }[]>();
  let found = 0;
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

/** How far along side e of the ring a point lies on it, and how far aside, meters; null where it lies further aside than `mostM`, elsewhere, or at a corner. */
function alongSide(
  m: Float64Array,
  e: number,
  x: number,
  y: number,
  mostM: number,
): { t: number; asideM: number } | null {
  const f = e + 1 === m.length / 2 ? 0 : e + 1;
  const [ux, uy] = [m[2 * f] - m[2 * e], m[2 * f + 1] - m[2 * e + 1]];
  const l = lengthOf(ux, uy);
  if (l < 2 * LEAST_M) return null;
  const [px, py] = [x - m[2 * e], y - m[2 * e + 1]];
  const t = (px * ux + py * uy) / l;
  const asideM = Math.abs(px * uy - py * ux) / l;
  return t >= LEAST_M && t <= l - LEAST_M && asideM <= mostM ? { t, asideM } : null;
}
