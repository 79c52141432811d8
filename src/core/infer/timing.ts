import { logSum, median } from '../geometry/stats.ts';
import type { End } from '../observe/index.ts';
import { groupBy } from '../shared/groups.ts';
import {
  CORRECT_OFFSET_SD_M,
  END_SCALES_M,
  ENDS_ANYWHERE,
  ENDS_TOGETHER_M,
  FARTHEST_END_M,
  HABIT,
  HABIT_M,
  HAND_SCALES,
  LEFT_LATE,
  MOST_LEFT_LATE_S,
  MOST_LOOK_AHEAD_S,
  NO_LOOK_AHEAD,
  ONE_SIDED,
  PLANNED_OVERLAP_M,
  SPEEDING,
  SPEEDS_SHOWN,
  SWITCHED_BY_HAND,
  SWITCHED_BY_HAND_WHOLE,
  USUAL_LOOK_AHEAD_S,
  USUAL_SPEED_M_PER_S,
  WILD_ENDS,
  WILD_ENDS_OVER_M,
  WRONG_DELAY_S,
  WRONG_OFFSET_M,
} from './noise.ts';
import { type Candidate, posterior } from './posterior.ts';
import { priorOf } from './settings/index.ts';

/**
 * Evidence of starts and stops of sections for an offset along travel and a switching delay.
 *
 * An end lies at
 *
 *     z = c + tau * v + u + noise,      z = overlap at a stop, minus the overlap at a start
 *
 * where c = d + b at stops and d - b at starts: d is the distance by which everything comes late (an offset along travel), b what starts and
 * stops both overlap on purpose; tau is a time (the display's look-ahead, below 0, and a wrong delay), v the speed; u says how the
 * instant was logged (`LOGGING`). The noise has Student tails, and a share of the ends is anywhere: a planter is also lifted by hand.
 *
 * The likelihood is summed over a grid of c, tau, logging, noise and part of wild ends: nothing is chosen first. Known limit: without
 * times, speeds are assumed equal, and a distance is not distinguished from a time.
 */
export interface TimingPosterior {
  /** Probabilities that an offset along travel is wrong, that a delay is, and that neither is. */
  offset: number;
  delay: number;
  neither: number;
  /** Distance of the offset if it is one, meters, and time of the delay if it is one, seconds; + late. */
  offsetM: Interval;
  delayS: Interval;
  /** Half the difference between stops and starts as measured, meters; + late. */
  lateM: number;
  /** Of the starts that lie together around their middle or at one other place, the share around their middle; or of the stops, whichever is less. */
  alike: number;
  starts: number;
  stops: number;
  /** Places of the passes, counted from 0. */
  passes: number[];
  /** Logarithm of the probability density of the ends, whatever was wrong. */
  logEvidence: number;
}

/** Mean of a posterior and its middle 95 %. */
export interface Interval {
  mean: number;
  low: number;
  high: number;
}

/** How a display logs the instant of a switch; `from` and `to` bound u in parts of the interval before and after the end. */
interface Logging {
  name: 'cut' | 'beginning' | 'end' | 'middle';
  prior: number;
  from: number;
  to: number;
}
const LOGGING: Logging[] = [
  // Record cut where the section switches.
  { name: 'cut', prior: 0.3, from: 0, to: 0 },
  // State of the whole interval, sampled at its beginning: the switch lies in the interval before, so it is drawn late.
  { name: 'beginning', prior: 0.2, from: 0, to: 1 },
  // Sampled at its end: drawn early.
  { name: 'end', prior: 0.25, from: -1, to: 0 },
  { name: 'middle', prior: 0.25, from: -0.5, to: 0.5 },
];

/** The same where strips do not show the interval, which may be half or twice the usual one. */
const UNSEEN_LOGGING: Logging[] = LOGGING.flatMap((l) =>
  l.name === 'cut' ? [l] : [0.5, 1, 2].map((f) => ({ ...l, prior: l.prior / 3, from: f * l.from, to: f * l.to })),
);

/** Grid of distances and of times. */
const STEP_M = 0.15;
const REACH_M = 9;
const STEP_S = 0.15;
const REACH_S = 4.05;
/** More ends than this of either kind are thinned evenly: they add nothing new. */
const MOST_ENDS = 40;
/** Fewest ends of passes, of each kind, that are evidence about starting and stopping. */
export const FEWEST_ENDS = 4;

