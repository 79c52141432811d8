import { lengthOf } from '../geometry/length.ts';
import { median } from '../geometry/stats.ts';
import { Sets } from '../geometry/unionfind.ts';
import type { Columns } from './columns/index.ts';
import type { Passes } from './types.ts';

/** The origin of every pass: which machine drove it, and on which day. */
export interface Origins {
  /** Names of the machines: as a column has them, else "machine 1" and so on in the order in which they began. One at least. */
  machines: string[];
  /** What distinguishes them; `one` where nothing does. */
  from: 'column' | 'times' | 'one';
  /** Per pass: index into `machines`. */
  machine: Uint16Array;
  /** Per pass: periods of work, counted from 0, with a night's rest between them; all 0 where there are no times. */
  day: Uint16Array;
  /** First moment of each spell, ms since 1970 UTC; NaN without dates. */
  dayMs: number[];
  /** Per pass: when it began, ms since 1970 UTC (midnight where only the date is known); NaN without dates. */
  startMs: Float64Array;
  /** Per pass: which of the fields it lies in, counted from 0 in the order of their first pass; `fields` of them. */
  field: Uint16Array;
  fields: number;
}

/** A rest this long ends a day's work: shorter ones are meals, rain and repairs (common practice). */
const NIGHT_MS = 5 * 3_600_000;
/** Passes that overlap in time for less than this may do so because their clocks are coarse. */
const LEAST_BOTH_MS = 5_000;
/** Two machines are certain from this much work at one time on, or less where each has its own width; two passes that overlap once are a slip of the clock. */
const LEAST_SHARED_MS = 60_000;
const LEAST_SHARED = 0.03;
/** Centers of two frames at work at the same time are farther apart than this part of the wider frame; parts of one frame are nearer. */
const APART = 0.75;
/** Part of the bars at either end of a pass, in order of time, that may be of its neighbor: they say nothing of when it was driven. */
const ODD_BARS = 0.02;
/** No bar of a pass for this many of its steps, and it was not at work. */
const REST_STEPS = 4;
/** Faster than a planter is moved on a field, meters per second. */
const TOO_FAST = 9;

/** Machines by the machine column, else by passes at two places at one time; days by the rests between spells of work. */
export function findOrigins(passes: Passes, columns: Columns): Origins {
  const count = passes.passStart.length - 1;
  const days = { ...daysOf(passes, columns, count), ...fieldsOf(passes, count) };
  if (columns.machine && columns.machine.names.length > 1) {
    const { names, of } = columns.machine;
    return { machines: names, from: 'column', machine: byColumn(passes, of, count), ...days };
  }
  const known = columns.machine?.names[0];
  // A clock without a date comes round every day: passes of two days would seem to be driven at one time.
  const dated = columns.timeHolds === 'instants' || columns.timeHolds === 'counts' || columns.oneDay;
  const machine = dated ? byTimes(passes, count, columns.tickMs) : new Uint16Array(count);
  let most = 0;
  for (const m of machine) most = Math.max(most, m);
  if (most === 0) return { machines: [known ?? 'machine 1'], from: 'one', machine, ...days };
  const machines = Array.from({ length: most + 1 }, (_, i) => `${known ?? 'machine'} ${i + 1}`);
  return { machines, from: 'times', machine, ...days };
}

/** The machine that most bars of each pass name; a pass that names none follows the pass before it. */
function byColumn(passes: Passes, of: Int32Array, count: number): Uint16Array {
  const out = new Uint16Array(count);
  for (let p = 0; p < count; p++) {
    const votes = new Map<number, number>();
    for (let b = passes.passStart[p]; b < passes.passStart[p + 1]; b++) {
      const m = of[passes.quads.record[passes.barQuad[passes.barStart[b]]]];
      if (m >= 0) votes.set(m, (votes.get(m) ?? 0) + 1);
    }
    let best = p > 0 ? out[p - 1] : 0;
    let most = 0;
    for (const [m, n] of votes)
      if (n > most) {
        most = n;
        best = m;
      }
    out[p] = best;
  }
  return out;
}

