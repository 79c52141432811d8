import { logBeta, logSum, median, middleOf, robustSd } from '../geometry/stats.ts';
import { type End, type MeasuredBand, ON, type Visit } from '../observe/index.ts';
import { groupBy } from '../shared/groups.ts';
import type { Passes } from '../track/types.ts';
import {
  ANY_RATE,
  END_REACH_M,
  END_SCALES_M,
  HAND_SCALES,
  LIFTED_WHOLE,
  MOST_LOOK_AHEAD_S,
  OFF_RATE,
  ONE_RECORD,
  PLANNED_THROUGH_M,
  PLANNED_WILD,
  RIGHT_RATE,
  SHARED_LATE_M,
  SLANT_SCALE_M,
  SLANT_SCALE_SHARE,
  SLANT_SCALES,
  SLANT_SLOPES,
  SLANT_TEMPER,
  SLANTED_SCALES,
  SLIP_RATE,
  UNPLANNED,
  USUAL_SPEED_M_PER_S,
  USUALLY_LIFTED,
  WILD_SLANTS,
} from './noise.ts';
import { type Candidate, posterior } from './posterior.ts';
import { priorOf } from './settings/index.ts';

/**
 * The behavior of the sections of one segment at covered ground: right, all on (section control off), switched in
 * another order, or one that stays on.
 *
 * Two kinds of observation. A *visit*: a stretch in which some sections lay wholly on covered ground for longer than switching takes; each
 * of them was on or off. A *slanted end*: the sections of one pass end reach the edge of covered ground one after the other; each
 * switches at its own place (right), all at one place (control off), at the place of another section (order), or beyond (stays on).
 * Visits of one hypothesis share an unknown rate, with a beta density; residuals at ends have Student tails, and the place of the whole
 * end is free, so that an offset along travel or a delay is no evidence here.
 */
export type Behavior =
  | { kind: 'right' }
  | { kind: 'control-off' }
  /** Section k (0-based) switches where section `order[k]` should. */
  | { kind: 'order'; order: number[]; mirrored: boolean }
  | { kind: 'stuck-on'; slot: number }
  | { kind: 'other' };

export interface SectionsPosterior {
  ranked: { of: Behavior; probability: number }[];
  /** Visits and slanted ends that the most probable behavior explains better than "right" does, and their passes, counted from 1. */
  bearing: number;
  /** Slanted ends that contradict it as clearly. */
  against: number;
  bearingPasses: number[];
  slantedEnds: number;
  visits: number;
}

const FEWEST_THROUGH = 4;
/** A section that begins or stops this far from the others, meters, met something else on its way: the slant of a field's end over the widest frame is less. */
const LONGEST_SLANT_M = 30;
/** Prior probability of something that is none of these. */
const OTHER = 0.015;
/** Shares of the prior of a wrong order. Plugged or numbered from the other end is the most common (common practice). */
const ORDER_PARTS = { mirrored: 0.5, halves: 0.1, swap: 0.4 };
/** An end supports a hypothesis when it is this much more likely under it, natural logarithm, of which SLANT_TEMPER counts: about two to one. */
const BEARS = 0.5;

/**
 * `sections` is how many sections the planter has: a single section can spare nothing (null). Where a segment has one band, the records hold
 * the whole width, and show only whether everything was on.
 */
