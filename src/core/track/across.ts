import type { Budget } from '../geometry/budget.ts';
import { EdgeGrid } from '../geometry/edgegrid.ts';
import { lengthOf } from '../geometry/length.ts';
import { LONGEST_SIDE_M } from './quads.ts';

/** Lines across the ring of a strip (counter-clockwise, meters, x and y in turn), from one of its sides to the other. */

/** A point facing a vertex of the other side within this is that vertex, meters: sections dissolved along a pass share their vertices. */
const SNAP_M = 0.15;

/** A side that ends within this of a line across meets it, meters. */
const HAIR_M = 1e-6;
/** A search across a strip goes in steps of this, meters: most strips are not much wider. Many are of one section: the first step is shorter. */
const LOOK_STEP_M = 8;
const FIRST_STEP_M = 2;

/** How far along the ring a point's direction is taken, meters: far enough to average out the jog between two bars and the wander of a receiver. */
const LOOK_M = [0.6, 6] as const;
/** The jog from one bar to the next is no longer, meters; a longer edge that turns aside is the end of a side. */
const JOG_M = 0.4;
/** Lines across a strip: from place `near` of the ring to place `far`, counted in points, `near` below `far`. */
export interface Chord {
  near: number;
  far: number;
  nx: number;
  ny: number;
  fx: number;
  fy: number;
  lengthM: number;
}

/** Unit vector from point i ahead (or back, `way` -1) as far as the ring runs that way. */
export function direction(m: Float64Array, i: number, way: 1 | -1): [number, number] {
  const n = m.length / 2;
  let sx = 0;
  let sy = 0;
  let dx = 0;
  let dy = 0;
  let walked = 0;
  for (let k = 1, v = i; k < n && walked < LOOK_M[1]; k++) {
    const before = v;
    v = (v + way + n) % n;
    const [ex, ey] = [m[2 * v] - m[2 * before], m[2 * v + 1] - m[2 * before + 1]];
    const edge = lengthOf(ex, ey);
    walked += edge;
    // The side ends at a corner.
    if ((dx !== 0 || dy !== 0) && edge > JOG_M && ex * sx + ey * sy < Math.SQRT1_2 * edge) break;
    const x = m[2 * v] - m[2 * i];
    const y = m[2 * v + 1] - m[2 * i + 1];
    const l = lengthOf(x, y);
    if (l === 0) continue;
    if (dx !== 0 || dy !== 0) {
      if (x * sx + y * sy < 0.85 * l) break;
    } else if (walked >= LOOK_M[0]) {
      sx = x / l;
      sy = y / l;
    }
    if (walked < LOOK_M[0]) continue;
    dx = x / l;
    dy = y / l;
  }
  return [dx, dy];
}

/** The sides of a ring, for searching: edge i begins at point i. All searches draw on `budget`. */
export function sidesOf(m: Float64Array, budget: Budget): EdgeGrid {
  const n = m.length / 2;
  const edges = new Float64Array(4 * n);
  for (let i = 0; i < n; i++) {
    const k = i + 1 === n ? 0 : i + 1;
    edges[4 * i] = m[2 * i];
    edges[4 * i + 1] = m[2 * i + 1];
    edges[4 * i + 2] = m[2 * k];
    edges[4 * i + 3] = m[2 * k + 1];
  }
  return new EdgeGrid(edges, n, LOOK_STEP_M, budget);
}

/** The lines across the strip from point i to its `sides`: one, or two from a corner. */
export function linesAcross(m: Float64Array, i: number, landed: Map<number, Landing[]>, sides: EdgeGrid): Chord[] {
  const [ax, ay] = direction(m, i, 1);
  const [bx, by] = direction(m, i, -1);
  const ways =
    ax * bx + ay * by < -0.7
      ? [[ax - bx, ay - by]]
      : [
          [ax, ay],
          [-bx, -by],
        ];
  return ways.flatMap(([tx, ty]) => {
    const l = lengthOf(tx, ty);
    return (l > 0 ? lineAcross(m, i, tx / l, ty / l, landed, sides) : null) ?? [];
  });
}

/** Where a line ends between two points of the ring. */
export interface Landing {
  at: number;
  x: number;
  y: number;
}

/**
 * From point i, whose side runs along the unit vector t, to the first of `sides` that runs the other way, no further away than a record is wide. Lines that end
 * close to each other end in one place: `landed` keeps the places per side.
 */
export function lineAcross(
  m: Float64Array,
  i: number,
  tx: number,
  ty: number,
  landed: Map<number, Landing[]>,
  sides: EdgeGrid,
): Chord | null {
  const n = m.length / 2;
  const px = m[2 * i];
  const py = m[2 * i + 1];
  // Inward normal of a counter-clockwise ring.
  const nx = -ty;
  const ny = tx;
  let best = LONGEST_SIDE_M;
  let side = -1;
  let at = -1;
  let x = 0;
  let y = 0;
  for (let from = 0, step = FIRST_STEP_M; from < best; from += step, step = LOOK_STEP_M) {
    const [x0, y0] = [px + nx * from, py + ny * from];
    const [x1, y1] = [x0 + nx * step, y0 + ny * step];
    const met = sides.near(
      Math.min(x0, x1) - 2 * HAIR_M,
      Math.min(y0, y1) - 2 * HAIR_M,
      Math.max(x0, x1) + 2 * HAIR_M,
      Math.max(y0, y1) + 2 * HAIR_M,
    );
    for (let e = 0; e < met; e++) {
      const j = sides.found[e];
      const k = j + 1 === n ? 0 : j + 1;
      if (j === i || k === i) continue;
      const wx = m[2 * j] - px;
      const wy = m[2 * j + 1] - py;
      const vx = m[2 * k] - px;
      const vy = m[2 * k + 1] - py;
      const a = wx * tx + wy * ty;
      const b = vx * tx + vy * ty;
      // A side that runs the other way and crosses the line, or ends just short of it.
      if (b >= a || a < -HAIR_M || b > HAIR_M) continue;
      const s = a / (a - b);
      const t = (1 - s) * (wx * nx + wy * ny) + s * (vx * nx + vy * ny);
      // Of two sides that meet on the line the first around the ring counts.
      if (t <= 0.02 || t > best || (t === best && j > side)) continue;
      if ((a - b) ** 2 < 0.5 * ((vx - wx) ** 2 + (vy - wy) ** 2)) continue;
      best = t;
      side = j;
      at = j + Math.min(1, Math.max(0, s));
      x = px + nx * t;
      y = py + ny * t;
    }
  }
  if (at < 0) return null;
  const j = Math.floor(at) % n;
  const end = (j + 1) % n;
  const isNear = (v: number): boolean => v !== i && lengthOf(m[2 * v] - x, m[2 * v + 1] - y) < SNAP_M;
  if (isNear(j) || isNear(end)) {
    at = isNear(j) ? j : end;
    x = m[2 * at];
    y = m[2 * at + 1];
  } else {
    const places = landed.get(j);
    const known = places?.find((p) => p.at !== i && lengthOf(p.x - x, p.y - y) < SNAP_M);
    if (known) ({ at, x, y } = known);
    else if (places) places.push({ at, x, y });
    else landed.set(j, [{ at, x, y }]);
  }
  const line = { lengthM: best };
  return i < at
    ? { ...line, near: i, far: at, nx: px, ny: py, fx: x, fy: y }
    : { ...line, near: at, far: i, nx: x, ny: y, fx: px, fy: py };
}
