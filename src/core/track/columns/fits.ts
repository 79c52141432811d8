import { lengthOf } from '../../geometry/length.ts';
import { median } from '../../geometry/stats.ts';
import type { Column } from '../../intake/types.ts';
import { INCH_M } from '../../planter/units.ts';
import type { Lanes } from '../types.ts';

interface Fit {
  /** Share of the sampled places that fit, 0 to 1. */
  share: number;
  says: string;
}

/** With commas between thousands; `toLocaleString` would load the engine's tables of languages first. */
export const count = (n: number): string => String(Math.round(n)).replace(/\B(?=(\d{3})+$)/g, ',');

/** "all 1,776", "1,775 of 1,776". */
export const ofAll = (n: number, all: number): string =>
  count(n) === count(all) ? `all ${count(all)}` : `${count(n)} of ${count(all)}`;

/** A column is tested on about this many records: a real one behaves the same everywhere. */
const LOOKED_AT = 60_000;
const strideOf = (lanes: Lanes): number => Math.max(1, Math.floor(lanes.quads.count / LOOKED_AT));

export interface TimeFit extends Fit {
  /** The same share without the steps from or to a record that has no time. */
  knownShare: number;
  /** Part of the steps along lanes on which the time changes at all. */
  changes: number;
  /** Steps along lanes that were sampled. */
  steps: number;
  /** Milliseconds per unit when the unit is not known; 0 when no unit gives a speed that a planter drives. */
  scaleMs: number;
  /** First record (0-based) at which it turns back within a lane, -1 for none. */
  firstBack: number;
}

/** Times rise or fall steadily along a lane, and are equal side by side. A step without change is within a tick of the clock and is no evidence. */
export function timeFit(ms: Float64Array, lanes: Lanes): TimeFit {
  const { quads, laneStart, laneQuads, right } = lanes;
  let steps = 0;
  let changed = 0;
  let steady = 0;
  let unknown = 0;
  let firstBack = -1;
  const stride = strideOf(lanes);
  for (let i = 0; i + 1 < laneStart.length; i += stride) {
    let up = 0;
    let down = 0;
    let firstUp = -1;
    let firstDown = -1;
    for (let k = laneStart[i] + 1; k < laneStart[i + 1]; k++) {
      const a = ms[quads.record[laneQuads[k - 1]]];
      const b = ms[quads.record[laneQuads[k]]];
      if (b > a) {
        if (up++ === 0) firstUp = quads.record[laneQuads[k]];
      } else if (b < a) {
        if (down++ === 0) firstDown = quads.record[laneQuads[k]];
      } else if (a !== b) unknown++;
    }
    steps += Math.max(0, laneStart[i + 1] - laneStart[i] - 1);
    changed += up + down;
    steady += Math.max(up, down);
    const back = up >= down ? firstDown : firstUp;
    if (firstBack < 0 && back >= 0) firstBack = back;
  }
  let beside = 0;
  let equal = 0;
  for (let q = 0; q < quads.count; q += stride) {
    if (right[q] < 0) continue;
    beside++;
    if (ms[quads.record[q]] === ms[quads.record[right[q]]]) equal++;
  }
  const rise = changed + unknown ? steady / (changed + unknown) : 0;
  // Passes that lie side by side digit for digit look like one bar until their times separate them.
  const share = beside > 0 && equal < 0.6 * beside ? 0.95 * rise : rise;
  const per = speedOf(ms, lanes, stride);
  // Speeds at which planters are driven, meters per second, with a wide margin (common practice: 1 to 5).
  let scaleMs = 0;
  for (const s of [1000, 1, 60_000]) if ((per * 1000) / s > 0.3 && (per * 1000) / s < 8 && scaleMs === 0) scaleMs = s;
  const stays = steps - unknown - changed;
  const ticks = stays > 0.05 * steps ? `, and stays at ${count(stays)}: several records per tick of the clock` : '';
  return {
    share,
    knownShare: changed ? steady / changed : 0,
    changes: steps ? changed / steps : 0,
    steps,
    scaleMs,
    firstBack,
    says: `rises along the passes at ${ofAll(steady, ticks ? changed + unknown : steps)} steps${ticks}`,
  };
}

