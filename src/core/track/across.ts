import { lengthOf } from '../geometry/length.ts';

/** Lines across the ring of a strip (counter-clockwise, meters, x and y in turn), from one of its sides to the other. */

/** A point facing a vertex of the other side within this is that vertex, meters: sections dissolved along a pass share their vertices. */
const SNAP_M = 0.15;

/** How far along the ring a point's direction is looked for, meters: far enough to see over the jog between two bars, and over the wander of a receiver. */
const LOOK_M = [0.6, 6] as const;
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

/** Unit vector from point i to what lies ahead of it (or behind, `way` -1) as far as the ring goes that way. */
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
    walked += lengthOf(m[2 * v] - m[2 * before], m[2 * v + 1] - m[2 * before + 1]);
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

/** The lines across the strip from point i: one, or two from a corner. */
export function linesAcross(m: Float64Array, i: number, landed: Map<number, Landing[]>): Chord[] {
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
    return (l > 0 ? lineAcross(m, i, tx / l, ty / l, landed) : null) ?? [];
  });
}

/** Where a line ends between two points of the ring. */
export interface Landing {
  at: number;
  x: number;
  y: number;
}

/**
 * From point i, whose side runs along the unit vector t, to the first side that runs the other way. Lines that end within a hand of one another end in one
 * place: `landed` keeps the places per side.
 */
function lineAcross(m: Float64Array, i: number, tx: number, ty: number, landed: Map<number, Landing[]>): Chord | null {
  const n = m.length / 2;
  const px = m[2 * i];
  const py = m[2 * i + 1];
  // Inward normal of a counter-clockwise ring.
  const nx = -ty;
  const ny = tx;
  let best = Infinity;
  let at = -1;
  let x = 0;
  let y = 0;
  for (let j = 0; j < n; j++) {
    const k = j + 1 === n ? 0 : j + 1;
    if (j === i || k === i) continue;
    const wx = m[2 * j] - px;
    const wy = m[2 * j + 1] - py;
    const vx = m[2 * k] - px;
    const vy = m[2 * k + 1] - py;
    const a = wx * tx + wy * ty;
    const b = vx * tx + vy * ty;
    // A side that runs the other way and crosses the line, or ends within a hair of it.
    if (b >= a || a < -1e-6 || b > 1e-6) continue;
    const s = a / (a - b);
    const t = (1 - s) * (wx * nx + wy * ny) + s * (vx * nx + vy * ny);
    if (t <= 0.02 || t >= best) continue;
    if ((a - b) ** 2 < 0.5 * ((vx - wx) ** 2 + (vy - wy) ** 2)) continue;
    best = t;
    at = j + Math.min(1, Math.max(0, s));
    x = px + nx * t;
    y = py + ny * t;
  }
  if (at < 0) return null;
  const j = Math.floor(at) % n;
  const places = landed.get(j) ?? [
    { at: j, x: m[2 * j], y: m[2 * j + 1] },
    { at: (j + 1) % n, x: m[2 * ((j + 1) % n)], y: m[2 * ((j + 1) % n) + 1] },
  ];
  landed.set(j, places);
  const known = places.find((p) => p.at !== i && lengthOf(p.x - x, p.y - y) < SNAP_M);
  if (known) ({ at, x, y } = known);
  else places.push({ at, x, y });
  const line = { lengthM: best };
  return i < at
    ? { ...line, near: i, far: at, nx: px, ny: py, fx: x, fy: y }
    : { ...line, near: at, far: i, nx: x, ny: y, fx: px, fy: py };
}
