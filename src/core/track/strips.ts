import { Budget, tooClose } from '../geometry/budget.ts';
import { lengthOf } from '../geometry/length.ts';
import type { Lattice, Shapes } from '../geometry/shapes.ts';
import type { Plane } from '../plane/index.ts';
import { UserError } from '../shared/messages.ts';
import { type Chord, direction, type Landing, linesAcross, sidesOf } from './across.ts';
import { LONGEST_SIDE_M } from './quads.ts';
import { shareCuts } from './shared-cuts.ts';

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
  /** Pairs of quads, one after the other along a strip, where a side steps in or out: the front of the first lies on the line of the back of the second. */
  joints: number[];
  /** Part of the records' area that the quads cover; far below 1 the records are no strips. */
  share: number;
  /** Part of the records that the quads cover so. */
  recordShare: number;
}

/** A record is cut whole when the quads cover this part of it. */
const CUT_WHOLE = 0.8;
/** Longest quad that a strip is cut into, meters; where all strips together are very long, longer ones, so that there are about so many. */
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
export function cutStrips(shapes: Shapes, records: Uint32Array, plane: Plane, lattice: Lattice): Strips {
  const rings: Float64Array[] = [];
  const of: number[] = [];
  let area = 0;
  const points = shapes.xy.length / 2;
  const budget = new Budget(MOST_LOOKS, PER_POINT, points, tooClose);
  const cutM = cutLength(shapes, records, plane);
  const leastM = (LEAST_STEP_M * cutM) / CUT_M;
  const areaOf = new Float64Array(records.length);
  records.forEach((r, k) => {
    for (let ring = shapes.shapeStart[r]; ring < shapes.shapeStart[r + 1]; ring++) {
      const from = shapes.ringStart[ring];
      const n = shapes.ringStart[ring + 1] - from;
      const m = new Float64Array(2 * n);
      plane.toMeters(shapes.xy, from, from + n, m);
      const a = signedArea(m);
      area += a;
      areaOf[k] += a;
      // A hole inside a strip is ground switched off; it costs share and nothing else.
      if (a <= 0 || n + roundOf(m) / cutM > MOST_POINTS) continue;
      rings.push(densify(m, cutM));
      of.push(k);
    }
  });
  const meters: number[] = [];
  const record: number[] = [];
  const joints: number[] = [];
  const cutOf = new Float64Array(records.length);
  const shared = MOST_SHARED + SHARED_EACH * points;
  shareCuts(rings, 1 / Math.min(...plane.stepsPerMeter), shared, budget).forEach((ring, i) => {
    const before = meters.length;
    cutRing(ring, leastM, meters, joints, budget);
    for (let q = before; q < meters.length; q += 8) {
      cutOf[of[i]] += signedArea(meters.slice(q, q + 8));
      record.push(records[of[i]]);
    }
  });
  const cut = cutOf.reduce((a, b) => a + b, 0);
  const whole = cutOf.filter((m2, k) => m2 >= CUT_WHOLE * areaOf[k]).length;
  return {
    shapes: plane.toQuads(meters, lattice),
    lattice,
    record: Uint32Array.from(record),
    joints,
    share: area > 0 ? cut / area : 0,
    recordShare: records.length > 0 ? whole / records.length : 0,
  };
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

function signedArea(m: ArrayLike<number>): number {
  const n = m.length / 2;
  let a = 0;
  for (let i = 0; i < n; i++) {
    const j = (i + 1) % n;
    a += m[2 * i] * m[2 * j + 1] - m[2 * j] * m[2 * i + 1];
  }
  return a / 2;
}

/** The way round, meters. */
function roundOf(m: Float64Array): number {
  const n = m.length / 2;
  let round = 0;
  for (let i = 0; i < n; i++) {
    const j = (i + 1) % n;
    round += lengthOf(m[2 * j] - m[2 * i], m[2 * j + 1] - m[2 * i + 1]);
  }
  return round;
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
 * Cuts a ring (counter-clockwise) across into quads, and writes them counter-clockwise. Every point looks across the strip; lines that meet others are
 * left out; what lies between a line and the next one inward, `leastM` further at least, is a quad, so that neighboring quads share a side digit for digit. A sudden step
 * of a side (a section that goes off) parts two runs of quads, and `joints` says which quads meet there.
 */
function cutRing(ring: Float64Array, leastM: number, out: number[], joints: number[], budget: Budget): void {
  const m = fromEnd(ring);
  const chords = nested(chordsOf(m, budget));
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
}

/** Shorter quads are none, meters. */
const SHORTEST_M = 0.05;

const stepOf = (a: Chord, b: Chord): number =>
  Math.max(lengthOf(b.nx - a.nx, b.ny - a.ny), lengthOf(b.fx - a.fx, b.fy - a.fy));

/**
 * Whether line `b` follows line `a` along the strip: neither end goes back, one at least by `leastM` forward and no further than points of a side lie apart,
 * and neither moves along the lines more than ahead, which is what a section that goes on or off does.
 */
function steady(a: Chord, b: Chord, leastM: number): boolean {
  const x = a.fx - a.nx + b.fx - b.nx;
  const y = a.fy - a.ny + b.fy - b.ny;
  const l = lengthOf(x, y);
  if (l === 0) return false;
  // Near side first, counter-clockwise: ahead is to the right of the way from the near to the far end.
  const ahead = (dx: number, dy: number): number => (dx * y - dy * x) / l;
  const aside = (dx: number, dy: number): number => Math.abs(dx * x + dy * y) / l;
  const [nx, ny, fx, fy] = [b.nx - a.nx, b.ny - a.ny, b.fx - a.fx, b.fy - a.fy];
  const near = ahead(nx, ny);
  const far = ahead(fx, fy);
  if (Math.max(near, far) < leastM || Math.max(near, far) > LONGEST_SIDE_M || Math.min(near, far) < -0.02) return false;
  return aside(nx, ny) <= Math.max(ASIDE_M, near) && aside(fx, fy) <= Math.max(ASIDE_M, far);
}

/** A side may wander so far in any direction between two lines, meters. */
const ASIDE_M = 0.15;

/** Edges i to i + 1 across the ends of a strip: at both of its points the ring turns left by a right angle or so, and comes back beside itself. */
function endsOf(m: Float64Array): number[] {
  const n = m.length / 2;
  const out: number[] = [];
  for (let i = 0; i < n; i++) {
    const j = (i + 1) % n;
    const x = m[2 * j] - m[2 * i];
    const y = m[2 * j + 1] - m[2 * i + 1];
    const l = lengthOf(x, y);
    if (l === 0 || l > LONGEST_SIDE_M) continue;
    const [bx, by] = direction(m, i, -1);
    const [ax, ay] = direction(m, j, 1);
    // Both sides lie behind the edge, to the left of its way, and run alike.
    const left = (dx: number, dy: number): number => (x * dy - y * dx) / l;
    if (left(ax, ay) > 0.5 && left(bx, by) > 0.5 && ax * bx + ay * by > 0.8) out.push(i);
  }
  return out;
}

/** The ring from the end of a strip's end on, so that the edge across the end closes it and every line lies within the one before. */
function fromEnd(m: Float64Array): Float64Array {
  const n = m.length / 2;
  const ends = endsOf(m);
  const first = ends.length > 0 ? (ends[0] + 1) % n : 0;
  if (first === 0) return m;
  const out = new Float64Array(2 * n);
  out.set(m.subarray(2 * first));
  out.set(m.subarray(0, 2 * first), 2 * (n - first));
  return out;
}

/** The lines that the points of the ring see across it. */
function chordsOf(m: Float64Array, budget: Budget): Chord[] {
  const n = m.length / 2;
  let round = 0;
  for (let i = 0; i < n; i++) {
    const k = (i + 1) % n;
    round += lengthOf(m[2 * k] - m[2 * i], m[2 * k + 1] - m[2 * i + 1]);
  }
  const out: Chord[] = [];
  for (const i of endsOf(m)) {
    const [near, far] = i + 1 === n ? [0, i] : [i, i + 1];
    // Edges of the ring meet no line, so nothing takes their place.
    out.push({ near, far, nx: m[2 * near], ny: m[2 * near + 1], fx: m[2 * far], fy: m[2 * far + 1], lengthM: 0 });
  }
  const sides = sidesOf(m, budget);
  const landed = new Map<number, Landing[]>();
  for (let i = 0; i < n; i++) {
    for (const c of linesAcross(m, i, landed, sides)) {
      // From an end of the strip one sees along it: then what is left of the ring is shorter than the line.
      if (c.lengthM < LONGEST_SIDE_M && round / 2 - c.lengthM > 0.5 * c.lengthM) out.push(c);
    }
  }
  return out;
}

interface Nested {
  chord: Chord;
  /** The line just outside this one, or -1. */
  inside: number;
}

/** Lines that do not meet each other, from the outside inward: of two that do the shorter one stays. */
function nested(chords: Chord[]): Nested[] {
  chords.sort((a, b) => a.near - b.near || b.far - a.far || a.lengthM - b.lengthM);
  const kept: Chord[] = [];
  const open: Chord[] = [];
  const dropped = new Set<Chord>();
  for (const c of chords) {
    let crossed = false;
    for (;;) {
      while (open.length > 0 && open[open.length - 1].far <= c.near) open.pop();
      const top = open[open.length - 1];
      if (top === undefined || c.far <= top.far) {
        crossed = top !== undefined && c.far === top.far && c.near === top.near;
        break;
      }
      if (top.lengthM <= c.lengthM) {
        crossed = true;
        break;
      }
      dropped.add(top);
      open.pop();
    }
    if (crossed) continue;
    open.push(c);
    kept.push(c);
  }
  const out: Nested[] = [];
  const around: number[] = [];
  for (const chord of kept) {
    if (dropped.has(chord)) continue;
    while (around.length > 0 && out[around[around.length - 1]].chord.far <= chord.near) around.pop();
    out.push({ chord, inside: around.length > 0 ? around[around.length - 1] : -1 });
    around.push(out.length - 1);
  }
  return out;
}
