import { median } from '../geometry/stats.ts';
import type { Passes } from '../track/types.ts';
import type { Covered } from './covered.ts';
import type { RecordedBands } from './types.ts';

/** One start or stop of one section. */
export interface End {
  pass: number;
  slot: number;
  kind: 'start' | 'stop';
  /** How far the record reaches onto covered ground, meters; below 0 the gap that it leaves before it. */
  overlapM: number;
  /** Meters per second over several bars, NaN without times. */
  speedMPerS: number;
  /**
   * Lengths of the log intervals before and after the end, meters: how far back the section may really have switched where the display
   * samples its state at the beginning of an interval, and how far ahead where it samples at the end.
   */
  intervalBeforeM: number;
  intervalAfterM: number;
  /** Length of the last (of a start: first) record as a part of the interval that is usual there: 1 where no record is cut at a switch. */
  cutShare: number;
  bar: number;
  /** Place of the end along the line of travel, from the bar's own center, meters. */
  alongM: number;
}

/** How far an end looks for the edge of covered ground, meters. */
const REACH_M = 14;
const STEP_M = 0.25;

/** A pass of fewer bars is a flicker of the switches; its ends mean nothing. */
const FEWEST_BARS = 3;

/** A section may lie partly on open ground at the corner of a lap, and stay on for that: its sides are looked at here, between its middle (0) and its edge (1). */
const OUTER = 0.85;

/** This far behind the edge of covered ground, another pass covered it, meters. */
const BEHIND_M = 0.2;

/** The slots that record in one bar, in order, and the last record of each. It is refilled for every bar of a map. */
class OnSlots {
  slots = new Int32Array(64);
  count = 0;
  /** 1 + record of each slot, 0 for none. */
  private at = new Int32Array(64);

  clear(): void {
    for (let k = 0; k < this.count; k++) this.at[this.slots[k]] = 0;
    this.count = 0;
  }

  set(slot: number, record: number): void {
    if (slot >= this.at.length) {
      const [slots, at] = [this.slots, this.at];
      this.slots = new Int32Array(2 * slot);
      this.at = new Int32Array(2 * slot);
      this.slots.set(slots);
      this.at.set(at);
    }
    if (this.at[slot] === 0) this.slots[this.count++] = slot;
    this.at[slot] = record + 1;
  }

  has(slot: number): boolean {
    return slot < this.at.length && this.at[slot] !== 0;
  }

  record(slot: number): number {
    return this.at[slot] - 1;
  }

  take(from: OnSlots): void {
    this.clear();
    for (let k = 0; k < from.count; k++) this.set(from.slots[k], from.record(from.slots[k]));
  }
}

/** Open ground narrower than this between covered strips is a seam, not the edge of what is covered; meters. */
const SEAM_M = 1;

/** First place on the way from `from` to `to` (meters, either way) where `at` turns to `wanted`, to a hundredth of a meter; null when it never does. */
function crossing(covered: (d: number) => boolean, from: number, to: number, wanted: boolean): number | null {
  const way = Math.sign(to - from);
  const at = wanted
    ? covered
    : (d: number): boolean => covered(d) || covered(d + way * 0.5 * SEAM_M) || covered(d + way * SEAM_M);
  for (let k = 0; k * STEP_M <= Math.abs(to - from); k++) {
    const d = from + way * k * STEP_M;
    if (at(d) !== wanted) continue;
    if (k === 0) return d;
    let low = d - way * STEP_M;
    let high = d;
    for (let i = 0; i < 5; i++) {
      const mid = (low + high) / 2;
      if (at(mid) === wanted) high = mid;
      else low = mid;
    }
    return high;
  }
  return null;
}

/** Fewest steps from bar to bar that show where in a bar its time lies. */
const FEWEST_STEPS = 20;
/** Both ends fit equally well where their spreads differ by less than this share. */
const ALIKE = 0.15;

/**
 * Where in a bar its time lies: 1 at its end, 0 at its beginning, 0.5 where bars are too similar to show it. Over time, the length between two such
 * places runs evenly; over the length of the wrong bar it does not where bars are cut at switches.
 */
function timePlace({ passStart, lengthM, timeMs }: Passes): number {
  const atEnd: number[] = [];
  const atStart: number[] = [];
  for (let p = 0; p + 1 < passStart.length; p++)
    for (let b = passStart[p] + 1; b < passStart[p + 1]; b++) {
      const ms = timeMs[b] - timeMs[b - 1];
      if (!(ms > 0)) continue;
      atEnd.push(Math.log(lengthM[b] / ms));
      atStart.push(Math.log(lengthM[b - 1] / ms));
    }
  if (atEnd.length < FEWEST_STEPS) return 0.5;
  const spread = (list: number[]): number => {
    const middle = median([...list]);
    return list.reduce((sum, v) => sum + Math.abs(v - middle), 0) / list.length;
  };
  const [end, start] = [spread(atEnd), spread(atStart)];
  if (Math.abs(end - start) < ALIKE * Math.max(end, start)) return 0.5;
  return end < start ? 1 : 0;
}

