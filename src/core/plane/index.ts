/**
 * Degrees stop here: a local metric plane centered on the map, and the ground area of lattice cells.
 *
 * Assumes a lattice in WGS84 degrees (see `Lattice`) and a map of field size, away from the poles.
 * Guarantees positions on a transverse Mercator plane of scale 1 on the map's center, within 1 mm of the exact projection up to
 * 20 km from the center, and a cell area good to 1e-9 over the latitudes of the map.
 *
 * 1. `mercator.ts` projects forwards and back.
 * 2. `density.ts` fits the ground area of a lattice cell by a cubic in latitude.
 *
 * Decision: coordinates are 32-bit steps of the file's own lattice from a local origin. Topology is exact on the file's digits, a coordinate
 * is given back digit for digit, and a record of four corners takes 32 bytes. With doubles in degrees, shared corners are equal only by luck after any arithmetic.
 * Decision: an area integrates the ellipsoid's cell area along straight lattice edges instead of projecting first, so areas add up exactly when a
 * record is cut in two. A cubic in latitude misses the exact density by less than 1e-10 over 40 km.
 */

import type { AreaDensity } from '../coverage/index.ts';
import { type Lattice, quadShapes, type Shapes } from '../geometry/shapes.ts';
import { fitDensity } from './density.ts';
import { makeMercator } from './mercator.ts';
import type { Extent } from './types.ts';

export type { Extent };

export interface Plane {
  lattice: Lattice;
  density: AreaDensity;
  /** Lattice steps per meter east and north at the center. */
  stepsPerMeter: [number, number];
  /** Longitude and latitude of the center, degrees. */
  centerDeg: [number, number];
  /** Points `from` up to (not including) `to` of `xy` (lattice steps, interleaved) to meters east and north of the center, into `out` from its start. */
  toMeters(xy: ArrayLike<number>, from: number, to: number, out: Float64Array): void;
  /** `count` points (meters, interleaved) to steps of `lattice` (not rounded), into `out`. */
  toSteps(meters: ArrayLike<number>, count: number, out: Float64Array): void;
  /** Quads with corners in meters (eight numbers each) as shapes on `onto`, which has the origin of `lattice`. */
  toQuads(meters: ArrayLike<number>, onto: Lattice): Shapes;
}

/** Smallest lattice box around every point of `shapes`, in steps. */
export function extentOf(shapes: Shapes): Extent {
  const e = { minX: Infinity, minY: Infinity, maxX: -Infinity, maxY: -Infinity };
  const { xy } = shapes;
  for (let i = 0; i < xy.length; i += 2) {
    const x = xy[i];
    const y = xy[i + 1];
    if (x < e.minX) e.minX = x;
    if (x > e.maxX) e.maxX = x;
    if (y < e.minY) e.minY = y;
    if (y > e.maxY) e.maxY = y;
  }
  return e;
}

/** The same box in steps of another lattice with the same origin. */
export function scaleExtent(e: Extent, to: Lattice, from: Lattice): Extent {
  const k = to.stepsPerDegree / from.stepsPerDegree;
  return { minX: e.minX * k, minY: e.minY * k, maxX: e.maxX * k, maxY: e.maxY * k };
}

/** Points kept by `toMeters`, as a power of two. */
const KEPT_BITS = 11;

/** The plane centered on `extent` (lattice steps). */
export function planeFor(lattice: Lattice, extent: Extent): Plane {
  const per = lattice.stepsPerDegree;
  const midX = lattice.originX + (extent.minX + extent.maxX) / 2;
  const midY = lattice.originY + (extent.minY + extent.maxY) / 2;
  const lon0 = midX / per;
  const lat0 = midY / per;
  const toRad = Math.PI / 180 / per;
  const tm = makeMercator((lat0 * Math.PI) / 180);
  // Longitudes are taken relative to the center in steps, before they become radians, so that no digit is lost.
  const offX = lattice.originX - midX;
  const scratch = new Float64Array(2);
  const metersPerStep = tm.metersPerRadian();
  // Records share their corners with those beside and behind them, so the last few thousand points are kept.
  const keptX = new Float64Array(1 << KEPT_BITS).fill(Number.NaN);
  const keptY = new Float64Array(1 << KEPT_BITS);
  const kept = new Float64Array(2 << KEPT_BITS);
  return {
    lattice,
    density: fitDensity(lattice, extent),
    stepsPerMeter: [1 / (metersPerStep[0] * toRad), 1 / (metersPerStep[1] * toRad)],
    centerDeg: [lon0, lat0],
    toMeters(xy, from, to, out) {
      for (let i = from, o = 0; i < to; i++, o += 2) {
        const x = xy[2 * i];
        const y = xy[2 * i + 1];
        const slot = (Math.imul(x, 0x9e3779b1) ^ Math.imul(y, 0x85ebca6b)) >>> (32 - KEPT_BITS);
        if (keptX[slot] !== x || keptY[slot] !== y) {
          tm.forward((offX + x) * toRad, (lattice.originY + y) * toRad, scratch);
          keptX[slot] = x;
          keptY[slot] = y;
          kept[2 * slot] = scratch[0];
          kept[2 * slot + 1] = scratch[1];
        }
        out[o] = kept[2 * slot];
        out[o + 1] = kept[2 * slot + 1];
      }
    },
    toSteps(meters, count, out) {
      for (let i = 0; i < count; i++) {
        const x = meters[2 * i];
        const y = meters[2 * i + 1];
        // Quads drawn side by side repeat two corners, three and five points back.
        const known =
          i >= 3 && meters[2 * i - 6] === x && meters[2 * i - 5] === y
            ? i - 3
            : i >= 5 && meters[2 * i - 10] === x && meters[2 * i - 9] === y
              ? i - 5
              : -1;
        if (known >= 0) {
          out[2 * i] = out[2 * known];
          out[2 * i + 1] = out[2 * known + 1];
          continue;
        }
        tm.inverse(x, y, scratch);
        out[2 * i] = scratch[0] / toRad - offX;
        out[2 * i + 1] = scratch[1] / toRad - lattice.originY;
      }
    },
    toQuads(meters, onto) {
      const steps = new Float64Array(meters.length);
      this.toSteps(meters, meters.length / 2, steps);
      const scale = onto.stepsPerDegree / per;
      const xy = new Int32Array(meters.length);
      for (let i = 0; i < xy.length; i++) xy[i] = Math.round(steps[i] * scale);
      return quadShapes(xy, meters.length / 8);
    },
  };
}

/**
 * A lattice with the origin of `lattice` for drawn geometry: 1e9 steps per degree (0.1 mm), or as many as let `extent` (steps of
 * `lattice`), with a margin of a tenth, fit 32 bits; never coarser than `lattice`. Finer steps would leave the range in which coverage
 * finds crossings in plain doubles.
 */
export function finerLattice(lattice: Lattice, extent: Extent): Lattice {
  const reach =
    1.1 * Math.max(Math.abs(extent.minX), Math.abs(extent.maxX), Math.abs(extent.minY), Math.abs(extent.maxY), 1);
  let factor = 1;
  while (reach * factor * 10 < 2 ** 31 && lattice.stepsPerDegree * factor < 1e9) factor *= 10;
  return {
    stepsPerDegree: lattice.stepsPerDegree * factor,
    originX: lattice.originX * factor,
    originY: lattice.originY * factor,
  };
}