/** Median over lanes of the distance driven over the time between their first and last record with a time, meters per unit of time. */
function speedOf(ms: Float64Array, lanes: Lanes, stride: number): number {
  const { quads, laneStart, laneQuads } = lanes;
  const c = quads.corner;
  const speeds: number[] = [];
  const at = (k: number): number => ms[quads.record[laneQuads[k]]];
  for (let i = 0; i + 1 < laneStart.length; i += stride) {
    let first = laneStart[i];
    let last = laneStart[i + 1] - 1;
    while (first < last && Number.isNaN(at(first))) first++;
    while (first < last && Number.isNaN(at(last))) last--;
    if (last - first < 4) continue;
    let drivenM = 0;
    // A lane may be a lap that ends where it began, but twenty of its records are nearly straight.
    for (let from = first; from < last; from += 20) {
      const a = 8 * laneQuads[from];
      const b = 8 * laneQuads[Math.min(from + 20, last)];
      drivenM += lengthOf(c[b] - c[a], c[b + 1] - c[a + 1]);
    }
    speeds.push(drivenM / Math.abs(at(last) - at(first)));
  }
  return median(speeds);
}

/** A section number stays along a lane and changes to the lane beside it. A share that is sure to be below `least` is not counted to its end. */
export function sectionFit(c: Column, lanes: Lanes, least: number): Fit {
  const values = c.kind === 'number' ? c.values : c.codes;
  const stride = strideOf(lanes);
  const beside = countBeside(lanes, stride);
  const other = countOther(values, lanes, stride, beside - least * beside);
  if (other < least * beside) return { share: other / beside, says: '' };
  const steps = countSteps(lanes, stride);
  const same = countSame(values, lanes, stride, steps, least);
  if (same < least * steps) return { share: same / steps, says: '' };
  if (beside === 0 || steps === 0) return { share: 0, says: '' };
  const share = Math.min(same / steps, other / beside);
  return {
    share,
    says: `constant along each section, different side by side at ${ofAll(other, beside)} places`,
  };
}

type Values = Float64Array | Uint32Array;

function countBeside({ quads, right }: Lanes, stride: number): number {
  let n = 0;
  for (let q = 0; q < quads.count; q += stride) if (right[q] >= 0) n++;
  return n;
}

/** Neighbors that hold another value; ends early once more than `allow` are alike. */
function countOther(values: Values, { quads, right }: Lanes, stride: number, allow: number): number {
  const { record } = quads;
  let other = 0;
  for (let q = 0, alike = 0; q < quads.count && alike <= allow; q += stride) {
    if (right[q] < 0) continue;
    if (values[record[q]] !== values[record[right[q]]]) other++;
    else alike++;
  }
  return other;
}

function countSteps({ laneStart }: Lanes, stride: number): number {
  let n = 0;
  for (let i = 0; i + 1 < laneStart.length; i += stride) n += Math.max(0, laneStart[i + 1] - laneStart[i] - 1);
  return n;
}

/** Steps along lanes, of `steps`, on which the value stays; once they are sure to be below the share `least`, the most that they could still be. */
function countSame(values: Values, lanes: Lanes, stride: number, steps: number, least: number): number {
  const { laneStart, laneQuads } = lanes;
  const { record } = lanes.quads;
  const allow = steps - least * steps;
  let changes = 0;
  for (let i = 0; i + 1 < laneStart.length && changes <= allow; i += stride)
    for (let k = laneStart[i] + 1; k < laneStart[i + 1]; k++)
      if (values[record[laneQuads[k - 1]]] !== values[record[laneQuads[k]]]) changes++;
  return steps - changes;
}

const UNITS: [string, number][] = [
  ['m', 1],
  ['ft', 0.3048],
  ['in', INCH_M],
  ['cm', 0.01],
  ['mm', 0.001],
];

/** Widths across travel of some 5,000 records and of their bars, meters. */
export interface Widths {
  record: Uint32Array;
  ofRecordM: Float64Array;
  ofBarM: Float64Array;
  /** How far the width of a record differs from that of the next one in its lane, the median: rounding to the lattice. */
  jitterM: number;
}

