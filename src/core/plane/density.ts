import type { AreaDensity } from '../coverage/index.ts';
import { WGS84_A, WGS84_F } from '../geometry/ellipsoid.ts';
import type { Lattice } from '../geometry/shapes.ts';
import type { Extent } from './types.ts';

/** Ground area per square radian at latitude `lat` (radians), m²: product of the two radii of curvature and the cosine. */
function areaPerSquareRadian(lat: number): number {
  const e2 = WGS84_F * (2 - WGS84_F);
  const s = Math.sin(lat);
  const w = 1 - e2 * s * s;
  return (WGS84_A * WGS84_A * (1 - e2) * Math.cos(lat)) / (w * w);
}

/** Cubic through four Chebyshev nodes over the latitudes of the map: over 40 km of latitude it misses by less than 1e-10. */
export function fitDensity(lattice: Lattice, extent: Extent): AreaDensity {
  const toRad = Math.PI / 180 / lattice.stepsPerDegree;
  const mid = (extent.minY + extent.maxY) / 2;
  const half = Math.max((extent.maxY - extent.minY) / 2, 1e-4 / toRad);
  const nodes = [0, 1, 2, 3].map((k) => Math.cos(((2 * k + 1) * Math.PI) / 8));
  const values = nodes.map((t) => areaPerSquareRadian((lattice.originY + mid + half * t) * toRad) * toRad * toRad);
  // Divided differences on the unit interval, then expanded to powers of t.
  const d = [...values];
  for (let k = 1; k < 4; k++) for (let i = 3; i >= k; i--) d[i] = (d[i] - d[i - 1]) / (nodes[i] - nodes[i - k]);
  const c = [0, 0, 0, 0];
  let basis = [1, 0, 0, 0];
  for (let k = 0; k < 4; k++) {
    for (let i = 0; i < 4; i++) c[i] += d[k] * basis[i];
    if (k < 3) basis = basis.map((_, i) => (i > 0 ? basis[i - 1] : 0) - nodes[k] * basis[i]);
  }
  // t = (y - mid) / half, expanded to powers of y.
  const m = -mid / half;
  const h = 1 / half;
  return [
    c[0] + m * (c[1] + m * (c[2] + m * c[3])),
    h * (c[1] + m * (2 * c[2] + m * 3 * c[3])),
    h * h * (c[2] + m * 3 * c[3]),
    h * h * h * c[3],
  ];
}