interface Event {
  z: number;
  speed: number;
  /** Speed if its record is not cut at the switch: that shows how slow the planter was there. */
  uncutSpeed: number;
  before: number;
  after: number;
  cutShare: number;
  pass: number;
  /** Sections that start or stop there. */
  sections: number;
}

/** The posterior; null where there are too few ends of either kind. `whole`: the records hold the whole width, so it may have been switched by hand. */
export function timingPosterior(ends: readonly End[], whole: boolean): TimingPosterior | null {
  const starts = eventsOf(ends, 'start');
  const stops = eventsOf(ends, 'stop');
  if (starts.length < FEWEST_ENDS || stops.length < FEWEST_ENDS) return null;
  const models = modelsOf(thin(starts), thin(stops));
  const sums = { neither: new Sum(), offset: new Sum(), delay: new Sum() };
  for (const m of models) addModel(m, whole ? SWITCHED_BY_HAND_WHOLE : SWITCHED_BY_HAND, sums);
  const n = starts.length + stops.length;
  const logWild = -Math.min(n, 2 * MOST_ENDS) * Math.log(WILD_ENDS_OVER_M);
  const right = 1 - priorOf('inline-offset') - priorOf('switch-delay') - ENDS_ANYWHERE;
  const candidates: Candidate<'offset' | 'delay' | 'neither'>[] = [
    { of: 'offset', logPrior: Math.log(priorOf('inline-offset')), logLikelihood: sums.offset.log() },
    { of: 'delay', logPrior: Math.log(priorOf('switch-delay')), logLikelihood: sums.delay.log() },
    { of: 'neither', logPrior: Math.log(right), logLikelihood: sums.neither.log() },
    { of: 'neither', logPrior: Math.log(ENDS_ANYWHERE), logLikelihood: logWild },
  ];
  const { ranked, logEvidence } = posterior(candidates);
  const of = (what: string): number => ranked.reduce((s, r) => s + (r.of === what ? r.probability : 0), 0);
  const mid = (list: Event[]): number => median(list.map((e) => e.z));
  return {
    offset: of('offset'),
    delay: of('delay'),
    neither: of('neither'),
    offsetM: sums.offset.interval(STEP_M / 2),
    delayS: sums.delay.interval(STEP_S),
    lateM: (mid(stops) + mid(starts)) / 2,
    alike: Math.min(alikeShare(starts), alikeShare(stops)),
    starts: starts.length,
    stops: stops.length,
    passes: [...new Set([...starts, ...stops].map((e) => e.pass))].sort((a, b) => a - b),
    logEvidence,
  };
}

/** Median speed at the ends, meters per second; what is common practice where no time shows it. */
export function usualSpeed(ends: readonly End[]): number {
  const known = ends.flatMap((e) => (Number.isNaN(e.speedMPerS) ? [] : [e.speedMPerS]));
  return known.length > 0 ? median(known) : USUAL_SPEED_M_PER_S;
}

/**
 * Sections that start or stop in one bar are one event, at their middle: they share the instant and the speed. Along a slanted edge the sections of a
 * pass end switch in one bar after the other, often at the same part of a log interval: no more than two of them count.
 */
function eventsOf(ends: readonly End[], kind: End['kind']): Event[] {
  const usual = usualSpeed(ends);
  const speedOf = (e: End): number => (Number.isNaN(e.speedMPerS) ? usual : e.speedMPerS);
  const groups = groupBy(
    ends.filter((e) => e.kind === kind),
    (e) => e.bar,
  );
  const sign = kind === 'stop' ? 1 : -1;
  const places = groupBy(groups.values(), (g) => g[0].pass);
  const counted = [...places.values()].flatMap((list) => (list.length > 2 ? [list[0], list[list.length - 1]] : list));
  const events = counted.map((g) => ({
    z: sign * median(g.map((e) => e.overlapM)),
    speed: speedOf(g[0]),
    // Without times, records may be logged by distance: a short one shows no speed.
    uncutSpeed: speedOf(g[0]) * (g[0].cutShare < 1 && !Number.isNaN(g[0].speedMPerS) ? g[0].cutShare : 1),
    before: g[0].intervalBeforeM,
    after: g[0].intervalAfterM,
    cutShare: g[0].cutShare,
    pass: g[0].pass,
    sections: g.length,
  }));
  return events.filter((e) => Math.abs(e.z) <= FARTHEST_END_M + Math.max(e.before, e.after));
}