export function widthsOf(lanes: Lanes): Widths {
  const { quads, right, left } = lanes;
  const step = Math.max(1, Math.floor(quads.count / 5000));
  const n = Math.ceil(quads.count / step);
  const out = { record: new Uint32Array(n), ofRecordM: new Float64Array(n), ofBarM: new Float64Array(n), jitterM: 0 };
  const steps: number[] = [];
  for (let k = 1; k < lanes.laneQuads.length; k += step) {
    const [q, r] = [lanes.laneQuads[k - 1], lanes.laneQuads[k]];
    if (lanes.lane[q] === lanes.lane[r]) steps.push(Math.abs(acrossOf(lanes, q) - acrossOf(lanes, r)));
  }
  if (steps.length > 0) out.jitterM = median(steps);
  for (let k = 0; k < n; k++) {
    const q = k * step;
    let whole = acrossOf(lanes, q);
    out.record[k] = quads.record[q];
    out.ofRecordM[k] = whole;
    for (let r = right[q], i = 0; r >= 0 && i < 200; r = right[r], i++) whole += acrossOf(lanes, r);
    for (let r = left[q], i = 0; r >= 0 && i < 200; r = left[r], i++) whole += acrossOf(lanes, r);
    out.ofBarM[k] = whole;
  }
  return out;
}

/** An error of a width is rounding within this many times the usual difference between neighbors. */
const ROUNDED = 3;

/**
 * A width column holds the width across travel of its record, or of its whole bar. Both may fit, in different units (a frame of 60 ft with sections of
 * 60 in): then the unit that the name gives decides.
 */
export function widthFit(
  values: Float64Array,
  widths: Widths,
  named: boolean,
  unitNamed: string | null = null,
): (Fit & { metersPerUnit: number; unit: string }) | null {
  const ofRecord: number[] = [];
  const ofBar: number[] = [];
  const ofRecordM: number[] = [];
  const ofBarM: number[] = [];
  for (let k = 0; k < widths.record.length; k++) {
    const v = values[widths.record[k]];
    if (!(v > 0)) continue;
    ofRecord.push(widths.ofRecordM[k] / v);
    ofBar.push(widths.ofBarM[k] / v);
    ofRecordM.push(widths.ofRecordM[k]);
    ofBarM.push(widths.ofBarM[k]);
  }
  if (ofRecord.length < 10) return null;
  let best: (Fit & { metersPerUnit: number; unit: string }) | null = null;
  for (const [ratios, widthsM, what] of [
    [ofRecord, ofRecordM, 'the record'],
    [ofBar, ofBarM, 'the whole bar'],
  ] as const) {
    const mid = median(ratios);
    // What rounding moves is no evidence against a column that is named width.
    const most = (r: number, widthM: number): number =>
      named ? Math.max(0.03, (ROUNDED * widths.jitterM * (r / mid)) / widthM) : 0.03;
    const near =
      ratios.reduce((a, r, k) => a + (Math.abs(r / mid - 1) < most(r, widthsM[k]) ? 1 : 0), 0) / ratios.length;
    for (const [unit, m] of UNITS) {
      const off = Math.abs(mid / m - 1);
      // A column named width may be a little off (another setting's width); any other column must fit closely.
      if (off > (named ? 0.12 : 0.01) || near < (named ? 0.7 : 0.9)) continue;
      const share = near - off + (unit === unitNamed ? 1 : 0);
      if (!best || share > best.share)
        best = {
          share,
          metersPerUnit: m,
          unit,
          says: `matches the width of ${what} in ${unit} in ${ofAll(near * ratios.length, ratios.length)} records sampled${off > 0.01 ? `, at a ratio of ${(mid / m).toFixed(3)}` : ''}`,
        };
    }
  }
  return best;
}

/** Where on a lane its heading was taken: everywhere, one for each log interval; or once for a strip, where it begins or where it ends. */
export type HeadingAt = 'along' | 'begin' | 'end';

export interface HeadingFit extends Fit {
  at: HeadingAt;
}

/**
 * A heading column follows the lane's direction, degrees clockwise from north, one way or the other along each lane; where `strips`, at one end of it perhaps. `least` as in
 * `sectionFit`.
 */