/** A pass in time. */
interface Spell {
  pass: number;
  fromMs: number;
  toMs: number;
  widthM: number;
  /** Time from one bar to the next: the median, and a second or a tick of the clock at the least. */
  stepMs: number;
}

/** Passes at two places at one time are of two machines; the others go to the machine that could have driven there, the nearest first. */
function byTimes(passes: Passes, count: number, tickMs: number): Uint16Array {
  const out = new Uint16Array(count);
  const spells: Spell[] = [];
  const crumbs: Spell[] = [];
  const leastMs = Math.max(LEAST_BOTH_MS, 2 * tickMs);
  let workMs = 0;
  for (let p = 0; p < count; p++) {
    const times = passes.timeMs.subarray(passes.passStart[p], passes.passStart[p + 1]).filter((t) => !Number.isNaN(t));
    if (times.length === 0) continue;
    times.sort();
    const odd = Math.ceil(ODD_BARS * (times.length - 1));
    const [fromMs, toMs] = [
      times[Math.min(odd, times.length >> 1)],
      times[Math.max(times.length - 1 - odd, times.length >> 1)],
    ];
    const steps = times.subarray(1).map((t, i) => t - times[i]);
    const stepMs = Math.max(1000, tickMs, median(steps));
    const spell = { pass: p, fromMs, toMs, widthM: widthOf(passes, p), stepMs };
    (toMs - fromMs < leastMs ? crumbs : spells).push(spell);
    workMs += toMs - fromMs;
  }
  spells.sort((a, b) => a.fromMs - b.fromMs || a.pass - b.pass);
  let sharedMs = 0;
  let most = 1;
  for (let i = 0; i < spells.length; i++) {
    const open = [spells[i]];
    for (let k = i - 1; k >= 0; k--) {
      const ms = bothMs(passes, spells[k], spells[i]);
      if (ms <= leastMs) continue;
      sharedMs += ms;
      if (open.every((s) => s === spells[i] || bothMs(passes, spells[k], s) > leastMs)) open.push(spells[k]);
    }
    most = Math.max(most, open.length);
  }
  if (sharedMs === 0) return out;
  // A machine may start before the other: whether its first pass is followed by one of its own shows only in what the whole day's moves come to.
  const widestM = Math.max(...spells.map((s) => s.widthM));
  const best = [...FAR_MOVES.map((n) => n * widestM), OTHER_WIDTH, IMPOSSIBLE]
    .map((from) => assign(passes, spells, most, leastMs, from))
    .reduce((a, b) => (b.cost <= a.cost ? b : a));
  const certain = sharedMs >= Math.max(LEAST_SHARED_MS, LEAST_SHARED * workMs);
  if (!certain && !ownWidths(spells, best.machine)) return out;
  spells.forEach((s, i) => {
    out[s.pass] = best.machine[i];
  });
  for (const crumb of crumbs) {
    const whole = passOfCrumb(passes, crumb, spells);
    if (whole) out[crumb.pass] = out[whole.pass];
  }
  return out;
}

/** The pass that a few bars by themselves are of: of those at work then the nearest, else the one that ended last before. Passes in order of time. */
function passOfCrumb(passes: Passes, crumb: Spell, spells: readonly Spell[]): Spell | null {
  const { center, passStart } = passes;
  const own = 2 * passStart[crumb.pass];
  let near: Spell | null = null;
  let least = Number.POSITIVE_INFINITY;
  for (const s of spells) {
    const bar = s.fromMs <= crumb.toMs && s.toMs >= crumb.fromMs ? barAt(passes, s, crumb.fromMs) : -1;
    if (bar < 0) continue;
    const far = lengthOf(center[2 * bar] - center[own], center[2 * bar + 1] - center[own + 1]);
    if (far >= least) continue;
    least = far;
    near = s;
  }
  return near ?? spells.findLast((s) => s.fromMs <= crumb.fromMs) ?? spells[0] ?? null;
}

/**
 * Gives every spell, in order of time, to the machine that gets there cheapest. While fewer than `most` machines are known, a move that costs at least
 * `newFrom` is none: the spell is another machine's first.
 */