/** Every start and stop of a section within reach of ground covered earlier, except by passes along the same line. */
export function findEnds(passes: Passes, bands: RecordedBands, { earlier, earlierAcross }: Covered): End[] {
  const out: End[] = [];
  const { barStart, passStart } = passes;
  const timedAt = timePlace(passes);
  const pauseS = pauseOf(passes);
  const wholeSeconds = passes.timeMs.every((ms) => !(ms % 1000 > 0));
  const open = new OnSlots();
  const on = new OnSlots();
  for (let p = 0; p + 1 < passStart.length; p++) {
    if (passStart[p + 1] - passStart[p] < FEWEST_BARS) continue;
    open.clear();
    for (let b = passStart[p]; b <= passStart[p + 1]; b++) {
      on.clear();
      if (b < passStart[p + 1])
        for (let i = barStart[b]; i < barStart[b + 1]; i++) if (bands.slot[i] >= 0) on.set(bands.slot[i], i);
      for (let k = 0; k < open.count; k++)
        if (!on.has(open.slots[k])) add(b - 1, open.record(open.slots[k]), open.slots[k], 'stop');
      for (let k = 0; k < on.count; k++)
        if (!open.has(on.slots[k])) add(b, on.record(on.slots[k]), on.slots[k], 'start');
      open.take(on);
    }

    function add(b: number, i: number, slot: number, kind: 'start' | 'stop'): void {
      if (turns(passes, p, b, kind)) return;
      const c = passes.corner;
      // Corners: back left, back right, front right, front left.
      const [u, v] = kind === 'stop' ? [2, 3] : [0, 1];
      const x = (c[8 * i + 2 * u] + c[8 * i + 2 * v]) / 2;
      const y = (c[8 * i + 2 * u + 1] + c[8 * i + 2 * v + 1]) / 2;
      const sign = kind === 'stop' ? 1 : -1;
      const tx = -passes.right[2 * b + 1] * sign;
      const ty = passes.right[2 * b] * sign;
      const at = (d: number): boolean => earlier(x + tx * d, y + ty * d, b);
      // An end that overshoots all of a narrow headland lies on open ground again: the covered ground is behind it.
      const beyond =
        !at(-0.01) && crossing(at, 0, REACH_M, true) === null
          ? crossing(at, 0, -Math.max(passes.lengthM[b], OVERSHOOT_M), true)
          : null;
      const inside = beyond !== null || at(-0.01);
      const far = beyond ?? 0;
      const edge = crossing(at, far, inside ? far - REACH_M : REACH_M, !inside);
      if (edge === null || !earlierAcross(x + tx * (edge + BEHIND_M), y + ty * (edge + BEHIND_M), b)) return;
      // A section that is covered in part only may stay on: what it reaches over says nothing.
      if (inside && bands.segments[bands.segment[b]].bands.length > 1)
        for (const side of [u, v]) {
          const ox = OUTER * c[8 * i + 2 * side] + (1 - OUTER) * x + (tx * edge) / 2;
          const oy = OUTER * c[8 * i + 2 * side + 1] + (1 - OUTER) * y + (ty * edge) / 2;
          if (!earlier(ox, oy, b)) return;
        }
      const dx = x - passes.center[2 * b];
      const dy = y - passes.center[2 * b + 1];
      out.push({
        pass: p,
        slot,
        kind,
        overlapM: taperM(passes, bands, p, b, kind) - edge,
        speedMPerS: speedAt(passes, p, b, kind, { timedAt, pauseS, wholeSeconds }),
        ...intervalsAt(passes, p, b, kind),
        bar: b,
        alongM: -dx * passes.right[2 * b + 1] + dy * passes.right[2 * b],
      });
    }
  }
  return out;
}

/** A pass that turns by more than this over so many meters inside of an end did not come along the line on which the edge is looked for: cosine of 15 degrees. */
const TURNS = Math.cos((15 * Math.PI) / 180);
const TURNS_M = 7;

function turns({ passStart, lengthM, right }: Passes, p: number, b: number, kind: End['kind']): boolean {
  const step = kind === 'stop' ? -1 : 1;
  let k = b;
  for (let m = 0; m < TURNS_M && k + step >= passStart[p] && k + step < passStart[p + 1]; k += step) m += lengthM[k];
  return right[2 * k] * right[2 * b] + right[2 * k + 1] * right[2 * b + 1] < TURNS;
}