export function judgeSections(
  passes: Passes,
  bands: readonly MeasuredBand[],
  seen: readonly Visit[],
  ends: readonly End[],
  fieldEnds: readonly End[],
  sections: number,
): SectionsPosterior | null {
  const n = bands.length;
  if (Math.max(n, sections) < 2) return null;
  const behaviors = behaviorsOf(n);
  // Where a lap goes round, an outer section meets the end of the lap's other side as well as its edge.
  const atCovered = slantsOf(
    passes,
    bands,
    ends.filter((e) => !e.corner),
  );
  const known = new Set(atCovered.map((s) => s.key));
  const atField = slantsOf(passes, bands, fieldEnds).filter((s) => !known.has(s.key));
  const room = roomFor(n);
  const slants = [...atCovered, ...atField.filter(isSlanted)];
  // The first behavior is "right": most others differ from it in two sections.
  const memos = slants.map(() => SLANT_SCALES.map((): Memo[] => []));
  const scaled = slants.map(atScales);
  const ways = behaviors.map((b) => scaled.map((s, i) => overScales(s, b.of, room, memos[i])));
  const perEnd = ways.map((ends) => ends.map((e) => SLANT_TEMPER * liftedAt(e, USUALLY_LIFTED)));
  const through = throughOf(ends);
  const visits = seen.filter((v) => !isOfOffset(v, passes, through));
  const candidates: Candidate<Behavior>[] = behaviors.map((b, i) => ({
    ...b,
    logLikelihood: endsLikelihood(ways[i]) + visitLikelihood(visits, b.of) + throughLikelihood(through, b.of),
  }));
  const { ranked } = posterior(candidates);
  const best = ranked[0].of;
  const [right, mine] = [behaviors.findIndex((b) => b.of.kind === 'right'), behaviors.findIndex((b) => b.of === best)];
  const borneEnds = slants
    .filter((s, i) => perEnd[mine][i] - perEnd[right][i] > BEARS && (best.kind !== 'stuck-on' || goesOn(s, best.slot)))
    .map((s) => s.pass);
  const borne = [
    ...borneEnds,
    // A visit often ends where its pass does: one place.
    ...visits.filter((v) => bearsOut(v, best) && !borneEnds.includes(v.pass)).map((v) => v.pass),
    ...(best.kind === 'control-off' && through ? through.passes : []),
  ];
  return {
    ranked,
    bearing: borne.length,
    against: slants.filter((_, i) => perEnd[right][i] - perEnd[mine][i] > BEARS).length,
    bearingPasses: [...new Set(borne.map((p) => passes.number[p]))].sort((a, b) => a - b),
    slantedEnds: slants.length,
    visits: visits.length,
  };
}

/** Whether section `slot` reaches over covered ground at an end, and further than the others. */
function goesOn(s: Slant, slot: number): boolean {
  const at = s.slots.indexOf(slot);
  if (at < 0) return false;
  const overM = (i: number): number => s.along[i] - s.due[i];
  const others = s.slots.flatMap((_, i) => (i === at ? [] : overM(i)));
  return overM(at) > Math.max(0, median(others));
}

/** With more sections than this it is not asked which two were exchanged: their pairs, each with an order of all, would fill the memory, and no frame has half as many. */
const MOST_SWAPPED = 128;

function behaviorsOf(n: number): { of: Behavior; logPrior: number }[] {
  const out: { of: Behavior; logPrior: number }[] = [];
  const add = (of: Behavior, prior: number): void => {
    out.push({ of, logPrior: Math.log(prior) });
  };
  const [off, order, on] = [priorOf('section-control-off'), priorOf('section-order'), priorOf('section-stuck-on')];
  add({ kind: 'right' }, 1 - off - order - on - OTHER);
  add({ kind: 'other' }, OTHER);
  add({ kind: 'control-off' }, off);
  if (n < 2) return out;
  const straight = Array.from({ length: n }, (_, k) => k);
  const mirror = [...straight].reverse();
  add({ kind: 'order', order: mirror, mirrored: true }, order * ORDER_PARTS.mirrored);
  const half = n >> 1;
  if (n > 3) {
    const halves = straight.map((k) => (k < half ? k + n - half : k >= n - half ? k - n + half : k));
    add({ kind: 'order', order: halves, mirrored: false }, order * ORDER_PARTS.halves);
  }
  const swaps = (n * (n - 1)) / 2;
  for (let i = 0; n > 2 && n <= MOST_SWAPPED && i < n; i++)
    for (let j = i + 1; j < n; j++) {
      const swapped = [...straight];
      [swapped[i], swapped[j]] = [j, i];
      add({ kind: 'order', order: swapped, mirrored: false }, (order * ORDER_PARTS.swap) / swaps);
    }
  for (let k = 0; k < n; k++) add({ kind: 'stuck-on', slot: k }, on / n);
  return out;
}

