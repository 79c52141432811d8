import type { Lattice, Shapes } from '../geometry/shapes.ts';
import type { Plane } from '../plane/index.ts';
import { LONGEST_SIDE_M } from './quads.ts';

/** Dissolved passes cut back into short quads across their two sides, so that they are measured like any other bar. */
export interface Strips {
  /** On `lattice`, finer than the map's. */
  shapes: Shapes;
  lattice: Lattice;
  /** Record each quad was cut from. */
  record: Uint32Array;
  /** Part of the long records' area that the quads cover; far below 1 the records are no strips. */
  share: number;
}

/** Longest quad that a strip is cut into, metres. */
const CUT_M = 4;
/** A ring with more points than this is no single pass. */
const MOST_POINTS = 20_000;
/** A point facing a vertex of the other side within this is that vertex, metres: sections dissolved along a pass share their vertices. */
const SNAP_M = 0.15;

/** Cuts the records `long` of `shapes` into quads. */
export function cutStrips(shapes: Shapes, long: Uint32Array, plane: Plane, lattice: Lattice): Strips {
  const metres: number[] = [];
  const record: number[] = [];
  let area = 0;
  let cut = 0;
  for (const r of long) {
    for (let ring = shapes.shapeStart[r]; ring < shapes.shapeStart[r + 1]; ring++) {
      const from = shapes.ringStart[ring];
      const n = shapes.ringStart[ring + 1] - from;
      const m = new Float64Array(2 * n);
      plane.toMetres(shapes.xy, from, from + n, m);
      const a = signedArea(m);
      area += a;
      // A hole inside a strip is ground switched off; it costs share and nothing else.
      if (a <= 0 || n > MOST_POINTS) continue;
      const before = metres.length;
      cutRing(densify(m), metres);
      for (let q = before; q < metres.length; q += 8) {
        cut += signedArea(metres.slice(q, q + 8));
        record.push(r);
      }
    }
  }
  return {
    shapes: plane.toQuads(metres, lattice),
    lattice,
    record: Uint32Array.from(record),
    share: area > 0 ? cut / area : 0,
  };
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

/** Long edges get points in between, so that a strip drawn with four corners is cut as finely as any. */
function densify(m: Float64Array): Float64Array {
  const out: number[] = [];
  const n = m.length / 2;
  for (let i = 0; i < n; i++) {
    const j = (i + 1) % n;
    const dx = m[2 * j] - m[2 * i];
    const dy = m[2 * j + 1] - m[2 * i + 1];
    const l = Math.hypot(dx, dy);
    // An end of the strip is an edge too; it is no longer than the widest planter and needs no points.
    const parts = l > LONGEST_SIDE_M ? Math.ceil(l / CUT_M) : 1;
    for (let k = 0; k < parts; k++) out.push(m[2 * i] + (dx * k) / parts, m[2 * i + 1] + (dy * k) / parts);
  }
  return Float64Array.from(out);
}

/** Pairs every point of the ring with the point across the strip, and writes the quads between neighbouring pairs (counter-clockwise). */
function cutRing(m: Float64Array, out: number[]): void {
  const n = m.length / 2;
  const hit = new Float64Array(2 * n);
  const across = new Int32Array(n).fill(-1);
  for (let i = 0; i < n; i++) {
    const p = (i + n - 1) % n;
    const q = (i + 1) % n;
    let tx = m[2 * q] - m[2 * p];
    let ty = m[2 * q + 1] - m[2 * p + 1];
    const l = Math.hypot(tx, ty);
    if (l === 0) continue;
    tx /= l;
    ty /= l;
    // Inward normal of a counter-clockwise ring.
    const nx = -ty;
    const ny = tx;
    let best = LONGEST_SIDE_M;
    for (let j = 0; j < n; j++) {
      const k = (j + 1) % n;
      if (j === i || k === i) continue;
      const ex = m[2 * k] - m[2 * j];
      const ey = m[2 * k + 1] - m[2 * j + 1];
      const el = Math.hypot(ex, ey);
      // Only a side that runs the other way faces us.
      if (ex * tx + ey * ty > -0.9 * el) continue;
      const det = ex * ny - ey * nx;
      if (Math.abs(det) < 1e-12) continue;
      const wx = m[2 * j] - m[2 * i];
      const wy = m[2 * j + 1] - m[2 * i + 1];
      const t = (ex * wy - ey * wx) / det;
      const s = (nx * wy - ny * wx) / det;
      if (s < -1e-9 || s > 1 + 1e-9 || t <= 0.02 || t >= best) continue;
      best = t;
      across[i] = j;
      hit[2 * i] = m[2 * i] + nx * t;
      hit[2 * i + 1] = m[2 * i + 1] + ny * t;
      for (const v of [j, k]) {
        if (Math.hypot(m[2 * v] - hit[2 * i], m[2 * v + 1] - hit[2 * i + 1]) < SNAP_M) {
          hit[2 * i] = m[2 * v];
          hit[2 * i + 1] = m[2 * v + 1];
        }
      }
    }
  }
  for (let i = 0; i < n; i++) {
    const k = (i + 1) % n;
    // Each cross-section is met from both sides; the side with the lower index writes it.
    if (across[i] < i || across[k] < i || across[i] < 0 || across[k] < 0) continue;
    const own = Math.hypot(m[2 * k] - m[2 * i], m[2 * k + 1] - m[2 * i + 1]);
    const far = Math.hypot(hit[2 * k] - hit[2 * i], hit[2 * k + 1] - hit[2 * i + 1]);
    if (own < 0.05 || far < 0.3 * own || far > 3 * own) continue;
    out.push(m[2 * i], m[2 * i + 1], m[2 * k], m[2 * k + 1], hit[2 * k], hit[2 * k + 1], hit[2 * i], hit[2 * i + 1]);
  }
}
