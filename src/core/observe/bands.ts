import { median } from '../geometry/stats.ts';
import type { Lanes, Passes } from '../track/types.ts';
import type { BarKinds } from './bars.ts';
import { meanOfPasses } from './estimate.ts';
import type { Estimate, MeasuredBand, RecordedBands, Segment } from './types.ts';

/** No plane is truer than this share of a length, as a standard error: two usual projections of one field differ by as much. */
const PLANE_SHARE = 1e-5;

/** A record lies on a band within this, meters. */
const SAME_M = 0.045;

/** Bars `from` up to `to` in which the recorded layout is that of `BarKinds.layouts[layout]`. */
interface Stretch {
  from: number;
  to: number;
  layout: number;
  logOdds: number;
}

/**
 * Measures the bands that a whole bar holds in each stretch of the map, and finds which band every record is. `stepM` is the size of a
 * lattice step.
 */
export function findBands(
  passes: Passes,
  lanes: Lanes,
  stepM: number,
  kinds: BarKinds,
  stretches: readonly Stretch[],
): RecordedBands {
  const n = passes.bars;
  const out: RecordedBands = {
    segments: [],
    segment: new Uint16Array(n),
    full: new Uint8Array(n),
    slot: new Int16Array(passes.barQuad.length).fill(-1),
    middleM: new Float64Array(n).fill(Number.NaN),
  };
  for (const s of stretches) {
    const e = measureSegment(passes, kinds, s, stepM);
    if (!e) continue;
    const id = out.segments.length;
    out.segments.push(e);
    for (let b = s.from; b < s.to; b++) out.segment[b] = id;
    assignSlots(passes, lanes, kinds, e, out);
  }
  return out;
}

/** Sign of a whole bar of the segment: +1, or -1 where it runs the other way; 0 for others. */
const wholeOf = (kinds: BarKinds, layout: number, b: number): number => {
  const kind = kinds.kindOf[b];
  const is = kind < 0 ? 'strange' : kinds.match[layout][kind];
  return is === 'whole' ? 1 : is === 'turned' ? -1 : 0;
};

function measureSegment(passes: Passes, kinds: BarKinds, s: Stretch, stepM: number): Segment | null {
  const { from, to, layout } = s;
  if (layout < 0) return null;
  const { barStart, leftM, rightM, passStart } = passes;
  const bars: number[] = [];
  /** Bars of each pass: `bars[start[i]]` up to `bars[start[i + 1]]`. */
  const start: number[] = [];
  for (let p = 0; p + 1 < passStart.length; p++) {
    const before = bars.length;
    for (let b = Math.max(from, passStart[p]); b < Math.min(to, passStart[p + 1]); b++)
      if (wholeOf(kinds, layout, b) !== 0) bars.push(b);
    if (bars.length > before) start.push(before);
  }
  if (bars.length === 0) return null;
  start.push(bars.length);
  // Rounding may be the same along one straight pass, so only passes average it out.
  const widthM = rightM[barStart[bars[0]] + barStart[bars[0] + 1] - barStart[bars[0]] - 1] - leftM[barStart[bars[0]]];
  const floor = Math.max(stepM / Math.sqrt(12) / Math.sqrt(start.length - 1), PLANE_SHARE * widthM);
  const k = barStart[bars[0] + 1] - barStart[bars[0]];
  const values = new Float64Array(bars.length);
  const turned = Uint8Array.from(bars, (b) => (wholeOf(kinds, layout, b) < 0 ? 1 : 0));
  /** Of the sides of band i in all bars: `near` in a bar as it is, and the other side, seen from behind, in one that is turned. */
  const estimate = (near: Float64Array, far: Float64Array, i: number): Estimate => {
    for (let j = 0; j < bars.length; j++) {
      const first = barStart[bars[j]];
      values[j] = turned[j] === 1 ? -far[first + k - 1 - i] : near[first + i];
    }
    return meanOfPasses(values, start, floor, stepM);
  };
  const bands: MeasuredBand[] = [];
  for (let i = 0; i < k; i++) {
    const l = estimate(leftM, rightM, i);
    const r = estimate(rightM, leftM, i);
    bands.push({ leftM: l.value, rightM: r.value, leftSeM: l.standardError, rightSeM: r.standardError });
  }
  for (let j = 0; j < bars.length; j++) values[j] = rightM[barStart[bars[j]] + k - 1] - leftM[barStart[bars[j]]];
  const width = meanOfPasses(values, start, floor, stepM);
  const shift = (bands[0].leftM + bands[k - 1].rightM) / 2;
  for (const band of bands) {
    band.leftM -= shift;
    band.rightM -= shift;
  }
  return {
    from,
    to,
    layout,
    logOdds: s.logOdds,
    bands,
    widthM: width.value,
    width,
    passes: passesIn(bars, start, passes.lengthM),
    fullBars: bars.length,
  };
}