/** One end of one pass: where each section switched, and where it met the edge of covered ground, along travel, meters. */
interface Slant {
  /** Pass and whether it is its start or its stop. */
  key: string;
  pass: number;
  slots: number[];
  along: number[];
  /** Edge in the way of every band of the segment, read between the known ones where a section has no end there. */
  edge: number[];
  scaleM: number;
  /** Log interval at the end, meters. */
  intervalM: number;
  /** The same where its own sections are. */
  due: number[];
  /** How late the sections of the map's starts, or of its stops, usually switch, and how much what the sections of one end share differs from that; meters. */
  lateM: number;
  sharedM: number;
  /** Of each section, how much its place counts: sections that switch in one bar share one observation. */
  weights: number[];
  /** The same of what all share. */
  weight: number;
}

function slantsOf(passes: Passes, bands: readonly MeasuredBand[], ends: readonly End[]): Slant[] {
  const groups = groupBy(ends, (e) => `${e.pass} ${e.kind}`);
  const out: Slant[] = [];
  for (const [key, group] of groups) {
    const sign = group[0].kind === 'stop' ? 1 : -1;
    const placeOf = (e: End): number => sign * placeAlong(passes, e);
    const bySlot = [...groupBy(group, (e) => e.slot).values()].sort((a, b) => a[0].slot - b[0].slot);
    // The first beginning and the last stop of each section bound the pass.
    const endM = median(bySlot.map((list) => Math.max(...list.map(placeOf))));
    // One that went off and on again there met open ground on its way, and follows the edge where it lies with the others.
    const own = bySlot.map((list) =>
      list.reduce((a, e) => (Math.abs(placeOf(e) - endM) < Math.abs(placeOf(a) - endM) ? e : a)),
    );
    const list = own.filter((e) => Math.abs(placeOf(e) - endM) < LONGEST_SLANT_M);
    if (list.length < Math.min(bands.length, 3)) continue;
    const along = list.map(placeOf);
    const edge = list.map((e, i) => along[i] - e.overlapM);
    const intervalM = median(list.map((e) => (e.intervalBeforeM + e.intervalAfterM) / 2));
    const looks = Math.max(
      new Set(list.map((e) => e.bar)).size,
      1 + (Math.max(...edge) - Math.min(...edge)) / Math.max(intervalM, SLANT_SCALE_M),
    );
    const beside = (e: End): number => list.filter((o) => o.bar === e.bar).length;
    const alone = list.map((e) => 1 / beside(e));
    const more = looks / alone.reduce((a, w) => a + w, 0);
    const middle = (k: number): number => (bands[k].leftM + bands[k].rightM) / 2;
    const xs = list.map((e) => middle(e.slot));
    out.push({
      key,
      pass: list[0].pass,
      slots: list.map((e) => e.slot),
      along,
      edge: bands.map((_, k) => lineThrough(xs, edge, middle(k))),
      due: list.map((_, i) => edge[i]),
      intervalM,
      lateM: 0,
      sharedM: Math.max(SHARED_LATE_M, intervalM),
      scaleM: Math.max(SLANT_SCALE_M, SLANT_SCALE_SHARE * intervalM),
      weights: alone.map((w) => Math.min(1, w * more)),
      weight: Math.min(1, looks / list.length),
    });
  }
  for (const kind of ['start', 'stop'] as const) {
    const mine = out.filter((s) => s.key.endsWith(kind));
    const lateM = median(mine.map((s) => median(s.along.map((a, i) => a - s.due[i]))));
    for (const s of mine) s.lateM = lateM;
  }
  return out;
}

const rangeOf = (list: readonly number[]): number => Math.max(...list) - Math.min(...list);

/** Where the edge of the field is nearly square, sections end together whatever their order; and where it is read from neighbors, it bends. */
const isSlanted = (s: Slant): boolean => rangeOf(s.edge) > SLANTED_SCALES * s.scaleM;

/** How even the ends of a pass are differs from end to end, and is not known: each may have any of the scales. Where records are cut at the switch, no log interval hides it. */
function overScales(
  scaled: readonly Slant[],
  b: Behavior,
  room: Room,
  memos: Memo[][],
): { apart: number; lifted: number } {
  const each = scaled.map((s, k) => slantLikelihood(s, b, room, memos[k]));
  const mean = (of: 'apart' | 'lifted'): number => logSum(each.map((e) => e[of])) - Math.log(each.length);
  return { apart: mean('apart'), lifted: mean('lifted') };
}

