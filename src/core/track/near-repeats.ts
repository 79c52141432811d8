import { makePointGrid } from '../geometry/grid.ts';
import { lengthOf } from '../geometry/length.ts';
import type { Shapes } from '../geometry/shapes.ts';

/** Two exports of one record differ by no more than this, meters: decimals cut off at a millionth of a degree move a point by up to 8 cm, in either file. */
const SAME_M = 0.12;
/** And by no more than this part of its shorter way across: what is left of a record that was cut at a switch may be as narrow as the tolerance. */
const SAME_PART = 0.25;
/** A record lies on another where their middles are no further apart than this, meters, or than this part of its shorter side: less than half a log interval, so that neighbors along a pass do not. */
const ON_M = 0.25;
const ON_PART = 0.45;
/** Part of the records that lie on another that must lie there point for point: two plantings along one line were logged at other instants. */
const LEAST_ALIKE = 0.8;
/** Records that are looked at first, and the fewest of them that a second export repeats. */
const LOOKED_AT = 2000;
const FEWEST = 10;

/** Middle of a record's first ring, the longer of its width and height, and how far from there others lie on it; meters. */
interface Middles {
  /** x and y in turn. */
  xy: Float64Array;
  sizeM: Float64Array;
  onM: Float64Array;
}

/**
 * Records whose points lie within a few centimeters of those of an earlier record: a second export of the same records with other decimals. `isRepeat` marks those that repeat one exactly,
 * which are not asked. Nothing where records lie on one another by chance, or by a replant. Two lists of the same length: the record, and the earlier one that it repeats.
 */
export function findNearRepeats(
  shapes: Shapes,
  stepsPerMeter: readonly [number, number],
  isRepeat: Uint8Array,
): { repeated: number[]; repeats: number[] } {
  const n = shapes.shapeStart.length - 1;
  const none = { repeated: [], repeats: [] };
  if (n < 2 * FEWEST) return none;
  const middles = middlesOf(shapes, stepsPerMeter);
  const own = (_: unknown, r: number): boolean => isRepeat[r] === 0;
  const all = Array.from({ length: n }, (_, r) => r).filter(own);
  const stride = Math.max(1, Math.floor(all.length / LOOKED_AT));
  const some = underSome(
    middles,
    all.filter((_, k) => k % stride === 0),
  );
  // Of the records that are looked at: those that lie on another, and those that lie there point for point.
  const on = new Set<number>();
  const alike = new Set<number>();
  for (const r of all) {
    const under = some(r);
    if (under === null) return none;
    for (const o of under) {
      on.add(o);
      if (isAlike(shapes, stepsPerMeter, r, o)) alike.add(o);
    }
  }
  if (alike.size < FEWEST || alike.size < LEAST_ALIKE * on.size) return none;
  const every = underSome(middles, all);
  const repeated: number[] = [];
  const repeats: number[] = [];
  const isLater = new Uint8Array(n);
  for (const r of all) {
    const under = every(r);
    if (under === null) return none;
    const first = under.find((o) => o < r && isLater[o] === 0 && isAlike(shapes, stepsPerMeter, r, o));
    if (first === undefined) continue;
    isLater[r] = 1;
    repeated.push(r);
    repeats.push(first);
  }
  return { repeated, repeats };
}

function middlesOf({ xy, ringStart, shapeStart }: Shapes, [sx, sy]: readonly [number, number]): Middles {
  const n = shapeStart.length - 1;
  const out: Middles = {
    xy: new Float64Array(2 * n),
    sizeM: new Float64Array(n),
    onM: new Float64Array(n).fill(ON_M),
  };
  for (let r = 0; r < n; r++) {
    const [from, to] = [ringStart[shapeStart[r]], ringStart[shapeStart[r] + 1]];
    let [left, right, low, high] = [Infinity, -Infinity, Infinity, -Infinity];
    for (let i = from; i < to; i++) {
      left = Math.min(left, xy[2 * i]);
      right = Math.max(right, xy[2 * i]);
      low = Math.min(low, xy[2 * i + 1]);
      high = Math.max(high, xy[2 * i + 1]);
    }
    out.xy[2 * r] = (left + right) / 2 / sx;
    out.xy[2 * r + 1] = (low + high) / 2 / sy;
    out.sizeM[r] = Math.max((right - left) / sx, (high - low) / sy);
    if (to - from !== 4) continue;
    let leastM = Infinity;
    for (let i = from, j = to - 1; i < to; j = i++)
      leastM = Math.min(leastM, lengthOf((xy[2 * i] - xy[2 * j]) / sx, (xy[2 * i + 1] - xy[2 * j + 1]) / sy));
    out.onM[r] = Math.max(ON_M, ON_PART * leastM);
  }
  return out;
}

/** Side of a cell, meters. */
const CELL_M = 2;
/** Looks from one record at others that a map may take: where very much lies on one spot, nothing is a second export. */
const LOOKS_EACH = 100;

/** Finds, of `records`, those that record `r` lies on, rising; null once more was looked at than real maps take. */
function underSome(m: Middles, records: readonly number[]): (r: number) => number[] | null {
  const { xy, sizeM, onM } = m;
  const grid = makePointGrid(xy, Uint32Array.from(records), CELL_M);
  let left = LOOKS_EACH * sizeM.length;
  return (r) => {
    const withinM = onM[r];
    const n = grid.near(xy[2 * r], xy[2 * r + 1], withinM);
    left -= n;
    if (left < 0) return null;
    if (n === 0) return [];
    const lies = (o: number): boolean =>
      o !== r &&
      lengthOf(xy[2 * o] - xy[2 * r], xy[2 * o + 1] - xy[2 * r + 1]) <= withinM &&
      Math.abs(sizeM[o] - sizeM[r]) <= 2 * withinM;
    return Array.from(grid.found.subarray(0, n))
      .filter(lies)
      .sort((p, q) => p - q);
  };
}

/** Whether every point of record `a` lies beside one of `b`, ring by ring and in order. */
function isAlike(s: Shapes, stepsPerMeter: readonly [number, number], a: number, b: number): boolean {
  const [a0, b0] = [s.shapeStart[a], s.shapeStart[b]];
  const rings = s.shapeStart[a + 1] - a0;
  if (rings !== s.shapeStart[b + 1] - b0) return false;
  for (let k = 0; k < rings; k++) if (!isRingAlike(s, stepsPerMeter, a0 + k, b0 + k)) return false;
  return true;
}

function isRingAlike(s: Shapes, [sx, sy]: readonly [number, number], a: number, b: number): boolean {
  const [a0, b0] = [s.ringStart[a], s.ringStart[b]];
  const n = s.ringStart[a + 1] - a0;
  if (n !== s.ringStart[b + 1] - b0) return false;
  const apartM = (i: number, j: number): number =>
    lengthOf((s.xy[2 * i] - s.xy[2 * j]) / sx, (s.xy[2 * i + 1] - s.xy[2 * j + 1]) / sy);
  let leastM = Infinity;
  for (let i = 0; i < n; i++) leastM = Math.min(leastM, apartM(a0 + i, a0 + ((i + 1) % n)));
  // A point that was put into a side, or a record shorter than the tolerance, does not tell two records apart.
  const withinM = n === 4 ? Math.min(SAME_M, SAME_PART * leastM) : SAME_M;
  for (let shift = 0; shift < n; shift++) {
    let k = 0;
    while (k < n && apartM(a0 + k, b0 + ((shift + k) % n)) <= withinM) k++;
    if (k === n) return true;
  }
  return false;
}
