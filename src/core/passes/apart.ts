import { makeSets } from '../geometry/unionfind.ts';
import { travelOf } from './lanes.ts';
import type { Lanes } from './types.ts';

/**
 * Groups of lanes made anew with the times of the records: lanes that lie side by side digit for digit, but were laid down at other
 * times, are neighbouring passes. Returns `lanes` itself when the times part nothing.
 */
export function partByTime(lanes: Lanes, timeMs: Float64Array): Lanes {
  const { quads, lane, laneStart } = lanes;
  const count = laneStart.length - 1;
  const votes = new Map<number, { same: number; other: number; flip: number }>();
  const pair = (q: number, r: number): number => Math.min(lane[q], lane[r]) * count + Math.max(lane[q], lane[r]);
  for (const store of [lanes.left, lanes.right]) {
    for (let q = 0; q < quads.count; q++) {
      const r = store[q];
      if (r < 0) continue;
      const key = pair(q, r);
      let v = votes.get(key);
      if (!v) {
        v = { same: 0, other: 0, flip: 0 };
        votes.set(key, v);
        const a = travelOf(quads, q, lanes.front[q]);
        const b = travelOf(quads, r, lanes.front[r]);
        v.flip = a[0] * b[0] + a[1] * b[1] < 0 ? 1 : 0;
      }
      if (timeMs[quads.record[q]] === timeMs[quads.record[r]]) v.same++;
      else v.other++;
    }
  }
  const cut = new Set([...votes].filter(([, v]) => v.other > v.same).map(([k]) => k));
  if (cut.size === 0) return lanes;
  const sets = makeSets(count);
  for (const [key, v] of votes) if (!cut.has(key)) sets.join(Math.floor(key / count), key % count, v.flip);
  const keep = (store: Int32Array): Int32Array => store.map((r, q) => (r >= 0 && cut.has(pair(q, r)) ? -1 : r));
  const number = new Map<number, number>();
  const group = new Int32Array(count);
  const against = new Uint8Array(count);
  for (let i = 0; i < count; i++) {
    const root = sets.find(i);
    if (!number.has(root)) number.set(root, number.size);
    group[i] = number.get(root)!;
    against[i] = sets.parityOf(i);
  }
  return { ...lanes, group, against, groups: number.size, left: keep(lanes.left), right: keep(lanes.right) };
}