function assign(
  passes: Passes,
  spells: readonly Spell[],
  most: number,
  leastMs: number,
  newFrom: number,
): { machine: number[]; cost: number } {
  const machines: Spell[][] = [];
  let cost = 0;
  const machine = spells.map((s) => {
    let best = -1;
    let least = Number.POSITIVE_INFINITY;
    machines.forEach((list, m) => {
      if (list.slice(-8).some((o) => bothMs(passes, o, s) > leastMs)) return;
      const move = costOf(passes, list[list.length - 1], s);
      if (move < least) {
        least = move;
        best = m;
      }
    });
    if (best < 0 || (least >= newFrom && machines.length < most)) {
      best = machines.length;
      // One machine more than work at any one time is as unlikely as a move that none can make.
      least = best < most ? 0 : IMPOSSIBLE;
      machines.push([]);
    }
    machines[best].push(s);
    cost += least;
    return best;
  });
  return { machine, cost };
}

/** Whether their widths distinguish the machines as well: every one has its own, in two passes or more. */
function ownWidths(spells: readonly Spell[], machine: readonly number[]): boolean {
  const lists: number[][] = [];
  spells.forEach((s, i) => {
    lists[machine[i]] ??= [];
    lists[machine[i]].push(s.widthM);
  });
  const ranges = lists.map((l) => ({ low: Math.min(...l), high: Math.max(...l), passes: l.length }));
  ranges.sort((a, b) => a.low - b.low);
  return ranges.every(
    (r, i) =>
      r.passes >= 2 &&
      r.high - r.low <= SAME_WIDTH * r.high &&
      (i === 0 || r.low - ranges[i - 1].high > SAME_WIDTH * r.high),
  );
}

/** A move of this many widths may be no move, but the first pass of another machine. */
const FAR_MOVES = [2, 4, 8];

/** What a move costs beside its meters where the frame changes its width on the way, and where no planter is moved so fast. */
const OTHER_WIDTH = 1e4;
const IMPOSSIBLE = 1e6;

/** Meters from the end of `a` to the start of `b`, with more for a change of width; beyond `IMPOSSIBLE` for what could not be driven. */
function costOf(passes: Passes, a: Spell, b: Spell): number {
  const from = 2 * (passes.passStart[a.pass + 1] - 1);
  const to = 2 * passes.passStart[b.pass];
  const far = lengthOf(passes.center[to] - passes.center[from], passes.center[to + 1] - passes.center[from + 1]);
  const fast = far > TOO_FAST * Math.max(0, b.fromMs - a.toMs) * 0.001 + 2 * Math.max(a.widthM, b.widthM);
  const other = Math.abs(a.widthM - b.widthM) > 0.04 * Math.max(a.widthM, b.widthM);
  return far + (other ? OTHER_WIDTH : 0) + (fast ? IMPOSSIBLE : 0);
}

/** Moments of the time that two passes seem to share at which both are looked for. */
const LOOKS = 16;

/** How long the two passes were driven at one time at places that one frame does not reach, milliseconds. */
function bothMs(passes: Passes, a: Spell, b: Spell): number {
  const from = Math.max(a.fromMs, b.fromMs);
  const to = Math.min(a.toMs, b.toMs);
  if (!(to > from)) return 0;
  let apart = 0;
  for (let k = 0; k < LOOKS; k++) {
    const ms = from + ((to - from) * (k + 0.5)) / LOOKS;
    const [p, q] = [barAt(passes, a, ms), barAt(passes, b, ms)];
    if (p < 0 || q < 0) continue;
    const { center } = passes;
    const far = lengthOf(center[2 * p] - center[2 * q], center[2 * p + 1] - center[2 * q + 1]);
    if (far > APART * Math.max(a.widthM, b.widthM)) apart++;
  }
  return ((to - from) * apart) / LOOKS;
}

/** The bar that was logged nearest to `ms`; -1 where the pass rested: a lap that ends where it began is one pass with the time of the lap in it. */
function barAt(passes: Passes, { pass, stepMs }: Spell, ms: number): number {
  let best = -1;
  let least = REST_STEPS * stepMs;
  for (let b = passes.passStart[pass]; b < passes.passStart[pass + 1]; b++) {
    const d = Math.abs(passes.timeMs[b] - ms);
    if (d < least) {
      least = d;
      best = b;
    }
  }
  return best;
}

