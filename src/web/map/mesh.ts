/** Shapes and polygons as triangles for the graphics card: three indices of points each. */
import type { Polygons } from '../../core/coverage/index.ts';
import type { Shapes } from '../../core/geometry/shapes.ts';

/**
 * Triangles of the shapes in two lots: of convex rings, which cover exactly the ring, and of all others, which cover more:
 * there only the winding number of all of them together tells inside from outside.
 * `ringStart` counts points; `shapeStart` counts rings.
 */
export function meshShapes({ xy, ringStart, shapeStart }: Shapes): { convex: Uint32Array; other: Uint32Array } {
  const convex = new Builder();
  const other = new Builder();
  for (let s = 0; s + 1 < shapeStart.length; s++) {
    const one = shapeStart[s + 1] - shapeStart[s] === 1;
    for (let r = shapeStart[s]; r < shapeStart[s + 1]; r++) {
      const [from, to] = [ringStart[r], ringStart[r + 1]];
      (one && isConvex(xy, from, to) ? convex : other).ring(from, to);
    }
  }
  return { convex: convex.done(), other: other.done() };
}

/** Triangles of the shapes that `keep` names. They may cover more than a shape that is not convex: for marking, not for measuring. */
export function meshSome({ ringStart, shapeStart }: Shapes, keep: (shape: number) => boolean): Uint32Array {
  const b = new Builder();
  for (let s = 0; s + 1 < shapeStart.length; s++) {
    if (!keep(s)) continue;
    for (let r = shapeStart[s]; r < shapeStart[s + 1]; r++) b.ring(ringStart[r], ringStart[r + 1]);
  }
  return b.done();
}

/** Triangles of the rings; only their winding number tells inside from outside. */
export function meshPolygons({ ringStart, polygonStart }: Polygons): Uint32Array {
  const b = new Builder();
  for (let p = 0; p + 1 < polygonStart.length; p++) {
    for (let r = polygonStart[p]; r < polygonStart[p + 1]; r++) b.ring(ringStart[r], ringStart[r + 1]);
  }
  return b.done();
}

/** Every edge of every ring, two indices of points each. */
export function ringEdges(ringStart: Uint32Array): Uint32Array {
  const points = ringStart.length > 0 ? ringStart[ringStart.length - 1] : 0;
  const out = new Uint32Array(2 * points);
  let n = 0;
  for (let r = 0; r + 1 < ringStart.length; r++) {
    for (let i = ringStart[r]; i < ringStart[r + 1]; i++) {
      out[n++] = i;
      out[n++] = i + 1 < ringStart[r + 1] ? i + 1 : ringStart[r];
    }
  }
  return out;
}

function isConvex(xy: ArrayLike<number>, from: number, to: number): boolean {
  const n = to - from;
  if (n < 3) return false;
  if (n > 8) return false;
  let sign = 0;
  let turns = 0;
  for (let i = 0; i < n; i++) {
    const a = 2 * (from + i);
    const b = 2 * (from + ((i + 1) % n));
    const c = 2 * (from + ((i + 2) % n));
    const ux = xy[b] - xy[a];
    const uy = xy[b + 1] - xy[a + 1];
    const vx = xy[c] - xy[b];
    const vy = xy[c + 1] - xy[b + 1];
    const cross = ux * vy - uy * vx;
    if (cross !== 0) {
      if (sign !== 0 && Math.sign(cross) !== sign) return false;
      sign = Math.sign(cross);
    }
    turns += Math.atan2(cross, ux * vx + uy * vy);
  }
  // A ring that winds twice has all its turns to one side as well.
  return Math.abs(Math.abs(turns) - 2 * Math.PI) < 1e-6;
}

class Builder {
  private triangles: number[] = [];

  /**
   * Middle-out triangles: each pair of neighbouring edges is cut off, then the same with the ring that remains. Together they
   * wind as often around any spot as the ring does, and, unlike a fan from one corner, they stay small along long thin rings.
   */
  ring(from: number, to: number): void {
    const n = to - from;
    for (let step = 1; step < n; step *= 2) {
      for (let i = 0; i + step < n; i += 2 * step) {
        const far = i + 2 * step;
        if (far < n) this.put(from + i, from + i + step, from + far);
        else if (i > 0) this.put(from + i, from + i + step, from);
      }
    }
  }

  private put(a: number, b: number, c: number): void {
    this.triangles.push(a, b, c);
  }

  done(): Uint32Array {
    return Uint32Array.from(this.triangles);
  }
}
