/**
 * Exact predicates on integer points, and crossing points that are the same double whichever way they are computed.
 * Coordinates are integers below 2^31 in size, so differences stay below 2^32 and are exact; only products can lose digits.
 */

const EXACT = 2 ** 53;
/** Rounding of two products and their difference, relative to the sum of their sizes, with room to spare. */
const DOUBT = 4.5e-16;

/** ax·by - ay·bx. The sign is exact for integers up to 2^33; the value is exact while the products stay below 2^53. */
export function cross(ax: number, ay: number, bx: number, by: number): number {
  const l = ax * by;
  const r = ay * bx;
  const size = Math.abs(l) + Math.abs(r);
  const d = l - r;
  if (size < EXACT || Math.abs(d) > DOUBT * size) return d;
  return Number(BigInt(ax) * BigInt(by) - BigInt(ay) * BigInt(bx));
}

/**
 * Where the segment that starts at (ax, ay) with direction (dx, dy) meets the line through (cx, cy) with direction (gx, gy), from the
 * origin (ox, oy); all integers, lines not parallel. Each coordinate is its whole part plus its correctly rounded fraction: the same
 * point found through another pair of lines is the same pair of doubles, and points in order along a line stay in order.
 */
export function crossing(
  out: Float64Array,
  ax: number,
  ay: number,
  dx: number,
  dy: number,
  cx: number,
  cy: number,
  gx: number,
  gy: number,
  ox: number,
  oy: number,
): void {
  const rx = ax - cx;
  const ry = ay - cy;
  const d = Math.abs(dx) + Math.abs(dy);
  if ((Math.abs(gx) + Math.abs(gy)) * (Math.abs(rx) + Math.abs(ry) + d) * d >= EXACT) {
    crossingBig(out, ax, ay, dx, dy, cx, cy, gx, gy, ox, oy);
    return;
  }
  let num = gx * ry - gy * rx;
  let den = gy * dx - gx * dy;
  if (den < 0) {
    num = -num;
    den = -den;
  }
  let p = dx * num;
  let q = Math.floor(p / den);
  let r = p - q * den;
  if (r < 0) {
    q -= 1;
    r += den;
  } else if (r >= den) {
    q += 1;
    r -= den;
  }
  out[0] = ax - ox + q + r / den;
  p = dy * num;
  q = Math.floor(p / den);
  r = p - q * den;
  if (r < 0) {
    q -= 1;
    r += den;
  } else if (r >= den) {
    q += 1;
    r -= den;
  }
  out[1] = ay - oy + q + r / den;
}

function crossingBig(
  out: Float64Array,
  ax: number,
  ay: number,
  dx: number,
  dy: number,
  cx: number,
  cy: number,
  gx: number,
  gy: number,
  ox: number,
  oy: number,
): void {
  let num = BigInt(gx) * BigInt(ay - cy) - BigInt(gy) * BigInt(ax - cx);
  let den = BigInt(gy) * BigInt(dx) - BigInt(gx) * BigInt(dy);
  if (den < 0n) {
    num = -num;
    den = -den;
  }
  out[0] = wholeAndFraction(BigInt(ax - ox), BigInt(dx) * num, den);
  out[1] = wholeAndFraction(BigInt(ay - oy), BigInt(dy) * num, den);
}

function wholeAndFraction(start: bigint, p: bigint, den: bigint): number {
  let q = p / den;
  let r = p % den;
  if (r < 0n) {
    q -= 1n;
    r += den;
  }
  return Number(start + q) + ratio(r, den);
}

/** r / den correctly rounded, for 0 <= r < den < 2^100. */
function ratio(r: bigint, den: bigint): number {
  if (r === 0n) return 0;
  const scaled = r << 200n;
  const q = scaled / den;
  // A last bit that summarizes everything cut off makes Number() round as the quotient would.
  return Number((q << 1n) | (q * den === scaled ? 0n : 1n)) / 2 ** 201;
}
