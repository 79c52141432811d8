import { median, robustSd } from '../geometry/stats.ts';
import type { Lanes, Passes } from '../track/types.ts';
import { fullWidth, passOf, SAME_M, stretchesOf } from './segments.ts';

/** One band of the recorded layout, metres from the middle of the recorded width, + right. */
export interface MeasuredBand {
  leftM: number;
  rightM: number;
  /** Standard errors of the two sides. */
  leftSeM: number;
  rightSeM: number;
}

/** A stretch of bars, in time order, over which the recorded layout stays the same. */
export interface Segment {
  /** First bar and the bar after the last. */
  from: number;
  to: number;
  bands: MeasuredBand[];
  widthM: number;
  widthSeM: number;
  /** Bars that hold every band. */
  fullBars: number;
}

export interface RecordedBands {
  segments: Segment[];
  /** Segment of each bar. */
  segment: Uint16Array;
  /** 1 where a bar holds every band of its segment. */
  full: Uint8Array;
  /** Band of each bar record (same order as `Passes.barQuad`), -1 where it cannot be told. */
  slot: Int16Array;
  /** Where the middle of the recorded width lies from the bar's own centre, metres right; NaN where it cannot be told. */
  middleM: Float64Array;
}

/** Finds the bands that a full bar holds, in each stretch of the map, and which band every record is. `stepM` is the size of a lattice step. */
export function findBands(passes: Passes, lanes: Lanes, stepM: number): RecordedBands {
  const n = passes.bars;
  const out: RecordedBands = {
    segments: [],
    segment: new Uint16Array(n),
    full: new Uint8Array(n),
    slot: new Int16Array(passes.barQuad.length).fill(-1),
    middleM: new Float64Array(n).fill(Number.NaN),
  };
  if (n === 0) return out;
  const widths = Float64Array.from(
    { length: n },
    (_, b) => passes.rightM[passes.barStart[b + 1] - 1] - passes.leftM[passes.barStart[b]],
  );
  for (const [from, to] of stretchesOf(passes, widths)) {
    const e = measureSegment(passes, widths, from, to, stepM);
    if (!e) continue;
    const id = out.segments.length;
    out.segments.push(e);
    for (let b = from; b < to; b++) out.segment[b] = id;
    assignSlots(passes, lanes, widths, e, out);
  }
  return out;
}

function measureSegment(passes: Passes, widths: Float64Array, from: number, to: number, stepM: number): Segment | null {
  const w = fullWidth(widths, from, to);
  const { barStart, leftM, rightM } = passes;
  const byCount = new Map<number, number[]>();
  let wide = 0;
  for (let b = from; b < to; b++) {
    if (Math.abs(widths[b] - w) > SAME_M) continue;
    wide++;
    const k = barStart[b + 1] - barStart[b];
    const list = byCount.get(k);
    if (list) list.push(b);
    else byCount.set(k, [b]);
  }
  if (wide === 0) return null;
  // Most records to a bar, when enough bars hold so many: an inner section may be off in the others.
  const counts = [...byCount.keys()].sort((a, b) => b - a);
  const k = counts.find((c) => byCount.get(c)!.length >= 0.1 * wide) ?? counts[0];
  const bars = byCount.get(k)!;
  const passCount = new Set(bars.map((b) => passOf(passes, b))).size;
  // Rounding may err alike along one straight pass, so it averages over passes only.
  const floor = stepM / Math.sqrt(12) / Math.sqrt(passCount);
  const bands: MeasuredBand[] = [];
  const values = new Float64Array(bars.length);
  for (let i = 0; i < k; i++) {
    bars.forEach((b, j) => {
      values[j] = leftM[barStart[b] + i];
    });
    const [l, lSe] = trimmedMean(values, floor);
    bars.forEach((b, j) => {
      values[j] = rightM[barStart[b] + i];
    });
    const [r, rSe] = trimmedMean(values, floor);
    bands.push({ leftM: l, rightM: r, leftSeM: lSe, rightSeM: rSe });
  }
  const [widthM, widthSeM] = trimmedMean(
    values.map((_, j) => widths[bars[j]]),
    floor,
  );
  const shift = (bands[0].leftM + bands[k - 1].rightM) / 2;
  for (const band of bands) {
    band.leftM -= shift;
    band.rightM -= shift;
  }
  return { from, to, bands, widthM, widthSeM, fullBars: bars.length };
}

/** Mean of the values but the wild ones, and its standard error, never below `floor`. */
function trimmedMean(values: Float64Array, floor: number): [number, number] {
  const mid = median(values);
  const most = Math.max(4 * robustSd(values, mid), 0.01);
  let n = 0;
  let sum = 0;
  for (const v of values) {
    if (Math.abs(v - mid) > most) continue;
    n++;
    sum += v;
  }
  const mean = sum / n;
  let square = 0;
  for (const v of values) if (Math.abs(v - mid) <= most) square += (v - mean) ** 2;
  const spread = Math.sqrt(square / Math.max(1, n - 1));
  // Neighbouring bars share an edge, which halves what they tell.
  return [mean, Math.hypot((spread * Math.SQRT2) / Math.sqrt(n), floor)];
}

function assignSlots(passes: Passes, lanes: Lanes, widths: Float64Array, e: Segment, out: RecordedBands): void {
  // A lane keeps its band when the bars beside it are not full; two rounds reach lanes that only ran beside partial bars.
  const laneSlot = new Int32Array(lanes.laneStart.length - 1).fill(-1);
  assignFull(passes, lanes, widths, e, out, laneSlot);
  for (let round = 0; round < 2; round++)
    for (let b = e.from; b < e.to; b++)
      if (Number.isNaN(out.middleM[b])) assignPartial(passes, lanes, b, e, out, laneSlot, round === 1);
}

/** Full bars, whose records are the bands from left to right. */
function assignFull(
  { barStart, barQuad }: Passes,
  { lane }: Lanes,
  widths: Float64Array,
  e: Segment,
  out: RecordedBands,
  laneSlot: Int32Array,
): void {
  const k = e.bands.length;
  for (let b = e.from; b < e.to; b++) {
    if (barStart[b + 1] - barStart[b] !== k || Math.abs(widths[b] - e.widthM) > SAME_M) continue;
    out.full[b] = 1;
    out.middleM[b] = 0;
    for (let i = 0; i < k; i++) {
      out.slot[barStart[b] + i] = i;
      laneSlot[lane[barQuad[barStart[b] + i]]] = i;
    }
  }
}

/** A bar that is not full, by what is known of its lanes; with `byBands`, where nothing is, by the one place among the bands that it fits. */
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

/** Shift that lays a partial bar's records on the bands, when just one does; NaN otherwise. */
function bestShift(passes: Passes, e: Segment, from: number, to: number): number {
  const { leftM, rightM } = passes;
  const fits: number[] = [];
  for (const t of e.bands) {
    const shift = leftM[from] - t.leftM;
    // Records and bands both stand left to right.
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
