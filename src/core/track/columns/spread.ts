import { median } from '../../geometry/stats.ts';
import { Sets } from '../../geometry/unionfind.ts';
import type { Lanes } from '../types.ts';

/**
 * Times of records that were logged faster than their clock ticks (whole seconds at 5 Hz), spread evenly between two ticks in the
 * order of the file, and equal for records of one bar. Times that tick for every record, and those whose order in the file does not
 * run along the lanes, come back as they are. `ms`: one per record, rising.
 */
export function spreadTicks(ms: Float64Array, lanes: Lanes): Float64Array {
  // Most records have a tick of their own: nothing to spread.
  const ticks = countRuns(ms, lanes);
  if (ticks.placed < 1.15 * ticks.runs || ticks.runs === 0) return ms;
  const runs = runsOf(ms, lanes);
  const whole = runs.filter((r) => r.whole).map((r) => r.to - r.from);
  const usual = whole.length > 0 ? Math.max(1, Math.round(median(Float64Array.from(whole)))) : 1;
  const tickMs = median(Float64Array.from(runs.filter((r) => r.stepMs > 0).map((r) => r.stepMs)));
  if (!(tickMs > 0)) return ms;
  const { laneQuads, quads, right } = lanes;
  const part = new Float64Array(quads.count).fill(Number.NaN);
  for (const run of runs) {
    const n = run.to - run.from;
    // At the start of a lane the first part of the tick is missing, at its end the last.
    const of = run.whole ? n : Math.max(n, usual);
    const skipped = run.whole || run.closes ? 0 : of - n;
    for (let k = 0; k < n; k++) part[laneQuads[run.rising ? run.from + k : run.to - 1 - k]] = (skipped + k) / of;
  }
  // Records of one bar are one instant: the first with a known place in the tick gives it to the others.
  const sets = new Sets(quads.count);
  const same = (a: number, b: number): boolean => ms[quads.record[a]] === ms[quads.record[b]];
  for (let q = 0; q < quads.count; q++) if (right[q] >= 0 && same(q, right[q])) sets.join(q, right[q]);
  const first = new Map<number, number>();
  const out = ms.slice();
  for (let q = 0; q < quads.count; q++) {
    const root = sets.find(q);
    const p = first.get(root) ?? part[q];
    if (Number.isNaN(p)) continue;
    first.set(root, p);
    const r = quads.record[q];
    out[r] = ms[r] + Math.round(p * tickMs);
  }
  return out;
}

/** Quads `laneQuads[from .. to)` of one lane and one tick. */
interface TickRun {
  from: number;
  to: number;
  /** Time rises along the lane's own direction. */
  rising: boolean;
  /** The lane goes on with other ticks before and after. */
  whole: boolean;
  /** It is the last tick of its lane, not the first. */
  closes: boolean;
  /** To the next tick of the lane; 0 for the last. */
  stepMs: number;
}

/** How many runs there are, and how many quads in all of them: counted first, because on most maps there is one for every quad. */
function countRuns(ms: Float64Array, lanes: Lanes): { runs: number; placed: number } {
  let runs = 0;
  let placed = 0;
  eachRun(ms, lanes, (_, from, to) => {
    runs++;
    placed += to - from;
  });
  return { runs, placed };
}

function runsOf(ms: Float64Array, lanes: Lanes): TickRun[] {
  const { laneStart, laneQuads, quads } = lanes;
  const at = (k: number): number => quads.record[laneQuads[k]];
  const out: TickRun[] = [];
  eachRun(ms, lanes, (lane, from, to) => {
    const begin = laneStart[lane];
    const end = laneStart[lane + 1];
    const rising = at(end - 1) > at(begin);
    const stepMs = to < end ? Math.abs(ms[at(to)] - ms[at(to - 1)]) : 0;
    out.push({
      from,
      to,
      rising,
      whole: from > begin && to < end,
      closes: rising ? to === end : from === begin,
      stepMs: Number.isNaN(stepMs) ? 0 : stepMs,
    });
  });
  return out;
}

/** Visits the runs in file order; those against it are left out. */
function eachRun(ms: Float64Array, lanes: Lanes, visit: (lane: number, from: number, to: number) => void): void {
  const { laneStart, laneQuads, quads } = lanes;
  const at = (k: number): number => quads.record[laneQuads[k]];
  for (let i = 0; i + 1 < laneStart.length; i++) {
    const begin = laneStart[i];
    const end = laneStart[i + 1];
    if (end - begin < 2) continue;
    const rising = at(end - 1) > at(begin);
    let from = begin;
    let inOrder = true;
    for (let k = begin + 1; k <= end; k++) {
      if (k < end && ms[at(k)] === ms[at(k - 1)]) {
        if (at(k) > at(k - 1) !== rising) inOrder = false;
        continue;
      }
      if (inOrder && !Number.isNaN(ms[at(from)])) visit(i, from, k);
      from = k;
      inOrder = true;
    }
  }
}
