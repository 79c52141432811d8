import { median, robustSd } from '../geometry/stats.ts';
import type { Lanes, Passes } from '../passes/types.ts';

/** One band of the recorded layout, metres from the middle of the recorded width, + right. */
export interface MeasuredBand {
  leftM: number;
  rightM: number;
  /** Standard errors of the two sides. */
  leftSeM: number;
  rightSeM: number;
}

/** A stretch of bars, in time order, over which the recorded layout stays the same. */
export interface Epoch {
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
  epochs: Epoch[];
  /** Epoch of each bar. */
  epoch: Uint16Array;
  /** 1 where a bar holds every band of its epoch. */
  full: Uint8Array;
  /** Band of each bar record (same order as `Passes.barQuad`), -1 where it cannot be told. */
  slot: Int16Array;
  /** Where the middle of the recorded width lies from the bar's own centre, metres right; NaN where it cannot be told. */
  middleM: Float64Array;
}

/** Two widths within this are the same: two corners of a 1e-7 degree map are seldom further off, and no two layouts are so close. */
const SAME_M = 0.045;

/** Finds the bands that a full bar holds, in each stretch of the map, and which band every record is. `stepM` is the size of a lattice step. */
export function findBands(passes: Passes, lanes: Lanes, stepM: number): RecordedBands {
  const n = passes.bars;
  const out: RecordedBands = {
    epochs: [],
    epoch: new Uint16Array(n),
    full: new Uint8Array(n),
    slot: new Int16Array(passes.barQuad.length).fill(-1),
    middleM: new Float64Array(n).fill(Number.NaN),
  };
  if (n === 0) return out;
  const widths = Float64Array.from(
    { length: n },
    (_, b) => passes.rightM[passes.barStart[b + 1] - 1] - passes.leftM[passes.barStart[b]],
  );
  const byWidth = splitEpochs(passes, widths, 0, n);
  for (const [from, to] of byWidth.flatMap(([a, b]) => splitByEdges(passes, widths, a, b))) {
    const e = measureEpoch(passes, widths, from, to, stepM);
    if (!e) continue;
    const id = out.epochs.length;
    out.epochs.push(e);
    for (let b = from; b < to; b++) out.epoch[b] = id;
    assignSlots(passes, lanes, widths, e, out);
  }
  return out;
}

/** Largest width that enough of the bars share: what a bar is when nothing is switched off. */
function fullWidth(widths: Float64Array, from: number, to: number): number {
  const s = widths.slice(from, to).sort();
  const need = Math.max(3, Math.ceil(0.04 * s.length));
  let hi = s.length - 1;
  for (let top = s.length - 1; top >= 0; top--) {
    while (hi > top) hi--;
    let low = top;
    while (low > 0 && s[top] - s[low - 1] <= SAME_M) low--;
    if (top - low + 1 >= need) return median(s.subarray(low, top + 1));
  }
  return median(s);
}

/** Bars of the widest layout outside its stretch are strays up to this part of them, and when farther than so many bars from it. */
const STRAY_SHARE = 0.03;
const STRAY_BARS = 5;

/** Cuts the bars where the width of full bars changes for good. */
function splitEpochs(passes: Passes, widths: Float64Array, from: number, to: number, depth = 0): [number, number][] {
  const MIN = 20;
  if (to - from < 2 * MIN || depth > 3) return [[from, to]];
  const w = fullWidth(widths, from, to);
  const wide: number[] = [];
  for (let b = from; b < to; b++) if (Math.abs(widths[b] - w) <= SAME_M) wide.push(b);
  const inside = wide.length;
  // A lone bar that happens to be as wide, in a turn, does not carry the stretch that far.
  const strays = Math.floor(STRAY_SHARE * inside);
  let [i, j] = [strays, inside - 1 - strays];
  while (i > 0 && wide[i] - wide[i - 1] <= STRAY_BARS) i--;
  while (j < inside - 1 && wide[j + 1] - wide[j] <= STRAY_BARS) j++;
  const [first, last] = [wide[i] ?? to, wide[j] ?? from - 1];
  // The widest layout fills a stretch at the start or at the end, and the rest, long enough, has another full width of its own.
  const tries: [number, number][] = [];
  if (to - last - 1 >= MIN) tries.push([last + 1, to]);
  if (first - from >= MIN) tries.push([from, first]);
  for (const [a, b] of tries) {
    const own = fullWidth(widths, a, b);
    let same = 0;
    for (let i = a; i < b; i++) if (Math.abs(widths[i] - own) <= SAME_M) same++;
    const stretch = a === from ? to - b : a - from;
    if (same < 0.5 * (b - a) || inside < 0.3 * stretch) continue;
    if (!changesLayout(passes, widths, a, b, from, to, own, w)) continue;
    return a === from
      ? [[a, b], ...splitEpochs(passes, widths, b, to, depth + 1)]
      : [...splitEpochs(passes, widths, from, a, depth + 1), [a, b]];
  }
  return [[from, to]];
}

