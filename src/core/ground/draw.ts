import { type Polygons, remain } from '../coverage/index.ts';
import type { Shapes } from '../geometry/shapes.ts';
import type { Ground } from './types.ts';

/** Steps of the finer lattice in one of the map's. */
export const finenessOf = (g: Ground): number => g.fine.stepsPerDegree / g.plane.lattice.stepsPerDegree;

/** Some of the quads (meters, eight numbers each) as shapes on the finer lattice, reaching `growM` further on every side. */
export function quadsOf(list: readonly number[], quad: Float64Array, g: Ground, growM = 0): Shapes {
  const quads = new Float64Array(8 * list.length);
  for (let k = 0; k < list.length; k++) {
    if (growM > 0) grow(quad, 8 * list[k], growM, quads, 8 * k);
    else for (let i = 0; i < 8; i++) quads[8 * k + i] = quad[8 * list[k] + i];
  }
  return g.plane.toQuads(quads, g.fine);
}

/**
 * Every corner of the quad at `from` moved outward along both of its sides, to `at` of `out`. Beyond the tip of a wedge its two sides cross: their ends change
 * places there, so that the quad stays convex. One that crosses itself costs the engine an index of its own, and a web of slits has hundreds of thousands.
 */
function grow(quad: Float64Array, from: number, growM: number, out: Float64Array, at: number): void {
  for (let k = 0; k < 8; k += 2) {
    out[at + k] = quad[from + k];
    out[at + k + 1] = quad[from + k + 1];
    away(quad, from + k, from + ((k + 2) & 7), growM, out, at + k);
    away(quad, from + k, from + ((k + 6) & 7), growM, out, at + k);
  }
  for (let k = 0; k < 8; k += 2) {
    const n = (k + 2) & 7;
    const x = quad[from + n] - quad[from + k];
    const y = quad[from + n + 1] - quad[from + k + 1];
    const crossed =
      (x === 0 && y === 0) || x * (out[at + n] - out[at + k]) + y * (out[at + n + 1] - out[at + k + 1]) < 0;
    if (!crossed) continue;
    for (let c = 0; c < 2; c++) {
      const place = out[at + k + c];
      out[at + k + c] = out[at + n + c];
      out[at + n + c] = place;
    }
  }
}

/** Moves the point at `to` of `out` by `growM`, from corner n of the quad to corner p. */
function away(quad: Float64Array, p: number, n: number, growM: number, out: Float64Array, to: number): void {
  const dx = quad[p] - quad[n];
  const dy = quad[p + 1] - quad[n + 1];
  const l = Math.hypot(dx, dy);
  if (l === 0) return;
  out[to] += (dx / l) * growM;
  out[to + 1] += (dy / l) * growM;
}

/** Polygons of the map's lattice as shapes on the finer one. */
export function finer(p: Polygons, factor: number): Shapes {
  const xy = new Int32Array(p.xy.length);
  for (let i = 0; i < xy.length; i++) xy[i] = Math.round(p.xy[i] * factor);
  return {
    xy,
    ringStart: p.ringStart.length > 0 ? p.ringStart : new Uint32Array(1),
    shapeStart: p.polygonStart.length > 0 ? p.polygonStart : new Uint32Array(1),
  };
}

/** Fresh polygons with every coordinate times `factor`: written in place, because they may have a million points. */
export function scaled(p: Polygons, factor: number): Polygons {
  for (let i = 0; i < p.xy.length; i++) p.xy[i] *= factor;
  return p;
}

/** What one owner gets. */
export interface Share {
  areaM2: number;
  /** On the finer lattice. */
  polygons: Polygons;
}

/** Shares ground out: each spot goes to the first of the sets that covers it. Set k is the next `counts[k]` of the shapes. */
export function shareOut(shapes: Shapes, counts: readonly number[], g: Ground): Share[] {
  const group = new Uint32Array(shapes.shapeStart.length - 1);
  const first = new Uint32Array(counts.length + 1);
  counts.forEach((n, k) => {
    first[k + 1] = first[k] + n;
    group.fill(k, first[k], first[k + 1]);
  });
  const { addsM2, rings } = remain(shapes, group, g.fineDensity, g.plane.stepsPerMeter);
  return counts.map((_, k) => ({
    areaM2: addsM2[k] ?? 0,
    polygons: rings[k] ?? asPolygons(shapes, first[k], first[k + 1]),
  }));
}

/** Shapes `from` up to `to`, which are simple polygons. */
function asPolygons({ xy, ringStart, shapeStart }: Shapes, from: number, to: number): Polygons {
  const [firstRing, endRing] = [shapeStart[from], shapeStart[to]];
  const point = ringStart[firstRing];
  return {
    xy: new Float64Array(xy.subarray(2 * point, 2 * ringStart[endRing])),
    ringStart: ringStart.slice(firstRing, endRing + 1).map((p) => p - point),
    polygonStart: shapeStart.slice(from, to + 1).map((r) => r - firstRing),
  };
}