/** A run of bars shorter than this part of the longest one is a piece of a pass: a headland lap falls apart at its corners. */
const PIECE = 0.5;

/** Number of passes that the whole bars make, `bars[start[i]]` up to `bars[start[i + 1]]` for each run of them; pieces count as what part of a pass they are. */
function passesIn(bars: readonly number[], start: readonly number[], lengthM: Float64Array): number {
  const runs = start.slice(1).map((to, i) => bars.slice(start[i], to).reduce((sum, b) => sum + lengthM[b], 0));
  const least = PIECE * Math.max(...runs);
  return Math.max(1, Math.round(runs.reduce((sum, m) => sum + (least > 0 ? Math.min(1, m / least) : 1), 0)));
}

function assignSlots(passes: Passes, lanes: Lanes, kinds: BarKinds, e: Segment, out: RecordedBands): void {
  // A lane keeps its band when the bars beside it are not full; two rounds reach lanes that only ran beside partial bars.
  const laneSlot = new Int32Array(lanes.laneStart.length - 1).fill(-1);
  assignFull(passes, lanes, kinds, e, out, laneSlot);
  for (let round = 0; round < 2; round++)
    for (let b = e.from; b < e.to; b++)
      if (Number.isNaN(out.middleM[b])) assignPartial(passes, lanes, b, e, out, laneSlot, round === 1);
}

/** Full bars, whose records are the bands from left to right. */
function assignFull(
  { barStart, barQuad }: Passes,
  { lane }: Lanes,
  kinds: BarKinds,
  e: Segment,
  out: RecordedBands,
  laneSlot: Int32Array,
): void {
  const k = e.bands.length;
  for (let b = e.from; b < e.to; b++) {
    if (wholeOf(kinds, e.layout, b) === 0) continue;
    out.full[b] = 1;
    out.middleM[b] = 0;
    for (let i = 0; i < k; i++) {
      out.slot[barStart[b] + i] = i;
      laneSlot[lane[barQuad[barStart[b] + i]]] = i;
    }
  }
}

/** A bar that is not full: its bands follow from its lanes, or with `byBands`, where those are unknown, from the only place among the bands that it fits. */
function assignPartial(
  passes: Passes,
  { lane }: Lanes,
  b: number,
  e: Segment,
  out: RecordedBands,
  laneSlot: Int32Array,
  byBands: boolean,
): void {
  const { barStart, barQuad, leftM, rightM } = passes;
  const from = barStart[b];
  const to = barStart[b + 1];
  const hints: number[] = [];
  for (let i = from; i < to; i++) {
    const s = laneSlot[lane[barQuad[i]]];
    if (s < 0) continue;
    if (Math.abs(rightM[i] - leftM[i] - (e.bands[s].rightM - e.bands[s].leftM)) > SAME_M) continue;
    hints.push((leftM[i] + rightM[i] - e.bands[s].leftM - e.bands[s].rightM) / 2);
  }
  let middle = hints.length ? median(hints) : Number.NaN;
  if (Number.isNaN(middle) && byBands) middle = bestShift(passes, e, from, to);
  if (Number.isNaN(middle)) return;
  out.middleM[b] = middle;
  for (let i = from; i < to; i++) {
    const mid = (leftM[i] + rightM[i]) / 2 - middle;
    const s = e.bands.findIndex((t) => mid > t.leftM && mid < t.rightM);
    out.slot[i] = s;
    const l = lane[barQuad[i]];
    if (s >= 0 && laneSlot[l] < 0) laneSlot[l] = s;
  }
}

/** Shift that moves a partial bar's records onto the bands, when exactly one does; NaN otherwise. */
function bestShift(passes: Passes, e: Segment, from: number, to: number): number {
  const { leftM, rightM } = passes;
  const fits: number[] = [];
  for (const t of e.bands) {
    const shift = leftM[from] - t.leftM;
    // Records and bands are both ordered left to right.
    let u = 0;
    let ok = true;
    for (let i = from; i < to && ok; i++) {
      while (u < e.bands.length && e.bands[u].leftM < leftM[i] - shift - SAME_M) u++;
      ok = false;
      for (let v = u; v < e.bands.length && e.bands[v].leftM < leftM[i] - shift + SAME_M && !ok; v++)
        ok = Math.abs(rightM[i] - shift - e.bands[v].rightM) < SAME_M;
    }
    if (ok) fits.push(shift);
  }
  return fits.length === 1 ? fits[0] : Number.NaN;
}
