import { lengthOf } from '../geometry/length.ts';
import type { Shapes } from '../geometry/shapes.ts';
import type { Plane } from '../plane/index.ts';
import { findNearRepeats } from './near-repeats.ts';
import { cellBits, SpatialHash } from './spatial-hash.ts';

/**
 * Records, or parts of records, that are four-sided for our purpose, corners counter-clockwise. Side k runs from corner k to corner k + 1.
 * `point` indexes points of the shapes (not numbers); `corner` is in meters, x and y in turn, eight numbers a quad. Quads of one record follow each other.
 */
export interface Quads {
  count: number;
  /** Record of each quad. */
  record: Uint32Array;
  point: Uint32Array;
  corner: Float64Array;
  /** First quad of each record, or -1. */
  ofRecord: Int32Array;
  /** Records that repeat an earlier record, point for point or to within rounding; they have no quad. */
  repeated: Uint32Array;
  /** The earlier record that each of them repeats. */
  repeats: Uint32Array;
  /** Records that are long ribbons or larger shapes: not one log interval. */
  long: Uint32Array;
  /** Records with no four clear corners (slivers, cut corners, holes): they count in areas only. */
  odd: Uint32Array;
}

/** No planter logs an interval longer than this, and none is wider: longer shapes are dissolved passes. Common practice. */
export const LONGEST_SIDE_M = 45;
const SHORTEST_SIDE_M = 0.03;
/** A ring with more points than this is no single quad. */
const MOST_POINTS = 64;

/** Finds the quads among the records of `shapes`: one for each part of a record that holds several parts. `rounded`: records may repeat others with other decimals. */
export function findQuads(shapes: Shapes, plane: Plane, rounded = false): Quads {
  const n = shapes.shapeStart.length - 1;
  const room = shapes.ringStart.length - 1;
  const record = new Uint32Array(room);
  const point = new Uint32Array(4 * room);
  const corner = new Float64Array(8 * room);
  const ofRecord = new Int32Array(n).fill(-1);
  const long: number[] = [];
  const odd: number[] = [];
  const { repeated, repeats, isRepeat } = findRepeats(shapes);
  if (rounded) addNear(shapes, plane, { repeated, repeats, isRepeat });
  const stepM = 1 / Math.min(...plane.stepsPerMeter);
  let count = 0;
  let meters = new Float64Array(64);
  const pick = new Int32Array(MOST_POINTS);
  for (let r = 0; r < n; r++) {
    if (isRepeat[r]) continue;
    const before = count;
    let kind: Kind = 'quad';
    for (let ring = shapes.shapeStart[r]; ring < shapes.shapeStart[r + 1] && kind === 'quad'; ring++) {
      const first = shapes.ringStart[ring];
      const last = shapes.ringStart[ring + 1];
      const points = last - first;
      if (2 * points > meters.length) meters = new Float64Array(4 * points);
      plane.toMeters(shapes.xy, first, last, meters);
      kind = kindOf(meters, points, pick, stepM);
      if (kind !== 'quad') break;
      const p = 4 * count;
      for (let k = 0; k < 4; k++) {
        point[p + k] = first + pick[k];
        corner[2 * (p + k)] = meters[2 * pick[k]];
        corner[2 * (p + k) + 1] = meters[2 * pick[k] + 1];
      }
      record[count++] = r;
    }
    if (kind === 'quad') ofRecord[r] = before;
    else {
      count = before;
      (kind === 'long' ? long : odd).push(r);
    }
  }
  return {
    count,
    record: record.subarray(0, count),
    point: point.subarray(0, 4 * count),
    corner: corner.subarray(0, 8 * count),
    ofRecord,
    repeated: Uint32Array.from(repeated),
    repeats: Uint32Array.from(repeats),
    long: Uint32Array.from(long),
    odd: Uint32Array.from(odd),
  };
}

type Kind = 'quad' | 'long' | 'odd';

