import { intoBuckets } from '../geometry/buckets.ts';
import { lengthOf } from '../geometry/length.ts';
import { Sets } from '../geometry/unionfind.ts';
import { headingWays } from './columns/fits.ts';
import type { Columns } from './columns/index.ts';
import { BarLayer } from './laybar.ts';
import { splitByTime } from './split-by-time.ts';
import { splitRepeats } from './split-repeats.ts';
import { travelOf } from './travel.ts';
import type { Bars, Lanes, Passes } from './types.ts';

/** A heading change between two bars above this is a corner, degrees. */
const CORNER_DEG = 40;

interface Run {
  bars: number[];
  first: number;
}

/**
 * Cuts the groups of lanes into passes of bars in the direction of travel, in time order. Where nothing shows the direction, all
 * passes are turned so that their sections lie alike, one way or (`mirrored`) the other.
 */
export function findPasses(laid: Lanes, columns: Columns, mirrored = false): Passes {
  const instant = instantsOf(laid, columns.timeMs);
  let lanes = instant ? splitByTime(laid, instant) : laid;
  let forward = forwardOf(lanes);
  let bars = barsOf(lanes, instant, forward);
  const split = instant ? lanes : splitRepeats(lanes, bars, forward);
  if (split !== lanes) {
    lanes = split;
    forward = forwardOf(lanes);
    bars = barsOf(lanes, instant, forward);
  }
  const { quads } = lanes;
  const n = quads.count;
  const next = successors(lanes, bars, forward);
  const travel = travelSigns(lanes, columns, forward);
  if (travel.from === 'unknown') turnAlike(lanes, bars, forward, travel.sign, mirrored);

  const ordered = orderBars(bars, next);
  const logged = travel.from !== 'unknown' && quads.long.length === 0;
  const chains = logged ? ordered : withoutCrumbs(lanes, bars, ordered);
  for (const list of chains) if (travel.sign[bars.group[list[0]]] < 0) list.reverse();
  const key = (b: number): number => (columns.timeMs ? columns.timeMs[bars.lowest[b]] : bars.lowest[b]);
  const headings = headingsOf(lanes, bars, forward, travel.sign);
  const whole = logged ? joinChains(lanes, bars, chains, headings, key) : chains;
  const runs: Run[] = whole
    .flatMap((list) => splitRuns(list, headings))
    .map((list) => ({ bars: list, first: list.reduce((least, b) => Math.min(least, key(b)), Infinity) }));
  runs.sort((a, b) => a.first - b.first || bars.lowest[a.bars[0]] - bars.lowest[b.bars[0]]);

  const total = runs.reduce((s, r) => s + r.bars.length, 0);
  const passes: Passes = {
    passStart: new Uint32Array(runs.length + 1),
    number: Uint32Array.from(runs, (_, p) => p + 1),
    bars: total,
    center: new Float64Array(2 * total),
    right: new Float64Array(2 * total),
    lengthM: new Float64Array(total),
    barStart: new Uint32Array(total + 1),
    barQuad: new Uint32Array(n),
    leftM: new Float64Array(n),
    rightM: new Float64Array(n),
    corner: new Float64Array(8 * n),
    timeMs: new Float64Array(total).fill(Number.NaN),
    travelFrom: travel.from,
    quads: { record: quads.record, repeated: quads.repeated, repeats: quads.repeats },
  };
  const layer = new BarLayer(passes, lanes, bars, forward);
  let b = 0;
  let filled = 0;
  runs.forEach((run, p) => {
    for (const bar of run.bars) {
      filled = layer.lay(b, filled, bar, travel.sign[bars.group[bar]]);
      if (columns.timeMs) passes.timeMs[b] = columns.timeMs[quads.record[passes.barQuad[passes.barStart[b]]]];
      b++;
      passes.barStart[b] = filled;
    }
    passes.passStart[p + 1] = b;
  });
  passes.barQuad = passes.barQuad.subarray(0, filled);
  return passes;
}

/** Per record what is one number for all that was laid down at once: the record itself where records hold several parts, else its time; null where nothing shows it. */
function instantsOf({ quads }: Lanes, timeMs: Float64Array | null): Float64Array | null {
  const last = quads.count > 0 ? quads.record[quads.count - 1] : 0;
  // Pieces of cut strips are of one record too, one behind the other.
  if (quads.long.length > 0 || quads.count < 1.5 * (last + 1)) return timeMs;
  return Float64Array.from({ length: last + 1 }, (_, r) => r);
}

/** Front side of every quad in its group's direction. */
function forwardOf(lanes: Lanes): Uint8Array {
  const out = new Uint8Array(lanes.quads.count);
  for (let q = 0; q < out.length; q++) out[q] = lanes.against[lanes.lane[q]] ? lanes.front[q] ^ 2 : lanes.front[q];
  return out;
}

