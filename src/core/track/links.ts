import { Budget, tooClose } from '../geometry/budget.ts';
import { makePointGrid, type PointGrid } from '../geometry/grid.ts';
import { lengthOf } from '../geometry/length.ts';
import type { Shapes } from '../geometry/shapes.ts';
import type { Quads } from './quads.ts';
import { cellBits, SpatialHash } from './spatial-hash.ts';

/** For every side (4·quad + k) the side that touches it, or -1. `exact`: both ends are the same points of the file. */
export interface SideLinks {
  link: Int32Array;
  exact: Uint8Array;
}

/** The next side of the same quad, which begins where side `s` ends. */
const after = (s: number): number => (s & ~3) | ((s + 1) & 3);

/** Limit of slots read in the table: for any map, and more for each side. Thousands of sides on one spot would read each other's. */
const MOST_PROBES = 100_000_000;
const PROBES_EACH = 100;

/** Sides whose two ends are, digit for digit, the ends of one other quad's side. */
export function linkSharedSides(shapes: Shapes, quads: Quads): SideLinks {
  const sides = 4 * quads.count;
  const link = new Int32Array(sides).fill(-1);
  const exact = new Uint8Array(sides);
  const { point } = quads;
  const { xy } = shapes;
  // Of two sides that touch, the second finds the first and takes no place.
  const table = new SpatialHash(sides / 2, sides);
  const { slots } = table;
  const bits = cellBits(2 * usualSide(shapes, quads));
  const budget = new Budget(MOST_PROBES, PROBES_EACH, sides, tooClose);
  // Sections follow each other in the file and so do bars, so the side against this one is mostly as far back as last time.
  const back = new Int32Array(4);
  const joins = (s: number, t: number): boolean => {
    if (t < 0 || link[t] >= 0 || t >> 2 === s >> 2) return false;
    const a = 2 * point[s];
    const b = 2 * point[after(s)];
    const c = 2 * point[t];
    const d = 2 * point[after(t)];
    if (xy[a] !== xy[d] || xy[a + 1] !== xy[d + 1] || xy[b] !== xy[c] || xy[b + 1] !== xy[c + 1]) return false;
    link[t] = s;
    link[s] = t;
    exact[t] = 1;
    exact[s] = 1;
    back[s & 3] = s - t;
    return true;
  };
  for (let s = 0; s < sides; s++) {
    if (joins(s, s - back[s & 3])) continue;
    const a = 2 * point[s];
    const b = 2 * point[after(s)];
    // The other quad runs along the side the other way, so cell and hash must not depend on direction.
    const x = xy[a] + xy[b];
    const y = xy[a + 1] + xy[b + 1];
    const g = Math.imul(x, 0x9e3779b1) + Math.imul(y, 0x85ebca6b);
    const f = Math.imul(g ^ (g >>> 15), 0x2c1b3c6d);
    const h = f ^ (f >>> 13);
    let slot = table.first(x >> bits, y >> bits, h);
    let step = 1;
    for (; slots[slot] >= 0 && !joins(s, slots[slot]); step++) slot = table.next(slot, step, h);
    budget.spend(step);
    if (link[s] < 0) slots[slot] = s;
  }
  return { link, exact };
}

/** Mean length of a side, lattice steps along x and y together, of some thousand records. */
function usualSide({ xy }: Shapes, { count, point }: Quads): number {
  const every = Math.max(1, Math.floor(count / 1024));
  let sum = 0;
  let n = 0;
  for (let q = 0; q < count; q += every) {
    for (let s = 4 * q; s < 4 * q + 4; s++, n++) {
      const a = 2 * point[s];
      const b = 2 * point[after(s)];
      sum += Math.abs(xy[a] - xy[b]) + Math.abs(xy[a + 1] - xy[b + 1]);
    }
  }
  return n > 0 ? sum / n : 1;
}

/** Midpoints of all sides, meters, interleaved. */
export function sideMiddles(quads: Quads): Float64Array {
  const m = new Float64Array(8 * quads.count);
  const c = quads.corner;
  for (let s = 0; s < 4 * quads.count; s++) {
    const e = after(s);
    m[2 * s] = (c[2 * s] + c[2 * e]) / 2;
    m[2 * s + 1] = (c[2 * s + 1] + c[2 * e + 1]) / 2;
  }
  return m;
}