/** True when every record of bar `a` is a record of bar `b`: the same layout with sections off. */
function isPartOf(passes: Passes, a: number, b: number): boolean {
  const { barStart, leftM, rightM } = passes;
  for (let i = barStart[a]; i < barStart[a + 1]; i++) {
    let found = false;
    for (let k = barStart[b]; k < barStart[b + 1] && !found; k++) {
      found = Math.abs(leftM[i] - leftM[k]) <= SAME_M && Math.abs(rightM[i] - rightM[k]) <= SAME_M;
    }
    if (!found) return false;
  }
  return true;
}

/** Cuts a stretch of one width where the inner edges of its full bars change for good. */
function splitByEdges(passes: Passes, widths: Float64Array, from: number, to: number): [number, number][] {
  const MIN = 20;
  const w = fullWidth(widths, from, to);
  const { barStart, leftM } = passes;
  // Kinds of full bars, each by its first member; a handful at most are worth comparing.
  const kinds: { first: number; bars: number[] }[] = [];
  const alike = (a: number, b: number): boolean => {
    const k = barStart[a + 1] - barStart[a];
    if (k !== barStart[b + 1] - barStart[b]) return false;
    for (let i = 1; i < k; i++) if (Math.abs(leftM[barStart[a] + i] - leftM[barStart[b] + i]) > SAME_M) return false;
    return true;
  };
  for (let b = from; b < to; b++) {
    if (Math.abs(widths[b] - w) > SAME_M) continue;
    const kind = kinds.find((k) => alike(k.first, b));
    if (kind) kind.bars.push(b);
    else if (kinds.length < 40) kinds.push({ first: b, bars: [b] });
  }
  kinds.sort((a, b) => b.bars.length - a.bars.length);
  const [x, y] = kinds;
  if (!y || y.bars.length < MIN || isPartOf(passes, x.first, y.first) || isPartOf(passes, y.first, x.first))
    return [[from, to]];
  const [early, late] = x.bars[x.bars.length >> 1] < y.bars[y.bars.length >> 1] ? [x, y] : [y, x];
  // A change for good: nearly all of one kind lies before nearly all of the other.
  const at = late.bars[Math.floor(late.bars.length * 0.02)];
  const strays = early.bars.filter((b) => b >= at).length;
  if (strays > 0.02 * early.bars.length || at - from < MIN || to - at < MIN) return [[from, to]];
  const cut = Math.max(late.bars[0], early.bars[Math.floor((early.bars.length - 1) * 0.98)] + 1);
  return [
    [from, cut],
    [cut, to],
  ];
}

/** A narrower stretch is another layout only when it is not the wider one with sections off: its records have other widths. */
function changesLayout(
  passes: Passes,
  widths: Float64Array,
  a: number,
  b: number,
  from: number,
  to: number,
  own: number,
  wide: number,
): boolean {
  const widthsOf = (lo: number, hi: number, w: number): { list: number[]; passes: number; share: number } => {
    const list: number[] = [];
    let seen = 0;
    let bars = 0;
    let before = -1;
    for (let i = lo; i < hi; i++) {
      if (Math.abs(widths[i] - w) > SAME_M) continue;
      bars++;
      const p = passOf(passes, i);
      if (p !== before) seen++;
      before = p;
      for (let r = passes.barStart[i]; r < passes.barStart[i + 1]; r++) list.push(passes.rightM[r] - passes.leftM[r]);
    }
    return { list, passes: seen, share: bars / Math.max(1, hi - lo) };
  };
  const narrow = widthsOf(a, b, own);
  const broad = a === from ? widthsOf(b, to, wide) : widthsOf(from, a, wide);
  const classes = (v: number[]): number[] => {
    const s = [...v].sort((x, y) => x - y);
    const out: number[] = [];
    let start = 0;
    for (let i = 1; i <= s.length; i++) {
      if (i < s.length && s[i] - s[i - 1] <= 0.01 && s[i] - s[start] < 0.06) continue;
      if (i - start > 0.02 * s.length) out.push(median(s.slice(start, i)));
      start = i;
    }
    return out;
  };
  const known = classes(broad.list);
  // One pass that covers less is a pass with sections off, in records of the whole width too; so are the same widths, fewer of them,
  // unless pass after pass knows nothing else.
  const single = barCount(passes, a) === 1 && barCount(passes, b - 1) === 1;
  const fresh = classes(narrow.list).some((w) => known.every((k) => Math.abs(k - w) > 0.03));
  if (single)
    return (
      (narrow.passes >= 3 && narrow.share > 0.8 && b - a > 0.2 * (to - from)) ||
      (narrow.passes === 2 && narrow.share > 0.95 && b - a > 0.3 * (to - from))
    );
  return narrow.passes >= 2 && (fresh || (narrow.passes >= 5 && narrow.share > 0.9));
}

