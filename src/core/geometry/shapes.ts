/**
 * Many polygons in three flat arrays, on an integer lattice. The one copy of the map's coordinates.
 *
 * - `xy`: lattice steps from the lattice origin, x (east) and y (north) in turn. A ring's first point is not repeated at its end.
 * - `ringStart`: index in points (not in numbers) where each ring begins; one more entry than rings.
 * - `shapeStart`: index in rings where each shape begins; one more entry than shapes.
 *
 * A shape covers the points whose winding number over its rings is not zero. Intake turns outer rings counter-clockwise and
 * holes clockwise, so parts that overlap count once and holes are empty. Shapes whose rings cross themselves or each other are listed in
 * `tangled` and follow its rule instead.
 */
export interface Shapes {
  xy: Int32Array;
  ringStart: Uint32Array;
  shapeStart: Uint32Array;
  tangled?: Tangled;
}

/**
 * Shapes with invalid rings, by number: what each of their rings is. `p` is the outer ring of part p (from 1; one per part), `-p` a hole of part p.
 * A ring alone covers the points that a ray from them crosses it an odd number of times (even-odd). A part covers what its outer ring covers
 * and no hole of it does; the shape covers what any of its parts does.
 */
export type Tangled = ReadonlyMap<number, Int32Array>;

/**
 * Where the lattice lies on WGS84: longitude = (originX + x) / stepsPerDegree, latitude likewise, in degrees.
 * The origin is kept in whole steps so that a coordinate of the file is given back digit for digit.
 */
export interface Lattice {
  stepsPerDegree: number;
  originX: number;
  originY: number;
}

export const NO_SHAPES: Shapes = {
  xy: new Int32Array(0),
  ringStart: new Uint32Array(1),
  shapeStart: new Uint32Array(1),
};

/** The sets one after the other. All must be on one lattice. */
export function joinShapes(sets: readonly Shapes[]): Shapes {
  let [points, rings, shapes] = [0, 0, 0];
  for (const s of sets) {
    points += s.xy.length / 2;
    rings += s.ringStart.length - 1;
    shapes += s.shapeStart.length - 1;
  }
  const xy = new Int32Array(2 * points);
  const ringStart = new Uint32Array(rings + 1);
  const shapeStart = new Uint32Array(shapes + 1);
  const tangled = new Map<number, Int32Array>();
  [points, rings, shapes] = [0, 0, 0];
  for (const s of sets) {
    xy.set(s.xy, 2 * points);
    for (const [i, roles] of s.tangled ?? []) tangled.set(shapes + i, roles);
    addTo(ringStart, rings, s.ringStart, points);
    addTo(shapeStart, shapes, s.shapeStart, rings);
    points += s.xy.length / 2;
    rings += s.ringStart.length - 1;
    shapes += s.shapeStart.length - 1;
  }
  return tangled.size > 0 ? { xy, ringStart, shapeStart, tangled } : { xy, ringStart, shapeStart };
}

/** Writes `from`, each number larger by `more`, to `at` and on. */
function addTo(out: Uint32Array, at: number, from: Uint32Array, more: number): void {
  for (let i = 0; i < from.length; i++) out[at + i] = more + from[i];
}

/** `count` shapes of one ring of four points each; `xy` is theirs. */
export function quadShapes(xy: Int32Array, count: number): Shapes {
  const ringStart = new Uint32Array(count + 1);
  const shapeStart = new Uint32Array(count + 1);
  for (let i = 0; i <= count; i++) {
    ringStart[i] = 4 * i;
    shapeStart[i] = i;
  }
  return { xy, ringStart, shapeStart };
}
