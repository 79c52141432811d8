import { robustSd } from '../geometry/stats.ts';
import type { Passes } from '../track/types.ts';

/**
 * Which records lie side by side in the bars of a map. Bars that hold the same records are of one kind; a kind that fills most of a pass may be
 * everything that the display knew of, a layout; and under a layout every kind is whole, partly off or strange.
 */
export interface BarKinds {
  /** Kind of each bar; -1 for bars of rare kinds. */
  kindOf: Int16Array;
  /** A bar of each kind that may be a layout, those of most bars first. */
  layouts: number[];
  /** What each kind is under each layout: indexed [layout][kind]. */
  match: Match[][];
  /** Two edges within this are one, meters. */
  sameM: number;
}

/** `turned`: the whole layout, running the other way. */
export type Match = 'whole' | 'turned' | 'partly' | 'strange';

/** Two edges within this are the same in a map of fine lattice: no two layouts of rows are that close, meters. */
const SAME_M = 0.045;
/** Standard deviations of a bar's width within which it is the same as another's. */
const SAME_SD = 3.5;
/** Edges further apart than this are never the same, meters: half of the closest row spacing in use. */
const MOST_SAME_M = 0.15;

/** A kind may be a layout when it makes up this share of some pass, or a run of this many bars. */
const PART_OF_PASS = 0.5;
const FEWEST_OF_PASS = 8;
const LONG_RUN = 25;
const FEWEST_OF_MAP = 3;
const SHARE_OF_MAP = 0.04;
/** A kind narrower than this share of the map's main layout is a few sections, or misread quads such as a planter writes while standing still. */
const LEAST_WIDTH = 0.3;
/** Less travel shows no layout, meters: a planter that is standing still writes many bars. */
const LEAST_TRAVEL_M = 15;
const MOST_LAYOUTS = 8;
const MOST_KINDS = 48;

/** Bars of one kind: the records that lie side by side in them. */
interface Kind {
  /** A bar of it. */
  bar: number;
  count: number;
  /** Its largest share of a pass that has enough bars; and its longest run within a pass. */
  part: number;
  run: number;
  /** Meters of travel over which it was recorded. */
  travelM: number;
}

/** Sorts the bars into kinds. `stepM` is the size of a lattice step, meters. */
export function findKinds(passes: Passes, stepM: number): BarKinds {
  // Rounding moves an edge of a bar, seen from its outer one, by a standard deviation of step / sqrt(12).
  const sd = Math.max(stepM / Math.sqrt(12), jitterOf(passes));
  const sameM = Math.min(MOST_SAME_M, Math.max(SAME_M, SAME_SD * sd));
  const { kinds, kindOf } = kindsOf(passes, sameM);
  const layouts = layoutsOf(kinds, passes, sameM).map((q) => kinds[q].bar);
  return { kindOf, layouts, match: layouts.map((l) => kinds.map((k) => matchOf(passes, k.bar, l, sameM))), sameM };
}

/** Standard deviation of a bar's width, meters, estimated from neighbors in a pass. */
function jitterOf(passes: Passes): number {
  const steps: number[] = [];
  for (let p = 0; p + 1 < passes.passStart.length && steps.length < 4000; p++)
    for (let b = passes.passStart[p] + 1; b < passes.passStart[p + 1]; b++) {
      const same = recordsOf(passes, b) === recordsOf(passes, b - 1);
      if (same) steps.push(widthOf(passes, b) - widthOf(passes, b - 1));
    }
  return steps.length > 20 ? robustSd(steps, 0) / Math.SQRT2 : 0;
}

const recordsOf = (passes: Passes, b: number): number => passes.barStart[b + 1] - passes.barStart[b];
export const widthOf = (passes: Passes, b: number): number =>
  passes.rightM[passes.barStart[b + 1] - 1] - passes.leftM[passes.barStart[b]];

/** True when the records of bar `a` are those of bar `b`, side for side, within `sameM`; `turned`: of `b` running the other way. */
export function alike(passes: Passes, a: number, b: number, sameM: number, turned = false): boolean {
  const { barStart, leftM, rightM } = passes;
  const [i, j] = [barStart[a], barStart[b]];
  const k = barStart[a + 1] - i;
  if (barStart[b + 1] - j !== k) return false;
  const end = j + k - 1;
  const oa = leftM[i];
  const ob = turned ? -rightM[end] : leftM[j];
  for (let e = 0; e < k; e++) {
    const l = turned ? -rightM[end - e] : leftM[j + e];
    const r = turned ? -leftM[end - e] : rightM[j + e];
    if (Math.abs(leftM[i + e] - oa - (l - ob)) > sameM || Math.abs(rightM[i + e] - oa - (r - ob)) > sameM) return false;
  }
  return true;
}