/** Ends around their middle, of those and of the most that lie together elsewhere, each by its sections: scattered ones are of turns and slanted edges, and single sections of waterways. */
function alikeShare(list: Event[]): number {
  const isNear = (e: Event, z: number): boolean => Math.abs(e.z - z) <= ENDS_TOGETHER_M + Math.max(e.before, e.after);
  const sectionsOf = (events: Event[]): number => events.reduce((sum, e) => sum + e.sections, 0);
  const middle = median(list.map((e) => e.z));
  const others = list.filter((e) => !isNear(e, middle));
  const together = sectionsOf(list.filter((e) => isNear(e, middle)));
  const elsewhere = others.reduce((most, o) => Math.max(most, sectionsOf(others.filter((e) => isNear(e, o.z)))), 0);
  return together / (together + elsewhere);
}

function thin(list: Event[]): Event[] {
  const step = Math.max(1, list.length / MOST_ENDS);
  return Array.from({ length: Math.min(list.length, MOST_ENDS) }, (_, i) => list[Math.floor(i * step)]);
}

/** One model of the ends: logarithms of the likelihood on the grid of c (rows) and tau (columns). */
interface Model {
  logPrior: number;
  scale: number;
  starts: Float64Array;
  stops: Float64Array;
}

const CS = 2 * Math.round(REACH_M / STEP_M) + 1;
const TAUS = 2 * Math.round(REACH_S / STEP_S) + 1;
const cOf = (i: number): number => (i - (CS - 1) / 2) * STEP_M;
const tauOf = (j: number): number => (j - (TAUS - 1) / 2) * STEP_S;

/** A model this much less likely than the best one, at a few times tau, adds nothing; natural logarithm. */
const HOPELESS = 10;
const FEW_TAUS = [-3, -1.5, -0.75, 0, 1.5, 3].map((t) => Math.round(t / STEP_S) + (TAUS - 1) / 2);

/** One way in which ends were logged, the noise about them, and how far their speeds differ. */
interface Kind {
  starts: Event[];
  stops: Event[];
  logging: Logging;
  scale: number;
  logPrior: number;
}

function modelsOf(starts: Event[], stops: Event[]): Model[] {
  const kinds = kindsOf(starts, stops);
  const peaks = kinds.map((kind) => {
    const each = FEW_TAUS.map((j) => {
      const [a, b] = [peaksAt(kind.starts, kind, j), peaksAt(kind.stops, kind, j)];
      return a.map((v, w) => v + b[w]);
    });
    return WILD_ENDS.map((_, w) => kind.logPrior + Math.max(...each.map((sums) => sums[w])));
  });
  const best = Math.max(...peaks.flat());
  return kinds.flatMap((kind, k) => {
    const { logPrior, scale, logging } = kind;
    const wilds = WILD_ENDS.filter((_, w) => peaks[k][w] > best - HOPELESS);
    if (wilds.length === 0) return [];
    const tables = [kind.starts, kind.stops].map((list) => {
      const outs = wilds.map(() => new Float64Array(CS * TAUS));
      for (let j = 0; j < TAUS; j++) fillColumns(list, tauOf(j), logging, scale, wilds, outs, TAUS, j);
      return outs;
    });
    return wilds.map((_, w) => ({ logPrior, scale, starts: tables[0][w], stops: tables[1][w] }));
  });
}

function kindsOf(starts: Event[], stops: Event[]): Kind[] {
  const all = [...starts, ...stops];
  const unseen = all.every((e) => Number.isNaN(e.cutShare));
  const even = all.every((e) => e.speed === all[0].speed && e.uncutSpeed === all[0].uncutSpeed);
  return (even ? [[1, 1]] : SPEEDS_SHOWN).flatMap(([shown, prior]) => {
    const [begun, stopped] = [shrunk(starts, shown), shrunk(stops, shown)];
    return (unseen ? UNSEEN_LOGGING : LOGGING).flatMap((logging) => {
      const isCut = logging.name === 'cut';
      const cut = cutLikelihood(starts, isCut) + cutLikelihood(stops, isCut);
      return END_SCALES_M.map((scale) => ({
        starts: begun,
        stops: stopped,
        logging,
        scale,
        logPrior: Math.log((prior * logging.prior) / END_SCALES_M.length / WILD_ENDS.length) + cut,
      }));
    });
  });
}

