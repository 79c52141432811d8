import { Budget, tooClose } from '../geometry/budget.ts';
import type { Lattice, Shapes } from '../geometry/shapes.ts';
import type { Column } from '../intake/types.ts';
import type { Plane } from '../plane/index.ts';
import { UserError } from '../shared/messages.ts';
import { fromEnd, linesOf, SHORTEST_M, steady, stepOf } from './chords.ts';
import { openLaps, roundOf, signedArea } from './laps.ts';
import { LONGEST_SIDE_M } from './quads.ts';
import { shareCuts } from './shared-cuts.ts';
import { stripPasses } from './strip-passes.ts';

/**
 * Dissolved passes cut back into short quads across their two sides, so that they are measured like any other bar.
 *
 * Decision: strips are cut from both sides. Every point of a dissolved pass looks across it, lines that meet others are left out, and neighboring
 * quads share a line digit for digit. Cutting from one side lost a seventh of the ground in the median of 59 drawn maps of whole passes; now 0.6 % (area in
 * bars over recorded area, 400 random maps of strips). Where a section goes off, the two runs follow each other, so that a record is one pass.
 */
export interface Strips {
  /** On `lattice`, finer than the map's. */
  shapes: Shapes;
  lattice: Lattice;
  /** Record each quad was cut from. */
  record: Uint32Array;
  /** Pass of each quad, as far as strips tell which of them are sections of one. */
  pass: Uint32Array;
  /** Pairs of quads, one after the other along a strip, where a side steps in or out: the front of the first lies on the line of the back of the second. */
  joints: number[];
  /** Part of the records' area that the quads cover; far below 1 the records are no strips. */
  share: number;
  /** Part of the records that the quads cover so. */
  recordShare: number;
}

/** A record is cut whole when the quads cover this part of it. */
const CUT_WHOLE = 0.8;
/** Longest quad that a strip is cut into, meters; where all strips together are very long, longer ones, so that there are about this many. */
const CUT_M = 4;
const MANY_QUADS = 150_000;
/** Longest quads that strips may take in any map; each point is one more. Rows of 38 cm on 1,700 ha, each a strip, are 45,000 km. */
const MOST_PIECES = 1_000_000;
/** A ring with more points than this, those put in between included, is no single pass: 20 km of it. */
const MOST_POINTS = 10_000;
/** Looks from a point to a side that cutting all rings may take, and for each point of the map. */
const MOST_LOOKS = 100_000_000;
const PER_POINT = 5000;
/** Points that sections of one pass may be given of one another, and for each point: real ones, thinned each by itself, take less than one for each. */
const MOST_SHARED = 200_000;
const SHARED_EACH = 2;

/** Cuts `records` of `shapes` into quads. */
export function cutStrips(
  shapes: Shapes,
  records: Uint32Array,
  plane: Plane,
  lattice: Lattice,
  columns: readonly Column[],
): Strips {
  const rings: Float64Array[] = [];
  const of: number[] = [];
  let area = 0;
  const points = shapes.xy.length / 2;
  const budget = new Budget(MOST_LOOKS, PER_POINT, points, tooClose);
  const cutM = cutLength(shapes, records, plane);
  const leastM = (LEAST_STEP_M * cutM) / CUT_M;
  const areaOf = new Float64Array(records.length);
  records.forEach((r, k) => {
    const own: Float64Array[] = [];
    for (let ring = shapes.shapeStart[r]; ring < shapes.shapeStart[r + 1]; ring++) {
      const from = shapes.ringStart[ring];
      const n = shapes.ringStart[ring + 1] - from;
      const m = new Float64Array(2 * n);
      plane.toMeters(shapes.xy, from, from + n, m);
      areaOf[k] += signedArea(m);
      own.push(m);
    }
    area += areaOf[k];
    // A hole inside a strip is ground switched off; it costs share and nothing else.
    for (const m of openLaps(own, budget)) {
      if (m.length / 2 + roundOf(m) / cutM > MOST_POINTS) continue;
      rings.push(densify(m, cutM));
      of.push(k);
    }
  });
  let meters = new Float64Array(8 * 1024);
  let quads = 0;
  const record: number[] = [];
  const pass: number[] = [];
  const joints: number[] = [];
  const cutOf = new Float64Array(records.length);
  const passes = stripPasses(
    rings,
    of.map((k) => records[k]),
    columns,
    1 / Math.min(...plane.stepsPerMeter),
    budget,
  );
  shareCuts(rings, passes, MOST_SHARED + SHARED_EACH * points, budget).forEach((ring, i) => {
    const own = cutRing(ring, leastM, budget);
    for (const q of own.joints) joints.push(quads + q);
    const count = own.meters.length / 8;
    meters = withRoom(meters, 8 * (quads + count));
    meters.set(own.meters, 8 * quads);
    for (let q = quads; q < quads + count; q++) {
      cutOf[of[i]] += signedArea(meters.subarray(8 * q, 8 * q + 8));
      record.push(records[of[i]]);
      pass.push(passes.passOf[i]);
    }
    quads += count;
  });
  const cut = cutOf.reduce((a, b) => a + b, 0);
  const whole = cutOf.filter((m2, k) => m2 >= CUT_WHOLE * areaOf[k]).length;
  return {
    shapes: plane.toQuads(meters.subarray(0, 8 * quads), lattice),
    lattice,
    record: Uint32Array.from(record),
    pass: Uint32Array.from(pass),
    joints,
    share: area > 0 ? cut / area : 0,
    recordShare: records.length > 0 ? whole / records.length : 0,
  };
}

