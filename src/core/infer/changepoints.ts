import type { BarKinds, Match } from '../observe/bars.ts';
import type { Passes } from '../track/types.ts';
import { CHANGES } from './decide.ts';

/**
 * Where the recorded layout changes: changepoints by penalized marginal likelihood.
 *
 * Bars that hold the same records side by side are of one kind. A kind that fills most of a pass may be a layout: all bands of what
 * the display believed. Under a layout a bar is whole (of that kind), partly off (some of its bands), or strange (anything else), and
 * the state of a bar mostly stays the same in the next one; each step costs its negative log probability, below. The best
 * sequence of layouts, with the price of each change, is found by dynamic programming (Viterbi), exactly.
 */

/** Negative log probabilities. A bar in the same state as the one before it, in a pass. */
const STAYS = 0.02;
/** The same for a bar that is strange under the layout: cheap in a turn, but fifty of them are another layout. */
const STAYS_STRANGE = 0.7;
/** A pass that begins with every section on, and one with some off. */
const BEGINS_WHOLE = 0.1;
const BEGINS_PARTLY = 4.6;
/** From partly off to whole, and to other sections off: at both ends of most passes. */
const TURNS_WHOLE = 0.5;
const TURNS_PARTLY = 1.5;
/** Two passes side by side with the same sections off, both of which meet their neighbors: a tenth of a meter out of some. */
const CLOSE_FOR_NOTHING = 3.5;
/** To something that no section of the layout explains. */
const TURNS_STRANGE = 5;

/** A stretch of bars, in time order, in which the recorded layout stays the same. */
export interface Stretch {
  from: number;
  /** Bar after the last. */
  to: number;
  /** Layout of `BarKinds`; -1 where no kind of bar could be one. */
  layout: number;
  /** How much better the map is explained with the change at `from` than without it, natural logarithm; infinite at the first. */
  logOdds: number;
}

/** Cuts the bars of a map where their layout changes. */
export function findStretches(passes: Passes, { kindOf, layouts, match }: BarKinds): Stretch[] {
  const n = passes.bars;
  if (n === 0) return [];
  if (layouts.length <= 1) return [{ from: 0, to: n, layout: layouts.length - 1, logOdds: Number.POSITIVE_INFINITY }];
  const pairs = fillsInPairs(passes, kindOf);
  const cost = match.map((of) => costOf(passes, kindOf, of, pairs));
  const price = priceOf(passes, layouts.length);
  const path = viterbi(cost, price);
  const out: Stretch[] = [];
  for (let b = 0; b < n; ) {
    let to = b + 1;
    while (to < n && path[to] === path[b]) to++;
    out.push({ from: b, to, layout: path[b], logOdds: Number.POSITIVE_INFINITY });
    b = to;
  }
  const sum = (l: number, s: Stretch): number => cost[l][s.to] - cost[l][s.from];
  for (let i = 1; i < out.length; i++) {
    const [a, s] = [out[i - 1], out[i]];
    const apart = sum(a.layout, a) + sum(s.layout, s) + price(s.from);
    const together = Math.min(...[a.layout, s.layout].map((l) => sum(l, a) + sum(l, s)));
    s.logOdds = together - apart;
  }
  return out;
}

/** What the bars cost under a layout, summed up from the first: `cost[b]` is that of the bars before b. */
function costOf(passes: Passes, kindOf: Int16Array, of: Match[], pairs: Int16Array): Float64Array {
  const cost = new Float64Array(passes.bars + 1);
  for (let p = 0; p + 1 < passes.passStart.length; p++) {
    const [from, to] = [passes.passStart[p], passes.passStart[p + 1]];
    for (let b = from; b < to; b++) cost[b + 1] = cost[b] + stepCost(kindOf, of, b, b === from);
    if (pairs[p] >= 0 && of[pairs[p]] === 'partly') cost[to] += CLOSE_FOR_NOTHING;
  }
  return cost;
}

/** Most of a pass is of one kind from this part of its bars on. */
const MOSTLY = 0.8;
/** Passes meet where an edge lies within this of another, meters. */
const MEETS_M = 0.1;
/** Passes are parallel within this, cosine of 8 degrees. */
const PARALLEL = Math.cos((8 * Math.PI) / 180);
/** More passes than these in pairs are a layout of their own, whatever they cost. */
const MOST_PAIRED = 24;

/**
 * The kind of each pass that is of the same kind as the pass before it, where both meet a neighbor on either side; -1 for others. Sections are off in one pass so that it fills what is left between
 * two others. Two such passes side by side were driven too close to a neighbor for nothing, if the display did not believe in their width.
 */
