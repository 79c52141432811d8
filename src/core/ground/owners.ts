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

/** Which pass laid down the ground at a point, and which way it ran there. */
export class Owners {
  /** Passes (counted from 1) and bars over the point of the last search; a pass may appear several times. */
  readonly pass: number[] = [];
  readonly bar: number[] = [];
  private readonly grid: PointGrid;
  private readonly passOf: Uint32Array;
  private readonly reachM: number;

  /** `laid` are the quads of the picture, on the bars of `passes`. */
  constructor(
    private readonly passes: PassGround,
    private readonly laid: LaidQuads,
  ) {
    const { bars, passStart } = passes;
    const { corner } = laid;
    const n = corner.length / 8;
    this.passOf = new Uint32Array(bars);
    for (let p = 0; p + 1 < passStart.length; p++) this.passOf.fill(p + 1, passStart[p], passStart[p + 1]);
    const middle = new Float64Array(2 * n);
    let reach = 0;
    for (let i = 0; i < n; i++) {
      const x = (corner[8 * i] + corner[8 * i + 2] + corner[8 * i + 4] + corner[8 * i + 6]) / 4;
      const y = (corner[8 * i + 1] + corner[8 * i + 3] + corner[8 * i + 5] + corner[8 * i + 7]) / 4;
      middle[2 * i] = x;
      middle[2 * i + 1] = y;
      for (let k = 0; k < 8; k += 2)
        reach = Math.max(reach, lengthOf(corner[8 * i + k] - x, corner[8 * i + k + 1] - y));
    }
    this.reachM = reach;
    this.grid = makePointGrid(middle, upTo(n), Math.max(1, reach));
  }

  /** Every record of a bar over the point (meters on the plane); returns how many. */
  at(x: number, y: number): number {
    const { corner, bar } = this.laid;
    this.pass.length = 0;
    this.bar.length = 0;
    const n = this.grid.near(x, y, this.reachM);
    for (let k = 0; k < n; k++) {
      const i = this.grid.found[k];
      if (!isInside(corner, 8 * i, x, y)) continue;
      this.bar.push(bar[i]);
      this.pass.push(this.passOf[bar[i]]);
    }
    return this.pass.length;
  }

  /** Cosine between a direction and the travel of bar `b`, without sign: 1 along travel, 0 across it. */
  alongTravel(b: number, dx: number, dy: number): number {
    const { right } = this.passes;
    return Math.abs(dx * -right[2 * b + 1] + dy * right[2 * b]) / lengthOf(dx, dy);
  }
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
