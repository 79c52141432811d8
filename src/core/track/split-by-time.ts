import { lengthOf } from '../geometry/length.ts';
import { Sets } from '../geometry/unionfind.ts';
import { travelCosine, travelOf } from './travel.ts';
import type { Lanes } from './types.ts';

/**
 * Groups of lanes rebuilt with the times of the records. Lanes that lie side by side digit for digit, but were laid down at other
 * times, are neighboring passes; lanes of the same times on one line across are one pass, whatever lies between them.
 */
export function splitByTime(lanes: Lanes, timeMs: Float64Array): Lanes {
  const { laneStart } = lanes;
  const count = laneStart.length - 1;
  const votes = new Map<number, Votes>();
  for (const store of [lanes.left, lanes.right]) compareTimes(lanes, timeMs, store, votes);
  const cut = new Set([...votes].filter(([, v]) => v.other > v.same).map(([k]) => k));
  const sets = new Sets(count);
  for (const [key, v] of votes) if (!cut.has(key)) sets.join(v.a, v.b, v.flip);
  const met = meetings(lanes, timeMs, (i) => sets.find(i));
  for (const [key, v] of met) {
    const a = Math.floor(key / count);
    const b = key % count;
    const short = Math.min(laneStart[a + 1] - laneStart[a], laneStart[b + 1] - laneStart[b]);
    if (v.n >= 3 && v.n >= 0.6 * short) sets.join(a, b, v.flip);
  }
  const keep = (store: Int32Array): Int32Array => (cut.size === 0 ? store : without(lanes, store, cut));
  return { ...lanes, ...sets.numbered(), left: keep(lanes.left), right: keep(lanes.right) };
}

/** Counts, per pair of lanes, the neighbors in `store` of one time and of two. */
function compareTimes(lanes: Lanes, timeMs: Float64Array, store: Int32Array, votes: Map<number, Votes>): void {
  const { quads, lane, front } = lanes;
  const count = lanes.laneStart.length - 1;
  // The neighbors of a lane's quads mostly lie in one lane too.
  const last: (Votes | undefined)[] = new Array(count);
  for (let q = 0; q < quads.count; q++) {
    const r = store[q];
    if (r < 0) continue;
    const a = lane[q];
    const b = lane[r];
    let v = last[a];
    if (v === undefined || (v.a === a ? v.b : v.a) !== b) {
      const key = Math.min(a, b) * count + Math.max(a, b);
      v = votes.get(key);
      if (v === undefined) {
        const flip = travelCosine(quads, q, front[q], r, front[r]) < 0 ? 1 : 0;
        v = { a: Math.min(a, b), b: Math.max(a, b), same: 0, other: 0, flip };
        votes.set(key, v);
      }
      last[a] = v;
    }
    if (timeMs[quads.record[q]] === timeMs[quads.record[r]]) v.same++;
    else v.other++;
  }
}

/** The neighbors in `store` but those whose pair of lanes is in `cut`. */
function without({ lane, laneStart, laneQuads }: Lanes, store: Int32Array, cut: Set<number>): Int32Array {
  const count = laneStart.length - 1;
  const out = store.slice();
  let lastKey = -1;
  let isCut = false;
  for (let k = 0; k < laneQuads.length; k++) {
    const q = laneQuads[k];
    if (store[q] < 0) continue;
    const key = Math.min(lane[q], lane[store[q]]) * count + Math.max(lane[q], lane[store[q]]);
    if (key !== lastKey) isCut = cut.has(key);
    lastKey = key;
    if (isCut) out[q] = -1;
  }
  return out;
}

/** Evidence from the quads of lanes a and b that lie side by side. */
interface Votes {
  a: number;
  b: number;
  same: number;
  other: number;
  flip: number;
}

/** Farthest that two records of one bar lie apart, meters: wider than any frame. */
const WIDEST_M = 45;

/** Pairs of lanes of different groups whose records share their times and lie on one line across travel. */
function meetings(
  lanes: Lanes,
  timeMs: Float64Array,
  groupOf: (lane: number) => number,
): Map<number, { n: number; flip: number }> {
  const { quads, lane, front, laneStart } = lanes;
  const count = laneStart.length - 1;
  const out = new Map<number, { n: number; flip: number }>();
  const first = new Map<number, number>();
  const c = quads.corner;
  // Records of one instant are mostly adjacent in the file.
  let lastT = Number.NaN;
  let lastR = -1;
  for (let q = 0; q < quads.count; q++) {
    const t = timeMs[quads.record[q]];
    if (Number.isNaN(t)) continue;
    const r = t === lastT ? lastR : first.get(t);
    if (r === undefined) {
      first.set(t, q);
      lastT = t;
      lastR = q;
      continue;
    }
    lastT = t;
    lastR = r;
    if (groupOf(lane[q]) === groupOf(lane[r])) continue;
    const u = travelOf(quads, r, front[r]);
    const cos = travelCosine(quads, r, front[r], q, front[q]);
    if (Math.abs(cos) < 0.97) continue;
    let dx = 0;
    let dy = 0;
    for (let k = 0; k < 8; k += 2) {
      dx += (c[8 * q + k] - c[8 * r + k]) / 4;
      dy += (c[8 * q + k + 1] - c[8 * r + k + 1]) / 4;
    }
    const far = lengthOf(dx, dy);
    if (far > WIDEST_M || Math.abs(dx * u[0] + dy * u[1]) > 0.3 + 0.05 * far) continue;
    const key = Math.min(lane[q], lane[r]) * count + Math.max(lane[q], lane[r]);
    const e = out.get(key);
    if (e) e.n++;
    else out.set(key, { n: 1, flip: cos < 0 ? 1 : 0 });
  }
  return out;
}