const atScales = (s: Slant): Slant[] =>
  SLANT_SCALES.map((factor) => ({ ...s, scaleM: s.scaleM * factor, intervalM: s.intervalM * factor }));

/** What starts and stops both reach onto covered ground, by their medians, meters; how they scatter, the larger of the two; and the passes that reach far. Null with too few. */
function throughOf(ends: readonly End[]): { bothM: number; scatterM: number; passes: number[] } | null {
  const reach = (kind: End['kind']): number[] => {
    const mine = ends.filter((e) => e.kind === kind);
    return [...groupBy(mine, (e) => e.pass).values()].map((list) => median(list.map((e) => e.overlapM)));
  };
  const [starts, stops] = [reach('start'), reach('stop')];
  if (starts.length < FEWEST_THROUGH || stops.length < FEWEST_THROUGH) return null;
  // An offset along travel adds to one what it takes from the other; this is the part that both share. So does a display that looks ahead, which starts early.
  const [start, stop] = [median(starts), median(stops)];
  const aheadM = Math.min(MOST_LOOK_AHEAD_S * USUAL_SPEED_M_PER_S, Math.max(0, start - stop) / 2);
  const bothM = Math.min(start, stop) > 0 ? Math.min(start, stop) + aheadM : 0;
  const far = bothM > 3 * PLANNED_THROUGH_M ? ends.filter((e) => e.overlapM > bothM / 2) : [];
  const scatterM = Math.max(robustSd(starts, median(starts)), robustSd(stops, median(stops)));
  return { bothM, scatterM, passes: [...new Set(far.map((e) => e.pass))] };
}

/**
 * Whether a pass begins or ends with all sections on over covered ground, within the reach of an end, where starts and stops do not both reach onto it: then an offset along travel or a
 * look-ahead takes from the one what it adds to the other, and no section was to shut off there.
 */
function isOfOffset(v: Visit, { passStart, lengthM }: Passes, through: { bothM: number } | null): boolean {
  if (through?.bothM !== 0 || (v.from > passStart[v.pass] && v.to < passStart[v.pass + 1])) return false;
  if (v.onShare.some((share) => share <= ON)) return false;
  return lengthM.subarray(v.from, v.to).reduce((sum, m) => sum + m, 0) < END_REACH_M;
}

function throughLikelihood(through: { bothM: number; scatterM: number } | null, b: Behavior): number {
  if (!through) return 0;
  const m = through.bothM;
  const any = 1 / (2 * END_REACH_M);
  const planned =
    ((1 - PLANNED_WILD) * Math.exp(-Math.abs(m) / PLANNED_THROUGH_M)) / (2 * PLANNED_THROUGH_M) + PLANNED_WILD * any;
  if (b.kind === 'other') return Math.log(any);
  if (b.kind !== 'control-off') return Math.log(planned);
  // Where no section shuts off, a hand lifts the frame.
  const byHand = through.scatterM < END_SCALES_M[0] ? Math.log(HAND_SCALES[0] * HAND_SCALES.length) : 0;
  return byHand + Math.log(UNPLANNED / END_REACH_M + (1 - UNPLANNED) * planned);
}

/** Value at `x` on the line through the two known points about it, or through the outer two. `xs` rise. */
function lineThrough(xs: number[], ys: number[], x: number): number {
  let i = xs.findIndex((v) => v >= x - 1e-9);
  if (i >= 0 && Math.abs(xs[i] - x) < 1e-6) return ys[i];
  if (i < 0) i = xs.length - 1;
  i = Math.max(1, i);
  return ys[i - 1] + ((ys[i] - ys[i - 1]) * (x - xs[i - 1])) / (xs[i] - xs[i - 1]);
}

/** Place of an end along travel, meters from the pass's first bar, on a straight line through the end's own bar. */
function placeAlong(p: Passes, e: End): number {
  const first = p.passStart[e.pass];
  const tx = -p.right[2 * e.bar + 1];
  const ty = p.right[2 * e.bar];
  return (
    (p.center[2 * e.bar] - p.center[2 * first]) * tx +
    (p.center[2 * e.bar + 1] - p.center[2 * first + 1]) * ty +
    e.alongM
  );
}

