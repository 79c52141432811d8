import type { Lanes } from '../types.ts';

/**
 * Gives records without a time one from their fellows, so that a pass is not broken up by them: first by place along their lane, between the nearest records with
 * times, or a step beyond the last; then, where a record beside it was logged at that moment, exactly that one's. Lanes in which no two records have
 * times stay without. Returns how many were filled, and the times. `ms`: one per record; `tickMs`: smallest step of the clock.
 */
export function fillTimes(ms: Float64Array, lanes: Lanes, tickMs: number): { ms: Float64Array; filled: number } {
  if (!ms.some(Number.isNaN)) return { ms, filled: 0 };
  const { laneStart, laneQuads, quads, left, right } = lanes;
  const out = ms.slice();
  let filled = 0;
  for (let i = 0; i + 1 < laneStart.length; i++) {
    const lane = laneQuads.subarray(laneStart[i], laneStart[i + 1]);
    const known = Array.from(lane.keys()).filter((k) => !Number.isNaN(ms[quads.record[lane[k]]]));
    if (known.length < 2) continue;
    for (let k = 0, next = 0; k < lane.length; k++) {
      const r = quads.record[lane[k]];
      while (next < known.length && known[next] < k) next++;
      if (!Number.isNaN(out[r])) continue;
      const b = Math.min(Math.max(next, 1), known.length - 1);
      const [from, to] = [known[b - 1], known[b]];
      const [t0, t1] = [ms[quads.record[lane[from]]], ms[quads.record[lane[to]]]];
      const per = (t1 - t0) / (to - from);
      const beside = [left[lane[k]], right[lane[k]]].flatMap((q) => (q >= 0 ? [ms[quads.record[q]]] : []));
      out[r] = nearest(onTick(t0 + per * (k - from), t0, tickMs), beside, Math.max(Math.abs(per), tickMs));
      filled++;
    }
  }
  return { ms: out, filled };
}

/** The last tick of the clock that had passed. */
const onTick = (ms: number, from: number, tickMs: number): number =>
  tickMs > 0 ? from + Math.floor((ms - from) / tickMs + 1e-6) * tickMs : ms;

/** The moment among `beside` that is nearest to `ms`, within `reachMs`; else `ms`. */
function nearest(ms: number, beside: readonly number[], reachMs: number): number {
  let best = ms;
  let awayMs = reachMs;
  for (const t of beside) {
    if (!(Math.abs(t - ms) <= awayMs)) continue;
    best = t;
    awayMs = Math.abs(t - ms);
  }
  return best;
}
