import { makePointGrid, type PointGrid } from '../geometry/grid.ts';
import { lengthOf } from '../geometry/length.ts';
import { median } from '../geometry/stats.ts';
import { Sets } from '../geometry/unionfind.ts';
import type { SideLinks } from './links.ts';
import type { Quads } from './quads.ts';
import { travelOf } from './travel.ts';
import type { Lanes } from './types.ts';

/** Quads chained to lanes. */
export type Chain = Pick<Lanes, 'front' | 'lane' | 'laneStart' | 'laneQuads' | 'sharedShare'>;

/** How far to the side a section may be missing and the next record still count as the same bar, meters. */
const WIDEST_HOLE_M = 3.2;

/** Lines across two quads of one instant miss one another by no more than this, meters; for strips, which are not cut exactly at one line, by the second. */
const OFF_M = 0.05;
const STRIPS_OFF_M = 0.3;

/** Of half a log interval: where rounding hides more, lines that match do so by chance. */
const MOST_ROUNDING = 0.25;

/** What the quads of two lanes that lie side by side say. */
interface Votes {
  a: number;
  b: number;
  n: number;
  misses: number;
  sure: number;
  flip: number;
  /** Sum of the distances in the file. */
  apart: number;
}

/** Of a quad whose pass is not known. */
export const NO_PASS = 0xffffffff;
/** Fewer sides in common between two strips of which nothing else is known are chance. */
const FEWEST_SURE = 3;

/** The quads to the left and right of the same instant, and the groups of lanes that ran side by side. `passOf`: pass of each quad, where quads are pieces of strips. */
export function findLaneNeighbors(
  quads: Quads,
  links: SideLinks,
  middles: Float64Array,
  chain: Chain,
  ordered: boolean,
  passOf: Uint32Array | null,
  stepM: number,
): Pick<Lanes, 'group' | 'against' | 'groups' | 'right' | 'left'> {
  const n = quads.count;
  const { lane, laneStart, laneQuads } = chain;
  const faced = findFacing(quads, links, middles, chain.front, passOf ? STRIPS_OFF_M : OFF_M, stepM);
  const { right, left } = faced;
  // Lanes ran side by side when most of the shorter one lies beside the longer one at the same instants.
  const lanes = laneStart.length - 1;
  const sets = new Sets(lanes);
  const laneLen = (i: number): number => laneStart[i + 1] - laneStart[i];
  const joined = new Set<number>();
  const trend = ordered ? laneTrends(quads, chain) : null;
  /** Lanes of one pass were logged the same way and at the same instants; neighboring passes that match in every digit were not. */
  const sameLog = ({ a, b, ...e }: Votes): boolean => {
    const [x, y] = [trend!.rise[a], trend!.rise[b]];
    const flip = e.flip > 0 ? -1 : 1;
    if (Math.abs(x) > 0.9 && Math.abs(y) > 0.9 && x * y * flip < 0) return false;
    const step = Math.max(trend!.step[a], trend!.step[b]);
    // In a file written bar by bar, the records of a bar are closer together than one bar and the next.
    if (step >= 1.5) return e.apart / e.n < 3 * step;
    // Written record by record along a lane: a record this wide is a whole bar, and its neighbor another pass.
    // Farther apart in the file than the next pass is: the file holds one section of the whole map after the other.
    const next = e.apart / e.n < 1.5 * Math.max(laneLen(a), laneLen(b));
    return e.apart / e.n < 3 || trend!.widthM[a] < WIDEST_SECTION_M || !next;
  };
  /** Strips share corners with those of their own pass only, and in a bend their pieces do not match one by one. */
  const ofOnePass = ({ a, b, n: hits, sure, misses }: Votes): boolean => {
    const [p, q] = [a, b].map((i) => passOf![laneQuads[laneStart[i]]]);
    return p === NO_PASS || q === NO_PASS
      ? sure >= FEWEST_SURE && sure > misses
      : p === q && (sure > 0 || hits > misses);
  };
  for (const [key, e] of countVotes(quads, chain, faced)) {
    const short = Math.min(laneLen(e.a), laneLen(e.b));
    // Lanes of one pass agree wherever they face each other; neighboring passes agree by chance, and seldom.
    const enough = passOf ? ofOnePass(e) : e.n >= 4 * e.misses && (e.sure > 0 || (short > 3 && e.n >= 0.4 * short));
    if (!enough || (ordered && !sameLog(e))) continue;
    joined.add(key);
    sets.join(e.a, e.b, e.flip > 0 ? 1 : 0);
  }
  for (const store of [left, right]) {
    // Along a lane the neighbor is nearly always the same lane.
    let lastKey = -1;
    let keep = false;
    for (let k = 0; k < n; k++) {
      const q = laneQuads[k];
      const r = store[q];
      if (r < 0) continue;
      const key = Math.min(lane[q], lane[r]) * lanes + Math.max(lane[q], lane[r]);
      if (key !== lastKey) {
        lastKey = key;
        keep = joined.has(key);
      }
      if (!keep) store[q] = -1;
    }
  }
  return { ...sets.numbered(), right, left };
}