/**
 * Likelihoods of the sections of one end under `b`, by what the driver did: nothing, so that every section switched by itself (`apart`); or
 * lift or lower the whole frame, so that none went on beyond that place (`lifted`). Sections that were due before it had switched by themselves all the same.
 */
function slantLikelihood(s: Slant, b: Behavior, room: Room, memos: Memo[] = []): { apart: number; lifted: number } {
  if (b.kind === 'other') {
    const anywhere = -s.weights.reduce((a, w) => a + w, 0) * Math.log(2 * END_REACH_M);
    return { apart: anywhere, lifted: anywhere };
  }
  const stuck = b.kind === 'stuck-on' ? s.slots.indexOf(b.slot) : -1;
  if (b.kind === 'control-off') {
    const together = residualLikelihood(s, s.along, -1, median(s.due) + s.lateM, s.sharedM + rangeOf(s.due) / 2, room);
    return { apart: together, lifted: together };
  }
  const n = s.slots.length;
  const { due, late, sorted } = room;
  let first = Infinity;
  for (let i = 0; i < n; i++) {
    due[i] = s.edge[b.kind === 'order' ? b.order[s.slots[i]] : s.slots[i]];
    sorted[i] = due[i];
    first = Math.min(first, due[i]);
  }
  const middle = middleOf(sorted, n);
  const likelihood = (k: number, beyond: number): number => {
    memos[k] ??= { late: new Float64Array(n).fill(Number.NaN), middle: Number.NaN, terms: new Float64Array(n) };
    return residualLikelihood(s, late, beyond, s.lateM, s.sharedM, room, memos[k]);
  };
  const apart = SLANT_SLOPES.map(([factor, prior], k) => {
    for (let i = 0; i < n; i++) late[i] = s.along[i] - middle - factor * (due[i] - middle);
    return Math.log(prior) + likelihood(k, stuck);
  });
  const lifted = [first, middle].map((at, k) => {
    for (let i = 0; i < n; i++) late[i] = s.along[i] - (i === stuck ? at : Math.min(due[i], at));
    return likelihood(SLANT_SLOPES.length + k, -1) - Math.LN2;
  });
  return { apart: logSum(apart), lifted: logSum(lifted) };
}

/** Likelihood of all ends: how often the whole frame is lifted or lowered is a habit of the driver, unknown and shared by them. */
function endsLikelihood(ends: readonly { apart: number; lifted: number }[]): number {
  return logSum(
    LIFTED_WHOLE.map(
      ([rate, prior]) => Math.log(prior) + ends.reduce((sum, e) => sum + SLANT_TEMPER * liftedAt(e, rate), 0),
    ),
  );
}

const liftedAt = (e: { apart: number; lifted: number }, rate: number): number =>
  logSum([Math.log(1 - rate) + e.apart, Math.log(rate) + e.lifted]);

/** Density of Student's t with three degrees of freedom, in closed form. */
const t3 = (x: number): number => ((2 * Math.sqrt(3)) / (Math.PI * (3 + x * x) ** 2)) * 3;

/** Arrays for the sections of one end, used over and over: tens of thousands of sums are made for a field. */
interface Room {
  due: Float64Array;
  late: Float64Array;
  sorted: Float64Array;
}

const roomFor = (sections: number): Room => ({
  due: new Float64Array(sections),
  late: new Float64Array(sections),
  sorted: new Float64Array(sections),
});

/** The terms of the first sum that was made with it: of sections that are as late under another behavior they are the same. */
interface Memo {
  late: Float64Array;
  middle: number;
  terms: Float64Array;
}

/**
 * Logarithm of the density of how late the sections of one end switched: what they share is about `sharedM`, give or take `giveM`, and what each has of its own is
 * small. `stuck` is the place of one that goes on beyond the others, -1 for none.
 */
