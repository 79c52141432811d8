/** Shapes and polygons as triangles for the graphics card: three indices of points each. */
import type { Shapes } from '../../core/geometry/shapes.ts';

/** West, north, east, south, in offsets from the origin of a drawing. */
export type Box = [number, number, number, number];

/** Triangles (or edges) drawn in one call, and the box around them, so that invisible ones cost nothing. */
export interface Chunk {
  first: number;
  count: number;
  box: Box;
  /** Least and greatest thickness of the strips in it, offsets; none where thickness plays no part. */
  thick?: [number, number];
}

export interface Mesh {
  index: Uint32Array;
  chunks: Chunk[];
}

/** Indices in one chunk: a hundred yards of a pass of sixteen sections. */
const CHUNK = 3 * 2048;

/** `index` cut into chunks; `xy` holds the points, x and y in turn, `thick` one number for each. */
export function meshOf(xy: Float32Array, index: Uint32Array, thick?: Float32Array): Mesh {
  const chunks: Chunk[] = [];
  for (let first = 0; first < index.length; first += CHUNK) {
    const count = Math.min(CHUNK, index.length - first);
    const box: Box = [Infinity, Infinity, -Infinity, -Infinity];
    for (let i = first; i < first + count; i++) {
      const x = xy[2 * index[i]];
      const y = xy[2 * index[i] + 1];
      if (x < box[0]) box[0] = x;
      if (y < box[1]) box[1] = y;
      if (x > box[2]) box[2] = x;
      if (y > box[3]) box[3] = y;
    }
    chunks.push({ first, count, box });
    if (!thick) continue;
    const range: [number, number] = [Infinity, -Infinity];
    for (let i = first; i < first + count; i++) {
      range[0] = Math.min(range[0], thick[index[i]]);
      range[1] = Math.max(range[1], thick[index[i]]);
    }
    chunks[chunks.length - 1].thick = range;
  }
  return { index, chunks };
}

/**
 * Triangles of the shapes in two groups: of convex rings, which cover exactly the ring, and of all others, which cover more:
 * there only the winding number of all of them together separates inside from outside.
 * `ringStart` counts points; `shapeStart` counts rings.
 */
export function meshShapes({ xy, ringStart, shapeStart }: Shapes): { convex: Uint32Array; other: Uint32Array } {
  const convex = new Builder(mostTriangles(ringStart));
  const other = new Builder(mostTriangles(ringStart));
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
  const b = new Builder(mostTriangles(ringStart));
  for (let s = 0; s + 1 < shapeStart.length; s++) {
    if (!keep(s)) continue;
    for (let r = shapeStart[s]; r < shapeStart[s + 1]; r++) b.ring(ringStart[r], ringStart[r + 1]);
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

/** Collects triangles; `most` is the largest possible number. */
export class Builder {
  private readonly triangles: Uint32Array;
  private n = 0;

  constructor(most: number) {
    this.triangles = new Uint32Array(3 * most);
  }

  /**
   * Middle-out triangles: each pair of neighboring edges is cut off, then the same with the ring that remains. Together they
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
    this.triangles[this.n++] = a;
    this.triangles[this.n++] = b;
    this.triangles[this.n++] = c;
  }

  done(): Uint32Array {
    return this.triangles.slice(0, this.n);
  }
}

/** Triangles that the rings can make at most: two fewer than points each. */
function mostTriangles(ringStart: Uint32Array): number {
  return ringStart.length > 0 ? ringStart[ringStart.length - 1] : 0;
}
