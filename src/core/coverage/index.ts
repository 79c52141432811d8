import type { Shapes } from '../geometry/shapes.ts';
import { type ArcSet, reversed } from './arcs.ts';
import { fold, unfold } from './fold.ts';
import { measureNear } from './measure.ts';
import { findNear, type Near, NearSearch } from './near.ts';
import { coverNear, outlineNear, unionArcs, unionOf } from './outline.ts';
import { type Prepared, prepare } from './prepare.ts';
import type { AreaDensity, Coverage, CoverageRings, Polygons, Progress } from './types.ts';

export { tooManyCrossings } from './arcs.ts';
export { areaOf, joinPolygons, type OpenGround, openGround, pickPolygons } from './gaps.ts';
export { type Remains, remain } from './remain.ts';
export type { AreaDensity, Coverage, CoverageRings, Polygons, Progress } from './types.ts';

/*
 * What the shapes of a map cover, and how often: exact on the map's own lattice.
 *
 * Assumes: lattice coordinates below 2^31 in size (Int32); shapes as geometry/shapes.ts says (non-zero winding, and `Tangled`), in the order in which they were
 * laid down. Nothing else: shared, nearly shared and crossing edges, several edges through one point, corners on edges, repeated, reversed,
 * concave, self-crossing, many-ringed and empty shapes are all met in practice.
 *
 * Guarantees: no snapping; which edge lies where is decided on whole numbers (BigInt where a double could err), so areas miss the true ones by
 * the rounding of sums alone (tests: 1e-9 relative, seen 1e-13). Polygons are valid in the OGC sense. Nothing is dropped: what has no area is
 * counted as `empty`. `progress` gets the part done, 0 to 1, rising, some hundred times; it may throw to stop the work.
 *
 * Steps:
 * 1. prepare.ts  kind, box and direction of every shape; an index of edges for those that are not small and convex.
 * 2. near.ts     the pairs that share ground or boundary, by cells of their size (cells.ts) and separating edges.
 * 3. sweep.ts    along one edge: where each neighbor begins and ends to cover the ground left and right of it.
 *    tangles.ts  shapes with invalid rings, from what each of their rings does.
 * 4. measure.ts  stretches of edges -> areas at every depth, and what earlier shapes had covered, by the flux of step 6.
 * 5. outline.ts  stretches -> arcs (arcs.ts) of the boundary of depth one and two -> simple loops (loops.ts) -> valid polygons (stitch.ts).
 * 6. flux.ts     area as a sum over edges, in closed form for the ground density. gaps.ts: holes too narrow for a circle.
 *
 * Memory: about 140 bytes per four-cornered shape at the peak beside the coordinates (56 MB for 400,000), 40 more per point of shapes that need
 * an index. Time grows with the number of shapes and of pairs that overlap. Shapes that repeat others are folded where pairs are many (fold.ts); beyond
 * 4 million pairs and 16 for each shape it throws `UserError` 'too-many-overlaps', and beyond half a
 * million arcs and 8 for each point 'too-many-crossings'. The search for pairs and the walk along edges have budgets of comparisons (geometry/budget.ts).
 *
 * Known limits: crossing points leave as doubles, so rings of a map far from its lattice origin are rounded there (1e-7 step at 1e9 steps), and
 * pieces smaller than that can touch themselves.
 */

/** Areas at every depth and per-shape already-covered area. */
export function measure(shapes: Shapes, density: AreaDensity, progress?: Progress): Coverage {
  const { p, near, of } = ready(shapes, false, share(progress, 0, 0.7));
  return unfold(measureNear(p, near, density, share(progress, 0.7, 1)), of);
}

/** Boundaries of the ground under at least one and at least two shapes. */
export function outline(shapes: Shapes, density: AreaDensity, progress?: Progress): CoverageRings {
  const { p, near } = ready(shapes, true, share(progress, 0, 0.5));
  return outlineNear(p, near, density, share(progress, 0.5, 1));
}

/** The ground under at least one shape: `covered` of `outline`, for less than half of the time where shapes overlap much. */
export function union(shapes: Shapes, progress?: Progress): Polygons {
  return unionOf(boundary(shapes, share(progress, 0, 0.9)), share(progress, 0.9, 1));
}

/** The ground that the shapes enclose and do not cover; covered islands in it are holes of its polygons. */
export function enclosed(shapes: Shapes, progress?: Progress): Polygons {
  // Around the shapes lies no outer ring: the land outside is no polygon.
  return unionOf(reversed(boundary(shapes, share(progress, 0, 0.9))), share(progress, 0.9, 1));
}

function boundary(shapes: Shapes, progress: Progress): ArcSet {
  const { p, near } = ready(shapes, true, share(progress, 0, 0.6));
  return unionArcs(p, near, share(progress, 0.6, 1));
}

/** Areas and boundaries at once, which costs less than one after the other. */
export function cover(
  shapes: Shapes,
  density: AreaDensity,
  progress?: Progress,
): { coverage: Coverage; rings: CoverageRings } {
  const { coverage, rings } = coverFirst(shapes, density, share(progress, 0, 0.9));
  return { coverage, rings: rings(share(progress, 0.9, 1)) };
}

/** The same areas first, and the boundaries only if they are asked for, at most once: joining them takes a third of the time. */
export function coverFirst(
  shapes: Shapes,
  density: AreaDensity,
  progress?: Progress,
): { coverage: Coverage; rings: (progress?: Progress) => CoverageRings } {
  const { p, near, of } = ready(shapes, true, share(progress, 0, 0.5));
  const { coverage, rings } = coverNear(p, near, density, share(progress, 0.5, 1));
  return { coverage: unfold(coverage, of), rings };
}

/** Pairs of shapes, for any map and for each of its shapes, above which to search for repeats: few maps have any, and the search costs time. */
const MANY_PAIRS = 300_000;
const MANY_EACH = 6;

/** Steps 1 and 2. Where very many shapes overlap, those that repeat others are folded first; `of` then gives the shape that represents each. */
function ready(
  shapes: Shapes,
  touching: boolean,
  progress: Progress,
): { p: Prepared; near: Near; of: Uint32Array | null } {
  const p = prepare(shapes, share(progress, 0, 0.2));
  const search = new NearSearch(p, touching);
  const near = search.few(MANY_PAIRS + MANY_EACH * p.count, share(progress, 0.2, 1));
  if (near !== null) return { p, near, of: null };
  const folded = fold(shapes);
  if (folded === null) return { p, near: search.all(share(progress, 0.2, 1)), of: null };
  const few = prepare(folded.shapes, undefined, folded.weight);
  return { p: few, near: findNear(few, touching), of: folded.of };
}

function share(progress: Progress | undefined, from: number, to: number): Progress {
  return (done) => progress?.(from + (to - from) * done);
}
