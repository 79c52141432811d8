import { lengthOf } from '../geometry/length.ts';
import { travelOf } from './travel.ts';
import type { Bars, Lanes, Passes } from './types.ts';

/** A bar with more records than this is a pile; a general sort handles it. */
const MANY = 64;

/** Writes bars into `passes`. */
export class BarLayer {
  /** Quads of the current bar, left to right, and how far right each lies. */
  private order = new Uint32Array(64);
  private place = new Float64Array(64);
  /** Sum of the directions of its quads. */
  private alongX = 0;
  private alongY = 0;

  constructor(
    private readonly passes: Passes,
    private readonly lanes: Lanes,
    private readonly bars: Bars,
    private readonly forward: Uint8Array,
  ) {}

  /** Writes bar `bar` as number `b`: its records left to right with their sides across travel. Returns the new fill of the record arrays. */
  lay(b: number, filled: number, bar: number, sign: number): number {
    const n = this.sort(bar, sign);
    const { passes, forward, order } = this;
    const src = this.lanes.quads.corner;
    const { corner, barQuad } = passes;
    const from = filled;
    const agree = this.alongX ** 2 + this.alongY ** 2 > (n - 1) ** 2;
    for (let e = 0; e < n; e++) {
      const q = order[e];
      let k = sign > 0 ? forward[q] : forward[q] ^ 2;
      if (!agree && this.runsAgainst(q, k)) k ^= 2;
      barQuad[filled] = q;
      // Side k runs from the front right to the front left corner; counter-clockwise on from there: back left, back right.
      for (let i = 0; i < 4; i++) {
        const at = 8 * q + 2 * ((k + 2 + i) & 3);
        corner[8 * filled + 2 * i] = src[at];
        corner[8 * filled + 2 * i + 1] = src[at + 1];
      }
      filled++;
    }
    measureBar(passes, b, from, filled);
    return filled;
  }

  /** Whether a quad with front side `k` runs against the others of the bar: a lane of slivers at a slanted edge may have been chained the other way around. */
  private runsAgainst(q: number, k: number): boolean {
    const [ux, uy] = travelOf(this.lanes.quads, q, k);
    return ux * this.alongX + uy * this.alongY < 0;
  }

  /** Puts the quads of the bar into `order`, left to right, and returns how many there are. */
  private sort(bar: number, sign: number): number {
    const { forward } = this;
    const { start, list } = this.bars;
    const { quads } = this.lanes;
    const src = quads.corner;
    const n = start[bar + 1] - start[bar];
    if (n > this.order.length) {
      this.order = new Uint32Array(2 * n);
      this.place = new Float64Array(2 * n);
    }
    const { order, place } = this;
    let ux = 0;
    let uy = 0;
    for (let e = start[bar]; e < start[bar + 1]; e++) {
      const q = list[e];
      const u = travelOf(quads, q, sign > 0 ? forward[q] : forward[q] ^ 2);
      ux += u[0];
      uy += u[1];
    }
    this.alongX = ux;
    this.alongY = uy;
    // Right of travel, roughly; enough to sort by.
    const rx = uy;
    const ry = -ux;
    for (let e = 0; e < n; e++) {
      const q = list[start[bar] + e];
      const o = 8 * q;
      const u =
        (src[o] + src[o + 2] + src[o + 4] + src[o + 6]) * rx + (src[o + 1] + src[o + 3] + src[o + 5] + src[o + 7]) * ry;
      // Insertion sort: a bar holds few records, and a file mostly has them in order or in reverse.
      let k = e - 1;
      for (; n <= MANY && k >= 0 && place[k] > u; k--) {
        place[k + 1] = place[k];
        order[k + 1] = order[k];
      }
      place[k + 1] = u;
      order[k + 1] = q;
    }
    if (n > MANY)
      order.set(
        Array.from({ length: n }, (_, e) => e)
          .sort((a, b) => place[a] - place[b])
          .map((e) => order[e]),
      );
    return n;
  }
}

/** Sides, center, direction and length of bar `b`, whose records are `from` up to `filled`. */
function measureBar(passes: Passes, b: number, from: number, filled: number): void {
  const { corner, leftM, rightM } = passes;
  const l = 8 * from;
  const r = 8 * (filled - 1);
  // Back edge (corners 0 and 1) and front edge (3 and 2) are each measured along their own line, so a turn does not matter.
  const bx = corner[r + 2] - corner[l];
  const by = corner[r + 3] - corner[l + 1];
  const fx = corner[r + 4] - corner[l + 6];
  const fy = corner[r + 5] - corner[l + 7];
  const bl = lengthOf(bx, by);
  const fl = lengthOf(fx, fy);
  for (let i = from; i < filled; i++) {
    const o = 8 * i;
    const bL = ((corner[o] - corner[l]) * bx + (corner[o + 1] - corner[l + 1]) * by) / bl - bl / 2;
    const bR = ((corner[o + 2] - corner[l]) * bx + (corner[o + 3] - corner[l + 1]) * by) / bl - bl / 2;
    const fL = ((corner[o + 6] - corner[l + 6]) * fx + (corner[o + 7] - corner[l + 7]) * fy) / fl - fl / 2;
    const fR = ((corner[o + 4] - corner[l + 6]) * fx + (corner[o + 5] - corner[l + 7]) * fy) / fl - fl / 2;
    leftM[i] = (bL + fL) / 2;
    rightM[i] = (bR + fR) / 2;
  }
  const cx = (corner[l] + corner[l + 6] + corner[r + 2] + corner[r + 4]) / 4;
  const cy = (corner[l + 1] + corner[l + 7] + corner[r + 3] + corner[r + 5]) / 4;
  passes.center[2 * b] = cx;
  passes.center[2 * b + 1] = cy;
  const dx = bx / bl + fx / fl;
  const dy = by / bl + fy / fl;
  const dl = lengthOf(dx, dy);
  passes.right[2 * b] = dx / dl;
  passes.right[2 * b + 1] = dy / dl;
  passes.lengthM[b] = lengthOf(
    (corner[l + 6] + corner[r + 4] - corner[l] - corner[r + 2]) / 2,
    (corner[l + 7] + corner[r + 5] - corner[l + 1] - corner[r + 3]) / 2,
  );
}
