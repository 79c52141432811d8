import type { Passes } from '../track/types.ts';
import { type Absence, findAbsences, shutShares } from './absences.ts';
import { Corners } from './corners.ts';
import type { Covered } from './covered.ts';
import { REACH_M } from './ends.ts';
import type { RecordedBands } from './types.ts';

/** A stretch of one pass in which at least one section lay wholly on ground covered earlier the same day, for long enough to have been off. */
export interface Visit {
  /** 0-based. */
  pass: number;
  segment: number;
  /** First bar, and the bar after the last. */
  from: number;
  to: number;
  /** Per band of the segment: the part of the way over which it recorded all the same; NaN where it could not have been off for long enough. */
  onShare: Float64Array;
}

/** What one band of the recorded layout did over the whole map. Lengths in meters of travel. */
export interface SlotStates {
  recordedM: number;
  /** Recorded wholly over covered ground where it could have been off. */
  doubledM: number;
  doubledPasses: number[];
  drops: Drop[];
}

/** A stretch in which a section was off over ground that stayed open, though ground on both sides of it was covered. */
export interface Drop {
  /** Number of the pass. */
  pass: number;
  /** Travel, meters. */
  lengthM: number;
  /** Every section from there to one end of the planter was off as well, over most of it. */
  outer: boolean;
  /** It lasted for nearly all of the pass. */
  whole: boolean;
}

export interface States {
  visits: Visit[];
  /** Per segment and band. */
  slots: SlotStates[][];
  /** Sections at an end of the planter that are missing from whole segments. */
  absences: Absence[];
  /** Per segment: the part of its travel over which the sections that it lacks lay on ground covered earlier (`shutShares`). */
  shut: Float64Array;
}

/** A section lies wholly on covered ground when that reaches this much beyond its sides, meters: more than the noise of a good receiver. */
const BEYOND_M = 0.1;
/** A shorter stretch on covered ground is not a visit: log intervals, a usual delay, a planned overlap. */
const ALLOWED_BARS = 2;
const ALLOWED_M = 5;
/** A section that comes on again early, before it leaves covered ground, does what it should over this, meters. */
const AHEAD_M = 4;
/** Covered ground beyond the outer edge of an outer section shows that another pass lies there: this far on, meters, and a section of that pass may be off too. */
const NEXT_PASS_M = 1;

/** What lasts for this part of a pass lasts for all of it: at its ends sections switch. */
const WHOLE_PASS = 0.9;

/** Bars in a row in which one section lies on covered ground. */
interface Run {
  slot: number;
  from: number;
  to: number;
}

/** Where sections recorded unnecessarily, and where they did not record though they should have. */
export function findStates(passes: Passes, bands: RecordedBands, covered: Covered): States {
  const out: States = {
    visits: [],
    slots: bands.segments.map((s) => s.bands.map(() => ({ recordedM: 0, doubledM: 0, doubledPasses: [], drops: [] }))),
    absences: findAbsences(passes, bands, covered),
    shut: shutShares(passes, bands, covered),
  };
  if (bands.segments.length === 0) return out;
  const look = new SlotLook(passes, bands, covered);
  const { passStart } = passes;
  for (let p = 0; p + 1 < passStart.length; p++) {
    for (let from = passStart[p]; from < passStart[p + 1]; ) {
      const segment = bands.segment[from];
      let to = from;
      while (to < passStart[p + 1] && bands.segment[to] === segment) to++;
      visitStretch(look, p, segment, from, to, out);
      from = to;
    }
  }
  const corners = new Corners(passes, bands);
  const shows = (v: Visit): boolean => !isUnevenAtCorner(v, passes, corners) && !isEndOfBars(v, passes);
  return { ...out, visits: out.visits.filter(shows) };
}

/** Where a pass of whole-width records begins or ends on covered ground, within the reach of an end, that is measured as its start or stop. */
function isEndOfBars({ pass, from, to, onShare }: Visit, { passStart, lengthM }: Passes): boolean {
  if (onShare.length > 1 || (from > passStart[pass] && to < passStart[pass + 1])) return false;
  return lengthM.subarray(from, to).reduce((sum, m) => sum + m, 0) < REACH_M;
}

/** A section is on in a visit above this share of the way. */
export const ON = 0.5;

/** Where a lap goes round, the pass before ends on the ground that an outer section begins on, within a log interval or an offset: that one section records there, and others do not, is no visit. */
function isUnevenAtCorner({ pass, from, to, onShare }: Visit, { passStart }: Passes, corners: Corners): boolean {
  const [first, last] = [passStart[pass], passStart[pass + 1] - 1];
  const isCorner =
    (from === first && corners.goesRound(pass, first)) || (to === last + 1 && corners.goesRound(pass, last));
  return isCorner && onShare.some((share) => share > ON) && onShare.some((share) => share <= ON);
}

