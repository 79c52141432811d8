/** The measures of the covered ground. */

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
  /** Area of every shape, m². */
  areaM2: Float64Array;
  /** For every shape, the part of it that earlier shapes (lower index) already covered, m². */
  alreadyCoveredM2: Float64Array;
  /** sum - (union + area at each further depth), relative to sum. */
  residual: number;
  /**
   * Shapes that needed more than the fast path, by kind: clockwise convex ones, self-crossing ones, other ones that are not small and convex
   * (concave, several rings, many points), and those without area.
   */
  repaired: { reversed: number; bowTie: number; concave: number; empty: number };
}

export interface CoverageRings {
  covered: Polygons;
  overlap: Polygons;
  /** Area of `covered` and of `overlap` by their rings, m²; by other sums than `Coverage`, so that the two check each other. */
  coveredM2: number;
  overlapM2: number;
}

export type Progress = (done: number) => void;
