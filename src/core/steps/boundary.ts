import { union } from '../coverage/index.ts';
import type { Lattice, Shapes } from '../geometry/shapes.ts';
import type { RecordSet } from '../intake/types.ts';
import type { Extent } from '../plane/index.ts';
import { UserError } from '../shared/messages.ts';

/** The rings of the boundary in the result of `outsideOf`, lattice steps. */
export function ringsOf({ xy, ringStart }: Shapes): Float64Array[] {
  const rings: Float64Array[] = [];
  for (let r = 1; r + 1 < ringStart.length; r++)
    rings.push(Float64Array.from(xy.subarray(2 * ringStart[r], 2 * ringStart[r + 1])));
  return rings;
}

/**
 * Rings of what the boundary encloses, outer ones counter-clockwise and holes clockwise. Records that overlap and rings that cross count as they do in
 * the map (`Tangled`); where they cross, points are rounded to the lattice.
 */
function enclosed({ shapes }: RecordSet): Pick<Shapes, 'xy' | 'ringStart'> {
  if (!shapes.tangled && shapes.shapeStart.length === 2) return shapes;
  const { xy, ringStart } = union(shapes);
  return { xy: Int32Array.from(xy, Math.round), ringStart };
}

/**
 * Everything outside the boundary, as one shape on the map's lattice: a frame wide around map and boundary with the boundary cut out
 * of it. With it, ground between the covered ground and the boundary is enclosed like any other gap.
 */
export function outsideOf(boundary: RecordSet, lattice: Lattice, map: Extent): Shapes {
  const shapes = enclosed(boundary);
  const factor = lattice.stepsPerDegree / boundary.lattice.stepsPerDegree;
  const n = shapes.xy.length / 2;
  const own = new Float64Array(2 * n);
  let { minX, minY, maxX, maxY } = map;
  const box = { minX: Infinity, minY: Infinity, maxX: -Infinity, maxY: -Infinity };
  // Each file is joined across the antimeridian separately and may end up on the other side of it.
  const turn = 360 * lattice.stepsPerDegree;
  const middle = (boundary.lattice.originX + shapes.xy[0]) * factor - lattice.originX;
  const shift = turn * Math.round(((minX + maxX) / 2 - middle) / turn);
  for (let i = 0; i < n; i++) {
    const x = (boundary.lattice.originX + shapes.xy[2 * i]) * factor - lattice.originX + shift;
    const y = (boundary.lattice.originY + shapes.xy[2 * i + 1]) * factor - lattice.originY;
    own[2 * i] = x;
    own[2 * i + 1] = y;
    box.minX = Math.min(box.minX, x);
    box.maxX = Math.max(box.maxX, x);
    box.minY = Math.min(box.minY, y);
    box.maxY = Math.max(box.maxY, y);
  }
  const apart = box.minX > maxX || box.maxX < minX || box.minY > maxY || box.maxY < minY;
  minX = Math.min(minX, box.minX);
  maxX = Math.max(maxX, box.maxX);
  minY = Math.min(minY, box.minY);
  maxY = Math.max(maxY, box.maxY);
  const margin = Math.max(maxX - minX, maxY - minY) * 0.05 + 1000;
  const frame = [
    minX - margin,
    minY - margin,
    maxX + margin,
    minY - margin,
    maxX + margin,
    maxY + margin,
    minX - margin,
    maxY + margin,
  ];
  if (apart || frame.some((v) => Math.abs(v) >= 2 ** 31)) {
    throw new UserError(
      'boundary-far',
      'The boundary does not surround the map; it belongs to another place.',
      { file: boundary.source },
      'Give the boundary of this field.',
    );
  }
  const xy = new Int32Array(8 + 2 * n);
  xy.set(frame.map(Math.round));
  const ringStart = [0, 4];
  for (let r = 0; r + 1 < shapes.ringStart.length; r++) {
    // Reversed: what the boundary encloses is cut out of the frame, and its holes are outside again.
    const from = shapes.ringStart[r];
    const to = shapes.ringStart[r + 1];
    for (let i = from; i < to; i++) {
      const src = to - 1 - (i - from);
      xy[8 + 2 * i] = Math.round(own[2 * src]);
      xy[8 + 2 * i + 1] = Math.round(own[2 * src + 1]);
    }
    ringStart.push(4 + to);
  }
  return { xy, ringStart: Uint32Array.from(ringStart), shapeStart: Uint32Array.from([0, ringStart.length - 1]) };
}
