/**
 * Records become lanes, bars and passes, in meters.
 *
 * Assumes records on one lattice and a metric plane. Needs no column: times, when given, only settle the direction of travel, the
 * order of passes and bars with holes. Guarantees that the result does not depend on the order of the records when times or
 * headings are given, and not on which corner a record begins with.
 *
 * 1. `quads.ts`: records, or their parts, with four clear corners; exact repeats and long records are separated.
 * 2. `strips.ts`: long records are cut across into quads; a record that is no strip is left for areas only. `laps.ts`: laps are opened. `strip-passes.ts`: which
 *    strips are sections of one pass; `shared-cuts.ts`: these are cut in the same places; `chords.ts`: the lines of the cuts.
 * 3. `links.ts`: sides that lie against each other, digit for digit, nearly, or one of them longer than the other.
 * 4. `axis.ts`: which sides lie across travel, from connected groups, columns checked against the geometry (`hints.ts`), and neighbors. `lanes.ts`: lanes along travel.
 *    `lane-neighbors.ts`: lanes that ran side by side.
 * 5. `columns`: which column means what.
 * 6. `split-by-time.ts`: with times, lanes that only look side by side are separated. `bars.ts`: bars, passes, direction of travel; `laybar.ts`: the sides of
 *    every record across it.
 * 7. `unplaced.ts`: what of the recorded ground lies in no bar.
 *
 * Known limit: where records neither share corners nor carry times, passes under four bars may stay apart from their neighbors.
 */
import { lengthOf } from '../geometry/length.ts';
import { joinShapes, type Lattice, quadShapes, type Shapes } from '../geometry/shapes.ts';
import type { Column } from '../intake/types.ts';
import type { Plane } from '../plane/index.ts';
import { axisVotes } from './hints.ts';
import { NO_PASS } from './lane-neighbors.ts';
import { findLanes } from './lanes.ts';
import { findQuads, type Quads } from './quads.ts';
import { tellsStripsApart } from './strip-passes.ts';
import { cutStrips, type Strips } from './strips.ts';
import type { Lanes } from './types.ts';

export { findPasses } from './bars.ts';
export { tellsStripsApart } from './strip-passes.ts';
export { findUnplaced, type Unplaced } from './unplaced.ts';

export interface TracedLanes {
  /** What the records are, as far as shapes tell; whether a bar holds several sections is seen from the bands. */
  grain: 'interval' | 'strip' | 'blob';
  quads: Quads;
  lanes: Lanes;
}

/** Below this share of the area a map of long records is not a map of strips. */
const STRIP_SHARE = 0.8;
/** A lap around the field in one record is not a strip, and may be a quarter of the ground. Where nearly all records are strips, this share of the area is enough. */
const LEAST_STRIPS = 0.5;
const FEWEST_STRIPS = 6;
/** Up to this share of the area, long records are outliers in a map of log intervals. */
const STRAY_SHARE = 0.2;

