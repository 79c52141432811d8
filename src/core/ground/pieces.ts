import { type Polygons, union } from '../coverage/index.ts';
import { EdgeGrid } from '../geometry/edgegrid.ts';
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
  const around: number[] = [];
  const owner: number[] = [];
  for (let i = 0; i + 1 < drawn.polygonStart.length; i++) {
    out.shutM.push(0);
    out.mouths.push([]);
    for (let r = drawn.polygonStart[i]; r < drawn.polygonStart[i + 1]; r++) {
      const ring = meters.subarray(2 * drawn.ringStart[r], 2 * drawn.ringStart[r + 1]);
      out.shutM[i] += walls.along(ring, out.mouths[i]);
      for (let k = 0, q = ring.length - 2; k < ring.length; q = k, k += 2) {
        around.push(ring[q], ring[q + 1], ring[k], ring[k + 1]);
        owner.push(i);
      }
    }
  }
  const outline = new Float64Array(around);
  const grid = new EdgeGrid(outline, owner.length);
  list.forEach((c, k) => {
    const [x, y] = [0, 1].map((at) => (chords.quad[8 * c + at] + chords.quad[8 * c + 2 + at]) / 2);
    const e = nearest(grid, outline, x, y, slitM);
    out.pieceOf[k] = e < 0 ? -1 : owner[e];
  });
  return out;
}

/** The edges around wide ground. */
class Walls {
  private readonly xy: Float64Array;
  private readonly grid: EdgeGrid;

  constructor(
    { xy, wholeEdges, openEdges }: Edges,
    private readonly besideM: number,
  ) {
    this.xy = xy.subarray(4 * wholeEdges, 4 * openEdges);
    this.grid = new EdgeGrid(this.xy, openEdges - wholeEdges);
  }

  /** How much of a ring (x and y in turn) lies along edges, meters; the widths of what lies between are added to `mouths`. */
  along(ring: Float64Array, mouths: number[]): number {
    const looks: { x0: number; y0: number; x1: number; y1: number; shut: boolean }[] = [];
    for (let k = 0, q = ring.length - 2; k < ring.length; q = k, k += 2) {
      const [ax, ay, bx, by] = [ring[q], ring[q + 1], ring[k], ring[k + 1]];
      const lengthM = lengthOf(bx - ax, by - ay);
      const parts = this.isBeside(ax, ay, bx, by) ? 1 : Math.max(1, Math.ceil(lengthM / LOOK_M));
      for (let s = 0; s < parts; s++) {
        const [t, u] = [s / parts, (s + 1) / parts];
        const [x0, y0, x1, y1] = [ax + (bx - ax) * t, ay + (by - ay) * t, ax + (bx - ax) * u, ay + (by - ay) * u];
        looks.push({ x0, y0, x1, y1, shut: this.isBeside(x0, y0, x1, y1) });
      }
    }
    let shutM = 0;
    for (const l of looks) if (l.shut) shutM += lengthOf(l.x1 - l.x0, l.y1 - l.y0);
    const first = looks.findIndex((l) => l.shut);
    if (first < 0) {
      mouths.push(looks.reduce((s, l) => s + lengthOf(l.x1 - l.x0, l.y1 - l.y0), 0));
      return 0;
    }
    for (let k = 1, from = -1; k <= looks.length; k++) {
      const l = looks[(first + k) % looks.length];
      if (!l.shut && from < 0) from = (first + k) % looks.length;
      if (!l.shut || from < 0) continue;
      mouths.push(lengthOf(l.x0 - looks[from].x0, l.y0 - looks[from].y0));
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
