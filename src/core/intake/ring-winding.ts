import { cross } from '../geometry/exact.ts';

/** Twice the signed area in lattice steps squared, + counter-clockwise; exact while the ring spans less than about 5e7 steps. */
export function doubleArea(xy: Int32Array, from: number, to: number): number {
  const x0 = xy[2 * from];
  const y0 = xy[2 * from + 1];
  let sum = 0;
  let px = 0;
  let py = 0;
  for (let p = from + 1; p < to; p++) {
    const x = xy[2 * p] - x0;
    const y = xy[2 * p + 1] - y0;
    sum += px * y - x * py;
    px = x;
    py = y;
  }
  return sum;
}

/** 1 or -1 for a ring that turns to the left, or to the right, all the way and goes round once; 0 for any other. */
export function plainTurn(xy: Int32Array, from: number, to: number): number {
  let way = 0;
  let flips = 0;
  let lastX = 0;
  let firstX = 0;
  let ux = xy[2 * to - 2] - xy[2 * to - 4];
  let uy = xy[2 * to - 1] - xy[2 * to - 3];
  let q = to - 1;
  for (let p = from; p < to; q = p++) {
    const vx = xy[2 * p] - xy[2 * q];
    const vy = xy[2 * p + 1] - xy[2 * q + 1];
    const c = cross(ux, uy, vx, vy);
    if (c > 0) {
      if (way < 0) return 0;
      way = 1;
    } else if (c < 0) {
      if (way > 0) return 0;
      way = -1;
    } else if (ux * vx + uy * vy < 0) return 0;
    if (vx !== 0) {
      const x = vx > 0 ? 1 : -1;
      if (lastX !== 0 && x !== lastX) flips++;
      if (firstX === 0) firstX = x;
      lastX = x;
    }
    ux = vx;
    uy = vy;
  }
  if (lastX !== firstX) flips++;
  return flips <= 2 ? way : 0;
}