/** Ends of one kind whose speeds differ from the usual one by this part of what the bars beside them show. */
function shrunk(list: Event[], shown: number): Event[] {
  if (shown === 1) return list;
  const usual = median(list.map((e) => e.speed));
  return list.map((e) => {
    const speed = usual + shown * (e.speed - usual);
    return { ...e, speed, uncutSpeed: (e.uncutSpeed * speed) / e.speed };
  });
}

/** The highest logarithm at column `j` of tau, for each share of wild ends. */
function peaksAt(list: Event[], { logging, scale }: { logging: Logging; scale: number }, j: number): number[] {
  const outs = WILD_ENDS.map(() => new Float64Array(CS));
  fillColumns(list, tauOf(j), logging, scale, WILD_ENDS, outs, 1, 0);
  return outs.map((out) => out.reduce((a, v) => Math.max(a, v), Number.NEGATIVE_INFINITY));
}

/** Distribution function of Student's t with two degrees of freedom (Abramowitz and Stegun, 26.7.3, in closed form). */
const t2 = (x: number): number => 0.5 + x / (2 * Math.sqrt(2 + x * x));
/** Its density: the power of -3/2 by a square root, which takes a tenth of the time and is the same in every engine. */
const t2Density = (x: number): number => 1 / ((2 + x * x) * Math.sqrt(2 + x * x));

/**
 * Adds up, for every c, the logarithms of the densities of all ends at one tau: uniform over the interval, blurred by the noise. The same density serves
 * every share of wild ends; number i of `outs[w]` goes to place `i * stride + at`.
 */
function fillColumns(
  list: Event[],
  tau: number,
  { name, from, to }: Logging,
  scale: number,
  wilds: readonly number[],
  outs: readonly Float64Array[],
  stride: number,
  at: number,
): void {
  const n = list.length;
  const late = new Float64Array(n);
  const ahead = new Float64Array(n);
  const low = new Float64Array(n);
  const high = new Float64Array(n);
  for (let k = 0; k < n; k++) {
    const e = list[k];
    late[k] = e.z;
    ahead[k] = tau * (name === 'cut' ? e.speed : e.uncutSpeed);
    low[k] = from * (from < 0 ? e.after : e.before);
    high[k] = to * (to < 0 ? e.after : e.before);
  }
  const density = new Float64Array(n);
  for (let i = 0; i < CS; i++) {
    const c = cOf(i);
    for (let k = 0; k < n; k++) {
      const u = late[k] - c - ahead[k];
      const width = high[k] - low[k];
      density[k] =
        width < 0.02 ? t2Density(u / scale) / scale : (t2((u - low[k]) / scale) - t2((u - high[k]) / scale)) / width;
    }
    for (let w = 0; w < wilds.length; w++) outs[w][i * stride + at] = logProduct(density, wilds[w]);
  }
}

/** Logarithm of the product of the densities, each mixed with that of ends that are anywhere. */
function logProduct(density: Float64Array, wild: number): number {
  const base = wild / WILD_ENDS_OVER_M;
  let sum = 0;
  let product = 1;
  for (let k = 0; k < density.length; k++) {
    product *= base + (1 - wild) * density[k];
    // Sixteen factors never leave the range of a double.
    if (((k + 1) & 15) === 0) {
      sum += Math.log(product);
      product = 1;
    }
  }
  return sum + Math.log(product);
}

/**
 * Records beside a switch are of any length where they are cut there. Where they are not, they are as long as those before, or shorter by what the planter slows down, which is
 * much the same at all ends of a kind.
 */
function cutLikelihood(list: Event[], cut: boolean): number {
  const shares = list.map((e) => e.cutShare).filter((r) => !Number.isNaN(r));
  const sum = (of: (r: number) => number): number => shares.reduce((s, r) => s + Math.log(of(r)), 0);
  // Lengths at one headland are correlated: half the evidence of independent ones.
  if (cut) return sum((r) => 0.85 * (r <= 1.05 ? 1 / 1.05 : 0.02) + 0.15 / 1.5) / 2;
  return logSum(
    SPEEDING.map(
      ([part, prior]) => Math.log(prior) + sum((r) => 0.75 * (t2Density((r - part) / 0.1) / 0.1) + 0.25 / 1.5) / 2,
    ),
  );
}