/** Median width over the bars of a pass, outer edge to outer edge, meters. */
export function widthOf(passes: Passes, pass: number): number {
  const widths: number[] = [];
  for (let b = passes.passStart[pass]; b < passes.passStart[pass + 1]; b++)
    widths.push(passes.rightM[passes.barStart[b + 1] - 1] - passes.leftM[passes.barStart[b]]);
  return median(widths);
}

/** Ground without a pass that parts two fields, in widths of a pass and in meters: more than a road, a creek or a shelter belt takes. */
const FIELDS_APART = 6;
const FIELDS_APART_M = 80;
/** Fewer bars than this, or less than this part of all, are a strip in the yard and no field. */
const LEAST_FIELD_BARS = 100;
const LEAST_FIELD = 0.05;

/** Passes that hang together over ground are one field. Those of a crumb far away count with the first field. */
function fieldsOf(passes: Passes, count: number): Pick<Origins, 'field' | 'fields'> {
  const field = new Uint16Array(count);
  let widest = 0;
  for (let p = 0; p < count; p++) widest = Math.max(widest, widthOf(passes, p));
  const cellM = Math.max(FIELDS_APART_M, FIELDS_APART * widest);
  const sets = new Sets(count);
  const owner = new Map<string, number>();
  for (let p = 0; p < count; p++) {
    let lastX = Number.NaN;
    let lastY = Number.NaN;
    for (let b = passes.passStart[p]; b < passes.passStart[p + 1]; b++) {
      const x = Math.floor(passes.center[2 * b] / cellM);
      const y = Math.floor(passes.center[2 * b + 1] / cellM);
      // A pass stays in one cell for many bars.
      if (x === lastX && y === lastY) continue;
      lastX = x;
      lastY = y;
      const key = `${x} ${y}`;
      const first = owner.get(key);
      if (first === undefined) owner.set(key, p);
      else if (first !== p) sets.join(first, p);
    }
  }
  for (const [key, p] of owner) {
    const [x, y] = key.split(' ').map(Number);
    for (const [dx, dy] of [
      [1, -1],
      [1, 0],
      [1, 1],
      [0, 1],
    ]) {
      const beside = owner.get(`${x + dx} ${y + dy}`);
      if (beside !== undefined) sets.join(p, beside);
    }
  }
  const bars = new Map<number, number>();
  for (let p = 0; p < count; p++)
    bars.set(sets.find(p), (bars.get(sets.find(p)) ?? 0) + passes.passStart[p + 1] - passes.passStart[p]);
  const number = new Map<number, number>();
  for (let p = 0; p < count; p++) {
    const root = sets.find(p);
    const own = bars.get(root) as number;
    if (own < LEAST_FIELD_BARS || own < LEAST_FIELD * passes.bars) continue;
    if (!number.has(root)) number.set(root, number.size);
  }
  for (let p = 0; p < count; p++) field[p] = number.get(sets.find(p)) ?? 0;
  return { field, fields: Math.max(1, number.size) };
}

function daysOf(passes: Passes, columns: Columns, count: number): Pick<Origins, 'day' | 'dayMs' | 'startMs'> {
  const at = new Float64Array(count);
  const until = new Float64Array(count);
  for (let p = 0; p < count; p++) {
    const first = passes.passStart[p];
    const last = passes.passStart[p + 1] - 1;
    const recordOf = (b: number): number => passes.quads.record[passes.barQuad[passes.barStart[b]]];
    at[p] = columns.dayMs ? columns.dayMs[recordOf(first)] : passes.timeMs[first];
    until[p] = columns.dayMs ? columns.dayMs[recordOf(last)] : passes.timeMs[last];
  }
  const order = Array.from({ length: count }, (_, p) => p)
    .filter((p) => !Number.isNaN(at[p]))
    .sort((a, b) => at[a] - at[b]);
  const day = new Uint16Array(count);
  const dayMs = [order.length && (columns.timeIsClock || columns.dayMs) ? at[order[0]] : Number.NaN];
  let end = order.length ? until[order[0]] : Number.NaN;
  for (const p of order) {
    if (at[p] - end > NIGHT_MS) dayMs.push(Number.isNaN(dayMs[0]) ? Number.NaN : at[p]);
    day[p] = dayMs.length - 1;
    end = Math.max(end, until[p]);
  }
  return { day, dayMs, startMs: columns.timeIsClock || columns.dayMs ? at : at.fill(Number.NaN) };
}

