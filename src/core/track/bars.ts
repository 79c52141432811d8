import { intoBuckets } from '../geometry/buckets.ts';
import { Sets } from '../geometry/unionfind.ts';
import { partByTime } from './apart.ts';
import type { Columns } from './columns/index.ts';
import { BarLayer } from './laybar.ts';
import { travelOf } from './travel.ts';
import type { Lanes, Passes } from './types.ts';

/** A heading change between two bars above this is a corner, degrees. */
const CORNER_DEG = 40;
/** Fewest bars that make a pass; shorter crumbs count in areas only. */
const FEWEST_BARS = 3;
const CRUMB_BARS = 8;

interface Run {
  bars: number[];
  first: number;
}

/**
 * Cuts the groups of lanes into passes of bars in the direction of travel, in time order. Where nothing tells the direction, all
 * passes are turned so that their sections lie alike, one way or (`mirrored`) the other.
 */
export function findPasses(laid: Lanes, columns: Columns, mirrored = false): Passes {
  const lanes = columns.timeMs ? partByTime(laid, columns.timeMs) : laid;
  const { quads } = lanes;
  const n = quads.count;
  const forward = forwardOf(lanes);
  const bars = barsOf(lanes, columns.timeMs, forward);
  const next = successors(lanes, bars, forward);
  const travel = travelSigns(lanes, columns, forward);
  if (travel.from === 'unknown') turnAlike(lanes, bars, forward, travel.sign, mirrored);

  const runs: Run[] = [];
  const chains = orderBars(bars, next);
  const longest = new Int32Array(lanes.groups);
  for (const list of chains) longest[bars.group[list[0]]] = Math.max(longest[bars.group[list[0]]], list.length);
  for (const list of chains) {
    const group = bars.group[list[0]];
    // A few sections that began or ended apart from the rest of their pass, too far apart to be one bar, are crumbs of it.
    if (list.length <= CRUMB_BARS && list.length < 0.1 * longest[group]) continue;
    if (travel.sign[group] < 0) list.reverse();
    for (const run of splitRuns(lanes, bars, list, forward, travel.sign[group])) {
      if (run.length < FEWEST_BARS) continue;
      let first = Infinity;
      for (const b of run) {
        for (let k = bars.start[b]; k < bars.start[b + 1]; k++) {
          const r = quads.record[bars.list[k]];
          first = Math.min(first, columns.timeMs ? columns.timeMs[r] : r);
        }
      }
      runs.push({ bars: run, first });
    }
  }
  runs.sort((a, b) => a.first - b.first || bars.lowest[a.bars[0]] - bars.lowest[b.bars[0]]);

  const total = runs.reduce((s, r) => s + r.bars.length, 0);
  const passes: Passes = {
    passStart: new Uint32Array(runs.length + 1),
    bars: total,
    centre: new Float64Array(2 * total),
    right: new Float64Array(2 * total),
    lengthM: new Float64Array(total),
    barStart: new Uint32Array(total + 1),
    barQuad: new Uint32Array(n),
    leftM: new Float64Array(n),
    rightM: new Float64Array(n),
    corner: new Float64Array(8 * n),
    timeMs: new Float64Array(total).fill(Number.NaN),
    travelFrom: travel.from,
    quads,
  };
  const layer = new BarLayer(passes, lanes, bars, forward);
  let b = 0;
  let filled = 0;
  runs.forEach((run, p) => {
    const sign = travel.sign[bars.group[run.bars[0]]];
    for (const bar of run.bars) {
      filled = layer.lay(b, filled, bar, sign);
      if (columns.timeMs) passes.timeMs[b] = columns.timeMs[quads.record[passes.barQuad[passes.barStart[b]]]];
      b++;
      passes.barStart[b] = filled;
    }
    passes.passStart[p + 1] = b;
  });
  passes.barQuad = passes.barQuad.subarray(0, filled);
  return passes;
}

/** Front side of every quad in its group's direction. */
function forwardOf(lanes: Lanes): Uint8Array {
  const out = new Uint8Array(lanes.quads.count);
  for (let q = 0; q < out.length; q++) out[q] = lanes.against[lanes.lane[q]] ? lanes.front[q] ^ 2 : lanes.front[q];
  return out;
}

/** Quads of one instant, before they are put in the direction of travel. */
export interface Bars {
  of: Int32Array;
  count: number;
  group: Int32Array;
  /** Lowest record of the bar. */
  lowest: Uint32Array;
  /** Quads of bar b: `list[start[b] .. start[b + 1])`. */
  start: Uint32Array;
  list: Uint32Array;
}

