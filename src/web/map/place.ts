/** Lattice steps to places on the map. The only file of the page where degrees and map coordinates appear. */
import type { Lattice } from '../../core/geometry/shapes.ts';

/**
 * A local origin for drawing: 32-bit offsets from it are good to a tenth of a millimeter across a field, where 32-bit map
 * coordinates would be good to meters.
 */
export interface Origin {
  /** Web Mercator, 0 to 1 across the world. */
  x: number;
  y: number;
}

/** Offsets are in parts of the world: 2^25 of them, about 1.2 m each at the equator. */
export const UNITS = 2 ** 25;

export function lngLat(lattice: Lattice, x: number, y: number): [number, number] {
  return [(lattice.originX + x) / lattice.stepsPerDegree, (lattice.originY + y) / lattice.stepsPerDegree];
}

/** Lattice steps (not rounded) of a place in degrees. */
export function steps(lattice: Lattice, lng: number, lat: number): [number, number] {
  return [lng * lattice.stepsPerDegree - lattice.originX, lat * lattice.stepsPerDegree - lattice.originY];
}

/** Spherical Mercator of a place in degrees, 0 to 1 from the north-west corner of the world. */
export function mercator(lng: number, lat: number): [number, number] {
  return [(lng + 180) / 360, 0.5 - Math.log(Math.tan(Math.PI / 4 + (lat * Math.PI) / 360)) / (2 * Math.PI)];
}

/** Points (steps, interleaved) as offsets from `origin`, x east and y south, in `UNITS`. */
export function offsets(xy: ArrayLike<number>, lattice: Lattice, origin: Origin): Float32Array {
  const out = new Float32Array(xy.length);
  for (let i = 0; i < xy.length; i += 2) {
    const [lng, lat] = lngLat(lattice, xy[i], xy[i + 1]);
    const [mx, my] = mercator(lng, lat);
    out[i] = (mx - origin.x) * UNITS;
    out[i + 1] = (my - origin.y) * UNITS;
  }
  return out;
}

/** Offsets to one meter at a latitude, on the sphere that the map is drawn on (40,075,016.686 m around, EPSG:3857). */
export function perMeter(lat: number): number {
  return UNITS / (40_075_016.686 * Math.cos((lat * Math.PI) / 180));
}

/** West, south, east, north in degrees. */
export type Bounds = [number, number, number, number];

/** Box of the points; null without points. */
export function boundsOf(xy: ArrayLike<number>, lattice: Lattice): Bounds | null {
  if (xy.length === 0) return null;
  let [x0, y0, x1, y1] = [Infinity, Infinity, -Infinity, -Infinity];
  for (let i = 0; i < xy.length; i += 2) {
    const x = xy[i];
    const y = xy[i + 1];
    if (x < x0) x0 = x;
    if (x > x1) x1 = x;
    if (y < y0) y0 = y;
    if (y > y1) y1 = y;
  }
  return [...lngLat(lattice, x0, y0), ...lngLat(lattice, x1, y1)];
}