function visitStretch(look: SlotLook, pass: number, segment: number, from: number, to: number, out: States): void {
  const slots = out.slots[segment];
  const number = look.passes.number[pass];
  const open: (Run | null)[] = slots.map(() => null);
  const dropped = new Float64Array(slots.length);
  const outer = new Float64Array(slots.length);
  const passM = look.passes.lengthM.subarray(from, to).reduce((sum, m) => sum + m, 0);
  const runs: Run[] = [];
  const endDrop = (k: number): void => {
    const m = dropped[k];
    if (m > 0)
      slots[k].drops.push({ pass: number, lengthM: m, outer: 2 * outer[k] > m, whole: m > WHOLE_PASS * passM });
    dropped[k] = 0;
    outer[k] = 0;
  };
  for (let b = from; b < to; b++) {
    look.at(b, slots.length);
    for (let k = 0; k < slots.length; k++) {
      if (look.isOn(k)) slots[k].recordedM += look.passes.lengthM[b];
      const run = open[k];
      if (look.isWhollyCovered(k)) {
        if (run) run.to = b + 1;
        else open[k] = { slot: k, from: b, to: b + 1 };
      } else if (run) {
        runs.push(run);
        open[k] = null;
      }
      if (look.isDropped(k)) {
        dropped[k] += look.passes.lengthM[b];
        if (look.isOuter(k)) outer[k] += look.passes.lengthM[b];
      } else endDrop(k);
    }
  }
  slots.forEach((_, k) => {
    endDrop(k);
    if (open[k]) runs.push(open[k]);
  });
  // A record or two by themselves, at the corner of a lap or in a turn, show the log interval and not what the display does.
  if (to - from > ALLOWED_BARS) addVisits(look, pass, segment, from, to, runs, out);
}

/** Overlapping runs of one stretch are one visit: what the sections of a planter meet together is one observation, not sixteen. */
function addVisits(
  look: SlotLook,
  pass: number,
  segment: number,
  start: number,
  end: number,
  runs: Run[],
  out: States,
): void {
  const slots = out.slots[segment];
  const { lengthM } = look.passes;
  const number = look.passes.number[pass];
  const counted: { run: Run; share: number }[] = [];
  for (const run of runs) {
    let after = run.from;
    // Where the stretch begins on covered ground, there was nothing to be late for.
    if (run.from > start)
      for (let m = 0; after < run.to && (after - run.from < ALLOWED_BARS || m < ALLOWED_M); after++)
        m += lengthM[after];
    let before = run.to;
    if (run.to < end)
      for (let m = 0; before > after && (run.to - before < ALLOWED_BARS || m < AHEAD_M); before--)
        m += lengthM[before - 1];
    let all = 0;
    let on = 0;
    for (let b = after; b < before; b++) {
      all += lengthM[b];
      if (look.recorded(b, run.slot)) on += lengthM[b];
    }
    if (all === 0) continue;
    const s = slots[run.slot];
    s.doubledM += on;
    if (on > all / 2 && s.doubledPasses.at(-1) !== number) s.doubledPasses.push(number);
    counted.push({ run: { slot: run.slot, from: after, to: before }, share: on / all });
  }
  counted.sort((a, b) => a.run.from - b.run.from);
  let visit: Visit | null = null;
  for (const { run, share } of counted) {
    if (!visit || run.from >= visit.to) {
      visit = { pass, segment, from: run.from, to: run.to, onShare: new Float64Array(slots.length).fill(Number.NaN) };
      out.visits.push(visit);
    }
    visit.to = Math.max(visit.to, run.to);
    // The same section twice in one visit: which run is longer is chance, so the higher share is kept.
    const known = visit.onShare[run.slot];
    visit.onShare[run.slot] = Number.isNaN(known) ? share : Math.max(known, share);
  }
}

/** For the bands of one bar after another: whether they record, and what ground they lie on. */
class SlotLook {
  private bar = 0;
  private count = 0;
  /** 1 + record of each slot, 0 where it is off. */
  private readonly record: Int32Array;
  private firstOn = 0;
  private lastOn = -1;
  /** Sides of the band that was asked for last, meters right of the bar's center. */
  private leftM = 0;
  private rightM = 0;

  constructor(
    readonly passes: Passes,
    private readonly bands: RecordedBands,
    private readonly covered: Covered,
  ) {
    this.record = new Int32Array(Math.max(...bands.segments.map((s) => s.bands.length)));
  }

