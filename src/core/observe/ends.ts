import type { Passes } from '../track/types.ts';
import { Corners } from './corners.ts';
import type { Covered } from './covered.ts';
import { clockOf, intervalsAt, speedAt } from './speeds.ts';
import type { End, RecordedBands } from './types.ts';

/** How far an end looks for the edge of covered ground, meters. */
export const REACH_M = 14;
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

/** Every start and stop of a section within reach of ground covered earlier, except by passes along the same line. `tickMs` is the step of the map's clock, 0 where it has none. */
export function findEnds(
  passes: Passes,
  bands: RecordedBands,
  { earlier, earlierAcross }: Covered,
  tickMs: number,
): End[] {
  const out: End[] = [];
  const { barStart, passStart } = passes;
  const clock = clockOf(passes, tickMs);
  const corners = new Corners(passes, bands);
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
        speedMPerS: speedAt(passes, p, b, kind, clock),
        ...intervalsAt(passes, p, b, kind),
        bar: b,
        corner: corners.goesRound(p, b),
        alongM: -dx * passes.right[2 * b + 1] + dy * passes.right[2 * b],
      });
    }
  }
  return out;
}

/** A pass that turns by more than this over this many meters inside an end did not come along the line on which the edge is looked for: cosine of 15 degrees. */
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
