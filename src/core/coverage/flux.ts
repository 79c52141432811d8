import type { AreaDensity } from './types.ts';

/**
 * Areas as sums over edges: the area of a region is the integral of x·w(y) dy around it (Green's theorem), and along a straight edge
 * that is a polynomial, integrated here in closed form. Cutting an edge in two leaves the sum alone.
 * Edge from (x0, y0) to (x1, y1); x from any origin that all edges of a region share, and y + yShift from the center row.
 */
export type Flux = (x0: number, y0: number, x1: number, y1: number, yShift: number) => number;

/** `density` re-expanded about the row `centerY`, so that large coordinates cost no digits. */
export function makeFlux(density: AreaDensity, centerY: number): Flux {
  const [w0, w1, w2, w3] = density;
  const c0 = w0 + centerY * (w1 + centerY * (w2 + centerY * w3));
  const c1 = w1 + centerY * (2 * w2 + centerY * 3 * w3);
  const c2 = w2 + centerY * 3 * w3;
  const c3 = w3;
  if (c1 === 0 && c2 === 0 && c3 === 0) return (x0, y0, x1, y1) => 0.5 * (x0 + x1) * (y1 - y0) * c0;
  return (x0, y0, x1, y1, yShift) => {
    const h = 0.5 * (y1 - y0);
    const m = 0.5 * (y0 + y1) + yShift;
    const v0 = c0 + m * (c1 + m * (c2 + m * c3));
    const v1 = (c1 + m * (2 * c2 + m * 3 * c3)) * h;
    const v2 = (c2 + m * 3 * c3) * h * h;
    const v3 = c3 * h * h * h;
    return h * (0.5 * (x0 + x1) * (2 * v0 + (2 / 3) * v2) + 0.5 * (x1 - x0) * ((2 / 3) * v1 + (2 / 5) * v3));
  };
}