/** Steps 1 to 4. `fine` is a lattice fine enough for cut strips. */
export function traceLanes(shapes: Shapes, plane: Plane, fine: Lattice, columns: readonly Column[]): TracedLanes {
  const quads = findQuads(shapes, plane, true);
  const records = shapes.shapeStart.length - 1;
  const own = records - quads.repeated.length;
  if (
    quads.count > 0 &&
    quads.odd.length <= 0.5 * own &&
    fewAreSlabs(shapes, quads) &&
    fewAreLong(shapes, quads, plane)
  ) {
    const lanes = findLanes(shapes, quads, stepOf(plane), (links) => axisVotes(quads, links, columns));
    return { grain: 'interval', quads, lanes };
  }
  // Short pieces of a strip, where a section was off for a bar or two, are quads unchanged.
  const { short: bars, long: slabs } = byLength(quads);
  const cutUp = Uint32Array.from([...quads.long, ...quads.odd, ...slabs]).sort();
  const strips = cutStrips(shapes, cutUp, plane, fine, columns);
  const isStrips =
    strips.share >= STRIP_SHARE ||
    (strips.share >= LEAST_STRIPS && strips.recordShare >= STRIP_SHARE && records >= FEWEST_STRIPS);
  // Ground joined across passes has no width, though pieces of it may look like strips.
  const whole = onLattice(shapes, isStrips ? bars : null, fine, plane.lattice);
  const short = whole.shapeStart.length - 1;
  const pieces = isStrips ? inRecordOrder(joinShapes([whole, strips.shapes]), short, bars.record, strips) : NONE;
  const cut = findQuads(pieces.shapes, onFiner(plane, fine));
  const joints = strips.joints.map((k) => pieces.place[short + k]);
  const isCut = cut.record.map((piece) => (pieces.isCut[piece] === 1 ? 1 : 0));
  const lanes = findLanes(
    pieces.shapes,
    cut,
    stepOf(plane),
    // A strip is cut from side to side: sides 1 and 3 of its pieces lie across.
    () => ({ columns: [(q) => (isCut[q] === 1 ? -2 : 0)], clocks: [] }),
    isStrips ? sidesOf(joints, cut) : [],
    cut.record.map((piece) => pieces.record[piece]),
    tellsStripsApart(stepOf(plane)) ? cut.record.map((piece) => pieces.pass[piece]) : null,
  );
  const ofRecord = new Int32Array(records).fill(-1);
  // A strip shorter than the longest log interval is cut up too.
  const long = new Set([...quads.long, ...slabs]);
  for (let q = 0; q < cut.count; q++) {
    const r = pieces.record[cut.record[q]];
    if (isCut[q] === 1) long.add(r);
    cut.record[q] = r;
    if (ofRecord[r] < 0) ofRecord[r] = q;
  }
  const all: Quads = {
    ...cut,
    ofRecord,
    repeated: quads.repeated,
    repeats: quads.repeats,
    long: Uint32Array.from(long).sort(),
    odd: quads.odd.filter((r) => !long.has(r)),
  };
  return {
    grain: isStrips && cut.count > 0 ? 'strip' : 'blob',
    quads: all,
    lanes: { ...lanes, quads: all },
  };
}

/** The longer side of a cell of the lattice, meters. */
const stepOf = (plane: Plane): number => 1 / Math.min(...plane.stepsPerMeter);

/** No log interval is longer than this, meters (common practice: 3 s at 5 m/s), and a quad this many times longer than wide is a short pass of one section. */
export const LONGEST_INTERVAL_M = 15;
const SLENDER = 3;

function isSlab({ corner: c }: Quads, q: number): boolean {
  const sideM = (k: number): number => {
    const [a, b] = [8 * q + 2 * k, 8 * q + 2 * ((k + 1) & 3)];
    return lengthOf(c[b] - c[a], c[b + 1] - c[a + 1]);
  };
  const [a, b] = [sideM(0) + sideM(2), sideM(1) + sideM(3)];
  return Math.max(a, b) > 2 * LONGEST_INTERVAL_M && Math.max(a, b) > SLENDER * Math.min(a, b);
}

/** Quads that are looked at, and the part of them that may be strips in a map of log intervals. */
const LOOKED_AT = 2000;
const FEW_STRIPS = 0.5;
/** A strip has a point on either side for each log interval; a log interval has its corners, and seldom as many more (common practice). */
const MANY_POINTS = 16;

/** True unless most records of four corners are whole passes of a short field, with the points of many log intervals along them. */
function fewAreSlabs({ shapeStart, ringStart }: Shapes, quads: Quads): boolean {
  const stride = Math.max(1, Math.floor(quads.count / LOOKED_AT));
  let strips = 0;
  let seen = 0;
  for (let q = 0; q < quads.count; q += stride, seen++) {
    const ring = shapeStart[quads.record[q]];
    if (ringStart[ring + 1] - ringStart[ring] >= MANY_POINTS && isSlab(quads, q)) strips++;
  }
  return strips <= FEW_STRIPS * seen;
}

/** The quads of log intervals, and the records that are passes of four corners, shorter than others. */
function byLength(quads: Quads): { short: Pick<Quads, 'count' | 'point' | 'record'>; long: number[] } {
  const long = new Set<number>();
  for (let q = 0; q < quads.count; q++) if (isSlab(quads, q)) long.add(quads.record[q]);
  const kept = Uint32Array.from({ length: quads.count }, (_, q) => q).filter((q) => !long.has(quads.record[q]));
  const point = new Uint32Array(4 * kept.length);
  kept.forEach((q, i) => {
    for (let k = 0; k < 4; k++) point[4 * i + k] = quads.point[4 * q + k];
  });
  return { short: { count: kept.length, point, record: kept.map((q) => quads.record[q]) }, long: [...long] };
}