/** Passes that are as wide as one of the planters, within this part of the width. */
const SAME_WIDTH = 0.03;

/**
 * Which of several planters each pass is as wide as: index into `widthsM`, which lists the working widths of each planter. A pass of another
 * width (short, or with sections off) follows the pass before it. All 0 where every pass that fits one fits the same one.
 */
export function partByWidths(passes: Passes, widthsM: readonly (readonly number[])[]): Uint16Array {
  const count = passes.passStart.length - 1;
  const found = new Int16Array(count).fill(-1);
  for (let p = 0; p < count; p++) {
    const own = widthOf(passes, p);
    let least = SAME_WIDTH;
    widthsM.forEach((list, k) => {
      for (const w of list) {
        const off = Math.abs(own / w - 1);
        if (off < least) {
          least = off;
          found[p] = k;
        }
      }
    });
  }
  let last = Math.max(0, found.find((k) => k >= 0) ?? 0);
  return Uint16Array.from(found, (k) => {
    if (k >= 0) last = k;
    return last;
  });
}

/** The passes for which `keep` holds, as a track of their own. Passes keep their numbers, bars and records their order. */
export function partPasses(passes: Passes, keep: (pass: number) => boolean): Passes {
  const count = passes.passStart.length - 1;
  const kept = Array.from({ length: count }, (_, p) => p).filter(keep);
  return gatherPasses(kept.map((pass) => ({ passes, pass })));
}

/** Passes of several tracks as one, in the order of the list. All must lie on the same quads. */
export function gatherPasses(list: readonly { passes: Passes; pass: number }[]): Passes {
  const [first] = list;
  const bars = list.reduce((n, { passes, pass }) => n + passes.passStart[pass + 1] - passes.passStart[pass], 0);
  const slots = list.reduce(
    (n, { passes, pass }) => n + passes.barStart[passes.passStart[pass + 1]] - passes.barStart[passes.passStart[pass]],
    0,
  );
  const out: Passes = {
    ...first.passes,
    passStart: new Uint32Array(list.length + 1),
    number: Uint32Array.from(list, ({ passes, pass }) => passes.number[pass]),
    bars,
    center: new Float64Array(2 * bars),
    right: new Float64Array(2 * bars),
    lengthM: new Float64Array(bars),
    timeMs: new Float64Array(bars),
    barStart: new Uint32Array(bars + 1),
    barQuad: new Uint32Array(slots),
    leftM: new Float64Array(slots),
    rightM: new Float64Array(slots),
    corner: new Float64Array(8 * slots),
  };
  let bar = 0;
  let slot = 0;
  list.forEach(({ passes, pass }, i) => {
    const [from, to] = [passes.passStart[pass], passes.passStart[pass + 1]];
    const [low, high] = [passes.barStart[from], passes.barStart[to]];
    out.center.set(passes.center.subarray(2 * from, 2 * to), 2 * bar);
    out.right.set(passes.right.subarray(2 * from, 2 * to), 2 * bar);
    out.lengthM.set(passes.lengthM.subarray(from, to), bar);
    out.timeMs.set(passes.timeMs.subarray(from, to), bar);
    out.barQuad.set(passes.barQuad.subarray(low, high), slot);
    out.leftM.set(passes.leftM.subarray(low, high), slot);
    out.rightM.set(passes.rightM.subarray(low, high), slot);
    out.corner.set(passes.corner.subarray(8 * low, 8 * high), 8 * slot);
    for (let b = from; b < to; b++) out.barStart[bar + b - from + 1] = slot + passes.barStart[b + 1] - low;
    bar += to - from;
    slot += high - low;
    out.passStart[i + 1] = bar;
  });
  return out;
}
