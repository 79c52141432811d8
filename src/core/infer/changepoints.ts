import { type BarKinds, fillsInPairs, type Match } from '../observe/index.ts';
import type { Passes } from '../track/types.ts';
import { LOG_CHANGE_COST } from './decide.ts';

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
/** Two passes side by side with the same sections off, both of which meet their neighbors: nobody drives that close without a reason. */
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
  // Only a kind that may be a layout of its own, and a part of another, is worth a look.
  const isPart = (kind: number): boolean =>
    match.some((of) => of[kind] === 'whole') && match.some((of) => of[kind] === 'partly');
  const pairs = fillsInPairs(passes, kindOf, isPart);
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
  const between = LOG_CHANGE_COST + Math.log(passCount) + Math.log(layouts - 1);
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
