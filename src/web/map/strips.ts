/** Ground of the account as strips of known thickness, and as bands where strips are too thin to draw. */
import type { Polygons } from '../../core/coverage/index.ts';
import { twiceArea } from '../../core/report/index.ts';
import { Builder } from './mesh.ts';

/** Points (x and y in turn), the thickness of the strip that each belongs to, and triangles. Lengths in offsets. */
export interface Strips {
  xy: Float32Array;
  thick: Float32Array;
  index: Uint32Array;
}

/** Thickness of each polygon: twice its area over its outline, which is that of a long strip and half that of a square. */
export function thicknessOf(xy: ArrayLike<number>, { ringStart, polygonStart }: Polygons): Float32Array {
  const out = new Float32Array(polygonStart.length - 1);
  for (let p = 0; p < out.length; p++) {
    let around = 0;
    for (let r = polygonStart[p]; r < polygonStart[p + 1]; r++)
      around += 2 * lengthOf(xy, ringStart[r], ringStart[r + 1]);
    const area = twiceArea(xy, ringStart, polygonStart[p], polygonStart[p + 1]);
    out[p] = around > 0 ? Math.abs(area) / around : 0;
  }
  return out;
}

/** The polygons' own points and triangles; only the winding number of the triangles separates inside from outside. */
export function stripsOf(xy: Float32Array, polygons: Polygons): Strips {
  const { ringStart, polygonStart } = polygons;
  const thickness = thicknessOf(xy, polygons);
  const thick = new Float32Array(xy.length / 2);
  const triangles = new Builder(xy.length / 2);
  for (let p = 0; p < thickness.length; p++) {
    thick.fill(thickness[p], ringStart[polygonStart[p]], ringStart[polygonStart[p + 1]]);
    for (let r = polygonStart[p]; r < polygonStart[p + 1]; r++) triangles.ring(ringStart[r], ringStart[r + 1]);
  }
  return { xy, thick, index: triangles.done() };
}

/** Half of a ring's outline: of a long strip, its length. */
function lengthOf(xy: ArrayLike<number>, from: number, to: number): number {
  let around = 0;
  for (let i = from, j = to - 1; i < to; j = i++)
    around += Math.hypot(xy[2 * i] - xy[2 * j], xy[2 * i + 1] - xy[2 * j + 1]);
  return around / 2;
}

/**
 * A band along the outline of each polygon, reaching `half` to either side: half a working width, so that the bands of strips at neighboring
 * seams meet and a field full of them has one even tint, while a single strip has a band of its own.
 */
export function bandsOf(xy: Float32Array, polygons: Polygons, half: number): Strips {
  const { ringStart, polygonStart } = polygons;
  const thickness = thicknessOf(xy, polygons);
  const places: number[] = [];
  const thick: number[] = [];
  const index: number[] = [];
  const put = (ax: number, ay: number, bx: number, by: number, t: number): void => {
    const length = Math.hypot(bx - ax, by - ay);
    if (length === 0) return;
    const [nx, ny] = [((by - ay) / length) * half, (-(bx - ax) / length) * half];
    const at = thick.length;
    places.push(ax + nx, ay + ny, ax - nx, ay - ny, bx - nx, by - ny, bx + nx, by + ny);
    thick.push(t, t, t, t);
    index.push(at, at + 1, at + 2, at, at + 2, at + 3);
  };
  for (let p = 0; p < thickness.length; p++) {
    // A sliver shorter than the band is wide would look like a strip.
    if (lengthOf(xy, ringStart[polygonStart[p]], ringStart[polygonStart[p] + 1]) < 2 * half) continue;
    for (let r = polygonStart[p]; r < polygonStart[p + 1]; r++) {
      // Points closer than half the band are skipped, because their bands would overlap.
      let last = ringStart[r];
      for (let i = last + 1; i <= ringStart[r + 1]; i++) {
        const end = i === ringStart[r + 1];
        const at = end ? ringStart[r] : i;
        const [dx, dy] = [xy[2 * at] - xy[2 * last], xy[2 * at + 1] - xy[2 * last + 1]];
        if (!end && dx * dx + dy * dy < half * half) continue;
        put(xy[2 * last], xy[2 * last + 1], xy[2 * at], xy[2 * at + 1], thickness[p]);
        last = at;
      }
    }
  }
  return { xy: Float32Array.from(places), thick: Float32Array.from(thick), index: Uint32Array.from(index) };
}

/** Part of the bands' ground that the strips take, 0 to 1: their area over that of the squares, half a band wide, that the bands touch. */
export function openShare(xy: ArrayLike<number>, polygons: Polygons, { xy: band }: Strips, half: number): number {
  const { ringStart, polygonStart } = polygons;
  let open = 0;
  for (let p = 0; p + 1 < polygonStart.length; p++)
    open += Math.abs(twiceArea(xy, ringStart, polygonStart[p], polygonStart[p + 1])) / 2;
  const touched = new Set<number>();
  // A band is a row of rectangles of four points; squares are numbered from a corner far outside any field.
  for (let i = 0; i < band.length; i += 8) {
    const along = Math.hypot(band[i + 6] - band[i], band[i + 7] - band[i + 1]);
    const steps = Math.max(1, Math.ceil((2 * along) / half));
    for (let a = 0.5; a < steps; a++) {
      for (let across = 0.125; across < 1; across += 0.25) {
        const [t, u] = [a / steps, across];
        const x =
          (1 - u) * (band[i] + t * (band[i + 6] - band[i])) + u * (band[i + 2] + t * (band[i + 4] - band[i + 2]));
        const y =
          (1 - u) * (band[i + 1] + t * (band[i + 7] - band[i + 1])) +
          u * (band[i + 3] + t * (band[i + 5] - band[i + 3]));
        touched.add((Math.floor(x / half) + 2 ** 25) * 2 ** 26 + Math.floor(y / half) + 2 ** 25);
      }
    }
  }
  return touched.size === 0 ? 1 : Math.min(1, open / (touched.size * half * half));
}