/** True when nearly all of the ground lies in records of one log interval. */
function fewAreLong(shapes: Shapes, quads: Quads, plane: Plane): boolean {
  if (quads.long.length === 0) return true;
  const { corner: c } = quads;
  let short = 0;
  for (let o = 0; o < 8 * quads.count; o += 8)
    short += ((c[o + 4] - c[o]) * (c[o + 7] - c[o + 3]) - (c[o + 6] - c[o + 2]) * (c[o + 5] - c[o + 1])) / 2;
  const stepM2 = 1 / (plane.stepsPerMeter[0] * plane.stepsPerMeter[1]);
  const { xy, ringStart, shapeStart } = shapes;
  let twice = 0;
  for (const r of quads.long) {
    for (let ring = shapeStart[r]; ring < shapeStart[r + 1]; ring++) {
      const [from, to] = [ringStart[ring], ringStart[ring + 1]];
      for (let i = from, j = to - 1; i < to; j = i++) twice += xy[2 * j] * xy[2 * i + 1] - xy[2 * i] * xy[2 * j + 1];
    }
  }
  const long = (twice * stepM2) / 2;
  return long <= STRAY_SHARE * (long + short);
}

/** The quads as shapes on a finer lattice with the same origin; none when there are no `quads`. */
function onLattice(
  shapes: Shapes,
  quads: Pick<Quads, 'count' | 'point'> | null,
  fine: Lattice,
  coarse: Lattice,
): Shapes {
  if (quads === null) return quadShapes(new Int32Array(0), 0);
  const factor = fine.stepsPerDegree / coarse.stepsPerDegree;
  const xy = new Int32Array(8 * quads.count);
  for (let i = 0; i < 4 * quads.count; i++) {
    xy[2 * i] = shapes.xy[2 * quads.point[i]] * factor;
    xy[2 * i + 1] = shapes.xy[2 * quads.point[i] + 1] * factor;
  }
  return quadShapes(xy, quads.count);
}

interface Pieces {
  shapes: Shapes;
  /** Record of each piece. */
  record: Uint32Array;
  /** 1 where it was cut from a strip. */
  isCut: Uint8Array;
  /** Pass of each piece of a strip; `NO_PASS` of others. */
  pass: Uint32Array;
  /** Where each piece was put. */
  place: Uint32Array;
}

const NONE: Pieces = {
  shapes: quadShapes(new Int32Array(0), 0),
  record: new Uint32Array(0),
  isCut: new Uint8Array(0),
  pass: new Uint32Array(0),
  place: new Uint32Array(0),
};

/** Quads of short records (the first `short` of `shapes`) among those that were cut from long ones, in the order of their records, as a display wrote them. */
function inRecordOrder(
  shapes: Shapes,
  short: number,
  ofShort: Uint32Array,
  { record: ofCut, pass }: Pick<Strips, 'record' | 'pass'>,
): Pieces {
  const n = shapes.shapeStart.length - 1;
  const of = (i: number): number => (i < short ? ofShort[i] : ofCut[i - short]);
  const order = Uint32Array.from({ length: n }, (_, i) => i).sort((a, b) => of(a) - of(b) || a - b);
  const xy = new Int32Array(8 * n);
  const place = new Uint32Array(n);
  order.forEach((from, to) => {
    for (let k = 0; k < 8; k++) xy[8 * to + k] = shapes.xy[8 * from + k];
    place[from] = to;
  });
  return {
    shapes: quadShapes(xy, n),
    record: order.map(of),
    isCut: Uint8Array.from(order, (i) => (i < short ? 0 : 1)),
    pass: Uint32Array.from(order, (i) => (i < short ? NO_PASS : pass[i - short])),
    place,
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

/** A plane that reads steps of the finer lattice and gives meters on the map's own plane. */
function onFiner(plane: Plane, lattice: Lattice): Plane {
  const factor = plane.lattice.stepsPerDegree / lattice.stepsPerDegree;
  const scratch = new Float64Array(64);
  return {
    ...plane,
    lattice,
    toMeters(xy, from, to, out) {
      const steps = 2 * (to - from) > scratch.length ? new Float64Array(2 * (to - from)) : scratch;
      for (let i = 2 * from; i < 2 * to; i++) steps[i - 2 * from] = xy[i] * factor;
      plane.toMeters(steps, 0, to - from, out);
    },
  };
}
