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

  /** `line` gives the line of each of the chords in `list`. */
  constructor(
    private readonly list: readonly number[],
    private readonly chords: Chords,
    private readonly line: Int32Array,
  ) {
    // The box of a chord by its diagonal: a quarter of what its four edges would take.
    const boxes = new Float64Array(4 * list.length);
    const { quad } = chords;
    for (let k = 0; k < list.length; k++) {
      const at = 8 * list[k];
      for (let i = 0; i < 2; i++) {
        boxes[4 * k + i] = Math.min(quad[at + i], quad[at + i + 2], quad[at + i + 4], quad[at + i + 6]);
        boxes[4 * k + i + 2] = Math.max(quad[at + i], quad[at + i + 2], quad[at + i + 4], quad[at + i + 6]);
      }
    }
    this.grid = new EdgeGrid(boxes, list.length);
  }

  /** The line along most of the ring, -1 where none is; x and y in turn, meters. */
  along(ring: Float64Array): number {
    const alongM = new Map<number, number>();
    for (let k = 0; k < ring.length; k += 2) {
      const n = (k + 2) % ring.length;
      const dx = ring[n] - ring[k];
      const dy = ring[n + 1] - ring[k + 1];
      const lengthM = lengthOf(dx, dy);
      const parts = Math.ceil(lengthM / STEP_M);
      for (let s = 0; s < parts; s++) {
        const t = (s + 0.5) / parts;
        const own = this.at(ring[k] + dx * t, ring[k + 1] + dy * t);
        if (own >= 0) alongM.set(own, (alongM.get(own) ?? 0) + lengthM / parts);
      }
    }
    let best = -1;
    for (const [own, lengthM] of alongM)
      if (best < 0 || lengthM > alongM.get(best)! || (lengthM === alongM.get(best) && own < best)) best = own;
    return best;
  }

  /** Line of the nearest edge of a chord. */
  private at(x: number, y: number): number {
    const n = this.grid.near(x - BESIDE_M, y - BESIDE_M, x + BESIDE_M, y + BESIDE_M);
    let nearest = BESIDE_M;
    let best = -1;
    for (let k = 0; k < n; k++) {
      const c = this.list[this.grid.found[k]];
      const d = beside(this.chords.quad, 8 * c, x, y);
      if (d > nearest) continue;
      nearest = d;
      best = this.line[c];
    }
    return best;
  }
}

/** From a point to the nearest edge of the quad whose eight numbers begin at `from`. */
function beside(quad: Float64Array, from: number, x: number, y: number): number {
  let least = Infinity;
  for (let i = 0; i < 8; i += 2) {
    const n = (i + 2) & 7;
    const d = toEdge(quad[from + i], quad[from + i + 1], quad[from + n], quad[from + n + 1], x, y);
    if (d < least) least = d;
  }
  return least;
}

/** From a point to the edge whose four numbers begin at `at`. */
export function distance(xy: Float64Array, at: number, x: number, y: number): number {
  return toEdge(xy[at], xy[at + 1], xy[at + 2], xy[at + 3], x, y);
}

function toEdge(x0: number, y0: number, x1: number, y1: number, x: number, y: number): number {
  const ax = x0 - x;
  const ay = y0 - y;
  const dx = x1 - x0;
  const dy = y1 - y0;
  const l = dx * dx + dy * dy;
  const t = l > 0 ? Math.max(0, Math.min(1, -(ax * dx + ay * dy) / l)) : 0;
  return lengthOf(ax + t * dx, ay + t * dy);
}
