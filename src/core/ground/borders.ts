import { EdgeGrid } from '../geometry/edgegrid.ts';
import { lengthOf } from '../geometry/length.ts';
import type { Chords } from './chords.ts';

/** A chord whose edge lies within this of a border runs along it, meters. */
const BESIDE_M = 0.02;
/** Borders are looked at in steps of this, meters. */
const STEP_M = 1;

/** Which line's chords run along most of the way around a piece of ground. */
export class Borders {
  private readonly grid: EdgeGrid;
  private readonly xy: Float64Array;

  /** `line` gives the line of each of the chords in `list`. */
  constructor(
    private readonly list: readonly number[],
    chords: Chords,
    private readonly line: Int32Array,
  ) {
    this.xy = new Float64Array(16 * list.length);
    const { xy } = this;
    let at = 0;
    for (const c of list)
      for (let i = 0; i < 8; i += 2) {
        const n = (i + 2) & 7;
        xy[at++] = chords.quad[8 * c + i];
        xy[at++] = chords.quad[8 * c + i + 1];
        xy[at++] = chords.quad[8 * c + n];
        xy[at++] = chords.quad[8 * c + n + 1];
      }
    this.grid = new EdgeGrid(this.xy, 4 * list.length);
  }

  /** The line along most of the ring, -1 where none is; x and y in turn, meters. */
  along(ring: Float64Array): number {
    const beside = new Map<number, number>();
    for (let k = 0; k < ring.length; k += 2) {
      const n = (k + 2) % ring.length;
      const [dx, dy] = [ring[n] - ring[k], ring[n + 1] - ring[k + 1]];
      const lengthM = lengthOf(dx, dy);
      const parts = Math.ceil(lengthM / STEP_M);
      for (let s = 0; s < parts; s++) {
        const t = (s + 0.5) / parts;
        const own = this.at(ring[k] + dx * t, ring[k + 1] + dy * t);
        if (own >= 0) beside.set(own, (beside.get(own) ?? 0) + lengthM / parts);
      }
    }
    let best = -1;
    for (const [own, lengthM] of beside)
      if (best < 0 || lengthM > beside.get(best)! || (lengthM === beside.get(best) && own < best)) best = own;
    return best;
  }

  /** Line of the nearest edge of a chord. */
  private at(x: number, y: number): number {
    const n = this.grid.near(x - BESIDE_M, y - BESIDE_M, x + BESIDE_M, y + BESIDE_M);
    let nearest = BESIDE_M;
    let best = -1;
    for (let k = 0; k < n; k++) {
      const e = this.grid.found[k];
      const d = distance(this.xy, 4 * e, x, y);
      if (d > nearest) continue;
      nearest = d;
      best = this.line[this.list[e >> 2]];
    }
    return best;
  }
}

/** From a point to the edge whose four numbers begin at `at`. */
export function distance(xy: Float64Array, at: number, x: number, y: number): number {
  const [ax, ay] = [xy[at] - x, xy[at + 1] - y];
  const [dx, dy] = [xy[at + 2] - xy[at], xy[at + 3] - xy[at + 1]];
  const l = dx * dx + dy * dy;
  const t = l > 0 ? Math.max(0, Math.min(1, -(ax * dx + ay * dy) / l)) : 0;
  return lengthOf(ax + t * dx, ay + t * dy);
}