/** A taper is no longer than this, meters: the slant of a field's end over the widest frame. */
const LONGEST_TAPER_M = 30;

/**
 * How much further a pass of whole-width records would have gone if it ended square: its ground in narrower bars beyond the last whole one, where sections went off one by one along a
 * slanted edge, over its width. The edge is looked for at the middle of the pass.
 */
function taperM(passes: Passes, bands: RecordedBands, p: number, b: number, kind: End['kind']): number {
  const { passStart, barStart, leftM, rightM, lengthM } = passes;
  const segment = bands.segments[bands.segment[b]];
  if (segment.bands.length > 1) return 0;
  const step = kind === 'stop' ? 1 : -1;
  let m2 = 0;
  let m = 0;
  for (let k = b + step; k >= passStart[p] && k < passStart[p + 1]; k += step) {
    m += lengthM[k];
    m2 += lengthM[k] * (rightM[barStart[k + 1] - 1] - leftM[barStart[k]]);
    if (bands.full[k] === 1 || m > LONGEST_TAPER_M) return 0;
  }
  return m2 / segment.widthM;
}

/** An end lies no further beyond a narrow headland that it crossed, meters: that of one lap is as wide as the planter. */
const OVERSHOOT_M = 6;

/** Bars and seconds that a speed is taken over, at least. */
const SPEED_BARS = 4;
const SPEED_S = 3;
/** Between two bars that are so many usual steps of the clock apart, and at least so many seconds, the planter was not at work. */
const PAUSE_STEPS = 5;
const PAUSE_S = 4;
const SAMPLED_STEPS = 2000;

/** Time between two bars beyond which the planter stood still or was turned, seconds. */
function pauseOf({ passStart, timeMs }: Passes): number {
  const steps: number[] = [];
  const every = Math.max(1, Math.floor(timeMs.length / SAMPLED_STEPS));
  for (let p = 0; p + 1 < passStart.length; p++)
    for (let b = passStart[p] + 1; b < passStart[p + 1]; b += every) {
      const s = Math.abs(timeMs[b] - timeMs[b - 1]) / 1000;
      if (s > 0) steps.push(s);
    }
  return Math.max(PAUSE_S, steps.length > 0 ? PAUSE_STEPS * median(steps) : 0);
}

/**
 * How times show speed: where in a bar its time lies (`timePlace`), the pause that ends a run of bars (`pauseOf`), and whether the clock shows whole seconds. Those are exact from bar to bar
 * where each lasts as many; of a bar that is cut at a switch they are not.
 */
interface Clock {
  timedAt: number;
  pauseS: number;
  wholeSeconds: boolean;
}

/**
 * Speed at a start or stop, meters per second, from several bars on the inner side, none of them across a pause. A planter speeds up and slows down
 * there: the mean of those bars is scaled to the length that a bar would have at the end.
 */
function speedAt(
  passes: Passes,
  p: number,
  b: number,
  kind: End['kind'],
  { timedAt, pauseS, wholeSeconds }: Clock,
): number {
  const step = kind === 'stop' ? -1 : 1;
  const own = wholeSeconds ? b + step : b;
  const [first, last] = [passes.passStart[p], passes.passStart[p + 1] - 1];
  const steps: Step[] = [];
  let m = 0;
  let seconds = 0;
  for (let k = own; ; k += step) {
    const next = k + step;
    if (next < first || next > last) break;
    const s = Math.abs(passes.timeMs[next] - passes.timeMs[k]) / 1000;
    if (s > pauseS) break;
    const [early, late] = k < next ? [k, next] : [next, k];
    const lengthM = (1 - timedAt) * passes.lengthM[early] + timedAt * passes.lengthM[late];
    steps.push({ m: lengthM, s });
    m += lengthM;
    seconds = Math.abs(passes.timeMs[next] - passes.timeMs[own]) / 1000;
    if (steps.length >= SPEED_BARS && seconds >= SPEED_S) break;
  }
  if (!(seconds > 0)) return Number.NaN;
  const speed = m / seconds;
  const inside = lengthsInside(passes, p, b, kind);
  const line = lineOf(inside);
  const isUncut = isSmooth(inside, line) && Math.abs(m / steps.length - line.usual) < UNCUT * line.usual;
  // The lengths of bars that are cut at switches say nothing of speeding up or slowing down; a clock that shows parts of a second does.
  const atEnd = isUncut
    ? (speed * lengthFrom(inside, line, 0)) / (m / steps.length)
    : wholeSeconds
      ? speed
      : speedAtEnd(steps, speed);
  return Math.min(speed, Math.max(READ_AHEAD[0] * speed, atEnd));
}

/** From one bar to the next inward. */
interface Step {
  m: number;
  s: number;
}

