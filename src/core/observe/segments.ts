import { median } from '../geometry/stats.ts';
import type { Passes } from '../track/types.ts';

/** Two widths within this are the same: two corners of a 1e-7 degree map are seldom further off, and no two layouts are so close. */
export const SAME_M = 0.045;

/**
 * Stretches of bars, first and the one after the last, in which the recorded layout stays the same: cut where the width of full bars
 * changes for good or for a while, then where the inner edges of full bars do. `widths` are the bars' widths, metres.
 */
export function stretchesOf(passes: Passes, widths: Float64Array): [number, number][] {
  return splitByWidth(passes, widths, 0, passes.bars).flatMap(([a, b]) => splitByEdges(passes, widths, a, b));
}

/** Largest width that enough of the bars share: what a bar is when nothing is switched off. */
export function fullWidth(widths: Float64Array, from: number, to: number): number {
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
function splitByWidth(passes: Passes, widths: Float64Array, from: number, to: number, depth = 0): [number, number][] {
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
  // Or it was told otherwise for a while: the longest stretch between two of its bars.
  let [a0, b0] = [0, 0];
  for (let k = i; k < j; k++) if (wide[k + 1] - wide[k] - 1 > b0 - a0) [a0, b0] = [wide[k] + 1, wide[k + 1]];
  if (b0 - a0 >= MIN) tries.push([a0, b0]);
  for (const [a, b] of tries) {
    const own = fullWidth(widths, a, b);
    let same = 0;
    for (let i = a; i < b; i++) if (Math.abs(widths[i] - own) <= SAME_M) same++;
    const stretch = to - from - (b - a);
    if (same < 0.5 * (b - a) || inside < 0.3 * stretch) continue;
    if (!changesLayout(passes, widths, a, b, from, to, own, w)) continue;
    const rest = (lo: number, hi: number): [number, number][] =>
      lo < hi ? splitByWidth(passes, widths, lo, hi, depth + 1) : [];
    return [...rest(from, a), [a, b], ...rest(b, to)];
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

/** True when the inner edges of bar `a` are those of bar `b` from the other end. */
function isMirrored(passes: Passes, a: number, b: number): boolean {
  const { barStart, leftM, rightM } = passes;
  const n = barStart[a + 1] - barStart[a];
  if (n !== barStart[b + 1] - barStart[b]) return false;
  // From the outer edge inwards, so that the centres of the two bars do not matter.
  const fromLeft = (i: number): number => leftM[barStart[a] + i] - leftM[barStart[a]];
  const fromRight = (i: number): number => rightM[barStart[b + 1] - 1] - rightM[barStart[b + 1] - 1 - i];
  for (let i = 1; i < n; i++) if (Math.abs(fromLeft(i) - fromRight(i)) > SAME_M) return false;
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
  // The same layout seen from behind: a pass of which the direction is not known for sure, and no change.
  if (isMirrored(passes, x.first, y.first)) return [[from, to]];
  const between = insideOf(x.bars, y.bars) ?? insideOf(y.bars, x.bars);
  if (between) {
    const [a, b] = between;
    return a - from >= MIN && b - a >= MIN && to - b >= MIN
      ? [
          [from, a],
          [a, b],
          [b, to],
        ]
      : [[from, to]];
  }
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

/** The stretch in which nearly all of `bars` lie, and nearly none of `others`, which lie both before and after it: first bar and the bar after the last. */
function insideOf(bars: number[], others: number[]): [number, number] | null {
  const lo = bars[Math.floor(bars.length * 0.02)];
  const hi = bars[Math.floor((bars.length - 1) * 0.98)];
  const before = others.filter((b) => b < lo);
  const after = others.filter((b) => b > hi);
  const strays = others.length - before.length - after.length;
  const few = 0.1 * others.length;
  if (strays > 0.02 * others.length || before.length <= few || after.length <= few) return null;
  return [before[before.length - 1] + 1, after[0]];
}

/** Bars below which one pass says nothing about its layout. */
const FEWEST_BARS = 30;
/** A stretch of fewer passes is a layout of its own only if it is this part as wide, and of this part as many records to a bar. */
const LEAST_WHOLE = 0.6;
/** Part of the records of a stretch that must be of a width that the rest of the map does not know. */
const STRANGE_SHARE = 0.08;

/** A narrower stretch is another layout only when it is not the wider one with sections off: its records have other widths. */
function changesLayout(
  passes: Passes,
  widths: Float64Array,
  a: number,
  b: number,
  from: number,
  to: number,
  width: number,
  wide: number,
): boolean {
  const widthsOf = (
    lo: number,
    hi: number,
    w: number,
  ): { list: number[]; bars: number; passes: number; share: number } => {
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
    return { list, bars, passes: seen, share: bars / Math.max(1, hi - lo) };
  };
  const narrow = widthsOf(a, b, width);
  const broad = a === from ? widthsOf(b, to, wide) : widthsOf(from, a, wide);
  const inner = a > from && b < to;
  // What is far narrower, or in far fewer records, is part of a layout or a pass that could not be laid out, and no other one.
  const perBar = (x: { list: number[]; bars: number }): number => x.list.length / Math.max(1, x.bars);
  const whole = width > LEAST_WHOLE * wide && perBar(narrow) >= LEAST_WHOLE * perBar(broad);
  if (inner && !whole) return false;
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
  // Sections that are off leave the others as wide as they were: where enough records are of another width, one pass will do.
  const strange = narrow.list.filter((w) => known.every((k) => Math.abs(k - w) > 0.03)).length;
  if (whole && fresh && strange > STRANGE_SHARE * narrow.list.length && narrow.share > 0.8 && b - a >= FEWEST_BARS)
    return true;
  // In the middle of the map, a section that stays off for some passes looks like that too.
  return narrow.passes >= 2 && (fresh || (!inner && narrow.passes >= 5 && narrow.share > 0.9));
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