/** The numbers in an array of at least `least`. */
function withRoom(from: Float64Array<ArrayBuffer>, least: number): Float64Array<ArrayBuffer> {
  if (least <= from.length) return from;
  const out = new Float64Array(2 * least);
  out.set(from);
  return out;
}

/** How long the pieces are that long edges are cut into, meters. */
function cutLength(shapes: Shapes, records: Uint32Array, plane: Plane): number {
  let round = 0;
  for (const r of records)
    for (let ring = shapes.shapeStart[r]; ring < shapes.shapeStart[r + 1]; ring++) {
      const from = shapes.ringStart[ring];
      const n = shapes.ringStart[ring + 1] - from;
      const m = new Float64Array(2 * n);
      plane.toMeters(shapes.xy, from, from + n, m);
      round += roundOf(m);
    }
  const most = MOST_PIECES + shapes.xy.length / 2;
  if (round / 2 / LONGEST_SIDE_M > most) throw tooLong(round / 2, most * LONGEST_SIDE_M);
  return Math.min(LONGEST_SIDE_M, Math.max(CUT_M, round / 2 / MANY_QUADS));
}

/** What a map is told whose strips are `lengthM` meters long together, beyond `mostM`. */
function tooLong(lengthM: number, mostM: number): UserError {
  const [length, most] = [lengthM, mostM].map((m) => Math.round(m / 1000));
  return new UserError(
    'too-long',
    `The strips of the map are ${length} km long together, longer than in any field; the most for this map is ${most} km.`,
    {},
    'Look at the map in a map viewer: strips of a planter lie side by side. Export it again, or check a part of it.',
  );
}

/** Long edges get points in between, so that a strip drawn with four corners is cut as finely as any; its ends do not. */
function densify(m: Float64Array, cutM: number): Float64Array {
  const out: number[] = [];
  const n = m.length / 2;
  const round = roundOf(m);
  // Twice the area over the way round is a strip's width, or less.
  const longM = Math.min(LONGEST_SIDE_M, Math.max(4 * cutM, (5 * signedArea(m)) / round));
  for (let i = 0; i < n; i++) {
    const j = (i + 1) % n;
    const dx = m[2 * j] - m[2 * i];
    const dy = m[2 * j + 1] - m[2 * i + 1];
    const l = Math.hypot(dx, dy);
    const parts = l > longM ? Math.ceil(l / cutM) : 1;
    for (let k = 0; k < parts; k++) out.push(m[2 * i] + (dx * k) / parts, m[2 * i + 1] + (dy * k) / parts);
  }
  return Float64Array.from(out);
}

/** A step along the strip shorter than this is left to the next one, meters; in proportion longer where quads are cut longer. */
const LEAST_STEP_M = 0.4;

/**
 * Cuts a ring (counter-clockwise) across into quads: their corners in meters, eight numbers each, counter-clockwise. Every point looks across the strip; lines that meet others are
 * left out; what lies between a line and the next one inward, `leastM` further at least, is a quad, so that neighboring quads share a side digit for digit. A sudden step
 * of a side (a section that goes off) parts two runs of quads, and `joints` says which quads meet there, counted from the first of the ring.
 */
function cutRing(ring: Float64Array, leastM: number, budget: Budget): { meters: number[]; joints: number[] } {
  const out: number[] = [];
  const joints: number[] = [];
  const m = fromEnd(ring);
  const chords = linesOf(m, budget);
  /** Of each line the one that the next quad begins with: itself, or the one before where that is nearer than a step. */
  const begin = new Int32Array(chords.length);
  /** Quad that ends at each line, or before the step that leads to it. */
  const before = new Int32Array(chords.length).fill(-1);
  const afterStep = new Uint8Array(chords.length);
  const leads = new Uint8Array(chords.length);
  for (const { inside } of chords) if (inside >= 0) leads[inside] = 1;
  const put = (from: number, to: number): void => {
    const quad = out.length / 8;
    if (afterStep[from] === 1 && before[from] >= 0) joints.push(before[from], quad);
    const a = chords[from].chord;
    const b = chords[to].chord;
    out.push(a.nx, a.ny, b.nx, b.ny, b.fx, b.fy, a.fx, a.fy);
    before[to] = quad;
  };
  for (let c = 0; c < chords.length; c++) {
    begin[c] = c;
    const p = chords[c].inside;
    if (p < 0) continue;
    const from = chords[begin[p]].chord;
    const here = chords[c].chord;
    // A short rest at the end of the strip belongs to it.
    if (steady(from, here, leads[c] === 0 ? SHORTEST_M : leastM)) {
      put(begin[p], c);
      continue;
    }
    if (stepOf(from, here) < leastM) {
      begin[c] = begin[p];
      continue;
    }
    // A step after a line that was left out: that line ends the run before.
    if (begin[p] !== p && steady(from, chords[p].chord, SHORTEST_M)) put(begin[p], p);
    before[c] = before[p] >= 0 ? before[p] : before[begin[p]];
    afterStep[c] = 1;
  }
  return { meters: out, joints };
}
