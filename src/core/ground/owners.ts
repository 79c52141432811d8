import { makePointGrid, type PointGrid, upTo } from '../geometry/grid.ts';
import { lengthOf } from '../geometry/length.ts';
import type { Passes } from '../track/types.ts';

/** What ground depends on of the passes: a worker that measures it gets no more. */
export type PassGround = Pick<Passes, 'bars' | 'passStart' | 'barStart' | 'center' | 'right' | 'corner'>;

/** Quads of a picture in meters, eight numbers each, and the bar that laid each of them down. */
export interface LaidQuads {
  corner: Float64Array;
  bar: Uint32Array;
}

/** The records of the bars as quads. */
export function recordedQuads({ corner, barStart, bars }: PassGround): LaidQuads {
  const bar = new Uint32Array(corner.length / 8);
  for (let b = 0; b < bars; b++) bar.fill(b, barStart[b], barStart[b + 1]);
  return { corner, bar };
}

/** The quads of a picture, found by their middles. */
interface Search extends LaidQuads {
  grid: PointGrid;
  /** Pass of each bar, counted from 1. */
  passOf: Uint32Array;
  reachM: number;
}

/** Which pass laid down the ground at a point, and which way it ran there. Built when it is first asked: where nothing is open or covered twice nobody does. */
export class Owners {
  /** Passes (counted from 1) and bars over the point of the last search; a pass may appear several times. */
  readonly pass: number[] = [];
  readonly bar: number[] = [];
  private search: Search | null = null;
  private turning: Uint8Array | null = null;

  /** `lay` gives the quads of the picture, on the bars of `passes`. */
  constructor(
    private readonly passes: PassGround,
    private readonly lay: () => LaidQuads,
  ) {}

  /** Every record of a bar over the point (meters on the plane); returns how many. */
  at(x: number, y: number): number {
    this.search ??= searchOf(this.passes, this.lay());
    const { corner, bar, grid, passOf, reachM } = this.search;
    this.pass.length = 0;
    this.bar.length = 0;
    const n = grid.near(x, y, reachM);
    for (let k = 0; k < n; k++) {
      const i = grid.found[k];
      if (!isInside(corner, 8 * i, x, y)) continue;
      this.bar.push(bar[i]);
      this.pass.push(passOf[bar[i]]);
    }
    return this.pass.length;
  }

  /** Whether its pass turns in bar `b`. */
  isTurning(b: number): boolean {
    this.turning ??= turningBars(this.passes);
    return this.turning[b] === 1;
  }

  /** Cosine between a direction and the travel of bar `b`, without sign: 1 along travel, 0 across it. */
  alongTravel(b: number, dx: number, dy: number): number {
    const { right } = this.passes;
    return Math.abs(dx * -right[2 * b + 1] + dy * right[2 * b]) / lengthOf(dx, dy);
  }
}

function searchOf({ bars, passStart }: PassGround, { corner, bar }: LaidQuads): Search {
  const n = corner.length / 8;
  const passOf = new Uint32Array(bars);
  for (let p = 0; p + 1 < passStart.length; p++) passOf.fill(p + 1, passStart[p], passStart[p + 1]);
  const middle = new Float64Array(2 * n);
  let reachM = 0;
  for (let i = 0; i < n; i++) {
    const x = (corner[8 * i] + corner[8 * i + 2] + corner[8 * i + 4] + corner[8 * i + 6]) / 4;
    const y = (corner[8 * i + 1] + corner[8 * i + 3] + corner[8 * i + 5] + corner[8 * i + 7]) / 4;
    middle[2 * i] = x;
    middle[2 * i + 1] = y;
    for (let k = 0; k < 8; k += 2)
      reachM = Math.max(reachM, lengthOf(corner[8 * i + k] - x, corner[8 * i + k + 1] - y));
  }
  return { corner, bar, grid: makePointGrid(middle, upTo(n), Math.max(1, reachM)), passOf, reachM };
}

/** A pass turns where its heading changes by more than this over so much travel ahead and behind: tighter than any contour that is farmed (cosine of 20 degrees; meters). */
const TURNS = Math.cos((20 * Math.PI) / 180);
const TURNS_OVER_M = 6;

/** 1 for each bar in a turn. */
function turningBars({ bars, passStart, center, right }: PassGround): Uint8Array {
  const out = new Uint8Array(bars);
  const apartM = (a: number, b: number): number =>
    lengthOf(center[2 * b] - center[2 * a], center[2 * b + 1] - center[2 * a + 1]);
  for (let p = 0; p + 1 < passStart.length; p++) {
    const [first, end] = [passStart[p], passStart[p + 1]];
    let [behind, ahead] = [first, first];
    for (let b = first; b < end; b++) {
      while (behind < b && apartM(behind + 1, b) >= TURNS_OVER_M) behind++;
      ahead = Math.max(ahead, b);
      while (ahead + 1 < end && apartM(b, ahead) < TURNS_OVER_M) ahead++;
      const cos = right[2 * behind] * right[2 * ahead] + right[2 * behind + 1] * right[2 * ahead + 1];
      if (cos < TURNS) out[b] = 1;
    }
  }
  return out;
}

/** Counter-clockwise convex quad, from any corner. */
function isInside(c: Float64Array, at: number, x: number, y: number): boolean {
  let sign = 0;
  for (let k = 0; k < 8; k += 2) {
    const n = (k + 2) & 7;
    const cross = (c[at + n] - c[at + k]) * (y - c[at + k + 1]) - (c[at + n + 1] - c[at + k + 1]) * (x - c[at + k]);
    if (cross === 0) continue;
    const s = cross > 0 ? 1 : -1;
    if (sign !== 0 && s !== sign) return false;
    sign = s;
  }
  return true;
}