function barsOf(lanes: Lanes, timeMs: Float64Array | null, forward: Uint8Array): Bars {
  const { quads, lane, group } = lanes;
  const n = quads.count;
  const sets = new Sets(n);
  joinBeside(lanes, timeMs, sets);
  if (timeMs) joinAtOneTime(lanes, timeMs, forward, sets);
  const { group: of, groups: count } = sets.numbered();
  const { start, list } = intoBuckets(of, n, count);
  const groupOf = new Int32Array(count);
  const lowest = new Uint32Array(count);
  for (let b = 0; b < count; b++) {
    groupOf[b] = group[lane[list[start[b]]]];
    lowest[b] = quads.record[list[start[b]]];
  }
  return { of, count, group: groupOf, lowest, start, list };
}

function joinBeside({ quads, right, left }: Lanes, timeMs: Float64Array | null, sets: Sets): void {
  const sameTime = (a: number, b: number): boolean => !timeMs || timeMs[quads.record[a]] === timeMs[quads.record[b]];
  for (let q = 0; q < quads.count; q++) {
    const r = right[q];
    const l = left[q];
    if (r >= 0 && sameTime(q, r)) sets.join(q, r);
    // Where the one to the left has this one to its right, it is joined there.
    if (l >= 0 && right[l] !== q && sameTime(q, l)) sets.join(q, l);
  }
}

/** Sections with a wide hole between them belong together all the same when the log says one instant. */
function joinAtOneTime(lanes: Lanes, timeMs: Float64Array, forward: Uint8Array, sets: Sets): void {
  const { quads, lane, group } = lanes;
  const last = new Map<number, Map<number, number>>();
  for (let q = 0; q < quads.count; q++) {
    if (sets.find(q) !== q) continue;
    const g = group[lane[q]];
    const t = timeMs[quads.record[q]];
    if (Number.isNaN(t)) continue;
    let m = last.get(g);
    if (!m) {
      m = new Map();
      last.set(g, m);
    }
    const other = m.get(t);
    if (other === undefined) m.set(t, q);
    else if (sideBySide(lanes, forward, q, other)) sets.join(q, other);
  }
}

/** Two quads of one instant lie on one line across (a repeated clock time far away does not). */
function sideBySide(lanes: Lanes, forward: Uint8Array, a: number, b: number): boolean {
  const c = lanes.quads.corner;
  const u = travelOf(lanes.quads, a, forward[a]);
  let along = 0;
  let length = 0;
  for (let k = 0; k < 8; k += 2) {
    along += ((c[8 * b + k] - c[8 * a + k]) * u[0] + (c[8 * b + k + 1] - c[8 * a + k + 1]) * u[1]) / 4;
  }
  for (let k = 0; k < 4; k++) {
    const at = 8 * a + 2 * ((forward[a] + k) & 3);
    length += ((k < 2 ? 1 : -1) * (c[at] * u[0] + c[at + 1] * u[1])) / 2;
  }
  return Math.abs(along) < 0.6 * length + 0.1;
}

/** The bar that follows each bar in the group's direction, as most of its lanes say; -1 at the end. */
function successors(lanes: Lanes, bars: Bars, forward: Uint8Array): Int32Array {
  const { laneStart, laneQuads, front } = lanes;
  // Majority vote in one sweep (Boyer and Moore): lanes that disagree cancel one another.
  const next = new Int32Array(bars.count).fill(-1);
  const lead = new Int32Array(bars.count);
  for (let i = 0; i + 1 < laneStart.length; i++) {
    const along = front[laneQuads[laneStart[i]]] === forward[laneQuads[laneStart[i]]];
    for (let k = laneStart[i] + 1; k < laneStart[i + 1]; k++) {
      const a = bars.of[laneQuads[along ? k - 1 : k]];
      const b = bars.of[laneQuads[along ? k : k - 1]];
      if (a === b) continue;
      if (lead[a] === 0) next[a] = b;
      lead[a] += next[a] === b ? 1 : -1;
    }
  }
  return next;
}

/** Chains bars by their successors; a bar claimed twice follows the first claim, and the rest start chains of their own. */
function orderBars(bars: Bars, next: Int32Array): number[][] {
  const before = new Int32Array(bars.count).fill(-1);
  for (let b = 0; b < bars.count; b++) {
    const t = next[b];
    if (t < 0) continue;
    if (before[t] < 0) before[t] = b;
    else next[b] = -1;
  }
  const seen = new Uint8Array(bars.count);
  const out: number[][] = [];
  const follow = (b: number): void => {
    const list: number[] = [];
    for (; b >= 0 && !seen[b]; b = next[b]) {
      seen[b] = 1;
      list.push(b);
    }
    if (list.length) out.push(list);
  };
  for (let b = 0; b < bars.count; b++) if (before[b] < 0) follow(b);
  // What is left runs in rings: a lap without a break.
  for (let b = 0; b < bars.count; b++) if (!seen[b]) follow(b);
  return out;
}