/** Rounds of merging: the ends of a pass may be ragged this many bars deep. */
const ROUNDS = 8;

function barsOf(lanes: Lanes, timeMs: Float64Array | null, forward: Uint8Array): Bars {
  const sets = new Sets(lanes.quads.count);
  joinBeside(lanes, timeMs, sets);
  if (timeMs) joinAtOneTime(lanes, timeMs, forward, sets);
  let bars = collect(lanes, sets);
  for (let round = 0; round < ROUNDS && joinForked(lanes, timeMs, forward, bars, sets); round++)
    bars = collect(lanes, sets);
  return bars;
}

function collect({ quads, lane, group }: Lanes, sets: Sets): Bars {
  const { group: of, groups: count } = sets.numbered();
  const { start, list } = intoBuckets(of, quads.count, count);
  const groupOf = new Int32Array(count);
  const lowest = new Uint32Array(count);
  for (let b = 0; b < count; b++) {
    groupOf[b] = group[lane[list[start[b]]]];
    lowest[b] = quads.record[list[start[b]]];
  }
  return { of, count, group: groupOf, lowest, start, list };
}

/**
 * Joins bars that lie side by side and follow, or precede, the same bar in different lanes: at the ends of a pass the lines across differ a
 * little from section to section. True when there were any.
 */
function joinForked(lanes: Lanes, timeMs: Float64Array | null, forward: Uint8Array, bars: Bars, sets: Sets): boolean {
  const { laneStart, laneQuads, front, lane } = lanes;
  const after = new Int32Array(bars.count).fill(-1);
  const before = new Int32Array(bars.count).fill(-1);
  let any = false;
  const join = (x: number, y: number): void => {
    if (sets.find(bars.list[bars.start[x]]) === sets.find(bars.list[bars.start[y]])) return;
    if (timeMs && timeMs[bars.lowest[x]] !== timeMs[bars.lowest[y]]) return;
    for (let i = bars.start[x]; i < bars.start[x + 1]; i++)
      for (let k = bars.start[y]; k < bars.start[y + 1]; k++) if (lane[bars.list[i]] === lane[bars.list[k]]) return;
    const [q, r] = [bars.list[bars.start[x]], bars.list[bars.start[y]]];
    if (!sideBySide(lanes, forward, q, r) || !sideBySide(lanes, forward, r, q)) return;
    sets.join(q, r);
    any = true;
  };
  for (let i = 0; i + 1 < laneStart.length; i++) {
    const along = front[laneQuads[laneStart[i]]] === forward[laneQuads[laneStart[i]]];
    for (let k = laneStart[i] + 1; k < laneStart[i + 1]; k++) {
      const a = bars.of[laneQuads[along ? k - 1 : k]];
      const b = bars.of[laneQuads[along ? k : k - 1]];
      if (a === b) continue;
      if (after[a] < 0) after[a] = b;
      else if (after[a] !== b) join(after[a], b);
      if (before[b] < 0) before[b] = a;
      else if (before[b] !== a) join(before[b], a);
    }
  }
  return any;
}

function joinBeside({ quads, right, left }: Lanes, timeMs: Float64Array | null, sets: Sets): void {
  const sameTime = (a: number, b: number): boolean => !timeMs || timeMs[quads.record[a]] === timeMs[quads.record[b]];
  for (let q = 0; q < quads.count; q++) {
    const r = right[q];
    const l = left[q];
    if (r >= 0 && sameTime(q, r)) sets.join(q, r);
    // The bar to the left joins this one from its own side.
    if (l >= 0 && right[l] !== q && sameTime(q, l)) sets.join(q, l);
  }
}

/** Sections with a wide hole between them still belong together when the log gives one instant. */
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

/** The bar that follows each bar in the group's direction, by majority of its lanes; -1 at the end. */
function successors(lanes: Lanes, bars: Bars, forward: Uint8Array): Int32Array {
  const { laneStart, laneQuads, front } = lanes;
  // Majority vote in one sweep (Boyer and Moore): lanes that disagree cancel each other.
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
  // The rest are rings: laps without a break.
  for (let b = 0; b < bars.count; b++) if (!seen[b]) follow(b);
  return out;
}

