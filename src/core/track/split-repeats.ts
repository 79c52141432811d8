import { Sets } from '../geometry/unionfind.ts';
import { travelCosine, travelOf } from './travel.ts';
import type { Bars, Lanes } from './types.ts';

/** The usual bar is that of at least this part of the bars, and of the records: a section that a hole cuts off from the rest of its pass makes as many bars as they do. */
const USUAL = 0.5;
/** Fewer usual bars show no pattern. */
const FEWEST = 20;
/** Two records are as wide as each other within this, meters: rounding of a coarse lattice, twice. */
const SAME_M = 0.12;

/**
 * Groups of lanes without those that lie side by side by chance. Where neither times nor the order of the file keep neighboring passes apart, two that were logged in
 * phase, with the seam between them closed to the last digit, look like one bar of twice the width. No display records the same sections twice over in one bar: where a
 * bar is the usual one two or more times over, either way around, it is that many passes.
 */
export function splitRepeats(lanes: Lanes, bars: Bars, forward: Uint8Array): Lanes {
  const usual = usualBar(lanes, bars, forward);
  if (!usual) return lanes;
  const { lane, front, quads, laneStart, group } = lanes;
  const count = laneStart.length - 1;
  const m = usual.length;
  const votes = new Map<number, { a: number; b: number; apart: number; together: number; flip: number }>();
  for (let b = 0; b < bars.count; b++) {
    const n = bars.start[b + 1] - bars.start[b];
    if (n < 2) continue;
    const list = acrossOf(lanes, bars, forward, b);
    const repeats = n > m && n % m === 0 && isRepeated(list, usual);
    if (n > m && !repeats) continue;
    for (let i = 1; i < n; i++) {
      const [q, r] = [list[i - 1].quad, list[i].quad];
      const key = Math.min(lane[q], lane[r]) * count + Math.max(lane[q], lane[r]);
      let v = votes.get(key);
      if (!v) {
        const flip = travelCosine(quads, q, front[q], r, front[r]) < 0 ? 1 : 0;
        v = { a: Math.min(lane[q], lane[r]), b: Math.max(lane[q], lane[r]), apart: 0, together: 0, flip };
        votes.set(key, v);
      }
      if (repeats && i % m === 0) v.apart++;
      else v.together++;
    }
  }
  const cut = new Set([...votes].filter(([, v]) => v.apart > v.together).map(([key]) => key));
  if (cut.size === 0) return lanes;
  const touched = new Set([...votes.values()].flatMap((v) => (v.apart > v.together ? [group[v.a]] : [])));
  const sets = new Sets(count);
  for (const [key, v] of votes) if (!cut.has(key)) sets.join(v.a, v.b, v.flip);
  // Groups without such a pair stay as they are.
  const first = new Map<number, number>();
  for (let i = 0; i < count; i++) {
    if (touched.has(group[i])) continue;
    const other = first.get(group[i]);
    if (other === undefined) first.set(group[i], i);
    else sets.join(other, i, lanes.against[other] ^ lanes.against[i]);
  }
  const keep = (store: Int32Array): Int32Array =>
    store.map((r, q) => (r >= 0 && cut.has(Math.min(lane[q], lane[r]) * count + Math.max(lane[q], lane[r])) ? -1 : r));
  return { ...lanes, ...sets.numbered(), left: keep(lanes.left), right: keep(lanes.right) };
}

interface Across {
  quad: number;
  leftM: number;
  widthM: number;
}

/** The records of a bar from left to right. */
function acrossOf({ quads }: Lanes, bars: Bars, forward: Uint8Array, b: number): Across[] {
  const list = bars.list.subarray(bars.start[b], bars.start[b + 1]);
  const [ux, uy] = travelOf(quads, list[0], forward[list[0]]);
  const c = quads.corner;
  const out = Array.from(list, (quad): Across => {
    // The mean of both ends: records are seldom exact rectangles.
    const at = (k: number): number => c[8 * quad + 2 * k] * uy - c[8 * quad + 2 * k + 1] * ux;
    const [p, q, r, s] = [at(0), at(1), at(2), at(3)].sort((x, y) => x - y);
    return { quad, leftM: (p + q) / 2, widthM: (r + s - p - q) / 2 };
  });
  return out.sort((x, y) => x.leftM - y.leftM);
}

const isLike = (a: readonly number[], b: readonly number[]): boolean =>
  a.length === b.length && a.every((w, i) => Math.abs(w - b[i]) < SAME_M);

/** Widths of the records of the usual bar, from left to right, one way around or the other; null where no bar is usual. */
function usualBar(lanes: Lanes, bars: Bars, forward: Uint8Array): number[] | null {
  const sizes = new Map<number, number>();
  for (let b = 0; b < bars.count; b++) {
    const n = bars.start[b + 1] - bars.start[b];
    sizes.set(n, (sizes.get(n) ?? 0) + 1);
  }
  let m = 0;
  for (const [n, times] of sizes) if (times > (sizes.get(m) ?? 0)) m = n;
  const times = sizes.get(m) ?? 0;
  if (times < FEWEST || times < USUAL * bars.count || m * times < USUAL * lanes.quads.count) return null;
  let pattern: number[] | null = null;
  let [like, seen] = [0, 0];
  for (let b = 0; b < bars.count; b++) {
    if (bars.start[b + 1] - bars.start[b] !== m) continue;
    const widths = acrossOf(lanes, bars, forward, b).map((r) => r.widthM);
    pattern ??= widths;
    seen++;
    if (isLike(widths, pattern) || isLike(widths, [...pattern].reverse())) like++;
  }
  return like >= USUAL * seen ? pattern : null;
}

function isRepeated(list: readonly Across[], usual: readonly number[]): boolean {
  const m = usual.length;
  const back = [...usual].reverse();
  for (let i = 0; i < list.length; i += m) {
    const widths = list.slice(i, i + m).map((r) => r.widthM);
    if (!isLike(widths, usual) && !isLike(widths, back)) return false;
  }
  return true;
}
