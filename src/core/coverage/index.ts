import type { Shapes } from '../geometry/shapes.ts';
import { measureNear } from './measure.ts';
import { findNear } from './near.ts';
import { coverNear, outlineNear } from './outline.ts';
import { prepare } from './prepare.ts';

export { areaOf, gaps } from './gaps.ts';

/**
 * Ground area of a lattice cell as a function of its row: w(y) = w[0] + w[1]·y + w[2]·y² + w[3]·y³, in m² per lattice step squared,
 * y in lattice steps. Made by `plane`; with [1, 0, 0, 0] every area is a plain lattice area.
 */
export type AreaDensity = readonly [number, number, number, number];

/** Polygons valid in the OGC sense: outer ring counter-clockwise, holes clockwise, rings not repeated at their end. Points may lie between lattice steps. */
export interface Polygons {
  /** Lattice steps, x and y in turn. */
  xy: Float64Array;
  ringStart: Uint32Array;
  /** First ring of each polygon; that ring is its outer ring. */
  polygonStart: Uint32Array;
}

export interface Coverage {
  /** Sum of the areas of the shapes, m², each counted alone. */
  sumM2: number;
  /** areaAtDepthM2[k] is the ground under at least k + 1 shapes; [0] is the union. Ends at the last depth with any area. */
  areaAtDepthM2: Float64Array;
  /** For every shape, the part of it that earlier shapes (lower index) already covered, m². */
  alreadyCoveredM2: Float64Array;
  /** sum - (union + area at each further depth), relative to sum. */
  residual: number;
  /** Shapes that needed more than the fast path, by kind. */
  repaired: { reversed: number; bowTie: number; concave: number; empty: number };
}

export interface CoverageRings {
  covered: Polygons;
  overlap: Polygons;
  /** Area of `covered` and of `overlap` by their rings, m²; compared with `Coverage` in `ringResidual`. */
  coveredM2: number;
  overlapM2: number;
}

export type Progress = (done: number) => void;

/** Areas at every depth and per-shape already-covered area. */
export function measure(shapes: Shapes, density: AreaDensity, progress?: Progress): Coverage {
  const p = prepare(shapes, share(progress, 0, 0.1));
  const near = findNear(p, false, share(progress, 0.1, 0.7));
  return measureNear(p, near, density, share(progress, 0.7, 1));
}

/** Boundaries of the ground under at least one and at least two shapes. */
export function outline(shapes: Shapes, density: AreaDensity, progress?: Progress): CoverageRings {
  const p = prepare(shapes, share(progress, 0, 0.1));
  const near = findNear(p, true, share(progress, 0.1, 0.5));
  return outlineNear(p, near, density, share(progress, 0.5, 1));
}

/** Both at once, which costs less than one after the other. */
export function cover(
  shapes: Shapes,
  density: AreaDensity,
  progress?: Progress,
): { coverage: Coverage; rings: CoverageRings } {
  const p = prepare(shapes, share(progress, 0, 0.1));
  const near = findNear(p, true, share(progress, 0.1, 0.5));
  if (p.plain) return coverNear(p, near, density, share(progress, 0.5, 1));
  const coverage = measureNear(p, near, density, share(progress, 0.5, 0.7));
  return { coverage, rings: outlineNear(p, near, density, share(progress, 0.7, 1)) };
}

function share(progress: Progress | undefined, from: number, to: number): Progress {
  return (done) => progress?.(from + (to - from) * done);
}
