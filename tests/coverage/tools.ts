import type { Polygons } from '../../src/core/coverage/index.ts';
import type { Shapes } from '../../src/core/geometry/shapes.ts';

/** One shape: rings of x and y in turn. */
export type Rings = number[][];

export function toShapes(list: readonly Rings[]): Shapes {
  const xy: number[] = [];
  const ringStart = [0];
  const shapeStart = [0];
  for (const rings of list) {
    for (const ring of rings) {
      for (const v of ring) xy.push(v);
      ringStart.push(xy.length / 2);
    }
    shapeStart.push(ringStart.length - 1);
  }
  return { xy: Int32Array.from(xy), ringStart: Uint32Array.from(ringStart), shapeStart: Uint32Array.from(shapeStart) };
}

/** Rings of each polygon as lists of [x, y]. */
export function ringsOf(p: Polygons): [number, number][][][] {
  const out: [number, number][][][] = [];
  for (let i = 0; i + 1 < p.polygonStart.length; i++) {
    const rings: [number, number][][] = [];
    for (let r = p.polygonStart[i]; r < p.polygonStart[i + 1]; r++) {
      const ring: [number, number][] = [];
      for (let k = p.ringStart[r]; k < p.ringStart[r + 1]; k++) ring.push([p.xy[2 * k], p.xy[2 * k + 1]]);
      rings.push(ring);
    }
    out.push(rings);
  }
  return out;
}

/** Even-odd rule over all rings of all polygons. */
export function inside(p: Polygons, x: number, y: number): boolean {
  let odd = false;
  for (let r = 0; r + 1 < p.ringStart.length; r++) {
    let b = p.ringStart[r + 1] - 1;
    for (let a = p.ringStart[r]; a < p.ringStart[r + 1]; b = a++) {
      const ay = p.xy[2 * a + 1];
      const by = p.xy[2 * b + 1];
      if (ay > y !== by > y && x < ((p.xy[2 * b] - p.xy[2 * a]) * (y - ay)) / (by - ay) + p.xy[2 * a]) odd = !odd;
    }
  }
  return odd;
}

/** Small, fast, seeded random numbers in [0, 1) (mulberry32, public domain). */
export function random(seed: number): () => number {
  let a = seed >>> 0;
  return () => {
    a = (a + 0x6d2b79f5) >>> 0;
    let t = a;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}

/** A handful of shapes on the grid 0..side, of every nasty kind. */
export function nastyShapes(next: () => number, side = 8): Rings[] {
  const int = (n: number): number => Math.floor(next() * n);
  const point = (): number[] => [int(side + 1), int(side + 1)];
  const list: Rings[] = [];
  const count = 1 + int(6);
  for (let i = 0; i < count; i++) {
    const kind = int(9);
    if (kind === 0 && list.length > 0) list.push(list[int(list.length)]);
    else if (kind === 1 && list.length > 0) list.push(list[int(list.length)].map((r) => backwards(r)));
    else if (kind === 2) list.push([Array.from({ length: 3 }, point).flat()]);
    else if (kind === 3) list.push([Array.from({ length: 3 + int(6) }, point).flat()]);
    else if (kind === 4)
      list.push(Array.from({ length: 1 + int(3) }, () => Array.from({ length: 3 + int(3) }, point).flat()));
    else if (kind === 5) list.push([rectangle(int(side), int(side), 1 + int(4), 1 + int(4))]);
    else if (kind === 6) {
      const [x, y] = [int(side - 3), int(side - 3)];
      list.push([rectangle(x, y, 4, 4), backwards(rectangle(x + 1, y + 1, 1 + int(3), 1 + int(3)))]);
    } else if (kind === 7) {
      const [x, y, a, b] = [int(side), int(side), int(4) - 1, 1 + int(3)];
      list.push([[x, y, x + b, y + a, x + b - a, y + a + b, x - a, y + b]]);
    } else list.push([Array.from({ length: 4 }, point).flat()]);
  }
  return list;
}

export function rectangle(x: number, y: number, w: number, h: number): number[] {
  return [x, y, x + w, y, x + w, y + h, x, y + h];
}

export function backwards(ring: readonly number[]): number[] {
  const out: number[] = [];
  for (let i = ring.length - 2; i >= 0; i -= 2) out.push(ring[i], ring[i + 1]);
  return out;
}
