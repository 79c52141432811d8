import type { Budget } from '../geometry/budget.ts';
import type { EdgeGrid } from '../geometry/edgegrid.ts';
import { lengthOf } from '../geometry/length.ts';
import { type Chord, direction, type Landing, lineAcross, linesAcross, sidesOf } from './across.ts';
import { LONGEST_SIDE_M } from './quads.ts';

/** The lines across the ring of a strip along which it is cut, from the outside inward. */

/** Shorter quads are none, meters. */
export const SHORTEST_M = 0.05;

export const stepOf = (a: Chord, b: Chord): number =>
  Math.max(lengthOf(b.nx - a.nx, b.ny - a.ny), lengthOf(b.fx - a.fx, b.fy - a.fy));

/**
 * Whether line `b` follows line `a` along the strip: neither end goes back, one at least by `leastM` forward and no further than points of a side lie apart,
 * and neither moves along the lines more than ahead, which is what a section that goes on or off does.
 */
export function steady(a: Chord, b: Chord, leastM: number): boolean {
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

/**
 * The ring from the end of a strip's end on, so that the edge across the end closes it and every line lies within the one before. Where the ends are slanted, and
 * sections went off one by one, no edge lies across them: then from a point as far out as any.
 */
export function fromEnd(m: Float64Array): Float64Array {
  const n = m.length / 2;
  const ends = endsOf(m);
  const first = ends.length > 0 ? (ends[0] + 1) % n : farthest(m);
  if (first === 0) return m;
  const out = new Float64Array(2 * n);
  out.set(m.subarray(2 * first));
  out.set(m.subarray(0, 2 * first), 2 * (n - first));
  return out;
}

/** The point of a ring that lies farthest from the mean of its points. */
function farthest(m: Float64Array): number {
  const n = m.length / 2;
  let [x, y] = [0, 0];
  for (let i = 0; i < n; i++) {
    x += m[2 * i] / n;
    y += m[2 * i + 1] / n;
  }
  let best = 0;
  let most = -1;
  for (let i = 0; i < n; i++) {
    const away = lengthOf(m[2 * i] - x, m[2 * i + 1] - y);
    if (away > most) [best, most] = [i, away];
  }
  return best;
}

/** The lines that the points of the ring see across it. */
function chordsOf(m: Float64Array, sides: EdgeGrid): Chord[] {
  const n = m.length / 2;
  let round = 0;
  for (let i = 0; i < n; i++) {
    const k = (i + 1) % n;
    round += lengthOf(m[2 * k] - m[2 * i], m[2 * k + 1] - m[2 * i + 1]);
  }
  const out: Chord[] = [];
  const ends = endsOf(m);
  const isEnd = new Uint8Array(n);
  for (const i of ends) {
    isEnd[i] = 1;
    const [near, far] = i + 1 === n ? [0, i] : [i, i + 1];
    // Edges of the ring meet no line, so nothing takes their place.
    out.push({ near, far, nx: m[2 * near], ny: m[2 * near + 1], fx: m[2 * far], fy: m[2 * far + 1], lengthM: 0 });
  }
  const landed = new Map<number, Landing[]>();
  for (let i = 0; i < n; i++) {
    for (const c of linesAcross(m, i, landed, sides)) {
      // From an end of the strip one sees along it: then what is left of the ring is shorter than the line, or the line ends at the other end, which lies
      // near where a lap runs on over its own beginning.
      const alongRound = round / 2 - c.lengthM <= 0.5 * c.lengthM || joinsEnds(c, isEnd);
      if (c.lengthM < LONGEST_SIDE_M && !alongRound) out.push(c);
    }
  }
  return out;
}

/** True for a line from the corner of one end of a strip to another end. */
function joinsEnds({ near, far }: Chord, isEnd: Uint8Array): boolean {
  const n = isEnd.length;
  /** The end that a place of the ring lies on, or touches; -1 for none. */
  const endAt = (at: number): number => {
    const i = Math.floor(at) % n;
    if (isEnd[i] === 1) return i;
    const before = (i + n - 1) % n;
    return Number.isInteger(at) && isEnd[before] === 1 ? before : -1;
  };
  const [a, b] = [endAt(near), endAt(far)];
  return a >= 0 && b >= 0 && a !== b;
}

export interface Nested {
  chord: Chord;
  /** The line just outside this one, or -1. */
  inside: number;
}

/** Lines that do not meet one another, from the outside inward: of two that do the shorter one stays. */
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

/** A piece of a strip whose lines lie square across it. */
interface Square {
  x: number;
  y: number;
  /** Unit vector along the strip. */
  tx: number;
  ty: number;
  widthM: number;
}

/** A line is square to the strip within this, sine of 6 degrees. */
const SQUARE = 0.1;
/** So many widths from a square piece, where the two nearest run alike, the strip runs as they do. */
const NEAR_WIDTHS = 4;

/**
 * The lines along which the ring of a strip is cut, from the outside inward. At slanted ends, where sections went off one by one, the sides are steps and show no
 * direction: there lines lie square to the strip as it runs beside them, so that each step is cut where it is.
 */
export function linesOf(m: Float64Array, budget: Budget): Nested[] {
  const sides = sidesOf(m, budget);
  const fits = pairing(m);
  const first = nested(chordsOf(m, sides).filter(fits));
  const { squares, lines } = squaresOf(first);
  if (squares.length < 2) return first;
  const n = m.length / 2;
  const settled = new Uint8Array(n);
  for (const c of lines) for (const at of [c.near, c.far]) if (Number.isInteger(at)) settled[at % n] = 1;
  const loose = Array.from({ length: n }, (_, i) => i).filter((i) => settled[i] === 0);
  budget.spend(loose.length * squares.length);
  const landed = new Map<number, Landing[]>();
  const from = new Set<number>();
  const more: Chord[] = [];
  for (const i of loose) {
    const t = besideOf(m, i, squares);
    if (t === null) continue;
    from.add(i);
    const c = lineAcross(m, i, t[0], t[1], landed, sides);
    if (c && c.lengthM < LONGEST_SIDE_M && fits(c)) more.push(c);
  }
  if (from.size === 0) return first;
  const ofLoose = (c: Chord): boolean => (from.has(c.near) || from.has(c.far)) && c.lengthM > 0;
  return nested([...first.map((k) => k.chord).filter((c) => !ofLoose(c)), ...more]);
}

/** The two ends of a line lie as far from the strip's first end, along the two sides, but for bends: within this part of the strip's length. */
const OUT_OF_STEP = 0.5;

/**
 * Tells lines that join two places of the strip's sides that lie as far from its end. Where a lap runs on over its own beginning, others would join its end to its beginning. Without an end
 * that closes the ring nothing is known of it.
 */
function pairing(m: Float64Array): (c: Chord) => boolean {
  const n = m.length / 2;
  if (!endsOf(m).includes(n - 1)) return () => true;
  const along = new Float64Array(n + 1);
  for (let i = 0; i < n; i++) {
    const k = (i + 1) % n;
    along[i + 1] = along[i] + lengthOf(m[2 * k] - m[2 * i], m[2 * k + 1] - m[2 * i + 1]);
  }
  const whole = along[n - 1];
  const at = (v: number): number => {
    const i = Math.floor(v);
    return along[i] + (v - i) * (along[Math.min(n, i + 1)] - along[i]);
  };
  return ({ near, far }) => Math.abs(at(near) - (whole - at(far))) <= (OUT_OF_STEP * whole) / 2;
}

/** The square pieces between lines, and the lines about them. */
function squaresOf(list: readonly Nested[]): { squares: Square[]; lines: Set<Chord> } {
  const squares: Square[] = [];
  const lines = new Set<Chord>();
  for (const { chord: b, inside } of list) {
    if (inside < 0) continue;
    const a = list[inside].chord;
    if (!steady(a, b, LEAST_PIECE_M)) continue;
    const [x, y] = [b.nx - a.nx + b.fx - a.fx, b.ny - a.ny + b.fy - a.fy];
    const l = lengthOf(x, y);
    const [tx, ty] = [x / l, y / l];
    const along = (c: Chord): number => ((c.fx - c.nx) * tx + (c.fy - c.ny) * ty) / lengthOf(c.fx - c.nx, c.fy - c.ny);
    if (Math.abs(along(a)) > SQUARE || Math.abs(along(b)) > SQUARE) continue;
    squares.push({
      x: (a.nx + a.fx + b.nx + b.fx) / 4,
      y: (a.ny + a.fy + b.ny + b.fy) / 4,
      tx,
      ty,
      widthM: lengthOf(a.fx - a.nx, a.fy - a.ny),
    });
    lines.add(a).add(b);
  }
  return { squares, lines };
}

/** Pieces shorter than this say little of the direction, meters. */
const LEAST_PIECE_M = 0.5;

/** How the side of point i runs along the ring if it runs as the strip does beside it; null where nothing says so. */
function besideOf(m: Float64Array, i: number, squares: readonly Square[]): [number, number] | null {
  const [px, py] = [m[2 * i], m[2 * i + 1]];
  let [best, second] = [-1, -1];
  let [least, next] = [Number.POSITIVE_INFINITY, Number.POSITIVE_INFINITY];
  for (let k = 0; k < squares.length; k++) {
    const d = (squares[k].x - px) ** 2 + (squares[k].y - py) ** 2;
    if (d < least) [second, next, best, least] = [best, least, k, d];
    else if (d < next) [second, next] = [k, d];
  }
  const [s, o] = [squares[best], squares[second]];
  if (next > (NEAR_WIDTHS * s.widthM) ** 2 || Math.abs(s.tx * o.ty - s.ty * o.tx) > SQUARE) return null;
  const n = m.length / 2;
  const alongEdge = (k: number): number => {
    const j = (k + 1) % n;
    const [x, y] = [m[2 * j] - m[2 * k], m[2 * j + 1] - m[2 * k + 1]];
    const l = lengthOf(x, y);
    return l > 0 ? (x * s.tx + y * s.ty) / l : 0;
  };
  const [before, after] = [alongEdge((i + n - 1) % n), alongEdge(i)];
  const along = Math.abs(before) > Math.abs(after) ? before : after;
  if (Math.abs(along) < Math.SQRT1_2) return null;
  return along > 0 ? [s.tx, s.ty] : [-s.tx, -s.ty];
}
