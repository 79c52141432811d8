import { type Polygons, remain } from '../coverage/index.ts';
import { joinShapes, type Shapes } from '../geometry/shapes.ts';
import type { Ground } from './types.ts';

/** Steps of the finer lattice in one of the map's. */
export const finenessOf = (g: Ground): number => g.fine.stepsPerDegree / g.plane.lattice.stepsPerDegree;

/** Some of the quads (meters, eight numbers each) as shapes on the finer lattice, reaching `growM` further on every side. */
export function quadsOf(list: readonly number[], quad: Float64Array, g: Ground, growM = 0): Shapes {
  const quads = new Float64Array(8 * list.length);
  list.forEach((c, k) => {
    const own = quad.subarray(8 * c, 8 * c + 8);
    quads.set(growM > 0 ? grown(own, growM) : own, 8 * k);
  });
  return g.plane.toQuads(quads, g.fine);
}

/** Every corner moved outward along both of its sides. */
function grown(quad: Float64Array, growM: number): Float64Array {
  const out = Float64Array.from(quad);
  for (let k = 0; k < 8; k += 2) {
    for (const n of [(k + 2) & 7, (k + 6) & 7]) {
      const [dx, dy] = [quad[k] - quad[n], quad[k + 1] - quad[n + 1]];
      const l = Math.hypot(dx, dy);
      if (l === 0) continue;
      out[k] += (dx / l) * growM;
      out[k + 1] += (dy / l) * growM;
    }
  }
  return out;
}

/** Polygons of the map's lattice as shapes on the finer one. */
export function finer(p: Polygons, factor: number): Shapes {
  return {
    xy: Int32Array.from(p.xy, (v) => Math.round(v * factor)),
    ringStart: p.ringStart.length > 0 ? p.ringStart : new Uint32Array(1),
    shapeStart: p.polygonStart.length > 0 ? p.polygonStart : new Uint32Array(1),
  };
}

export const scaled = (p: Polygons, factor: number): Polygons => ({ ...p, xy: p.xy.map((v) => v * factor) });

/** A set of shapes that goes to one owner. */
export interface Share {
  shapes: Shapes;
  areaM2: number;
  /** On the finer lattice. */
  polygons: Polygons;
}

/** Shares ground out: each spot goes to the first of the sets that covers it. */
export function shareOut(sets: readonly Shapes[], g: Ground): Share[] {
  const counts = sets.map((s) => s.shapeStart.length - 1);
  const all = sets.reduce(joinShapes);
  const group = new Uint32Array(counts.reduce((a, b) => a + b, 0));
  let at = 0;
  counts.forEach((n, k) => {
    group.fill(k, at, at + n);
    at += n;
  });
  const { addsM2, rings } = remain(all, group, g.fineDensity, g.plane.stepsPerMeter);
  return sets.map((shapes, k) => ({
    shapes,
    areaM2: addsM2[k] ?? 0,
    polygons: rings[k] ?? asPolygons(counts[k] > 0 ? shapes : NO),
  }));
}

const NO: Shapes = { xy: new Int32Array(0), ringStart: new Uint32Array(1), shapeStart: new Uint32Array(1) };

const asPolygons = ({ xy, ringStart, shapeStart }: Shapes): Polygons => ({
  xy: Float64Array.from(xy),
  ringStart,
  polygonStart: shapeStart,
});