/** A sum of terms far below the range of a double, and the distribution of a value over it. */
class Sum {
  private top = Number.NEGATIVE_INFINITY;
  private total = 0;
  private readonly at = new Map<number, number>();

  add(logTerm: number, value: number): void {
    if (logTerm > this.top) {
      const shrink = Math.exp(this.top - logTerm);
      this.total *= shrink;
      for (const [k, w] of this.at) this.at.set(k, w * shrink);
      this.top = logTerm;
    }
    const w = Math.exp(logTerm - this.top);
    this.total += w;
    this.at.set(value, (this.at.get(value) ?? 0) + w);
  }

  log(): number {
    return this.top + Math.log(this.total);
  }

  /** `step` is the distance between the values: each represents an interval of half a step on either side. */
  interval(step: number): Interval {
    const list = [...this.at].sort((a, b) => a[0] - b[0]);
    let mean = 0;
    for (const [v, w] of list) mean += (v * w) / this.total;
    const quantile = (p: number): number => {
      let sum = 0;
      for (const [v, w] of list) {
        sum += w / this.total;
        if (sum >= p) return v;
      }
      return list[list.length - 1]?.[0] ?? Number.NaN;
    };
    return { mean, low: quantile(0.025) - step / 2, high: quantile(0.975) + step / 2 };
  }
}

/** Density of a size between the two ends of `range`, uniform on a log scale, either sign. */
function logUniform(x: number, range: readonly number[]): number {
  const a = Math.abs(x);
  return a < range[0] || a > range[1] ? 0 : 1 / (2 * a * Math.log(range[1] / range[0]));
}

const NOW = (TAUS - 1) / 2;
const AHEAD_STEPS = Math.ceil(MOST_LOOK_AHEAD_S / STEP_S) - 1;
/** How common each step of look-ahead is: any up to the usual one, and less and less beyond. */
const AHEAD = Array.from({ length: AHEAD_STEPS + 1 }, (_, k) =>
  Math.min(1, (MOST_LOOK_AHEAD_S - k * STEP_S) / (MOST_LOOK_AHEAD_S - USUAL_LOOK_AHEAD_S)),
);
const ALL_AHEAD = AHEAD.reduce((a, v) => a + v, 0);
/** The same of what a display that looks ahead too little leaves: less and less up to the most. */
const LATE = Array.from(
  { length: Math.ceil(MOST_LEFT_LATE_S / STEP_S) - 1 },
  (_, k) => MOST_LEFT_LATE_S - (k + 1) * STEP_S,
);
const ALL_LATE = LATE.reduce((a, v) => a + v, 0);

/** Prior of the look-ahead that lies in column `j` of the grid of tau, or of the delay that it leaves. */
function aheadPrior(j: number): number {
  if (j > NOW) return (LEFT_LATE * (LATE[j - NOW - 1] ?? 0)) / ALL_LATE;
  const ahead = ((1 - NO_LOOK_AHEAD - LEFT_LATE) * (AHEAD[NOW - j] ?? 0)) / ALL_AHEAD;
  return j === NOW ? NO_LOOK_AHEAD + ahead : ahead;
}

/** Wrong delays, and their prior, that can produce column `j` of tau: each with another look-ahead. */
function wrongDelays(j: number): { delay: number; prior: number; byHand: number }[] {
  const out: { delay: number; prior: number; byHand: number }[] = [];
  for (let a = NOW - AHEAD_STEPS; a <= NOW; a++) {
    const delay = (j - a) * STEP_S;
    const density = logUniform(delay, WRONG_DELAY_S) * STEP_S;
    if (density > 0) out.push({ delay, prior: density * aheadPrior(a), byHand: a === NOW ? density : 0 });
  }
  return out;
}

/** Sums of two places of the grid of c; a distance d or b is half of such a sum, less the middle. */
const SUMS = 2 * CS - 1;
const halfOf = (k: number): number => ((k - CS + 1) * STEP_M) / 2;
const overSums = (of: (m: number) => number): Float64Array =>
  Float64Array.from({ length: SUMS }, (_, k) => of(halfOf(k)));

/** Density of a planned overlap, per meter. */
const planned = (b: number): number => 1 / (Math.PI * PLANNED_OVERLAP_M * (1 + (b / PLANNED_OVERLAP_M) ** 2));
/** Part of a cell of c that starts, or stops, have of a planned overlap; and if they may be anywhere on the grid. */
const plannedAt = (c: number): number => STEP_M * planned(c);
const anywhere = (): number => STEP_M / (2 * REACH_M);

