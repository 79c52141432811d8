import { median } from '../geometry/stats.ts';
import type { Passes } from '../track/types.ts';
import type { End } from './types.ts';

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

/** Bars and seconds that a speed is taken over, at least. */
const SPEED_BARS = 4;
const SPEED_S = 3;
/** The same where times are rounded to seconds and bars do not last whole ones: over this, rounding is a twentieth. */
const ROUNDED_S = 9;
/** A clock is coarse whose step is at least this, milliseconds: bars within one are spread over it. */
const COARSE_MS = 500;
/** Bars last whole seconds where so large a part of the steps are equal. */
const EVEN_STEPS = 0.9;
/** The planter was not at work between two bars that are this many usual steps of the clock apart, and at least this many seconds. */
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
export interface Clock {
  timedAt: number;
  pauseS: number;
  wholeSeconds: boolean;
  /** Speeds are taken over so many seconds at least. */
  overS: number;
}

/** Whether times are rounded to seconds that bars do not last: steps of the clock then differ from bar to bar. */
function isRounded({ passStart, timeMs }: Passes): boolean {
  const counts = new Map<number, number>();
  let all = 0;
  for (let p = 0; p + 1 < passStart.length; p++)
    for (let b = passStart[p] + 1; b < passStart[p + 1]; b++) {
      const ms = Math.abs(timeMs[b] - timeMs[b - 1]);
      counts.set(ms, (counts.get(ms) ?? 0) + 1);
      all++;
    }
  return Math.max(0, ...counts.values()) < EVEN_STEPS * all;
}

/** How the times of a map show speed; `tickMs` is the step of its clock, 0 where it has none. */
export function clockOf(passes: Passes, tickMs: number): Clock {
  const isSpread = tickMs >= COARSE_MS && isRounded(passes);
  return {
    timedAt: timePlace(passes),
    pauseS: pauseOf(passes),
    wholeSeconds: isSpread || passes.timeMs.every((ms) => !(ms % 1000 > 0)),
    overS: isSpread ? ROUNDED_S : SPEED_S,
  };
}

/**
 * Speed at a start or stop, meters per second, from several bars on the inner side, none of them across a pause. A planter speeds up and slows down
 * there: the mean of those bars is scaled to the length that a bar would have at the end.
 */
export function speedAt(
  passes: Passes,
  p: number,
  b: number,
  kind: End['kind'],
  { timedAt, pauseS, wholeSeconds, overS }: Clock,
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
    if (steps.length >= SPEED_BARS && seconds >= overS) break;
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