/** Which way each group was driven, +1 along its own direction or -1, and what shows it. */
function travelSigns(
  lanes: Lanes,
  columns: Columns,
  forward: Uint8Array,
): { sign: Int8Array; from: Passes['travelFrom'] } {
  const { quads, laneStart, laneQuads, front, group, groups } = lanes;
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
    if (!columns.headingDeg) continue;
    const { ahead, back } = headingWays(columns.headingDeg, lanes, i, columns.headingAt);
    byHeading[g] += s * (ahead - back);
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

/** Signs that put the wider sections to the right in every group: an uneven layout faces the same way in all of them, an even one either way. */
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

/** Chains of no more bars than this, and of less than a tenth of the longest of their group, are crumbs. */
const CRUMB_BARS = 8;

/**
 * The chains without a few sections that began or ended apart from the rest of their pass, too far apart to be one bar, where neither log nor
 * time shows which bar they belong to: they would look like passes of their own.
 */
function withoutCrumbs(lanes: Lanes, bars: Bars, chains: number[][]): number[][] {
  const longest = new Int32Array(lanes.groups);
  for (const list of chains) {
    const g = bars.group[list[0]];
    longest[g] = Math.max(longest[g], list.length);
  }
  return chains.filter((list) => list.length > CRUMB_BARS || list.length >= 0.1 * longest[bars.group[list[0]]]);
}

/** Unit vector of travel of every bar. */
function headingsOf(lanes: Lanes, bars: Bars, forward: Uint8Array, sign: Int8Array): Float64Array {
  const out = new Float64Array(2 * bars.count);
  for (let b = 0; b < bars.count; b++) {
    let x = 0;
    let y = 0;
    for (let k = bars.start[b]; k < bars.start[b + 1]; k++) {
      const q = bars.list[k];
      const u = travelOf(lanes.quads, q, sign[bars.group[b]] > 0 ? forward[q] : forward[q] ^ 2);
      x += u[0];
      y += u[1];
    }
    const l = lengthOf(x, y) || 1;
    out[2 * b] = x / l;
    out[2 * b + 1] = y / l;
  }
  return out;
}

/** Bars that follow each other without a break leave no more than this between the line where one ends and the line where the next begins, meters. */
const NO_BREAK_M = 0.5;
/** And lie no further to the side of each other: wider than any frame, meters. */
const ASIDE_M = 45;

/**
 * Chains of bars joined where one continues where the other ended, at the next record or time, in another place across travel: sections went off and others on.
 */
function joinChains(
  { quads }: Lanes,
  bars: Bars,
  chains: number[][],
  headings: Float64Array,
  key: (b: number) => number,
): number[][] {
  const order = chains
    .map((list) => list)
    .sort((a, b) => key(a[0]) - key(b[0]) || bars.lowest[a[0]] - bars.lowest[b[0]]);
  /** Keys of all bars, to check whether one comes between. */
  const keys = Float64Array.from({ length: bars.count }, (_, b) => key(b)).sort();
  const between = (from: number, to: number): boolean => {
    const i = firstAbove(keys, from);
    return i < keys.length && keys[i] < to;
  };
  const c = quads.corner;
  /** How far the corners of a bar reach along a direction from a point: the least and the most. */
  const reach = (b: number, x: number, y: number, ux: number, uy: number): [number, number] => {
    let low = Infinity;
    let high = -Infinity;
    for (let k = bars.start[b]; k < bars.start[b + 1]; k++) {
      for (let o = 8 * bars.list[k]; o < 8 * bars.list[k] + 8; o += 2) {
        const d = (c[o] - x) * ux + (c[o + 1] - y) * uy;
        low = Math.min(low, d);
        high = Math.max(high, d);
      }
    }
    return [low, high];
  };
  const goesOn = (a: number, b: number): boolean => {
    if (!(key(b) > key(a)) || between(key(a), key(b))) return false;
    const [ux, uy] = [headings[2 * b], headings[2 * b + 1]];
    if (headings[2 * a] * ux + headings[2 * a + 1] * uy < Math.cos((CORNER_DEG * Math.PI) / 180)) return false;
    const o = 8 * bars.list[bars.start[b]];
    const ahead = reach(a, c[o], c[o + 1], ux, uy)[1] - reach(b, c[o], c[o + 1], ux, uy)[0];
    const [left, right] = reach(a, c[o], c[o + 1], uy, -ux);
    return Math.abs(ahead) < NO_BREAK_M && left < ASIDE_M && right > -ASIDE_M;
  };
  const out: number[][] = [];
  for (const list of order) {
    const last = out[out.length - 1];
    if (last && goesOn(last[last.length - 1], list[0])) last.push(...list);
    else out.push(list);
  }
  return out;
}

/** Place of the first number above `v` in a rising list. */
function firstAbove(sorted: Float64Array, v: number): number {
  let low = 0;
  let high = sorted.length;
  while (low < high) {
    const mid = (low + high) >> 1;
    if (sorted[mid] > v) high = mid;
    else low = mid + 1;
  }
  return low;
}

/** A pass ends at a recording break or a sharp corner. */
function splitRuns(list: number[], headings: Float64Array): number[][] {
  const out: number[][] = [];
  const most = Math.cos((CORNER_DEG * Math.PI) / 180);
  let run: number[] = [];
  list.forEach((b, i) => {
    const a = i > 0 ? list[i - 1] : b;
    if (headings[2 * a] * headings[2 * b] + headings[2 * a + 1] * headings[2 * b + 1] < most) {
      out.push(run);
      run = [];
    }
    run.push(b);
  });
  out.push(run);
  return out;
}