function residualLikelihood(
  s: Slant,
  late: ArrayLike<number>,
  stuck: number,
  sharedM: number,
  giveM: number,
  { sorted }: Room,
  memo: Memo | null = null,
): number {
  const sections = s.slots.length;
  let others = 0;
  for (let i = 0; i < sections; i++) if (i !== stuck) sorted[others++] = late[i];
  const middle = middleOf(sorted, others);
  let sum = s.weight * Math.log(t3((middle - sharedM) / giveM) / giveM);
  const isFirst = memo !== null && Number.isNaN(memo.middle);
  const isKnown = memo !== null && memo.middle === middle;
  if (isFirst) memo.middle = middle;
  for (let i = 0; i < sections; i++) {
    if (isKnown && i !== stuck && memo.late[i] === late[i]) {
      sum += memo.terms[i];
      continue;
    }
    const r = late[i] - middle;
    const usual = t3(r / s.scaleM) / s.scaleM;
    const density = (1 - WILD_SLANTS) * usual + WILD_SLANTS / (2 * END_REACH_M);
    const term = s.weights[i] * Math.log(density);
    sum += term;
    if (isFirst) {
      memo.late[i] = late[i];
      memo.terms[i] = term;
    }
    if (i !== stuck) continue;
    // Beyond the others by any distance, or it met no new ground there. That it stopped with them counts against it, however many they are; that it stopped a log interval later, or with some of
    // them, shows nothing.
    const more = Math.log((0.4 * usual + (r > 0 ? 0.6 : 0.01) / END_REACH_M) / density);
    const showsNothing = r > 0 && (r < ONE_RECORD * s.intervalM || hasCompany(late, sections, stuck, middle + r / 2));
    sum += showsNothing ? Math.min(0, more) : more;
  }
  return sum;
}

/** Whether one of the first `sections`, other than `stuck`, is later than `m`. */
function hasCompany(late: ArrayLike<number>, sections: number, stuck: number, m: number): boolean {
  for (let i = 0; i < sections; i++) if (i !== stuck && late[i] > m) return true;
  return false;
}

/** Probability of `on` of `on + off` observations, in one order, when the rate has a beta density. */
function betaBinomial(on: number, off: number, [a, b]: [number, number]): number {
  return logBeta(a + on, b + off) - logBeta(a, b);
}

/**
 * The sections of one visit are one observation of the display, on or off by majority; that one differs from the others is a slip, and
 * any of them may be that one. A section that stays on is evaluated separately.
 */
function visitLikelihood(visits: readonly Visit[], b: Behavior): number {
  const count = { on: 0, off: 0, slips: 0, steady: 0, stuckOn: 0, stuckOff: 0 };
  let which = 0;
  for (const v of visits) {
    let on = 0;
    let all = 0;
    v.onShare.forEach((share, k) => {
      if (Number.isNaN(share)) return;
      if (b.kind === 'stuck-on' && k === b.slot) {
        count[share > ON ? 'stuckOn' : 'stuckOff']++;
        return;
      }
      all++;
      if (share > ON) on++;
    });
    if (all === 0) continue;
    count[on > all / 2 ? 'on' : 'off']++;
    if (all === 1) continue;
    const slip = on > 0 && on < all;
    count[slip ? 'slips' : 'steady']++;
    if (slip) which -= Math.log(all);
  }
  const rates: Record<Behavior['kind'], [typeof ANY_RATE, typeof ANY_RATE]> = {
    right: [RIGHT_RATE, SLIP_RATE],
    'control-off': [OFF_RATE, SLIP_RATE],
    'stuck-on': [RIGHT_RATE, SLIP_RATE],
    // Where the order is wrong, what is on and what is off goes by chance.
    order: [ANY_RATE, ANY_RATE],
    other: [ANY_RATE, ANY_RATE],
  };
  const [rate, slipRate] = rates[b.kind];
  return (
    which +
    betaBinomial(count.on, count.off, rate) +
    betaBinomial(count.slips, count.steady, slipRate) +
    betaBinomial(count.stuckOn, count.stuckOff, OFF_RATE)
  );
}

/** Whether a visit shows a behavior that a correct display does not have. That one section stays on shows where others shut off; by itself it may be late with all of them. */
function bearsOut(v: Visit, b: Behavior): boolean {
  if (b.kind === 'stuck-on') return v.onShare[b.slot] > ON && v.onShare.some((share) => share <= ON);
  return b.kind === 'control-off' && v.onShare.every((share) => !(share <= ON));
}