interface NearRule {
  /** How far the middles may lie apart across the side (along its normal) and along it, meters. */
  normalM: number;
  alongM: number;
  /** And along it no further than this share of the side. */
  alongShare: number;
  /** Least cosine between the side and the other side taken backwards. */
  cosine: number;
  /** Largest difference of the two lengths, as a share of the shorter and in meters: either is enough. */
  lengthShare: number;
  lengthM: number;
  /** Largest difference of the two quads' depths behind the side, as a part of the shallower: what lies crosswise differs. */
  depthShare: number;
}

/** Links open sides for which `use` holds to the nearest open side that fits `rule`, or misses it by rounding to steps of `stepM`; each must be the other's nearest. */
export function linkNearSides(
  quads: Quads,
  middles: Float64Array,
  links: SideLinks,
  rule: NearRule,
  stepM: number,
  use: (side: number) => boolean,
): void {
  const sides = 4 * quads.count;
  const { link } = links;
  const open = new Uint32Array(sides);
  let count = 0;
  for (let s = 0; s < sides; s++) if (link[s] < 0 && use(s)) open[count++] = s;
  const reach = Math.max(rule.normalM, rule.alongM, stepM);
  const grid = makePointGrid(middles, open.subarray(0, count), Math.max(2 * reach, 0.25));
  // 1 + the best of each, 0 for none.
  const best = new Uint32Array(sides);
  for (let k = 0; k < count; k++)
    best[open[k]] = 1 + nearestOpen(quads.corner, middles, grid, reach, rule, stepM, open[k]);
  for (let k = 0; k < count; k++) {
    const s = open[k];
    const t = best[s] - 1;
    if (t >= 0 && best[t] === s + 1 && link[s] < 0 && link[t] < 0) {
      link[s] = t;
      link[t] = s;
    }
  }
}

/** The side in `grid` that fits side `s` best, or -1. */
function nearestOpen(
  c: Float64Array,
  middles: Float64Array,
  grid: PointGrid,
  reach: number,
  rule: NearRule,
  stepM: number,
  s: number,
): number {
  const e = after(s);
  const ux = c[2 * e] - c[2 * s];
  const uy = c[2 * e + 1] - c[2 * s + 1];
  const len = lengthOf(ux, uy);
  const mx = middles[2 * s];
  const my = middles[2 * s + 1];
  const own = depthOf(middles, s);
  const mostAlong = Math.max(stepM, Math.min(rule.alongM, rule.alongShare * len));
  const mostDiff = Math.max(rule.lengthM, 1.5 * stepM);
  // Both ends of both sides are rounded.
  const cosine = Math.min(rule.cosine, 1 - 2 * (stepM / len) ** 2);
  let near = Infinity;
  let best = -1;
  const n = grid.near(mx, my, reach);
  const { found } = grid;
  for (let k = 0; k < n; k++) {
    const t = found[k];
    if (t >> 2 === s >> 2) continue;
    const dx = middles[2 * t] - mx;
    const dy = middles[2 * t + 1] - my;
    const along = Math.abs(dx * ux + dy * uy) / len;
    const normal = Math.abs(dx * uy - dy * ux) / len;
    if (along > mostAlong || normal > rule.normalM) continue;
    const d = normal + 2 * along;
    if (!(d < near)) continue;
    const f = after(t);
    const vx = c[2 * f] - c[2 * t];
    const vy = c[2 * f + 1] - c[2 * t + 1];
    const other = lengthOf(vx, vy);
    if (-(ux * vx + uy * vy) < cosine * len * other) continue;
    const diff = Math.abs(len - other);
    if (diff > mostDiff && diff > rule.lengthShare * Math.min(len, other)) continue;
    const deep = depthOf(middles, t);
    if (Math.abs(own - deep) > rule.depthShare * Math.min(own, deep)) continue;
    near = d;
    best = t;
  }
  return best;
}

/** Ends of sides that step lie this near the line of the other side, meters. */
const STEP_NORMAL_M = 0.25;
/** Sides that share at least this much of the shorter one follow each other though one is longer. */
const STEP_SHARE = 0.6;

/**
 * Links open sides for which `use` holds and which lie on one line and mostly coincide: a bar in which a section went off or on has another
 * width than the one before. Each must be the other's best. `around` calls its second argument with the quads that may follow or precede a quad.
 */