const barCount = (passes: Passes, b: number): number => passes.barStart[b + 1] - passes.barStart[b];

/** Pass of bar b (0-based), by bisection. */
export function passOf(passes: Passes, b: number): number {
  let lo = 0;
  let hi = passes.passStart.length - 2;
  while (lo < hi) {
    const mid = (lo + hi + 1) >> 1;
    if (passes.passStart[mid] <= b) lo = mid;
    else hi = mid - 1;
  }
  return lo;
}

function measureEpoch(passes: Passes, widths: Float64Array, from: number, to: number, stepM: number): Epoch | null {
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
  const measure = (values: Float64Array): [number, number] => {
    const mid = median(values);
    const sd = robustSd(values, mid);
    const keep = values.filter((v) => Math.abs(v - mid) <= Math.max(4 * sd, 0.01));
    const mean = keep.reduce((s, v) => s + v, 0) / keep.length;
    const spread = Math.sqrt(keep.reduce((s, v) => s + (v - mean) ** 2, 0) / Math.max(1, keep.length - 1));
    // Neighbouring bars share an edge, which halves what they tell.
    return [mean, Math.hypot((spread * Math.SQRT2) / Math.sqrt(keep.length), floor)];
  };
  const bands: MeasuredBand[] = [];
  for (let i = 0; i < k; i++) {
    const [l, lSe] = measure(Float64Array.from(bars, (b) => leftM[barStart[b] + i]));
    const [r, rSe] = measure(Float64Array.from(bars, (b) => rightM[barStart[b] + i]));
    bands.push({ leftM: l, rightM: r, leftSeM: lSe, rightSeM: rSe });
  }
  const [widthM, widthSeM] = measure(Float64Array.from(bars, (b) => widths[b]));
  const shift = (bands[0].leftM + bands[k - 1].rightM) / 2;
  for (const band of bands) {
    band.leftM -= shift;
    band.rightM -= shift;
  }
  return { from, to, bands, widthM, widthSeM, fullBars: bars.length };
}

function assignSlots(passes: Passes, lanes: Lanes, widths: Float64Array, e: Epoch, out: RecordedBands): void {
  const { barStart, barQuad, leftM, rightM } = passes;
  const k = e.bands.length;
  const laneSlot = new Map<number, number>();
  const laneOf = (i: number): number => lanes.lane[barQuad[i]];
  for (let b = e.from; b < e.to; b++) {
    if (barStart[b + 1] - barStart[b] !== k || Math.abs(widths[b] - e.widthM) > SAME_M) continue;
    out.full[b] = 1;
    out.middleM[b] = 0;
    for (let i = 0; i < k; i++) {
      out.slot[barStart[b] + i] = i;
      laneSlot.set(laneOf(barStart[b] + i), i);
    }
  }
  // A lane keeps its band when the bars beside it are not full; two rounds reach lanes that only ran beside partial bars.
  for (let round = 0; round < 2; round++) {
    for (let b = e.from; b < e.to; b++) {
      if (out.full[b] || !Number.isNaN(out.middleM[b])) continue;
      const from = barStart[b];
      const to = barStart[b + 1];
      const hints: number[] = [];
      for (let i = from; i < to; i++) {
        const s = laneSlot.get(laneOf(i));
        if (s === undefined || s >= k) continue;
        if (Math.abs(rightM[i] - leftM[i] - (e.bands[s].rightM - e.bands[s].leftM)) > SAME_M) continue;
        hints.push((leftM[i] + rightM[i] - e.bands[s].leftM - e.bands[s].rightM) / 2);
      }
      let middle = hints.length ? median(hints) : Number.NaN;
      if (Number.isNaN(middle) && round === 1) middle = bestShift(passes, e, from, to);
      if (Number.isNaN(middle)) continue;
      out.middleM[b] = middle;
      for (let i = from; i < to; i++) {
        const mid = (leftM[i] + rightM[i]) / 2 - middle;
        const s = e.bands.findIndex((t) => mid > t.leftM && mid < t.rightM);
        out.slot[i] = s;
        if (s >= 0 && !laneSlot.has(laneOf(i))) laneSlot.set(laneOf(i), s);
      }
    }
  }
}

/** Shift that lays a partial bar's records on the bands, when just one does; NaN otherwise. */
function bestShift(passes: Passes, e: Epoch, from: number, to: number): number {
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