/** Sorts the bars by kind; -1 for rare kinds. */
function kindsOf(passes: Passes, sameM: number): { kinds: Kind[]; kindOf: Int16Array } {
  const kinds: Kind[] = [];
  const byRecords = new Map<number, number[]>();
  const kindOf = new Int16Array(passes.bars).fill(-1);
  const here = new Map<number, number>();
  for (let p = 0; p + 1 < passes.passStart.length; p++) {
    const [from, to] = [passes.passStart[p], passes.passStart[p + 1]];
    here.clear();
    let run = 0;
    for (let b = from; b < to; b++) {
      const k = recordsOf(passes, b);
      const list = byRecords.get(k) ?? [];
      if (list.length === 0) byRecords.set(k, list);
      const last = b > from ? kindOf[b - 1] : -1;
      const found =
        last >= 0 && alike(passes, b, kinds[last].bar, sameM)
          ? last
          : (list.find((q) => alike(passes, b, kinds[q].bar, sameM)) ?? -1);
      if (found >= 0) kindOf[b] = found;
      else if (list.length < MOST_KINDS) {
        kindOf[b] = kinds.length;
        list.push(kinds.length);
        kinds.push({ bar: b, count: 0, part: 0, run: 0, travelM: 0 });
      }
      const q = kindOf[b];
      run = q >= 0 && q === last ? run + 1 : 1;
      if (q < 0) continue;
      kinds[q].count++;
      kinds[q].travelM += passes.lengthM[b];
      kinds[q].run = Math.max(kinds[q].run, run);
      here.set(q, (here.get(q) ?? 0) + 1);
    }
    for (const [q, count] of here)
      if (count >= FEWEST_OF_PASS) kinds[q].part = Math.max(kinds[q].part, count / (to - from));
  }
  return { kinds, kindOf };
}

/**
 * The kinds that may be layouts, most bars first; a kind that is another one reversed is the same layout. The widest kind that is not
 * rare is always among them: in point rows whole bars may fill no pass.
 */
function layoutsOf(kinds: Kind[], passes: Passes, sameM: number): number[] {
  const out: number[] = [];
  const often = Math.max(FEWEST_OF_MAP, SHARE_OF_MAP * passes.bars);
  const wide = (q: number): number => widthOf(passes, kinds[q].bar);
  let widest = -1;
  kinds.forEach((k, q) => {
    if (k.count < often) return;
    const by = widest < 0 ? 1 : wide(q) - wide(widest);
    const more = widest >= 0 && recordsOf(passes, k.bar) > recordsOf(passes, kinds[widest].bar);
    if (by > sameM || (by > -sameM && more)) widest = q;
  });
  const order = kinds.map((_, q) => q).sort((a, b) => kinds[b].count - kinds[a].count || a - b);
  const area = (q: number): number => kinds[q].travelM * wide(q);
  const main = order.reduce((a, q) => (area(q) > area(a) ? q : a), order[0]);
  for (const q of order) {
    if (out.length === MOST_LAYOUTS) break;
    const k = kinds[q];
    if (wide(q) < LEAST_WIDTH * wide(main)) continue;
    if (k.travelM < LEAST_TRAVEL_M || (q !== widest && k.part < PART_OF_PASS && k.run < LONG_RUN)) continue;
    const same = (o: number, turned: boolean): boolean => alike(passes, kinds[o].bar, k.bar, 1.5 * sameM, turned);
    if (!out.some((o) => same(o, false) || same(o, true))) out.push(q);
  }
  return out;
}

/** What bar `a` is under the layout of bar `l`. */
function matchOf(passes: Passes, a: number, l: number, sameM: number): Match {
  if (alike(passes, a, l, 1.5 * sameM)) return 'whole';
  if (alike(passes, a, l, 1.5 * sameM, true)) return 'turned';
  if (recordsOf(passes, l) === 1) return widthOf(passes, a) < widthOf(passes, l) + sameM ? 'partly' : 'strange';
  return isPartOf(passes, a, l, sameM, false) || isPartOf(passes, a, l, sameM, true) ? 'partly' : 'strange';
}

/** True when the records of bar `a` are some of those of bar `l`, wherever its middle lies; `turned`: of `l` running the other way. */
function isPartOf(passes: Passes, a: number, l: number, sameM: number, turned: boolean): boolean {
  const { barStart, leftM, rightM } = passes;
  const m = recordsOf(passes, l);
  const last = barStart[l + 1] - 1;
  const left = (i: number): number => (turned ? -rightM[last - i] : leftM[barStart[l] + i]);
  const right = (i: number): number => (turned ? -leftM[last - i] : rightM[barStart[l] + i]);
  const [from, to] = [barStart[a], barStart[a + 1]];
  for (let first = 0; first + (to - from) <= m; first++) {
    const shift = leftM[from] - left(first);
    let u = first;
    let ok = true;
    for (let i = from; i < to && ok; i++) {
      while (u < m && left(u) < leftM[i] - shift - sameM) u++;
      ok = u < m && Math.abs(left(u) - leftM[i] + shift) <= sameM && Math.abs(right(u) - rightM[i] + shift) <= sameM;
    }
    if (ok) return true;
  }
  return false;
}