export function linkSteps(
  quads: Quads,
  links: SideLinks,
  use: (side: number) => boolean,
  around: (quad: number, look: (other: number) => void) => void,
): void {
  const { link } = links;
  const { corner: c, count } = quads;
  const isOpen = (s: number): boolean => link[s] < 0 && use(s);
  // Few sides are open: 1 + the best of each, 0 for none, so that nothing is written for the others.
  const best = new Uint32Array(4 * count);
  const found: number[] = [];
  for (let s = 0; s < 4 * count; s++) {
    if (link[s] >= 0 || !use(s)) continue;
    const q = s >> 2;
    const e = after(s);
    const len = lengthOf(c[2 * e] - c[2 * s], c[2 * e + 1] - c[2 * s + 1]);
    let least = Infinity;
    around(q, (r) => {
      for (let t = 4 * r; t < 4 * r + 4 && r !== q; t++) {
        const d = isOpen(t) ? stepBetween(c, s, t, len) : Infinity;
        if (d >= least) continue;
        least = d;
        best[s] = t + 1;
      }
    });
    if (best[s] > 0) found.push(s);
  }
  for (const s of found) {
    const t = best[s] - 1;
    if (best[t] !== s + 1 || link[s] >= 0 || link[t] >= 0) continue;
    link[s] = t;
    link[t] = s;
  }
}

/** Quads with an open side for which `use` holds and whose middle is no further from that of a quad than the two can reach. */
export function quadsAround(
  quads: Quads,
  { link }: SideLinks,
  use: (side: number) => boolean,
): (quad: number, look: (other: number) => void) => void {
  const { count, corner: c } = quads;
  const middle = new Float64Array(2 * count);
  const open = new Uint32Array(count);
  let n = 0;
  let longest = 0;
  const half = new Float64Array(count);
  for (let q = 0; q < count; q++) {
    const o = 8 * q;
    middle[2 * q] = (c[o] + c[o + 2] + c[o + 4] + c[o + 6]) / 4;
    middle[2 * q + 1] = (c[o + 1] + c[o + 3] + c[o + 5] + c[o + 7]) / 4;
    half[q] = lengthOf(c[o] - middle[2 * q], c[o + 1] - middle[2 * q + 1]);
    let isOpen = false;
    for (let s = 4 * q; s < 4 * q + 4; s++) if (link[s] < 0 && use(s)) isOpen = true;
    if (!isOpen) continue;
    open[n++] = q;
    longest = Math.max(longest, half[q]);
  }
  const grid = makePointGrid(middle, open.subarray(0, n), Math.max(longest, 0.5));
  return (q, look) => {
    const found = grid.near(middle[2 * q], middle[2 * q + 1], half[q] + longest);
    for (let i = 0; i < found; i++) look(grid.found[i]);
  };
}

/**
 * How badly side t lies against side s (`len` meters long), meters: their distance, and half a meter for a shorter one that lies quite beside the
 * other; Infinity where they do not lie on one line and mostly coincide.
 */
function stepBetween(c: Float64Array, s: number, t: number, len: number): number {
  const e = after(s);
  const f = after(t);
  const ux = (c[2 * e] - c[2 * s]) / len;
  const uy = (c[2 * e + 1] - c[2 * s + 1]) / len;
  const along = (p: number): number => (c[2 * p] - c[2 * s]) * ux + (c[2 * p + 1] - c[2 * s + 1]) * uy;
  const off = (p: number): number => Math.abs((c[2 * p] - c[2 * s]) * uy - (c[2 * p + 1] - c[2 * s + 1]) * ux);
  // The other quad runs along the side the other way.
  const [from, to] = [along(f), along(t)];
  if (!(to > from)) return Infinity;
  const share = (Math.min(to, len) - Math.max(from, 0)) / Math.min(len, to - from);
  // Lines tilted by a heading meet in the middle; the ends of a long side may lie further apart.
  const most = STEP_NORMAL_M + 0.03 * Math.max(len, to - from);
  if (share < STEP_SHARE || off(t) > most || off(f) > most) return Infinity;
  return (off(t) + off(f)) / 2 + (1 - share) / 2;
}

/** From the middle of side `s` to that of the side opposite, meters. */
function depthOf(middles: Float64Array, s: number): number {
  const o = (s & ~3) | ((s + 2) & 3);
  return lengthOf(middles[2 * s] - middles[2 * o], middles[2 * s + 1] - middles[2 * o + 1]);
}