/** Steps are put together to as many seconds at the least: a clock is rounded. */
const STEP_S = 0.5;
const FEWEST_STEPS_OF_LINE = 3;

/** Speed at the end from which `steps` lead inward, on the line of least squares through their speeds; the mean where they are too few. */
function speedAtEnd(steps: readonly Step[], mean: number): number {
  const merged: Step[] = [];
  for (const { m, s } of steps) {
    const open = merged.at(-1);
    if (open && open.s < STEP_S) {
      open.m += m;
      open.s += s;
    } else merged.push({ m, s });
  }
  if (merged.length < FEWEST_STEPS_OF_LINE || merged.some(({ s }) => !(s > 0))) return mean;
  let [weight, at, speed] = [0, 0, 0];
  let from = 0;
  const points = merged.map(({ m, s }) => {
    const point = { t: from + s / 2, v: m / s, w: s };
    from += s;
    weight += s;
    at += s * point.t;
    speed += m;
    return point;
  });
  at /= weight;
  speed /= weight;
  const slope = points.reduce((sum, q) => sum + q.w * (q.t - at) * (q.v - speed), 0);
  return speed - (at * slope) / points.reduce((sum, q) => sum + q.w * (q.t - at) ** 2, 0);
}

/** Mean length of the bars of a speed, from the median of those beside the end: further off, some of them were cut. */
const UNCUT = 0.3;

/** Lengths that lie on a line, but for this part of their median. */
const SMOOTH = 0.12;
const isSmooth = (inside: readonly number[], line: LengthLine): boolean =>
  inside.length >= 3 && inside.every((v, i) => Math.abs(v - lengthFrom(inside, line, -1 - i)) < SMOOTH * line.usual);

/** Bars inside of an end whose lengths say how long an interval usually is there. */
const USUAL_BARS = 5;
/** A length that is read ahead of the bars inside stays within these parts of their median. */
const READ_AHEAD = [0.4, 1.6];

/** Lengths of the bars inside of an end, the nearest first, without the end's own bar. */
function lengthsInside({ lengthM, passStart }: Passes, p: number, b: number, kind: End['kind']): number[] {
  const [first, last] = [passStart[p], passStart[p + 1] - 1];
  const inside: number[] = [];
  const step = kind === 'stop' ? -1 : 1;
  for (let k = b + step; k >= first && k <= last && inside.length < USUAL_BARS; k += step) inside.push(lengthM[k]);
  return inside;
}

/** How the lengths of the bars inside of an end run: their median, and how much longer each is than the next one inward; NaN for one bar alone. */
interface LengthLine {
  usual: number;
  slope: number;
}

/** The line of Theil and Sen, whom one odd bar does not sway. */
function lineOf(inside: readonly number[]): LengthLine {
  const n = inside.length;
  const slopes = new Float64Array((n * (n - 1)) / 2);
  let at = 0;
  for (let i = 0; i < n; i++) for (let k = i + 1; k < n; k++) slopes[at++] = (inside[i] - inside[k]) / (k - i);
  return { usual: median(inside), slope: median(slopes) };
}

/**
 * Length of an uncut bar `ahead` bars outside of an end's own bar (0: that bar itself), on the line through the bars inside: a planter speeds up
 * where it begins, and slows down where it stops.
 */
function lengthFrom(inside: readonly number[], { usual, slope }: LengthLine, ahead: number): number {
  if (inside.length < 2) return usual;
  const read = median(inside.map((v, i) => v + slope * (i + 1 + ahead)));
  return Math.min(READ_AHEAD[1] * usual, Math.max(READ_AHEAD[0] * usual, read));
}

/** Lengths of the log intervals about the end in bar `b`, and what part of one the last record is. */
export function intervalsAt(
  passes: Passes,
  p: number,
  b: number,
  kind: End['kind'],
): Pick<End, 'intervalBeforeM' | 'intervalAfterM' | 'cutShare'> {
  const { lengthM, passStart } = passes;
  const [first, last] = [passStart[p], passStart[p + 1] - 1];
  const inside = lengthsInside(passes, p, b, kind);
  const line = lineOf(inside);
  const own = inside.length > 0 ? lengthFrom(inside, line, 0) : lengthM[b];
  // An interval outside of the end matters only where records are not cut there: then the end's own bar shows how slow the planter was.
  const outside = inside.length > 0 ? Math.min(lengthFrom(inside, line, 1), lengthM[b]) : lengthM[b];
  const at = (k: number): number => (k >= first && k <= last ? lengthM[k] : outside);
  return {
    intervalBeforeM: kind === 'stop' ? lengthM[b] : at(b - 1),
    intervalAfterM: kind === 'stop' ? at(b + 1) : lengthM[b],
    cutShare: lengthM[b] / own,
  };
}
