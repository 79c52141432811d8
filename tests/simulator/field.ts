/** Fields and the lines that are driven on them, in meters: x along the first pass, y across, to its left. */
import type { Random } from './random.ts';

export type Point = readonly [number, number];
/** A convex polygon, counterclockwise. */
export type Convex = readonly Point[];

export interface Field {
  edge: Convex;
  /** What is left inside the headlands; the edge itself without any. */
  inner: Convex;
  /** Ground that is not planted, inside the field. */
  waterway: Convex | null;
  lengthM: number;
  widthM: number;
  /** Largest slant of a field's end away from square, degrees. */
  slantDeg: number;
}

export type Driving = 'back and forth' | 'one way' | 'every other pass first' | 'round and round' | 'contours';
export type Headlands = 'none' | 'first' | 'last';

/** One run of the planter along a line: points at most 1 m apart where it bends, and where the frame is lowered and lifted along it. */
export interface Line {
  x: number[];
  y: number[];
  /** Distance along the line at each point. */
  s: number[];
  downM: number;
  upM: number;
  kind: 'pass' | 'lap';
}

export function inside(polygon: Convex, x: number, y: number): boolean {
  for (let i = 0; i < polygon.length; i++) {
    const [ax, ay] = polygon[i];
    const [bx, by] = polygon[(i + 1) % polygon.length];
    if ((bx - ax) * (y - ay) - (by - ay) * (x - ax) < 0) return false;
  }
  return true;
}

/** The polygon with every side moved inward. */
export function inset(polygon: Convex, byM: number): Convex {
  const n = polygon.length;
  const sides = polygon.map(([ax, ay], i) => {
    const [bx, by] = polygon[(i + 1) % n];
    const l = Math.hypot(bx - ax, by - ay);
    const dx = (bx - ax) / l;
    const dy = (by - ay) / l;
    return { x: ax - dy * byM, y: ay + dx * byM, dx, dy };
  });
  return sides.map((b, i) => {
    const a = sides[(i + n - 1) % n];
    const cross = a.dx * b.dy - a.dy * b.dx;
    const t = ((b.x - a.x) * b.dy - (b.y - a.y) * b.dx) / cross;
    return [a.x + a.dx * t, a.y + a.dy * t] as Point;
  });
}

/** Where a line across the polygon at height y enters and leaves it; null where it misses it. */
export function chord(polygon: Convex, y: number): [number, number] | null {
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  polygon.forEach(([ax, ay], i) => {
    const [bx, by] = polygon[(i + 1) % polygon.length];
    if (ay === by || y < Math.min(ay, by) || y > Math.max(ay, by)) return;
    const x = ax + ((bx - ax) * (y - ay)) / (by - ay);
    low = Math.min(low, x);
    high = Math.max(high, x);
  });
  return low <= high ? [low, high] : null;
}

export function lineThrough(points: readonly Point[], kind: Line['kind']): Line {
  const x = points.map((p) => p[0]);
  const y = points.map((p) => p[1]);
  const s = [0];
  for (let i = 1; i < x.length; i++) s.push(s[i - 1] + Math.hypot(x[i] - x[i - 1], y[i] - y[i - 1]));
  return { x, y, s, downM: 0, upM: s[s.length - 1], kind };
}

export function drawField(
  random: Random,
  size: { lengthM: number; widthM: number; headlandM: number; slanted: boolean; waterway: boolean },
): Field {
  const { lengthM, widthM, headlandM } = size;
  const slant = (): number => (size.slanted ? random.between(-38, 38) : random.between(-0.3, 0.3));
  const west = slant();
  const east = size.slanted && random.chance(0.5) ? -west : slant();
  const tan = (deg: number): number => Math.tan((deg * Math.PI) / 180);
  const edge: Convex = [
    [-tan(west) * (widthM / 2), 0],
    [lengthM - tan(east) * (widthM / 2), 0],
    [lengthM + tan(east) * (widthM / 2), widthM],
    [tan(west) * (widthM / 2), widthM],
  ];
  let waterway: Convex | null = null;
  if (size.waterway) {
    const at = random.between(0.35, 0.65) * lengthM;
    const lean = tan(random.between(-30, 30)) * widthM;
    const broad = random.between(6, 12);
    waterway = [
      [at - lean / 2, -1],
      [at - lean / 2 + broad, -1],
      [at + lean / 2 + broad, widthM + 1],
      [at + lean / 2, widthM + 1],
    ];
  }
  const inner = headlandM > 0 ? inset(edge, headlandM) : edge;
  return { edge, inner, waterway, lengthM, widthM, slantDeg: Math.max(Math.abs(west), Math.abs(east)) };
}

/** The closed way around a polygon with its corners rounded; begins in the middle of a side and runs `pastM` beyond where it began. */
export function lapAround(polygon: Convex, radiusM: number, clockwise: boolean, pastM: number): Line {
  const corners = clockwise ? [...polygon].reverse() : polygon;
  const n = corners.length;
  const points: Point[] = [];
  const middle = (a: Point, b: Point): Point => [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2];
  points.push(middle(corners[n - 1], corners[0]));
  for (let i = 0; i < n; i++) {
    const [px, py] = corners[(i + n - 1) % n];
    const [cx, cy] = corners[i];
    const [qx, qy] = corners[(i + 1) % n];
    const inH = Math.atan2(cy - py, cx - px);
    const outH = Math.atan2(qy - cy, qx - cx);
    let turn = outH - inH;
    turn = Math.atan2(Math.sin(turn), Math.cos(turn));
    const reach = radiusM * Math.tan(Math.abs(turn) / 2);
    const side = Math.sign(turn);
    const sx = cx - Math.cos(inH) * reach;
    const sy = cy - Math.sin(inH) * reach;
    const ox = sx - Math.sin(inH) * radiusM * side;
    const oy = sy + Math.cos(inH) * radiusM * side;
    const steps = Math.max(2, Math.ceil((radiusM * Math.abs(turn)) / 0.7));
    for (let k = 0; k <= steps; k++) {
      const h = inH + (turn * k) / steps;
      points.push([ox + Math.sin(h) * radiusM * side, oy - Math.cos(h) * radiusM * side]);
    }
  }
  const [a, b] = [corners[n - 1], corners[0]];
  const l = Math.hypot(b[0] - a[0], b[1] - a[1]);
  const m = middle(a, b);
  points.push(m, [m[0] + ((b[0] - a[0]) / l) * pastM, m[1] + ((b[1] - a[1]) / l) * pastM]);
  return lineThrough(points, 'lap');
}
