import { FOUND_EACH_BAR, FOUND_EACH_SECTION, makePointGrid, upTo } from '../geometry/grid.ts';
import { lengthOf } from '../geometry/length.ts';
import type { Passes } from '../track/types.ts';

/** Where ground was covered; x and y in meters. */
export interface Covered {
  /** True when (x, y) lies on a record laid down before bar `bar`, in the same job. */
  earlier(x: number, y: number, bar: number): boolean;
  /** The same, without ground covered along the line of bar `bar`: by this pass before it crossed a waterway, or by one that ended where it begins. */
  earlierAcross(x: number, y: number, bar: number): boolean;
  /** The same, without records at which their section starts or stops: where states are sampled, it may have been off for most of such a record. */
  earlierForSure(x: number, y: number, bar: number): boolean;
  /** True when it lies on any record. */
  ever(x: number, y: number): boolean;
  /** The same, without records at which their section starts or stops: where states are sampled, it may have been on for longer than it was recorded. */
  everInMidPass(x: number, y: number): boolean;
}

/** A pass most of which lies on ground that was covered longer ago than this is a replant; one planting day, including the night, milliseconds. */
export const SAME_JOB_MS = 20 * 3_600_000;
/** A pass meets its own ground again only after this many meters of travel, in a loop; the bars just behind the planter do not count. */
const LOOP_M = 40;

/** Two bars run in one line when they lie within half a width of each other and their directions within this, cosine of 10 degrees. */
const IN_LINE = Math.cos((10 * Math.PI) / 180);

/** A pass with more than this part of its bars on such ground is one: a pass that meets the headland of the day before is not. */
const REPLANTED = 0.5;

/**
 * Answers from the bars instead of the polygons: along and across a bar are two products, and its records are intervals. `clock` says
 * that the bars' times are milliseconds; without them the order of the passes is all that is known, and they are one job.
 * What lies under a replant is another job: its display did not know of it. A headland that was planted the day before is the same job.
 */
export function findCovered(passes: Passes, clock: boolean): Covered {
  const { bars, center, right, lengthM, barStart, leftM, rightM, timeMs, passStart } = passes;
  const passOf = new Uint32Array(bars);
  const travelled = new Float64Array(bars);
  for (let p = 0; p + 1 < passStart.length; p++) {
    passOf.fill(p, passStart[p], passStart[p + 1]);
    for (let b = passStart[p] + 1; b < passStart[p + 1]; b++) travelled[b] = travelled[b - 1] + lengthM[b - 1];
  }
  let reach = 0;
  let longest = 0;
  for (let b = 0; b < bars; b++) {
    reach = Math.max(reach, rightM[barStart[b + 1] - 1], -leftM[barStart[b]]);
    longest = Math.max(longest, lengthM[b]);
  }
  const around = lengthOf(reach, longest / 2);
  // Every section of a bar asks.
  const each = FOUND_EACH_BAR + FOUND_EACH_SECTION * (leftM.length / Math.max(1, bars));
  const grid = makePointGrid(center, upTo(bars), Math.max(3, reach / 2), each);
  const replants = clock ? findReplants(passes) : null;
  const isBefore = (b: number, bar: number): boolean => {
    if (passOf[b] === passOf[bar]) return b < bar && travelled[bar] - travelled[b] > LOOP_M;
    const ms = timeMs[bar] - timeMs[b];
    // Two machines at work at once take turns bar by bar, not pass by pass.
    if (Number.isNaN(ms) || ms === 0) return passOf[b] < passOf[bar];
    return ms > 0 && !(ms > SAME_JOB_MS && replants?.[passOf[bar]] === 1);
  };
  const goesOn = goingOn(passes);
  const isInLine = (b: number, bar: number): boolean => {
    const rx = right[2 * bar];
    const ry = right[2 * bar + 1];
    if (Math.abs(rx * right[2 * b] + ry * right[2 * b + 1]) < IN_LINE) return false;
    const aside = (center[2 * b] - center[2 * bar]) * rx + (center[2 * b + 1] - center[2 * bar + 1]) * ry;
    return Math.abs(aside) < reach;
  };
  /** `bar` -1: any record will do. */
  const lies = (x: number, y: number, bar: number, but: 'nothing' | 'in line' | 'ends' = 'nothing'): boolean => {
    const n = grid.near(x, y, around);
    const { found } = grid;
    for (let k = 0; k < n; k++) {
      const b = found[k];
      const dx = x - center[2 * b];
      const dy = y - center[2 * b + 1];
      const along = -dx * right[2 * b + 1] + dy * right[2 * b];
      if (Math.abs(along) > lengthM[b] / 2 + 0.01) continue;
      const across = dx * right[2 * b] + dy * right[2 * b + 1];
      if (across < leftM[barStart[b]] || across > rightM[barStart[b + 1] - 1]) continue;
      if (bar >= 0 && (!isBefore(b, bar) || (but === 'in line' && isInLine(b, bar)))) continue;
      for (let i = barStart[b]; i < barStart[b + 1]; i++)
        if (across >= leftM[i] && across <= rightM[i] && (but !== 'ends' || goesOn[i] === 1)) return true;
    }
    return false;
  };
  return {
    earlier: lies,
    earlierAcross: (x, y, bar) => lies(x, y, bar, 'in line'),
    earlierForSure: (x, y, bar) => lies(x, y, bar, 'ends'),
    ever: (x, y) => lies(x, y, -1),
    everInMidPass: (x, y) => lies(x, y, -1, 'ends'),
  };
}

