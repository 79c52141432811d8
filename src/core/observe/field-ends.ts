import { makePointGrid, upTo } from '../geometry/grid.ts';
import type { Passes } from '../track/types.ts';
import type { Covered } from './covered.ts';
import { PARALLEL } from './facing.ts';
import { intervalsAt } from './speeds.ts';
import type { End, RecordedBands } from './types.ts';

/** Neighboring passes lie this far to the side, in widths of the pass, and end no further ahead or behind than this many. */
const BESIDE = [0.5, 1.6];
const AHEAD_WIDTHS = 3;
/** A pass of fewer bars is a corner or a flicker of the switches. */
const FEWEST_BARS = 3;
/** Further than a log interval and the slant of an end, meters. */
const BEYOND_M = 5;

/** One end of a pass in which every band of its segment began or stopped. */
interface PassEnd {
  pass: number;
  kind: End['kind'];
  segment: number;
  /** Where each band began or stopped, x and y, and in which bar. */
  x: Float64Array;
  y: Float64Array;
  bar: Int32Array;
  meanX: number;
  meanY: number;
  /** Direction to the right of travel at the end. */
  rightX: number;
  rightY: number;
}

/**
 * Starts and stops of sections at the edge of the field, which no record covers: the edge is read from where the two neighboring passes end
 * on the average of their sections. That average does not depend on which section ends first, so it is the edge in whatever
 * order sections were switched. `overlapM` is beyond the line through this pass's own average; ends that meet covered ground are in `findEnds`.
 */
export function findFieldEnds(passes: Passes, bands: RecordedBands, { ever }: Pick<Covered, 'ever'>): End[] {
  const all: PassEnd[] = [];
  for (let p = 0; p + 1 < passes.passStart.length; p++) {
    const segment = bands.segment[passes.passStart[p]];
    const count = bands.segments[segment]?.bands.length ?? 0;
    if (count < 3 || bands.segment[passes.passStart[p + 1] - 1] !== segment) continue;
    if (passes.passStart[p + 1] - passes.passStart[p] < FEWEST_BARS) continue;
    for (const kind of ['start', 'stop'] as const) {
      const end = passEnd(passes, bands, p, kind, segment, count);
      if (end && !ever(...beyond(end))) all.push(end);
    }
  }
  if (all.length === 0) return [];
  const widest = Math.max(...bands.segments.map((s) => s.widthM));
  const grid = makePointGrid(Float64Array.from(all.flatMap((e) => [e.meanX, e.meanY])), upTo(all.length), widest);
  return all.flatMap((e) => {
    const slope = slopeBeside(e, all, grid, bands.segments[e.segment].widthM);
    return slope === null ? [] : endsOf(passes, e, slope);
  });
}

/** A place beyond the end of a pass: ground that is covered there, at whatever time, is a headland or the next side of a lap, and not the edge of the field. */
function beyond({ kind, meanX, meanY, rightX, rightY }: PassEnd): [number, number] {
  const m = kind === 'stop' ? BEYOND_M : -BEYOND_M;
  return [meanX - rightY * m, meanY + rightX * m];
}

function passEnd(
  passes: Passes,
  bands: RecordedBands,
  pass: number,
  kind: End['kind'],
  segment: number,
  count: number,
): PassEnd | null {
  const { barStart, passStart, corner } = passes;
  const x = new Float64Array(count);
  const y = new Float64Array(count);
  const bar = new Int32Array(count).fill(-1);
  const [from, to] = [passStart[pass], passStart[pass + 1]];
  const step = kind === 'start' ? 1 : -1;
  let missing = count;
  for (let b = kind === 'start' ? from : to - 1; b >= from && b < to && missing > 0; b += step)
    for (let i = barStart[b]; i < barStart[b + 1]; i++) {
      const slot = bands.slot[i];
      if (slot < 0 || bar[slot] >= 0) continue;
      // Corners: back left, back right, front right, front left.
      const [u, v] = kind === 'stop' ? [2, 3] : [0, 1];
      x[slot] = (corner[8 * i + 2 * u] + corner[8 * i + 2 * v]) / 2;
      y[slot] = (corner[8 * i + 2 * u + 1] + corner[8 * i + 2 * v + 1]) / 2;
      bar[slot] = b;
      missing--;
    }
  if (missing > 0) return null;
  const at = bar[count >> 1];
  const mean = (v: Float64Array): number => v.reduce((s, w) => s + w, 0) / count;
  return {
    pass,
    kind,
    segment,
    x,
    y,
    bar,
    meanX: mean(x),
    meanY: mean(y),
    rightX: passes.right[2 * at],
    rightY: passes.right[2 * at + 1],
  };
}

/** How far ahead the edge of the field lies for each meter to the right, between the ends of the passes on both sides; null without one of them. */
function slopeBeside(e: PassEnd, all: readonly PassEnd[], grid: { near: Near; found: Int32Array }, widthM: number) {
  const beside: ([across: number, ahead: number] | null)[] = [null, null];
  const n = grid.near(e.meanX, e.meanY, AHEAD_WIDTHS * widthM);
  for (let k = 0; k < n; k++) {
    const q = all[grid.found[k]];
    if (q.pass === e.pass || Math.abs(q.rightX * e.rightX + q.rightY * e.rightY) < PARALLEL) continue;
    // The end at which that pass came to the same edge: its stop, where it ran the same way as this one stops.
    const sameWay = q.rightX * e.rightX + q.rightY * e.rightY > 0;
    if ((q.kind === e.kind) !== sameWay) continue;
    const [dx, dy] = [q.meanX - e.meanX, q.meanY - e.meanY];
    const across = dx * e.rightX + dy * e.rightY;
    const ahead = -dx * e.rightY + dy * e.rightX;
    if (Math.abs(across) < BESIDE[0] * widthM || Math.abs(across) > BESIDE[1] * widthM) continue;
    if (Math.abs(ahead) > AHEAD_WIDTHS * widthM) continue;
    const side = across < 0 ? 0 : 1;
    const known = beside[side];
    if (known === null || Math.abs(across) < Math.abs(known[0])) beside[side] = [across, ahead];
  }
  const [left, right] = beside;
  return left === null || right === null ? null : (right[1] - left[1]) / (right[0] - left[0]);
}

type Near = (x: number, y: number, r: number) => number;

function endsOf(passes: Passes, e: PassEnd, slope: number): End[] {
  const sign = e.kind === 'stop' ? 1 : -1;
  return Array.from(e.bar, (b, slot): End => {
    const [dx, dy] = [e.x[slot] - e.meanX, e.y[slot] - e.meanY];
    const across = dx * e.rightX + dy * e.rightY;
    const ahead = -dx * e.rightY + dy * e.rightX;
    const [cx, cy] = [e.x[slot] - passes.center[2 * b], e.y[slot] - passes.center[2 * b + 1]];
    return {
      pass: e.pass,
      slot,
      kind: e.kind,
      overlapM: sign * (ahead - slope * across),
      speedMPerS: Number.NaN,
      ...intervalsAt(passes, e.pass, b, e.kind),
      bar: b,
      corner: false,
      alongM: -cx * passes.right[2 * b + 1] + cy * passes.right[2 * b],
    };
  });
}