/** What a ring is; the indexes of its corners go into `pick`. */
function kindOf(m: Float64Array, points: number, pick: Int32Array, stepM: number): Kind {
  if (reach(m, points) > LONGEST_SIDE_M * 1.4) return 'long';
  if (points < 4 || points > MOST_POINTS || !fourCorners(m, points, pick, stepM)) return 'odd';
  return longestSide(m, pick) > LONGEST_SIDE_M ? 'long' : 'quad';
}

function longestSide(m: Float64Array, pick: Int32Array): number {
  let most = 0;
  for (let k = 0; k < 4; k++) {
    const a = 2 * pick[k];
    const b = 2 * pick[(k + 1) & 3];
    most = Math.max(most, lengthOf(m[b] - m[a], m[b + 1] - m[a + 1]));
  }
  return most;
}

function reach(m: Float64Array, points: number): number {
  let minX = Infinity;
  let maxX = -Infinity;
  let minY = Infinity;
  let maxY = -Infinity;
  for (let i = 0; i < points; i++) {
    const x = m[2 * i];
    const y = m[2 * i + 1];
    if (x < minX) minX = x;
    if (x > maxX) maxX = x;
    if (y < minY) minY = y;
    if (y > maxY) maxY = y;
  }
  return Math.max(maxX - minX, maxY - minY);
}

/**
 * Index of the four corners of a ring in `pick`, which has room for all its points; false when four corners do not describe it. Points that
 * span the least ground with their neighbors are left out until four stay (Visvalingam and Whyatt, "Line generalisation by repeated elimination of points", 1993).
 */
function fourCorners(m: Float64Array, points: number, pick: Int32Array, stepM: number): boolean {
  for (let i = 0; i < points; i++) pick[i] = i;
  if (points > 4) {
    for (let left = points; left > 4; left--) {
      let least = Infinity;
      let at = 0;
      for (let i = 0; i < left; i++) {
        const a = 2 * pick[(i + left - 1) % left];
        const b = 2 * pick[i];
        const c = 2 * pick[(i + 1) % left];
        const area = Math.abs((m[b] - m[a]) * (m[c + 1] - m[a + 1]) - (m[b + 1] - m[a + 1]) * (m[c] - m[a]));
        if (area < least) {
          least = area;
          at = i;
        }
      }
      for (let i = at; i + 1 < left; i++) pick[i] = pick[i + 1];
    }
    const whole = Math.abs(ringArea(m, points, null));
    const quad = Math.abs(ringArea(m, 4, pick));
    // A point on a side is rounded to the lattice, which shifts the side by half a step at most.
    let round = 0;
    for (let k = 0; k < 4; k++) {
      const [a, b] = [2 * pick[k], 2 * pick[(k + 1) & 3]];
      round += lengthOf(m[b] - m[a], m[b + 1] - m[a + 1]);
    }
    if (Math.abs(whole - quad) > 0.02 * whole + 0.5 * stepM * round) return false;
  }
  let turns = 0;
  for (let k = 0; k < 4; k++) {
    const a = pick[k];
    const b = pick[(k + 1) & 3];
    const c = pick[(k + 2) & 3];
    const ux = m[2 * b] - m[2 * a];
    const uy = m[2 * b + 1] - m[2 * a + 1];
    const vx = m[2 * c] - m[2 * b];
    const vy = m[2 * c + 1] - m[2 * b + 1];
    if (ux * ux + uy * uy < SHORTEST_SIDE_M * SHORTEST_SIDE_M) return false;
    if (ux * vy - uy * vx > 0) turns++;
  }
  return turns === 4;
}

function ringArea(m: Float64Array, points: number, pick: Int32Array | null): number {
  let a = 0;
  for (let k = 0; k < points; k++) {
    const i = pick ? pick[k] : k;
    const j = pick ? pick[(k + 1) % points] : (k + 1) % points;
    a += m[2 * i] * m[2 * j + 1] - m[2 * j] * m[2 * i + 1];
  }
  return a / 2;
}

interface Repeats {
  repeated: number[];
  repeats: number[];
  isRepeat: Uint8Array;
}

