import { type Polygons, union } from '../coverage/index.ts';
import { EdgeGrid } from '../geometry/edgegrid.ts';
import { grown } from '../geometry/grown.ts';
import { lengthOf } from '../geometry/length.ts';
import { joinShapes } from '../geometry/shapes.ts';
import { distance } from './borders.ts';
import type { Chords } from './chords.ts';
import { finenessOf, finer, quadsOf, scaled } from './draw.ts';
import type { Edges } from './edges.ts';
import type { Ground } from './types.ts';

/** Connected pieces of ground, and how much of the way around each is open. */
export interface Pieces {
  /** Piece of each of the chords that were drawn; -1 for none. */
  pieceOf: Int32Array;
  /** Length along edges for each piece, and the widths of its mouths from wall to wall, meters. */
  shutM: number[];
  mouths: number[][];
}

/** Outlines that lie along no one edge are looked at in steps of this, meters. */
const LOOK_M = 0.25;

/**
 * Draws the ground under the chords in `list`, with what they enclose. Cracks between chords as narrow as a slit are shut: along walls that bend by a degree no chord sees
 * them. A mouth as wide as a slit is none.
 */
export function drawPieces(
  list: readonly number[],
  enclosed: Polygons,
  chords: Chords,
  edges: Edges,
  slitM: number,
  g: Ground,
): Pieces {
  const factor = finenessOf(g);
  const quads = quadsOf(list, chords.quad, g, slitM / 2);
  const drawn = scaled(union(joinShapes([quads, finer(enclosed, factor)])), 1 / factor);
  const meters = new Float64Array(drawn.xy.length);
  g.plane.toMeters(drawn.xy, 0, meters.length / 2, meters);
  const walls = new Walls(edges, slitM);
  const out: Pieces = { pieceOf: new Int32Array(list.length), shutM: [], mouths: [] };
  const points = meters.length / 2;
  const outline = new Float64Array(4 * points);
  const owner = new Uint32Array(points);
  for (let i = 0; i + 1 < drawn.polygonStart.length; i++) {
    out.shutM.push(0);
    out.mouths.push([]);
    for (let r = drawn.polygonStart[i]; r < drawn.polygonStart[i + 1]; r++) {
      const [first, end] = [drawn.ringStart[r], drawn.ringStart[r + 1]];
      out.shutM[i] += walls.along(meters.subarray(2 * first, 2 * end), out.mouths[i]);
      for (let k = first, q = end - 1; k < end; q = k++) {
        outline.set(meters.subarray(2 * q, 2 * q + 2), 4 * k);
        outline.set(meters.subarray(2 * k, 2 * k + 2), 4 * k + 2);
        owner[k] = i;
      }
    }
  }
  const grid = new EdgeGrid(outline, points);

  list.forEach((c, k) => {
    const [x, y] = [0, 1].map((at) => (chords.quad[8 * c + at] + chords.quad[8 * c + 2 + at]) / 2);
    const e = nearest(grid, outline, x, y, slitM);
    out.pieceOf[k] = e < 0 ? -1 : owner[e];
  });
  return out;
}

/** The parts of one ring, each up to where the next begins; a ring may have a million. */
class Looks {
  count = 0;
  shut = new Uint8Array(64);
  private xy = new Float64Array(128);

  add(x: number, y: number, shut: boolean): void {
    if (this.count === this.shut.length) {
      this.shut = grown(this.shut, 2 * this.count);
      this.xy = grown(this.xy, 4 * this.count);
    }
    this.xy[2 * this.count] = x;
    this.xy[2 * this.count + 1] = y;
    this.shut[this.count++] = shut ? 1 : 0;
  }

  /** From where one part begins to where another does, counted around the ring, meters. */
  across(from: number, to: number): number {
    const [a, b] = [2 * (from % this.count), 2 * (to % this.count)];
    return lengthOf(this.xy[b] - this.xy[a], this.xy[b + 1] - this.xy[a + 1]);
  }
}

/** The edges around wide ground. */
class Walls {
  private readonly xy: Float64Array;
  private readonly grid: EdgeGrid;
  private readonly looks = new Looks();

  constructor(
    { xy, wholeEdges, openEdges }: Edges,
    private readonly besideM: number,
  ) {
    this.xy = xy.subarray(4 * wholeEdges, 4 * openEdges);
    this.grid = new EdgeGrid(this.xy, openEdges - wholeEdges);
  }

  /** How much of a ring (x and y in turn) lies along edges, meters; the widths of what lies between are added to `mouths`. */
  along(ring: Float64Array, mouths: number[]): number {
    const { looks } = this;
    looks.count = 0;
    for (let k = 0, q = ring.length - 2; k < ring.length; q = k, k += 2) {
      const [ax, ay, bx, by] = [ring[q], ring[q + 1], ring[k], ring[k + 1]];
      if (this.isBeside(ax, ay, bx, by)) {
        looks.add(ax, ay, true);
        continue;
      }
      const parts = Math.max(1, Math.ceil(lengthOf(bx - ax, by - ay) / LOOK_M));
      for (let s = 0; s < parts; s++) {
        const [t, u] = [s / parts, (s + 1) / parts];
        const [x0, y0, x1, y1] = [ax + (bx - ax) * t, ay + (by - ay) * t, ax + (bx - ax) * u, ay + (by - ay) * u];
        looks.add(x0, y0, parts > 1 && this.isBeside(x0, y0, x1, y1));
      }
    }
    let aroundM = 0;
    let shutM = 0;
    let first = -1;
    for (let k = 0; k < looks.count; k++) {
      const lengthM = looks.across(k, k + 1);
      aroundM += lengthM;
      if (looks.shut[k] === 0) continue;
      shutM += lengthM;
      if (first < 0) first = k;
    }
    if (first < 0) {
      mouths.push(aroundM);
      return 0;
    }
    for (let k = 1, from = -1; k <= looks.count; k++) {
      const shut = looks.shut[(first + k) % looks.count] === 1;
      if (!shut && from < 0) from = first + k;
      if (!shut || from < 0) continue;
      mouths.push(looks.across(from, first + k));
      from = -1;
    }
    return shutM;
  }

  /** Whether one edge lies beside a whole line. */
  private isBeside(ax: number, ay: number, bx: number, by: number): boolean {
    const { xy, grid, besideM } = this;
    const [x, y] = [(ax + bx) / 2, (ay + by) / 2];
    const n = grid.near(x - besideM, y - besideM, x + besideM, y + besideM);
    for (let k = 0; k < n; k++) {
      const e = 4 * grid.found[k];
      if (distance(xy, e, ax, ay) <= besideM && distance(xy, e, bx, by) <= besideM) return true;
    }
    return false;
  }
}

/** The edge of the grid nearest to a point, of those within `mostM`; -1 for none. */
function nearest(grid: EdgeGrid, xy: Float64Array, x: number, y: number, mostM: number): number {
  const n = grid.near(x - mostM, y - mostM, x + mostM, y + mostM);
  let best = -1;
  let bestM = mostM;
  for (let k = 0; k < n; k++) {
    const d = distance(xy, 4 * grid.found[k], x, y);
    if (d > bestM) continue;
    bestM = d;
    best = grid.found[k];
  }
  return best;
}
