import { EdgeGrid } from '../geometry/edgegrid.ts';
import { lengthOf } from '../geometry/length.ts';
import { ChordList, type Chords } from './chords.ts';
import type { Edges } from './edges.ts';

/** Chords narrower than this part of a working width need no test: a circle reaches hardly into a strip so narrow. */
export const SURELY_NARROW = 0.5;
/** Chords are tested in parts of this length, meters, where one end of a chord is narrow and the other is not. */
const PART_M = 0.5;
/** Points at which a long chord is tested, for each width of a circle. */
const LOOKS = 3;
/** The search for a circle stops at squares of this part of its radius. */
const FINEST = 1 / 256;

/**
 * The chords over ground that no circle of diameter `widthM` reaches without touching an edge: a chord may be longer than that where it crosses a
 * strip between stepped edges at an angle, and shorter where it cuts the corner of wide ground. Chords of whole pieces are kept up to `widthM`.
 */
export function narrowChords(edges: Edges, chords: Chords, widthM: number): Chords {
  const reach = new Discs(edges, widthM / 2);
  const out = new Picked(chords);
  const inside = insideRuns(edges, chords, widthM);
  for (let c = 0; c < chords.count; c++) {
    if (chords.near[c] < edges.wholeEdges) {
      if (chords.widthM[c] <= widthM) out.add(c, 0, 1);
      continue;
    }
    if (inside[c] === 1 || chords.widthM[c] < SURELY_NARROW * widthM) {
      out.add(c, 0, 1);
      continue;
    }
    // Longer than a circle is wide: a look along a strip, which may cross wide ground on its way.
    const looks = chords.widthM[c] <= widthM ? 1 : Math.ceil((LOOKS * chords.widthM[c]) / widthM);
    const isNarrow = (t: number): boolean => {
      for (let k = 0; k < looks; k++) if (reach.covers(...pointOf(chords.quad, c, t, (k + 0.5) / looks))) return false;
      return true;
    };
    const parts = Math.max(1, Math.ceil(chords.lengthM[c] / PART_M));
    const [first, last] = [isNarrow(0.5 / parts), isNarrow(1 - 0.5 / parts)];
    if (first === last && isNarrow(0.5) === first) {
      if (first) out.add(c, 0, 1);
      continue;
    }
    let from = -1;
    for (let k = 0; k <= parts; k++) {
      const narrow = k < parts && isNarrow((k + 0.5) / parts);
      if (narrow && from < 0) from = k;
      if (narrow || from < 0) continue;
      out.add(c, from / parts, k / parts);
      from = -1;
    }
  }
  return out.done();
}

/** A run is one wall that bends little: the next chord turns by less than 18 degrees and begins within this, meters; shorter chords are jogs of it. */
const SAME_WAY = 0.95;
const JOG_M = 0.3;

/**
 * 1 for each chord inside a run of chords shorter than `widthM` that goes on for half of that at both of its ends. No test is needed there: every point that
 * near lies on a chord of the run, so the middle of a circle that large would be nearer to one of the chord's ends than its radius. Where the wall bends, points
 * between two chords lie on neither: such a point, as far from the bend as the radius, is away from the chord beside it by its sine, and the chord
 * must be shorter by half of that part.
 */
function insideRuns({ ring, wholeEdges }: Edges, chords: Chords, widthM: number): Uint8Array {
  const { count, near, quad, lengthM } = chords;
  const inside = new Uint8Array(count);
  const side = (c: number, a: number, b: number): number =>
    lengthOf(quad[8 * c + b] - quad[8 * c + a], quad[8 * c + b + 1] - quad[8 * c + a + 1]);
  const widestOf = (c: number): number => Math.max(side(c, 0, 6), side(c, 2, 4));
  const follows = (p: number, c: number): boolean => {
    const [a, b] = [8 * p, 8 * c];
    const [ux, uy] = [quad[a + 2] - quad[a], quad[a + 3] - quad[a + 1]];
    const [vx, vy] = [quad[b + 2] - quad[b], quad[b + 3] - quad[b + 1]];
    const both = lengthM[p] * lengthM[c];
    const gapM = lengthOf(quad[b] - quad[a + 2], quad[b + 1] - quad[a + 3]);
    if (ring[near[p]] !== ring[near[c]] || gapM >= JOG_M || ux * vx + uy * vy <= SAME_WAY * both) return false;
    const sine = Math.abs(ux * vy - uy * vx) / both;
    return Math.max(widestOf(p), widestOf(c)) < widthM * (1 - sine / 2);
  };
  let run: number[] = [];
  let last = -1;
  const close = (): void => {
    let allM = 0;
    for (const c of run) allM += lengthM[c];
    let fromM = 0;
    for (const c of run) {
      const toM = fromM + lengthM[c];
      if (fromM >= widthM / 2 && allM - toM >= widthM / 2) inside[c] = 1;
      fromM = toM;
    }
    run = [];
    last = -1;
  };
  for (let c = 0; c < count; c++) {
    if (near[c] < wholeEdges) continue;
    const isNarrow = widestOf(c) < widthM;
    const isJog = lengthM[c] < JOG_M;
    if (last >= 0 && !(isNarrow && (isJog || follows(last, c)))) close();
    if (!isNarrow || (isJog && last < 0)) continue;
    run.push(c);
    if (!isJog) last = c;
  }
  close();
  return inside;
}

/** A point of chord c: at part `t` of its length and part `s` of the way across. */
function pointOf(quad: Float64Array, c: number, t: number, s: number): [number, number] {
  const at = (k: number): number => {
    const near = quad[8 * c + k] * (1 - t) + quad[8 * c + 2 + k] * t;
    const far = quad[8 * c + 6 + k] * (1 - t) + quad[8 * c + 4 + k] * t;
    return near * (1 - s) + far * s;
  };
  return [at(0), at(1)];
}