function fillsInPairs(passes: Passes, kindOf: Int16Array): Int16Array {
  const { passStart } = passes;
  const out = new Int16Array(passStart.length - 1).fill(-1);
  const middle = (p: number): number => (passStart[p] + passStart[p + 1]) >> 1;
  const usual = Array.from(out, (_, p) => {
    const kind = kindOf[middle(p)];
    const count = kindOf.subarray(passStart[p], passStart[p + 1]).filter((k) => k === kind).length;
    return count >= MOSTLY * (passStart[p + 1] - passStart[p]) ? kind : -1;
  });
  const most = usual.reduce((map, k) => map.set(k, (map.get(k) ?? 0) + 1), new Map<number, number>());
  const isPair = (p: number): boolean =>
    usual[p] >= 0 && usual[p] === usual[p - 1] && most.get(usual[p])! <= MOST_PAIRED;
  const meets = new Map<number, boolean>();
  const meetsBoth = (p: number): boolean => {
    const known = meets.get(p) ?? (meetsAt(passes, middle(p), -1) && meetsAt(passes, middle(p), 1));
    meets.set(p, known);
    return known;
  };
  for (let p = 1; p < out.length; p++) if (isPair(p) && meetsBoth(p - 1) && meetsBoth(p)) out[p] = usual[p];
  return out;
}

/** Whether an edge of another pass lies at the edge of bar `b` on `side`, +1 right. */
function meetsAt(passes: Passes, b: number, side: number): boolean {
  const { center, right, lengthM, barStart, leftM, rightM } = passes;
  const [rx, ry] = [right[2 * b], right[2 * b + 1]];
  const edgeM = side > 0 ? rightM[barStart[b + 1] - 1] : leftM[barStart[b]];
  for (let a = 0; a < passes.bars; a++) {
    const [dx, dy] = [center[2 * a] - center[2 * b], center[2 * a + 1] - center[2 * b + 1]];
    if (Math.abs(dy * rx - dx * ry) > lengthM[a] / 2) continue;
    const cos = right[2 * a] * rx + right[2 * a + 1] * ry;
    if (a === b || Math.abs(cos) < PARALLEL) continue;
    const facing = cos * side > 0 ? leftM[barStart[a]] : rightM[barStart[a + 1] - 1];
    if (Math.abs(dx * rx + dy * ry + cos * facing - edgeM) < MEETS_M) return true;
  }
  return false;
}

function stepCost(kindOf: Int16Array, of: Match[], b: number, begins: boolean): number {
  const is = kindOf[b] < 0 ? 'strange' : of[kindOf[b]];
  const whole = is === 'whole' || is === 'turned';
  if (begins) {
    if (whole) return BEGINS_WHOLE;
    if (is === 'strange') return TURNS_STRANGE;
    return BEGINS_PARTLY;
  }
  const was = kindOf[b - 1] < 0 ? 'strange' : of[kindOf[b - 1]];
  if (is === 'strange') return was === 'strange' ? STAYS_STRANGE : TURNS_STRANGE;
  if (kindOf[b] === kindOf[b - 1]) return STAYS;
  return whole ? TURNS_WHOLE : TURNS_PARTLY;
}

/** Price of a change at bar `b`: that there is one, where, and to which of the other layouts. */
function priceOf(passes: Passes, layouts: number): (b: number) => number {
  const passCount = passes.passStart.length - 1;
  const starts = new Set(passes.passStart);
  const between = CHANGES + Math.log(passCount) + Math.log(layouts - 1);
  const within = between + Math.log(Math.max(1, passes.bars / passCount));
  return (b) => (starts.has(b) ? between : within);
}

/** The cheapest layout for every bar. */
function viterbi(cost: Float64Array[], price: (b: number) => number): Uint8Array {
  const m = cost.length;
  const n = cost[0].length - 1;
  const from = cost.map(() => new Uint8Array(n));
  const total = cost.map((c) => c[1]);
  for (let b = 1; b < n; b++) {
    let best = 0;
    for (let l = 1; l < m; l++) if (total[l] < total[best]) best = l;
    const changed = total[best] + price(b);
    for (let l = 0; l < m; l++) {
      const comes = l !== best && changed < total[l];
      from[l][b] = comes ? best : l;
      total[l] = (comes ? changed : total[l]) + cost[l][b + 1] - cost[l][b];
    }
  }
  const path = new Uint8Array(n);
  let l = total.indexOf(Math.min(...total));
  for (let b = n - 1; b >= 0; b--) {
    path[b] = l;
    l = from[l][b];
  }
  return path;
}