/** Bars of a pass that are looked at, and where across them. */
const LOOKS = 40;
const ACROSS = [1 / 6, 1 / 2, 5 / 6];

/** 1 for each pass that is a replant. Times must be milliseconds. */
export function findReplants({
  bars,
  center,
  right,
  lengthM,
  barStart,
  leftM,
  rightM,
  timeMs,
  passStart,
}: Passes): Uint8Array {
  const out = new Uint8Array(Math.max(0, passStart.length - 1));
  let [first, last, around] = [Infinity, -Infinity, 0];
  for (let b = 0; b < bars; b++) {
    if (timeMs[b] < first) first = timeMs[b];
    if (timeMs[b] > last) last = timeMs[b];
    const reach = Math.max(rightM[barStart[b + 1] - 1], -leftM[barStart[b]]);
    around = Math.max(around, lengthOf(reach, lengthM[b] / 2));
  }
  // Most maps are of one day.
  if (!(last - first > SAME_JOB_MS)) return out;
  const grid = makePointGrid(center, upTo(bars), Math.max(3, around / 2), FOUND_EACH_BAR);
  /** Whether a point of bar `bar` lies on older ground, at a part of its width from the left. */
  const isOnOld = (bar: number, part: number): boolean => {
    const [left, end] = [leftM[barStart[bar]], rightM[barStart[bar + 1] - 1]];
    const m = left + part * (end - left);
    const [x, y] = [center[2 * bar] + m * right[2 * bar], center[2 * bar + 1] + m * right[2 * bar + 1]];
    const n = grid.near(x, y, around);
    for (let k = 0; k < n; k++) {
      const b = grid.found[k];
      if (!(timeMs[bar] - timeMs[b] > SAME_JOB_MS)) continue;
      const [dx, dy] = [x - center[2 * b], y - center[2 * b + 1]];
      if (Math.abs(dy * right[2 * b] - dx * right[2 * b + 1]) > lengthM[b] / 2) continue;
      const across = dx * right[2 * b] + dy * right[2 * b + 1];
      if (across >= leftM[barStart[b]] && across <= rightM[barStart[b + 1] - 1]) return true;
    }
    return false;
  };
  for (let p = 0; p < out.length; p++) {
    const step = Math.max(1, Math.floor((passStart[p + 1] - passStart[p]) / LOOKS));
    let [looks, old] = [0, 0];
    for (let b = passStart[p]; b < passStart[p + 1]; b += step) {
      // Its middle alone may lie in the seam of two.
      for (const part of ACROSS) {
        looks++;
        if (isOnOld(b, part)) old++;
      }
    }
    if (old > REPLANTED * looks) out[p] = 1;
  }
  return out;
}

/** 1 for every record whose section recorded in the bars before and after it too. */
function goingOn({ passStart, barStart, center, right, leftM, rightM }: Passes): Uint8Array {
  const out = new Uint8Array(leftM.length);
  /** Whether bar `b` recorded `m` meters to the right of the middle of bar `from`. */
  const on = (b: number, from: number, m: number): boolean => {
    const rx = right[2 * b];
    const ry = right[2 * b + 1];
    const at = m + (center[2 * from] - center[2 * b]) * rx + (center[2 * from + 1] - center[2 * b + 1]) * ry;
    for (let i = barStart[b]; i < barStart[b + 1]; i++) if (at >= leftM[i] && at <= rightM[i]) return true;
    return false;
  };
  for (let p = 0; p + 1 < passStart.length; p++)
    for (let b = passStart[p] + 1; b + 1 < passStart[p + 1]; b++)
      for (let i = barStart[b]; i < barStart[b + 1]; i++) {
        const m = (leftM[i] + rightM[i]) / 2;
        out[i] = on(b - 1, b, m) && on(b + 1, b, m) ? 1 : 0;
      }
  return out;
}
