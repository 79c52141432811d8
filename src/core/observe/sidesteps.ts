import { lengthOf } from '../geometry/length.ts';
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
 * out. The same measure elsewhere on the map is its noise: rounding, jittering headings, hand steering. `stepM` is the size of a lattice step, meters;
 * `areStrips` says that bars were cut from strips along a pass.
 */
export function findSidesteps(passes: Passes, bands: RecordedBands, stepM: number, areStrips: boolean): Sidesteps {
  const line = lineOf(passes, bands);
  const asideM = new Float64Array(passes.bars).fill(Number.NaN);
  const atOnceM = new Float64Array(passes.bars);
  for (let b = 1; b < passes.bars; b++) {
    // Where sections are off, the middle of the layout is only inferred.
    if (bands.full[b - 1] === 1 && bands.full[b] === 1) measureStep(line, b, areStrips, asideM, atOnceM);
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

/** What is seen from every bar, and looked at from a dozen bars around it. */
interface Line {
  right: Float64Array;
  /** Middle of the recorded layout in every bar, x and y; NaN where its place among the bands is not known. */
  place: Float64Array;
  /** 1 where a bar begins where the one before it ends, straight on. */
  follows: Uint8Array;
  /** How far the headings of a bar and the one before it differ, radians. */
  turn: Float64Array;
}

function lineOf(passes: Passes, { middleM }: RecordedBands): Line {
  const { bars, center, right } = passes;
  const place = new Float64Array(2 * bars);
  for (let b = 0; b < bars; b++) {
    place[2 * b] = center[2 * b] + middleM[b] * right[2 * b];
    place[2 * b + 1] = center[2 * b + 1] + middleM[b] * right[2 * b + 1];
  }
  const follows = new Uint8Array(bars);
  const turn = new Float64Array(bars);
  for (let b = 1; b < bars; b++) {
    follows[b] = goesOn(passes, place, b) ? 1 : 0;
    turn[b] = Math.abs(right[2 * b] * right[2 * b - 1] - right[2 * b + 1] * right[2 * b - 2]);
  }
  return { right, place, follows, turn };
}

/** Whether bar `b` begins where the one before it ends, straight on. */
function goesOn({ right, lengthM }: Passes, place: Float64Array, b: number): boolean {
  const rx = right[2 * b - 2];
  const ry = right[2 * b - 1];
  if (!(rx * right[2 * b] + ry * right[2 * b + 1] > STRAIGHT)) return false;
  const dx = place[2 * b] - place[2 * b - 2];
  const dy = place[2 * b + 1] - place[2 * b - 1];
  if (Math.abs(dx * rx + dy * ry) > BESIDE_M) return false;
  const along = dy * rx - dx * ry;
  return Math.abs(along - (lengthM[b - 1] + lengthM[b]) / 2) < MEETS_M;
}

/** Headings differ where one of them differs from the next by more than this, radians: rounding on a fine lattice is less. */
const SAME_HEADING = 3e-4;
/** Bars cut from one record differ by less than this part of what two records differ by. */
const ONE_RECORD = 0.05;

/**
 * Whether the bars on both sides of bar `b` are of several records each, or all of one heading. Sections that are cut one by one leave many bars of one record, whose
 * heading, where headings vary, is one observation.
 */
function isOfSeveralRecords({ turn }: Line, from: number, b: number, to: number): boolean {
  let most = 0;
  for (let k = from + 1; k < to; k++) most = Math.max(most, turn[k]);
  if (most <= SAME_HEADING) return true;
  return recordsIn(turn, from, b, most) >= FEWEST_BARS && recordsIn(turn, b, to, most) >= FEWEST_BARS;
}

/** Records that bars `from` up to `to` were cut from, as their headings tell. */
function recordsIn(turn: Float64Array, from: number, to: number, most: number): number {
  let n = 1;
  for (let k = from + 1; k < to; k++) if (turn[k] > ONE_RECORD * most) n++;
  return n;
}

/**
 * How far the line of the bars from `b` on lies to the right of the line of those before it, into `asideM[b]`, and how far bar `b` itself lies to the right of the
 * one before it, but for the direction of both lines and for their own headings, into `atOnceM[b]`; meters. Neither where a line is too short.
 */
function measureStep(line: Line, b: number, areStrips: boolean, asideM: Float64Array, atOnceM: Float64Array): void {
  const { follows, place, right } = line;
  if (follows[b] === 0) return;
  let from = b - 1;
  while (b - from < MOST_BARS && from > 0 && follows[from] === 1) from--;
  let to = b + 1;
  while (to - b < MOST_BARS && to < follows.length && follows[to] === 1) to++;
  // As many on both sides, so that a bend cancels out.
  const count = Math.min(b - from, to - b);
  if (count < FEWEST_BARS) return;
  from = b - count;
  to = b + count;
  // Bars of a strip lie as its outline does, and have no heading of their own.
  if (!areStrips && !isOfSeveralRecords(line, from, b, to)) return;
  const rx = right[2 * b - 2];
  const ry = right[2 * b - 1];
  const aside = (k: number): number => (place[2 * k] - place[2 * b]) * rx + (place[2 * k + 1] - place[2 * b + 1]) * ry;
  const ahead = (k: number): number => -(place[2 * k] - place[2 * b]) * ry + (place[2 * k + 1] - place[2 * b + 1]) * rx;
  let products = 0;
  let squares = 0;
  // Mean place of the bars before `b`, and of those from it on.
  let before = { ahead: 0, aside: 0 };
  let after = before;
  for (let i = from; i < to; i += count) {
    const mean = { ahead: 0, aside: 0 };
    for (let k = i; k < i + count; k++) {
      mean.ahead += ahead(k);
      mean.aside += aside(k);
    }
    mean.ahead /= count;
    mean.aside /= count;
    for (let k = i; k < i + count; k++) {
      products += (ahead(k) - mean.ahead) * (aside(k) - mean.aside);
      squares += (ahead(k) - mean.ahead) ** 2;
    }
    before = after;
    after = mean;
  }
  const slope = squares > 0 ? products / squares : 0;
  asideM[b] = after.aside - before.aside - slope * (after.ahead - before.ahead);
  // By the line of all, and by the headings of the two: where a bend grows or ends, the bars lie off the line and still follow their headings.
  const byLine = slope * ahead(b - 1) - aside(b - 1);
  const [mx, my] = [rx + right[2 * b], ry + right[2 * b + 1]];
  const byHeadings =
    ((place[2 * b] - place[2 * b - 2]) * mx + (place[2 * b + 1] - place[2 * b - 1]) * my) / lengthOf(mx, my);
  atOnceM[b] = byLine * byHeadings > 0 ? Math.sign(byLine) * Math.min(Math.abs(byLine), Math.abs(byHeadings)) : 0;
}
