/**
 * Records become lanes, bars and passes, in metres.
 *
 * Assumes records on one lattice and a metric plane. Needs no column: times, when given, only settle the direction of travel, the
 * order of passes and bars with holes. Guarantees that the result does not depend on the order of the records when times or
 * headings are given, and not on which corner a record begins with.
 *
 * 1. `quads.ts`: records with four clear corners; exact repeats and long records are told apart.
 * 2. `strips.ts`: long records are cut across into quads; a record that is no strip is left for areas only.
 * 3. `links.ts`: sides that lie against each other, digit for digit or nearly.
 * 4. `lanes.ts`: which sides lie across travel; lanes along travel. `beside.ts`: lanes that ran side by side.
 * 5. `apart.ts`: with times, lanes that only look side by side are parted. `bars.ts`: bars, passes, direction of travel; `laybar.ts`: the sides of
 *    every record across it.
 *
 * Known limit: where records neither share corners nor carry times, passes under four bars may stay apart from their neighbours.
 */
import type { Lattice, Shapes } from '../geometry/shapes.ts';
import type { Plane } from '../plane/index.ts';
import { findLanes } from './lanes.ts';
import { findQuads, type Quads } from './quads.ts';
import { cutStrips } from './strips.ts';
import type { Lanes } from './types.ts';

export { findPasses } from './bars.ts';

export interface Laid {
  /** What the records are, as far as shapes tell; whether a bar holds several sections is seen from the bands. */
  grain: 'interval' | 'strip' | 'blob';
  quads: Quads;
  lanes: Lanes;
}

/** Below this part of the area a map of long records is no map of strips. */
const STRIP_SHARE = 0.8;

/** Steps 1 to 4. `fine` is a lattice fine enough for cut strips. */
export function layLanes(shapes: Shapes, plane: Plane, fine: Lattice): Laid {
  const quads = findQuads(shapes, plane);
  const records = shapes.shapeStart.length - 1;
  const own = records - quads.repeated.length;
  if (quads.long.length <= 0.2 * own && quads.odd <= 0.5 * own && quads.count > 0) {
    return { grain: 'interval', quads, lanes: findLanes(shapes, quads) };
  }
  const repeated = new Set(quads.repeated);
  const once = Uint32Array.from({ length: records }, (_, r) => r).filter((r) => !repeated.has(r));
  const strips = cutStrips(shapes, once, plane, fine);
  const isStrips = strips.share >= STRIP_SHARE;
  // Ground joined across passes has no width: pieces that happen to look like strips would be given one.
  const pieces = isStrips ? strips.shapes : plane.toQuads([], strips.lattice);
  const cut = findQuads(pieces, onFiner(plane, strips.lattice));
  const lanes = findLanes(pieces, cut, isStrips ? sidesOf(strips.joints, cut) : []);
  const ofRecord = new Int32Array(records).fill(-1);
  for (let q = 0; q < cut.count; q++) {
    const r = strips.record[cut.record[q]];
    cut.record[q] = r;
    if (ofRecord[r] < 0) ofRecord[r] = q;
  }
  const all: Quads = {
    ...cut,
    ofRecord,
    repeated: quads.repeated,
    repeats: quads.repeats,
    long: quads.long,
    odd: quads.odd,
  };
  return {
    grain: isStrips && cut.count > 0 ? 'strip' : 'blob',
    quads: all,
    lanes: { ...lanes, quads: all },
  };
}

/** Joints between cut quads as pairs of sides: the front of the one, side 1, and the back of the other, side 3. A quad that was too small is none. */
function sidesOf(joints: readonly number[], cut: Quads): number[] {
  const out: number[] = [];
  for (let i = 0; i < joints.length; i += 2) {
    const [a, b] = [cut.ofRecord[joints[i]], cut.ofRecord[joints[i + 1]]];
    if (a >= 0 && b >= 0) out.push(4 * a + 1, 4 * b + 3);
  }
  return out;
}

/** A plane that reads steps of the finer lattice and gives metres on the map's own plane. */
function onFiner(plane: Plane, lattice: Lattice): Plane {
  const factor = plane.lattice.stepsPerDegree / lattice.stepsPerDegree;
  const scratch = new Float64Array(64);
  return {
    ...plane,
    lattice,
    toMetres(xy, from, to, out) {
      const steps = 2 * (to - from) > scratch.length ? new Float64Array(2 * (to - from)) : scratch;
      for (let i = 2 * from; i < 2 * to; i++) steps[i - 2 * from] = xy[i] * factor;
      plane.toMetres(steps, 0, to - from, out);
    },
  };
}