  /** Looks at bar `b`, whose layout has `count` bands. */
  at(b: number, count: number): void {
    const { bands, record } = this;
    const { barStart } = this.passes;
    this.bar = b;
    this.count = count;
    record.fill(0, 0, count);
    this.firstOn = count;
    this.lastOn = -1;
    for (let i = barStart[b]; i < barStart[b + 1]; i++) {
      const s = bands.slot[i];
      if (s < 0 || s >= count) continue;
      record[s] = i + 1;
      if (s < this.firstOn) this.firstOn = s;
      if (s > this.lastOn) this.lastOn = s;
    }
  }

  isOn(k: number): boolean {
    return this.record[k] > 0;
  }

  /** Whether band `k` lies beyond all that record. */
  isOuter(k: number): boolean {
    return k < this.firstOn || k > this.lastOn;
  }

  /** Whether band `k` recorded in bar `b`, any bar. */
  recorded(b: number, k: number): boolean {
    const { barStart } = this.passes;
    for (let i = barStart[b]; i < barStart[b + 1]; i++) if (this.bands.slot[i] === k) return true;
    return false;
  }

  /** Whether band `k`, on or off, lies on ground covered earlier by a clear margin. */
  isWhollyCovered(k: number): boolean {
    if (!this.findSides(k)) return false;
    const left = this.leftM;
    const width = this.rightM - left;
    // Beyond both sides, where open ground shows first, and between them: the passes on both sides may be all that was covered.
    return (
      this.isSurelyCovered(left + -BEYOND_M) &&
      this.isSurelyCovered(left + (width + BEYOND_M)) &&
      this.isSurelyCovered(left + 0.1 * width) &&
      this.isSurelyCovered(left + 0.5 * width) &&
      this.isSurelyCovered(left + 0.9 * width)
    );
  }

  /** Whether the bar lies on ground covered earlier, `u` meters right of its center, near its back and near its front. */
  private isSurelyCovered(u: number): boolean {
    const half = 0.45 * this.passes.lengthM[this.bar];
    const { earlierForSure } = this.covered;
    return (
      earlierForSure(this.x(u, -half), this.y(u, -half), this.bar) &&
      earlierForSure(this.x(u, half), this.y(u, half), this.bar)
    );
  }

  /** Off over ground that was never covered, with covered ground on both sides: of the same bar, or of another pass beyond an outer band. */
  isDropped(k: number): boolean {
    if (this.record[k] > 0 || this.lastOn < 0 || Number.isNaN(this.bands.middleM[this.bar])) return false;
    if (this.isEverCovered(k)) return false;
    if (k > this.firstOn && k < this.lastOn) return true;
    // Open from here to what this bar recorded: a strip that another pass left open belongs to that pass.
    const left = k < this.firstOn;
    for (let n = left ? k + 1 : k - 1; n < this.firstOn || n > this.lastOn; n += left ? 1 : -1)
      if (this.isEverCovered(n)) return false;
    const { bands } = this.bands.segments[this.bands.segment[this.bar]];
    const shift = this.bands.middleM[this.bar];
    const outer = left ? bands[0] : bands[this.count - 1];
    const edge = left ? outer.leftM : outer.rightM;
    // Passes that end here may have covered the band up to a log interval further than they recorded.
    return [NEXT_PASS_M, NEXT_PASS_M + outer.rightM - outer.leftM].some((m) => {
      const u = edge + shift + (left ? -m : m);
      return this.covered.everInMidPass(this.x(u, 0), this.y(u, 0));
    });
  }

  /** Some of band `k` lies on ground that a pass covered: a display leaves a section off where a part of it is covered, the larger or the smaller. */
  private isEverCovered(k: number): boolean {
    if (!this.findSides(k)) return false;
    return [0.1, 0.5, 0.9].some((f) => {
      const u = this.leftM + f * (this.rightM - this.leftM);
      return this.covered.ever(this.x(u, 0), this.y(u, 0));
    });
  }

  /** Sets `leftM` and `rightM` to the sides of band `k`; false where the bar's place among the bands is not known. */
  private findSides(k: number): boolean {
    const { passes, bands, bar } = this;
    const i = this.record[k] - 1;
    if (i >= 0) {
      this.leftM = passes.leftM[i];
      this.rightM = passes.rightM[i];
      return true;
    }
    const shift = bands.middleM[bar];
    if (Number.isNaN(shift)) return false;
    const band = bands.segments[bands.segment[bar]].bands[k];
    this.leftM = band.leftM + shift;
    this.rightM = band.rightM + shift;
    return true;
  }

  /** The place `u` meters right of the bar's center and `v` ahead of it. */
  private x(u: number, v: number): number {
    const { center, right } = this.passes;
    const b = this.bar;
    return center[2 * b] + u * right[2 * b] - v * right[2 * b + 1];
  }

  private y(u: number, v: number): number {
    const { center, right } = this.passes;
    const b = this.bar;
    return center[2 * b + 1] + u * right[2 * b + 1] + v * right[2 * b];
  }
}