/** Parts of some chords, as chords. */
class Picked {
  private readonly list = new ChordList();

  constructor(private readonly chords: Chords) {}

  /** The part of chord c from `from` to `to`, in parts of its length. */
  add(c: number, from: number, to: number): void {
    const { near, far, quad, widthM, lengthM } = this.chords;
    const between = (a: number, b: number, t: number): number => quad[8 * c + a] * (1 - t) + quad[8 * c + b] * t;
    const [ax, ay] = [between(0, 2, from), between(1, 3, from)];
    const [bx, by] = [between(0, 2, to), between(1, 3, to)];
    const [cx, cy] = [between(6, 4, to), between(7, 5, to)];
    const [dx, dy] = [between(6, 4, from), between(7, 5, from)];
    const isWhole = from === 0 && to === 1;
    // Both sides of a chord are perpendicular to its near edge.
    const width = isWhole ? widthM[c] : (lengthOf(dx - ax, dy - ay) + lengthOf(cx - bx, cy - by)) / 2;
    this.list.add(near[c], far[c], width, isWhole ? lengthM[c] : lengthM[c] * (to - from));
    this.list.corner(ax, ay);
    this.list.corner(bx, by);
    this.list.corner(cx, cy);
    this.list.corner(dx, dy);
  }

  done(): Chords {
    return this.list.done();
  }
}

/** Circles of one radius that fit between the edges. */
export class Discs {
  private readonly grid: EdgeGrid;
  /** Middles of circles that were found, by square cells of one radius. */
  private readonly known = new Map<string, number[]>();
  private readonly squares: number[] = [];
  private near = new Int32Array(64);
  private count = 0;

  constructor(
    private readonly edges: Edges,
    private readonly radiusM: number,
  ) {
    this.grid = new EdgeGrid(edges.xy, edges.count);
  }

  /**
   * Whether a circle over the point (meters on the plane, not on an edge) touches no edge. Halves squares that could hold its middle, nearest
   * to the point first; a square is dropped when its middle lies too near an edge for any point in it.
   */
  covers(x: number, y: number): boolean {
    const r = this.radiusM;
    if (this.isKnown(x, y)) return true;
    this.gather(x, y);
    const { squares } = this;
    squares.length = 0;
    squares.push(x, y, r);
    while (squares.length > 0) {
      const h = squares.pop() as number;
      const v = squares.pop() as number;
      const u = squares.pop() as number;
      // The nearest point of the square must lie within the radius.
      if (lengthOf(Math.max(0, Math.abs(u - x) - h), Math.max(0, Math.abs(v - y) - h)) >= r) continue;
      const most = r + h * Math.SQRT2;
      const d = this.clearance(u, v, most, r - h * Math.SQRT2);
      if (d >= r && lengthOf(u - x, v - y) < r) {
        this.keep(u, v);
        return true;
      }
      if (d + h * Math.SQRT2 < r || h < r * FINEST) continue;
      const q = h / 2;
      squares.push(u - q, v - q, q, u + q, v - q, q, u - q, v + q, q, u + q, v + q, q);
    }
    return false;
  }

  /** Edges that a circle over the point could touch. */
  private gather(x: number, y: number): void {
    const reach = 2 * this.radiusM;
    const { xy } = this.edges;
    const n = this.grid.near(x - reach, y - reach, x + reach, y + reach);
    if (n > this.near.length) this.near = new Int32Array(2 * n);
    this.count = 0;
    for (let k = 0; k < n; k++) {
      const e = this.grid.found[k];
      if (distance2(xy, 4 * e, x, y) < reach * reach) this.near[this.count++] = e;
    }
  }

  /** Distance to the nearest edge, meters; `most` where it is further than that, and any value below `least` where it is nearer than that. */
  private clearance(u: number, v: number, most: number, least: number): number {
    const { xy } = this.edges;
    let best = most * most;
    const enough = least > 0 ? least * least : 0;
    for (let k = 0; k < this.count; k++) {
      const d = distance2(xy, 4 * this.near[k], u, v);
      if (d >= best) continue;
      best = d;
      if (best < enough) break;
    }
    return Math.sqrt(best);
  }

  private isKnown(x: number, y: number): boolean {
    const r = this.radiusM;
    const [cx, cy] = [Math.floor(x / r), Math.floor(y / r)];
    for (let i = cx - 1; i <= cx + 1; i++)
      for (let j = cy - 1; j <= cy + 1; j++) {
        const list = this.known.get(`${i} ${j}`);
        for (let k = 0; list && k < list.length; k += 2) if (lengthOf(list[k] - x, list[k + 1] - y) < r) return true;
      }
    return false;
  }

  private keep(u: number, v: number): void {
    const key = `${Math.floor(u / this.radiusM)} ${Math.floor(v / this.radiusM)}`;
    const list = this.known.get(key);
    if (list) list.push(u, v);
    else this.known.set(key, [u, v]);
  }
}

function distance2(xy: Float64Array, at: number, x: number, y: number): number {
  const ax = xy[at] - x;
  const ay = xy[at + 1] - y;
  const dx = xy[at + 2] - xy[at];
  const dy = xy[at + 3] - xy[at + 1];
  const l = dx * dx + dy * dy;
  const t = l > 0 ? Math.max(0, Math.min(1, -(ax * dx + ay * dy) / l)) : 0;
  const px = ax + t * dx;
  const py = ay + t * dy;
  return px * px + py * py;
}