interface Facing {
  right: Int32Array;
  left: Int32Array;
  /** Per quad and hand (left, right): 1 where the neighbor shares the side digit for digit. */
  sure: Uint8Array;
  /** Per quad and hand the quad that lies beside without being of the same instant, or -1: it speaks against its lane. */
  missed: Int32Array;
}

function findFacing(
  quads: Quads,
  links: SideLinks,
  middles: Float64Array,
  front: Uint8Array,
  offM: number,
  stepM: number,
): Facing {
  const n = quads.count;
  const { link, exact } = links;
  const right = new Int32Array(n).fill(-1);
  const left = new Int32Array(n).fill(-1);
  const sure = new Uint8Array(2 * n);
  const missed = new Int32Array(2 * n).fill(-1);
  const lateral = new Uint32Array(2 * n);
  for (let q = 0; q < n; q++) {
    lateral[2 * q] = 4 * q + ((front[q] + 1) & 1);
    lateral[2 * q + 1] = lateral[2 * q] + 2;
  }
  const grid = makePointGrid(middles, lateral, 1);
  for (let q = 0; q < n; q++) {
    for (let hand = 0; hand < 2; hand++) {
      // Corners run counter-clockwise, so the left side follows the front and the right side comes before it.
      const s = 4 * q + ((front[q] + (hand ? 3 : 1)) & 3);
      const store = hand ? right : left;
      const t = link[s];
      if (t >= 0 && exact[s] && ((t ^ front[t >> 2]) & 1) === 1) {
        store[q] = t >> 2;
        sure[2 * q + hand] = 1;
        continue;
      }
      const r = nearestBeside(quads, front, middles, grid, q, s, offM, stepM);
      if (r >= 0) store[q] = r;
      else if (r < -1) missed[2 * q + hand] = -2 - r;
    }
  }
  return { right, left, sure, missed };
}

/** Votes per pair of lanes, by lower lane · lanes + higher lane, in the order in which the pairs are met. */
function countVotes(quads: Quads, chain: Chain, faced: Facing): Map<number, Votes> {
  const found = new Map<number, Votes>();
  countHand(quads, chain, faced, 0, found);
  countHand(quads, chain, faced, 1, found);
  return found;
}

/** The votes of the neighbors on one hand: 0 left, 1 right. */
function countHand(quads: Quads, chain: Chain, faced: Facing, hand: number, found: Map<number, Votes>): void {
  const { front, lane, laneQuads } = chain;
  const { sure, missed } = faced;
  const beside = hand ? faced.right : faced.left;
  const lanes = chain.laneStart.length - 1;
  const c = quads.corner;
  // Along a lane the neighbor is nearly always the same lane, so the last entry is kept at hand.
  let e: Votes = { a: -1, b: -1, n: 0, misses: 0, sure: 0, flip: 0, apart: 0 };
  for (let k = 0; k < quads.count; k++) {
    const q = laneQuads[k];
    const hit = beside[q];
    const r = hit >= 0 ? hit : missed[2 * q + hand];
    if (r < 0) continue;
    const a = Math.min(lane[q], lane[r]);
    const b = Math.max(lane[q], lane[r]);
    if (a === b) continue;
    if (a !== e.a || b !== e.b) e = votesOf(found, a, b, lanes);
    if (hit < 0) {
      e.misses++;
      continue;
    }
    e.n++;
    e.sure += sure[2 * q + hand];
    e.apart += Math.abs(quads.record[q] - quads.record[r]);
    const qf = 8 * q + 2 * front[q];
    const qb = 8 * q + 2 * ((front[q] + 3) & 3);
    const rf = 8 * r + 2 * front[r];
    const rb = 8 * r + 2 * ((front[r] + 3) & 3);
    // Right sides of both, back to front: only their direction matters.
    e.flip += (c[qf] - c[qb]) * (c[rf] - c[rb]) + (c[qf + 1] - c[qb + 1]) * (c[rf + 1] - c[rb + 1]) < 0 ? 1 : -1;
  }
}

function votesOf(found: Map<number, Votes>, a: number, b: number, lanes: number): Votes {
  const key = a * lanes + b;
  let e = found.get(key);
  if (e === undefined) {
    e = { a, b, n: 0, misses: 0, sure: 0, flip: 0, apart: 0 };
    found.set(key, e);
  }
  return e;
}

/** No section is wider (common practice); a wider record is a bar. */
const WIDEST_SECTION_M = 3.7;

