import { robustSd } from '../geometry/stats.ts';
import type { Passes } from '../track/types.ts';
import type { RecordedBands } from './types.ts';

/** A place between two bars where the whole drawing shifts sideways at once and stays there. */
export interface Sidestep {
  /** The first bar that is drawn aside. */
  bar: number;
  /** How far, meters to the right of travel. */
  asideM: number;
}

export interface Sidesteps {
  /** The largest at each place, in the order in which they were driven. */
  steps: Sidestep[];
  /** Standard deviation of the same measure where nothing steps, meters. */
  noiseM: number;
  /** Places that were checked. */
  places: number;
}

/** Bars on each side that show where the planter ran, at most and at least. */
const MOST_BARS = 6;
const FEWEST_BARS = 3;
/** Bars follow each other when they meet within this, meters, and turn by less than this (cosine of 3 degrees). */
const MEETS_M = 0.5;
const STRAIGHT = Math.cos((3 * Math.PI) / 180);
/** A bar further aside belongs to another pass, meters. */
const BESIDE_M = 1.5;
/** No file and no display draws more steadily than this, meters. */
const LEAST_NOISE_M = 0.005;
/** Smaller steps are positioning that settles, meters (common practice: a few inches after a lost correction). */
const LEAST_M = 0.12;
/** On a coarse lattice a straight pass may be rounded the same way for long, and then the other way: steps of less than this many lattice steps are that. */
const LATTICE_STEPS = 1.5;
/** At least this share of a step lies between two bars: steering aside takes several bars, a new value on the display takes none. */
const AT_ONCE = 0.65;

/**
 * Compares, at every place between two bars, the line of the bars before with the line of the bars after: two lines of one direction, a bend cancels
 * out. The same measure elsewhere on the map is its noise: rounding, jittering headings, hand steering. `stepM` is the size of a lattice step, meters.
 */
export function findSidesteps(passes: Passes, bands: RecordedBands, stepM: number): Sidesteps {
  const place = middlesOf(passes, bands);
  const asideM = new Float64Array(passes.bars).fill(Number.NaN);
  const atOnceM = new Float64Array(passes.bars);
  for (let b = 1; b < passes.bars; b++) {
    // Where sections are off, the middle of the layout is only inferred.
    const step = bands.full[b - 1] === 1 && bands.full[b] === 1 ? stepAt(passes, place, b) : null;
    if (step) [asideM[b], atOnceM[b]] = step;
  }
  const known = asideM.filter((v) => !Number.isNaN(v));
  const noiseM = Math.max(LEAST_NOISE_M, known.length > 0 ? robustSd(known, 0) : 0);
  const leastM = Math.max(LEAST_M, 4 * noiseM, LATTICE_STEPS * stepM);
  const steps: Sidestep[] = [];
  for (let b = 1; b < passes.bars; b++) {
    const m = Math.abs(asideM[b]);
    if (!(m >= leastM) || atOnceM[b] * Math.sign(asideM[b]) < AT_ONCE * m) continue;
    const last = steps.at(-1);
    // A step also shows in the measure of the bars around it.
    if (last && b - last.bar < 2 * MOST_BARS) {
      if (m > Math.abs(last.asideM)) steps[steps.length - 1] = { bar: b, asideM: asideM[b] };
    } else steps.push({ bar: b, asideM: asideM[b] });
  }
  return { steps, noiseM, places: known.length };
}

/** Middle of the recorded layout in every bar, x and y; NaN where its place among the bands is not known. */
function middlesOf({ bars, center, right }: Passes, { middleM }: RecordedBands): Float64Array {
  const out = new Float64Array(2 * bars);
  for (let b = 0; b < bars; b++) {
    out[2 * b] = center[2 * b] + middleM[b] * right[2 * b];
    out[2 * b + 1] = center[2 * b + 1] + middleM[b] * right[2 * b + 1];
  }
  return out;
}