/** Which way each group was driven, +1 along its own direction or -1, and what told it. */
function travelSigns(
  lanes: Lanes,
  columns: Columns,
  forward: Uint8Array,
): { sign: Int8Array; from: Passes['travelFrom'] } {
  const { quads, laneStart, laneQuads, front, group, groups, lane } = lanes;
  const byTime = new Float64Array(groups);
  const byOrder = new Float64Array(groups);
  const byHeading = new Float64Array(groups);
  const steps = new Float64Array(groups);
  for (let i = 0; i + 1 < laneStart.length; i++) {
    const g = group[i];
    const first = laneQuads[laneStart[i]];
    const s = front[first] === forward[first] ? 1 : -1;
    for (let k = laneStart[i] + 1; k < laneStart[i + 1]; k++) {
      const a = quads.record[laneQuads[k - 1]];
      const b = quads.record[laneQuads[k]];
      steps[g]++;
      byOrder[g] += s * Math.sign(b - a);
      if (columns.timeMs) byTime[g] += s * (Math.sign(columns.timeMs[b] - columns.timeMs[a]) || 0);
    }
  }
  if (columns.headingDeg) {
    for (let q = 0; q < quads.count; q++) {
      const h = (columns.headingDeg[quads.record[q]] * Math.PI) / 180;
      const u = travelOf(quads, q, forward[q]);
      byHeading[group[lane[q]]] += Math.sign(u[0] * Math.sin(h) + u[1] * Math.cos(h)) || 0;
    }
  }
  let all = 0;
  let agreed = 0;
  for (let g = 0; g < groups; g++) {
    all += steps[g];
    agreed += Math.abs(byOrder[g]);
  }
  const from: Passes['travelFrom'] = columns.timeMs
    ? 'time'
    : columns.headingDeg
      ? 'heading'
      : all > 0 && agreed > 0.9 * all
        ? 'order'
        : 'unknown';
  const votes = from === 'time' ? byTime : from === 'heading' ? byHeading : byOrder;
  return { sign: Int8Array.from(votes, (v) => (v < 0 ? -1 : 1)), from };
}

/** Signs by which the wider sections lie to the right in every group: an odd layout looks the same way in all of them, an even one either way. */
function turnAlike(lanes: Lanes, bars: Bars, forward: Uint8Array, sign: Int8Array, mirrored: boolean): void {
  const c = lanes.quads.corner;
  const most = new Int32Array(lanes.groups);
  for (let b = 0; b < bars.count; b++)
    most[bars.group[b]] = Math.max(most[bars.group[b]], bars.start[b + 1] - bars.start[b]);
  const lean = new Float64Array(lanes.groups);
  for (let b = 0; b < bars.count; b++) {
    const g = bars.group[b];
    const list = bars.list.subarray(bars.start[b], bars.start[b + 1]);
    if (list.length < most[g]) continue;
    const [ux, uy] = travelOf(lanes.quads, list[0], forward[list[0]]);
    let low = Infinity;
    let high = -Infinity;
    let sum = 0;
    let weight = 0;
    for (const q of list) {
      const at = (k: number): number => c[8 * q + 2 * k] * uy - c[8 * q + 2 * k + 1] * ux;
      const right = Math.max(at(0), at(1), at(2), at(3));
      const left = Math.min(at(0), at(1), at(2), at(3));
      low = Math.min(low, left);
      high = Math.max(high, right);
      sum += ((left + right) / 2) * (right - left) ** 2;
      weight += (right - left) ** 2;
    }
    lean[g] += sum - (weight * (low + high)) / 2;
  }
  for (let g = 0; g < lanes.groups; g++) sign[g] = lean[g] < 0 === mirrored ? 1 : -1;
}

/** A pass ends at a recording break or a sharp corner. */
function splitRuns(lanes: Lanes, bars: Bars, list: number[], forward: Uint8Array, sign: number): number[][] {
  const out: number[][] = [];
  let run: number[] = [];
  let before: [number, number] | null = null;
  for (const b of list) {
    const q = bars.list[bars.start[b]];
    const u = travelOf(lanes.quads, q, sign > 0 ? forward[q] : forward[q] ^ 2);
    if (before && before[0] * u[0] + before[1] * u[1] < Math.cos((CORNER_DEG * Math.PI) / 180)) {
      out.push(run);
      run = [];
    }
    run.push(b);
    before = u;
  }
  out.push(run);
  return out;
}
