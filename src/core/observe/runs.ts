import type { Passes } from '../track/types.ts';
import type { RecordedBands } from './bands.ts';
import type { Earlier } from './earlier.ts';

/** What one band of the recorded layout did over the whole map. Lengths in metres of travel. */
export interface SlotRuns {
  /** Recorded wholly over covered ground, beyond the first bars and metres of each stretch. */
  doubledM: number;
  doubledRuns: number;
  doubledPasses: number[];
  /** Times the band came onto covered ground at all. */
  visits: number;
  /** Off between two neighbours that were on, over open ground. */
  droppedM: number;
  droppedRuns: number;
  droppedPasses: number[];
  longestDropM: number;
  recordedM: number;
}

/** What logging in intervals and a usual delay explain. */
const ALLOWED_BARS = 2;
const ALLOWED_M = 5;

/** Per band of each segment's layout; indexed [segment][slot]. */
export function findRuns(passes: Passes, bands: RecordedBands, earlier: Earlier): SlotRuns[][] {
  const fresh = (): SlotRuns => ({
    doubledM: 0,
    doubledRuns: 0,
    doubledPasses: [],
    visits: 0,
    droppedM: 0,
    droppedRuns: 0,
    droppedPasses: [],
    longestDropM: 0,
    recordedM: 0,
  });
  const out = bands.segments.map((e) => e.bands.map(fresh));
  const { barStart, passStart, corner } = passes;
  /** Points just inside the four corners lie on covered ground: a record of which a strip is new is no doubling, section control must leave it on. */
  const wholeOver = (i: number, p: number): boolean => {
    const o = 8 * i;
    for (let k = 0; k < 4; k++) {
      const far = (k + 2) & 3;
      const x = 0.96 * corner[o + 2 * k] + 0.04 * corner[o + 2 * far];
      const y = 0.96 * corner[o + 2 * k + 1] + 0.04 * corner[o + 2 * far + 1];
      if (!earlier(x, y, p)) return false;
    }
    return true;
  };
  // Made once and cleared: there are tens of thousands of bars. `onIn` says of each slot in which bar it was last on, counted from 1.
  const onIn = new Uint32Array(Math.max(0, ...out.map((slots) => slots.length)));
  const still = new Set<SlotRuns>();
  const off = new Set<SlotRuns>();
  for (let p = 0; p + 1 < passStart.length; p++) {
    const doubled = new Map<SlotRuns, { bars: number; lengthM: number; counted: boolean }>();
    const dropped = new Map<SlotRuns, number>();
    for (let b = passStart[p]; b < passStart[p + 1]; b++) {
      const slots = out[bands.segment[b]];
      if (!slots) continue;
      const layout = bands.segments[bands.segment[b]].bands;
      const length = passes.lengthM[b];
      let any = false;
      still.clear();
      off.clear();
      for (let i = barStart[b]; i < barStart[b + 1]; i++) {
        const slot = bands.slot[i];
        if (slot < 0) continue;
        onIn[slot] = b + 1;
        any = true;
        const s = slots[slot];
        s.recordedM += length;
        if (p === 0) continue;
        if (!wholeOver(i, p)) continue;
        still.add(s);
        const n = doubled.get(s) ?? { bars: 0, lengthM: 0, counted: false };
        n.bars++;
        n.lengthM += length;
        doubled.set(s, n);
        if (n.bars === 1) s.visits++;
        if (n.bars <= ALLOWED_BARS || n.lengthM <= ALLOWED_M) continue;
        s.doubledM += length;
        if (n.counted) continue;
        n.counted = true;
        s.doubledRuns++;
        if (s.doubledPasses.at(-1) !== p + 1) s.doubledPasses.push(p + 1);
      }
      for (const s of doubled.keys()) if (!still.has(s)) doubled.delete(s);
      if (!Number.isNaN(bands.middleM[b]) && any) {
        for (let k = 1; k + 1 < layout.length; k++) {
          if (onIn[k] === b + 1 || onIn[k - 1] !== b + 1 || onIn[k + 1] !== b + 1) continue;
          const u = bands.middleM[b] + (layout[k].leftM + layout[k].rightM) / 2;
          const x = passes.centre[2 * b] + u * passes.right[2 * b];
          const y = passes.centre[2 * b + 1] + u * passes.right[2 * b + 1];
          if (earlier(x, y, p)) continue;
          const s = slots[k];
          off.add(s);
          const run = (dropped.get(s) ?? 0) + length;
          dropped.set(s, run);
          s.droppedM += length;
          if (run === length) s.droppedRuns++;
          s.longestDropM = Math.max(s.longestDropM, run);
          if (s.droppedPasses.at(-1) !== p + 1) s.droppedPasses.push(p + 1);
        }
      }
      for (const s of dropped.keys()) if (!off.has(s)) dropped.delete(s);
    }
  }
  return out;
}
