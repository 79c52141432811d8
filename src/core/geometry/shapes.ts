/**
 * Many polygons in three flat arrays, on an integer lattice. The one copy of the map's coordinates.
 *
 * - `xy`: lattice steps from the lattice origin, x (east) and y (north) in turn. A ring's first point is not repeated at its end.
 * - `ringStart`: index in points (not in numbers) where each ring begins; one more entry than rings.
 * - `shapeStart`: index in rings where each shape begins; one more entry than shapes.
 *
 * A shape covers the points whose winding number over its rings is not zero. Intake turns outer rings counter-clockwise and
 * holes clockwise, so parts that overlap count once, holes are empty, and both lobes of a bow-tie are covered.
 */
export interface Shapes {
  xy: Int32Array;
  ringStart: Uint32Array;
  shapeStart: Uint32Array;
}

/**
 * Where the lattice lies on WGS84: longitude = (originX + x) / stepsPerDegree, latitude likewise, in degrees.
 * The origin is kept in whole steps so that a coordinate of the file is given back digit for digit.
 */
export interface Lattice {
  stepsPerDegree: number;
  originX: number;
  originY: number;
}