export function headingFit(values: Float64Array, lanes: Lanes, least: number, strips: boolean): HeadingFit {
  // A column of one value fits a map of one direction by chance.
  let low = Infinity;
  let high = -Infinity;
  for (let i = 0; i < values.length; i++) {
    if (values[i] < low) low = values[i];
    if (values[i] > high) high = values[i];
  }
  if (!(high - low > 20) || low < -180 || high > 360) return { share: 0, says: '', at: 'along' };
  const places: HeadingAt[] = strips ? ['along', 'begin', 'end'] : ['along'];
  return places.map((at) => headingShare(values, lanes, least, at)).reduce((a, b) => (b.share > a.share ? b : a));
}

function headingShare(values: Float64Array, lanes: Lanes, least: number, at: HeadingAt): HeadingFit {
  const { laneStart } = lanes;
  let seen = 0;
  let fit = 0;
  const stride = strideOf(lanes);
  let left = 0;
  for (let i = 0; i + 1 < laneStart.length; i += stride) left += laneStart[i + 1] - laneStart[i];
  const all = left;
  for (let i = 0; i + 1 < laneStart.length; i += stride) {
    const { ahead, back } = headingWays(values, lanes, i, at);
    seen += laneStart[i + 1] - laneStart[i];
    fit += Math.max(ahead, back);
    left -= laneStart[i + 1] - laneStart[i];
    if (fit + left < least * all) return { share: (fit + left) / all, says: '', at };
  }
  const where = at === 'along' ? '' : ` where they ${at}`;
  return {
    share: seen ? fit / seen : 0,
    says: `follows the passes${where} within 12 degrees in ${ofAll(fit, seen)} records`,
    at,
  };
}

/** How many quads of lane `i` have a heading that says it was driven in its own direction, `ahead`, and against it. */
export function headingWays(
  values: Float64Array,
  lanes: Lanes,
  i: number,
  at: HeadingAt,
): { ahead: number; back: number } {
  const { quads, laneStart, laneQuads } = lanes;
  const [from, to] = [laneStart[i], laneStart[i + 1]];
  const offDeg = (k: number): number =>
    Math.abs(turnDeg(values[quads.record[laneQuads[k]]] - headingOf(lanes, laneQuads[k])));
  if (at === 'along') {
    let ahead = 0;
    let back = 0;
    for (let k = from; k < to; k++) {
      const d = offDeg(k);
      if (d < NEAR_DEG) ahead++;
      else if (d > 180 - NEAR_DEG) back++;
    }
    return { ahead, back };
  }
  // Driven the other way, it begins where it would end.
  const [first, last] = at === 'begin' ? [from, to - 1] : [to - 1, from];
  return { ahead: offDeg(first) < NEAR_DEG ? to - from : 0, back: offDeg(last) > 180 - NEAR_DEG ? to - from : 0 };
}

/** A heading within this of a direction is that of travel, degrees. */
const NEAR_DEG = 12;

/** -180 to 180. */
export function turnDeg(d: number): number {
  return ((((d + 180) % 360) + 360) % 360) - 180;
}

/** Lane's direction at quad q, degrees clockwise from north. */
function headingOf(lanes: Lanes, q: number): number {
  const [x, y] = middleVector(lanes, q);
  return (Math.atan2(x, y) * 180) / Math.PI;
}

function middleVector(lanes: Lanes, q: number): [number, number] {
  const c = lanes.quads.corner;
  const at = (i: number): number => 8 * q + 2 * ((lanes.front[q] + i) & 3);
  return [
    (c[at(0)] + c[at(1)] - c[at(2)] - c[at(3)]) / 2,
    (c[at(0) + 1] + c[at(1) + 1] - c[at(2) + 1] - c[at(3) + 1]) / 2,
  ];
}

/** Mean length of the front and back side, meters. */
function acrossOf(lanes: Lanes, q: number): number {
  const c = lanes.quads.corner;
  const at = (i: number): number => 8 * q + 2 * ((lanes.front[q] + i) & 3);
  const side = (a: number, b: number): number => lengthOf(c[b] - c[a], c[b + 1] - c[a + 1]);
  return (side(at(0), at(1)) + side(at(2), at(3))) / 2;
}
