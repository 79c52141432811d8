import { lengthOf } from '../geometry/length.ts';
import type { Quads } from './quads.ts';

/** Unit vector from the back to the front middle when `k` is the front side. */
export function travelOf(quads: Quads, q: number, k: number): [number, number] {
  const c = quads.corner;
  const at = (i: number): number => 8 * q + 2 * ((k + i) & 3);
  const x = c[at(0)] + c[at(1)] - c[at(2)] - c[at(3)];
  const y = c[at(0) + 1] + c[at(1) + 1] - c[at(2) + 1] - c[at(3) + 1];
  const l = lengthOf(x, y) || 1;
  return [x / l, y / l];
}

/** Cosine between the travel of quad q with front side k and that of quad r with front side i. */
export function travelCosine(quads: Quads, q: number, k: number, r: number, i: number): number {
  const a = travelOf(quads, q, k);
  const b = travelOf(quads, r, i);
  return a[0] * b[0] + a[1] * b[1];
}