/** Adds records that repeat an earlier one to within rounding, in the order of the file. */
function addNear(shapes: Shapes, plane: Plane, out: Repeats): void {
  const near = findNearRepeats(shapes, plane.stepsPerMeter, out.isRepeat);
  if (near.repeated.length === 0) return;
  const all = [...out.repeated, ...near.repeated].map((r, k) => [r, [...out.repeats, ...near.repeats][k]]);
  all.sort((a, b) => a[0] - b[0]);
  out.repeated.splice(0, Infinity, ...all.map(([r]) => r));
  out.repeats.splice(0, Infinity, ...all.map(([, o]) => o));
  for (const r of near.repeated) out.isRepeat[r] = 1;
}

/** Records whose points are those of an earlier record, whichever point comes first. */
function findRepeats(shapes: Shapes): Repeats {
  const n = shapes.shapeStart.length - 1;
  const table = new SpatialHash(n);
  const { slots } = table;
  const hash = new Int32Array(n);
  const isRepeat = new Uint8Array(n);
  const repeated: number[] = [];
  const repeats: number[] = [];
  const { xy, ringStart, shapeStart } = shapes;
  const bits = cellBits(4 * usualSize(shapes));
  for (let r = 0; r < n; r++) {
    const from = ringStart[shapeStart[r]];
    const to = ringStart[shapeStart[r + 1]];
    let h = (to - from) | 0;
    let sumX = 0;
    let sumY = 0;
    for (let i = from; i < to; i++) {
      const x = xy[2 * i];
      const y = xy[2 * i + 1];
      let g = Math.imul(x, 0x9e3779b1) ^ Math.imul(y, 0x85ebca6b);
      g = Math.imul(g ^ (g >>> 15), 0x2c1b3c6d);
      // Sums do not care which point comes first.
      h = (h + (g ^ (g >>> 12))) | 0;
      sumX = (sumX + x) | 0;
      sumY = (sumY + y) | 0;
    }
    hash[r] = h;
    let slot = table.first(sumX >> bits, sumY >> bits, h);
    for (let step = 1; ; step++) {
      const other = slots[slot];
      if (other < 0) {
        slots[slot] = r;
        break;
      }
      if (hash[other] === h && samePoints(shapes, other, r)) {
        isRepeat[r] = 1;
        repeated.push(r);
        repeats.push(other);
        break;
      }
      slot = table.next(slot, step, h);
    }
  }
  return { repeated, repeats, isRepeat };
}

/** Mean half of the way round a record, lattice steps along x and y together, of some thousand records. */
function usualSize({ xy, ringStart, shapeStart }: Shapes): number {
  const records = shapeStart.length - 1;
  const every = Math.max(1, Math.floor(records / 1024));
  let sum = 0;
  let n = 0;
  for (let r = 0; r < records; r += every, n++) {
    const from = ringStart[shapeStart[r]];
    for (let i = from + 1; i < ringStart[shapeStart[r] + 1]; i++)
      sum += (Math.abs(xy[2 * i] - xy[2 * i - 2]) + Math.abs(xy[2 * i + 1] - xy[2 * i - 1])) / 2;
  }
  return n > 0 ? sum / n : 1;
}

function samePoints(s: Shapes, a: number, b: number): boolean {
  const a0 = s.ringStart[s.shapeStart[a]];
  const b0 = s.ringStart[s.shapeStart[b]];
  const n = s.ringStart[s.shapeStart[a + 1]] - a0;
  if (n !== s.ringStart[s.shapeStart[b + 1]] - b0) return false;
  for (let shift = 0; shift < n; shift++) {
    if (s.xy[2 * (b0 + shift)] !== s.xy[2 * a0] || s.xy[2 * (b0 + shift) + 1] !== s.xy[2 * a0 + 1]) continue;
    let same = true;
    for (let i = 1; i < n && same; i++) {
      const j = b0 + ((shift + i) % n);
      same = s.xy[2 * (a0 + i)] === s.xy[2 * j] && s.xy[2 * (a0 + i) + 1] === s.xy[2 * j + 1];
    }
    if (same) return true;
  }
  return false;
}
