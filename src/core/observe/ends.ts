import type { Passes } from '../track/types.ts';
import type { RecordedBands } from './bands.ts';
import type { Earlier } from './earlier.ts';

/** One beginning or stop of one section. */
export interface End {
  pass: number;
  slot: number;
  kind: 'start' | 'stop';
  /** How far the record reaches onto covered ground, metres; below 0 the gap that it leaves before it. */
  overlapM: number;
  /** Metres per second, NaN without times. */
  speedMPerS: number;
  /** Length of the bar at the end, metres: no end is known more closely. */
  barM: number;
  bar: number;
  /** Place of the end along the line of travel, from the bar's own centre, metres. */
  alongM: number;
}

/** How far an end looks for the edge of covered ground, metres. */
const REACH_M = 14;
const STEP_M = 0.25;

/** The slots that record in one bar, in the order in which they stand there, and the last record of each. One is filled anew for every bar of a map. */
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

/** Open ground narrower than this between covered strips is a seam, not the edge of what is covered; metres. */
const SEAM_M = 1;

/** First place on the way from `from` to `to` (metres, either way) where `at` turns to `wanted`, to a hundredth of a metre; null when it never does. */
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

/** Every beginning and stop of a section that lies within reach of ground covered earlier. */
export function findEnds(passes: Passes, bands: RecordedBands, earlier: Earlier): End[] {
  const out: End[] = [];
  const { barStart, passStart } = passes;
  const open = new OnSlots();
  const on = new OnSlots();
  for (let p = 1; p + 1 < passStart.length; p++) {
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
      const c = passes.corner;
      // Corners: back left, back right, front right, front left.
      const [u, v] = kind === 'stop' ? [2, 3] : [0, 1];
      const x = (c[8 * i + 2 * u] + c[8 * i + 2 * v]) / 2;
      const y = (c[8 * i + 2 * u + 1] + c[8 * i + 2 * v + 1]) / 2;
      const sign = kind === 'stop' ? 1 : -1;
      const tx = -passes.right[2 * b + 1] * sign;
      const ty = passes.right[2 * b] * sign;
      const at = (d: number): boolean => earlier(x + tx * d, y + ty * d, p);
      // An end that overshoots the whole of a narrow headland lies on open ground again: what it reaches over is behind it.
      const beyond =
        !at(-0.01) && crossing(at, 0, REACH_M, true) === null ? crossing(at, 0, -passes.lengthM[b], true) : null;
      const inside = beyond !== null || at(-0.01);
      const far = beyond ?? 0;
      const edge = crossing(at, far, inside ? far - REACH_M : REACH_M, !inside);
      if (edge === null) return;
      const dx = x - passes.centre[2 * b];
      const dy = y - passes.centre[2 * b + 1];
      out.push({
        pass: p,
        slot,
        kind,
        overlapM: -edge,
        speedMPerS: speedAt(passes, p, b),
        barM: passes.lengthM[b],
        bar: b,
        alongM: -dx * passes.right[2 * b + 1] + dy * passes.right[2 * b],
      });
    }
  }
  return out;
}

function speedAt(passes: Passes, p: number, b: number): number {
  const other = b + 1 < passes.passStart[p + 1] ? b + 1 : b - 1;
  if (other < passes.passStart[p]) return Number.NaN;
  const dt = Math.abs(passes.timeMs[other] - passes.timeMs[b]) / 1000;
  if (!(dt > 0)) return Number.NaN;
  // Along travel only: where sections switch, the middle of the bar jumps sideways.
  const dx = passes.centre[2 * other] - passes.centre[2 * b];
  const dy = passes.centre[2 * other + 1] - passes.centre[2 * b + 1];
  return Math.abs(-dx * passes.right[2 * b + 1] + dy * passes.right[2 * b]) / dt;
}