/** Per lane: how steadily its records rise in the file (-1 to 1), and the usual distance from one to the next. */
function laneTrends(
  quads: Quads,
  chain: Chain,
): {
  rise: Float64Array;
  step: Float64Array;
  widthM: Float64Array;
} {
  const lanes = chain.laneStart.length - 1;
  const rise = new Float64Array(lanes);
  const step = new Float64Array(lanes);
  const widthM = new Float64Array(lanes);
  const steps = new Float64Array(quads.count);
  for (let i = 0; i < lanes; i++) {
    const from = chain.laneStart[i];
    const n = chain.laneStart[i + 1] - from - 1;
    if (n < 3) continue;
    for (let k = 0; k < n; k++) {
      const d = quads.record[chain.laneQuads[from + k + 1]] - quads.record[chain.laneQuads[from + k]];
      rise[i] += Math.sign(d);
      steps[k] = Math.abs(d);
    }
    rise[i] /= n;
    step[i] = median(steps.subarray(0, n));
    const q = chain.laneQuads[from];
    const at = (k: number): number => 8 * q + 2 * ((chain.front[q] + k) & 3);
    widthM[i] = lengthOf(quads.corner[at(1)] - quads.corner[at(0)], quads.corner[at(1) + 1] - quads.corner[at(0) + 1]);
  }
  return { rise, step, widthM };
}

/**
 * The quad whose lateral side faces side `s` of `q`, and whose back and front lie on the same lines across: laid down at the same
 * instant. -1 when nothing lies there; -2 - r when quad r lies there and is of another instant. Looks at the side itself first, then
 * further and further out as long as nothing was met.
 */
function nearestBeside(
  quads: Quads,
  front: Uint8Array,
  middles: Float64Array,
  grid: PointGrid,
  q: number,
  s: number,
  offM: number,
  stepM: number,
): number {
  const c = quads.corner;
  const u = travelOf(quads, q, front[q]);
  const mx = middles[2 * s];
  const my = middles[2 * s + 1];
  // Outward normal of the lateral side, from the quad's middle.
  const opp = (s & ~3) | ((s + 2) & 3);
  let ox = mx - middles[2 * opp];
  let oy = my - middles[2 * opp + 1];
  const widthM = lengthOf(ox, oy);
  ox /= widthM;
  oy /= widthM;
  const e = (s & ~3) | ((s + 1) & 3);
  const half = lengthOf(c[2 * e] - c[2 * s], c[2 * e + 1] - c[2 * s + 1]) / 2;
  let best = -1;
  let least = WIDEST_HOLE_M;
  let other = -1;
  let otherOut = WIDEST_HOLE_M;
  for (let d = 0; d < WIDEST_HOLE_M && best < 0 && other < 0; d += d === 0 ? 0.8 : 0.9) {
    const n = grid.near(mx + ox * d, my + oy * d, Math.max(d === 0 ? 0.3 : 0.5, half));
    const { found } = grid;
    for (let k = 0; k < n; k++) {
      const t = found[k];
      const r = t >> 2;
      if (r === q) continue;
      const dx = middles[2 * t] - mx;
      const dy = middles[2 * t + 1] - my;
      const out = dx * ox + dy * oy;
      if (out < -0.3 || Math.abs(out) >= Math.min(least, otherOut)) continue;
      const along = Math.abs(dx * u[0] + dy * u[1]);
      if (along > half) continue;
      // The facing side must face this one.
      const far = (t & ~3) | ((t + 2) & 3);
      if ((middles[2 * far] - middles[2 * t]) * ox + (middles[2 * far + 1] - middles[2 * t + 1]) * oy <= 0) continue;
      const v = travelOf(quads, r, front[r]);
      const cos = u[0] * v[0] + u[1] * v[1];
      if (Math.abs(cos) < 0.97) continue;
      const sameWay = cos > 0;
      // Rounding turns the ends of a narrow quad, the more the farther its line is drawn out.
      const rounding =
        (stepM * Math.max(0, out)) /
        Math.min(widthM, lengthOf(middles[2 * far] - middles[2 * t], middles[2 * far + 1] - middles[2 * t + 1]));
      const tol = Math.min(offM, 0.15 * half) + Math.min(MOST_ROUNDING * half, rounding) + 0.03 * Math.max(0, out);
      const qf = 4 * q + front[q];
      const qb = 4 * q + ((front[q] + 2) & 3);
      const rf = 4 * r + ((front[r] + (sameWay ? 0 : 2)) & 3);
      const rb = 4 * r + ((front[r] + (sameWay ? 2 : 0)) & 3);
      if (offLine(c, middles, qf, rf) > tol || offLine(c, middles, qb, rb) > tol) {
        other = r;
        otherOut = Math.abs(out);
      } else {
        least = Math.abs(out);
        best = r;
      }
    }
  }
  if (best >= 0 && least <= otherOut + 0.1) return best;
  return other >= 0 ? -2 - other : best;
}

/** How far two sides miss lying on one line, meters: mean of each middle's distance from the other's line. */
function offLine(c: Float64Array, middles: Float64Array, a: number, b: number): number {
  return (Math.abs(fromLine(c, middles, a, b)) + Math.abs(fromLine(c, middles, b, a))) / 2;
}

function fromLine(c: Float64Array, middles: Float64Array, a: number, b: number): number {
  const e = (a & ~3) | ((a + 1) & 3);
  const x = c[2 * e] - c[2 * a];
  const y = c[2 * e + 1] - c[2 * a + 1];
  return ((middles[2 * b] - c[2 * a]) * y - (middles[2 * b + 1] - c[2 * a + 1]) * x) / lengthOf(x, y);
}