/** Whether bar `b` begins where the one before it ends, straight on. */
function follows({ right, lengthM }: Passes, place: Float64Array, b: number): boolean {
  const [rx, ry] = [right[2 * b - 2], right[2 * b - 1]];
  if (!(rx * right[2 * b] + ry * right[2 * b + 1] > STRAIGHT)) return false;
  const [dx, dy] = [place[2 * b] - place[2 * b - 2], place[2 * b + 1] - place[2 * b - 1]];
  if (Math.abs(dx * rx + dy * ry) > BESIDE_M) return false;
  const along = dy * rx - dx * ry;
  return Math.abs(along - (lengthM[b - 1] + lengthM[b]) / 2) < MEETS_M;
}

/** Headings differ where one of them differs from the next by more than this, radians: rounding on a fine lattice is less. */
const SAME_HEADING = 3e-4;
/** Bars cut from one record differ by less than this part of what two records differ by. */
const ONE_RECORD = 0.05;

/** How far the headings of bars k - 1 and k differ, radians. */
const turnAt = (right: Float64Array, k: number): number =>
  Math.abs(right[2 * k] * right[2 * k - 1] - right[2 * k + 1] * right[2 * k - 2]);

/**
 * Whether the bars on both sides of bar `b` are of several records each, or all of one heading. Sections that are cut one by one leave many bars of one record, whose
 * heading, where headings vary, is one observation.
 */
function isOfSeveralRecords({ right }: Passes, from: number, b: number, to: number): boolean {
  let most = 0;
  for (let k = from + 1; k < to; k++) most = Math.max(most, turnAt(right, k));
  if (most <= SAME_HEADING) return true;
  const runs = (i: number, j: number): number => {
    let n = 1;
    for (let k = i + 1; k < j; k++) if (turnAt(right, k) > ONE_RECORD * most) n++;
    return n;
  };
  return Math.min(runs(from, b), runs(b, to)) >= FEWEST_BARS;
}

/**
 * How far the line of the bars from `b` on lies to the right of the line of those before it, and how far bar `b` itself lies to the right of the
 * one before it, but for the direction of both lines; meters. Null where a line is too short.
 */
function stepAt(passes: Passes, place: Float64Array, b: number): [lineM: number, atOnceM: number] | null {
  if (!follows(passes, place, b)) return null;
  let from = b - 1;
  while (b - from < MOST_BARS && from > 0 && follows(passes, place, from)) from--;
  let to = b + 1;
  while (to - b < MOST_BARS && to < passes.bars && follows(passes, place, to)) to++;
  // As many on both sides, so that a bend cancels out.
  const count = Math.min(b - from, to - b);
  if (count < FEWEST_BARS) return null;
  from = b - count;
  to = b + count;
  if (!isOfSeveralRecords(passes, from, b, to)) return null;
  const [rx, ry] = [passes.right[2 * b - 2], passes.right[2 * b - 1]];
  const aside = (k: number): number => (place[2 * k] - place[2 * b]) * rx + (place[2 * k + 1] - place[2 * b + 1]) * ry;
  const ahead = (k: number): number => -(place[2 * k] - place[2 * b]) * ry + (place[2 * k + 1] - place[2 * b + 1]) * rx;
  let [products, squares] = [0, 0];
  const mean = (of: (k: number) => number, i: number, j: number): number => {
    let sum = 0;
    for (let k = i; k < j; k++) sum += of(k);
    return sum / (j - i);
  };
  const sides = [
    [from, b],
    [b, to],
  ].map(([i, j]) => {
    const [u, v] = [mean(ahead, i, j), mean(aside, i, j)];
    for (let k = i; k < j; k++) {
      products += (ahead(k) - u) * (aside(k) - v);
      squares += (ahead(k) - u) ** 2;
    }
    return [u, v];
  });
  const slope = squares > 0 ? products / squares : 0;
  return [sides[1][1] - sides[0][1] - slope * (sides[1][0] - sides[0][0]), slope * ahead(b - 1) - aside(b - 1)];
}