/** Adds the likelihood of one model under each of the three hypotheses. */
function addModel(m: Model, byHand: number, sums: { neither: Sum; offset: Sum; delay: Sum }): void {
  const sd = Math.hypot(CORRECT_OFFSET_SD_M, HABIT * m.scale);
  const hand = byHand * HAND_SCALES[END_SCALES_M.indexOf(m.scale)] * END_SCALES_M.length;
  const normal = (d: number, s: number): number => Math.exp(-0.5 * (d / s) ** 2) / (s * Math.sqrt(2 * Math.PI));
  // Densities of the distance by which everything comes late, correct and wrong, and of the common overlap of starts and stops.
  const honestOf = overSums((d) => (1 - byHand) * normal(d, sd));
  // A hand has habits, and does not look ahead.
  const handOf = overSums((d) => hand * normal(d, HABIT_M));
  const wrongOf = overSums((d) => logUniform(d, WRONG_OFFSET_M));
  // Area of a cell in (d, b) is half of that in (c, c).
  const cell = (STEP_M * STEP_M) / 2;
  const plannedOf = overSums((b) => cell * planned(b));
  const bestOf = (t: Float64Array): Float64Array => {
    const out = new Float64Array(TAUS).fill(Number.NEGATIVE_INFINITY);
    for (let k = 0; k < t.length; k++) out[k % TAUS] = Math.max(out[k % TAUS], t[k]);
    return out;
  };
  const [topStart, topStop] = [bestOf(m.starts), bestOf(m.stops)];
  const top = topStart.reduce((a, v, j) => Math.max(a, v + topStop[j]), Number.NEGATIVE_INFINITY);
  const late = new Float64Array(SUMS);
  for (let j = 0; j < TAUS; j++) {
    if (topStart[j] + topStop[j] < top - 2 * HOPELESS) continue;
    const ahead = aheadPrior(j);
    const delays = wrongDelays(j);
    if (ahead === 0 && delays.length === 0) continue;
    // Weight of every distance, whatever the common overlap of starts and stops.
    late.fill(0);
    const starts = likely(m.starts, j, topStart[j]);
    const stops = likely(m.stops, j, topStop[j]);
    for (const a of starts)
      for (const o of stops) late[a.at + o.at] += a.density * o.density * plannedOf[o.at - a.at + CS - 1];
    const weigh = (of: Float64Array): number => late.reduce((sum, w, k) => sum + w * of[k], 0);
    const honest = weigh(honestOf);
    const handed = weigh(handOf);
    const log = m.logPrior + topStart[j] + topStop[j];
    const neither = honest * ahead + (j === NOW ? handed : 0);
    if (neither > 0) sums.neither.add(log + Math.log(neither), 0);
    for (const { delay, prior, byHand: handPrior } of delays) {
      const p = honest * prior + handed * handPrior;
      if (p > 0) sums.delay.add(log + Math.log(p), delay);
    }
    if (ahead === 0) continue;
    // Starts as they should be, and stops at any one place, or the other way around: an offset or a delay moves both.
    const sumOf = (list: typeof starts, of: (c: number) => number): number =>
      list.reduce((sum, { at, density }) => sum + density * of(cOf(at)), 0);
    const oneSided =
      (sumOf(starts, plannedAt) * sumOf(stops, anywhere) + sumOf(stops, plannedAt) * sumOf(starts, anywhere)) / 2;
    if (oneSided > 0) sums.neither.add(log + Math.log(ONE_SIDED * ahead * oneSided), 0);
    late.forEach((w, k) => {
      const p = w * wrongOf[k] * ahead;
      if (p > 0) sums.offset.add(log + Math.log(p), halfOf(k));
    });
  }
}

/** Places of the grid of c with a non-negligible density at one tau, and their density relative to that of the best, `top`. */
function likely(table: Float64Array, tau: number, top: number): { at: number; density: number }[] {
  const out: { at: number; density: number }[] = [];
  for (let at = 0; at < CS; at++) {
    const log = table[at * TAUS + tau] - top;
    if (log >= -HOPELESS) out.push({ at, density: Math.exp(log) });
  }
  return out;
}
