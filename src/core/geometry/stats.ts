/** Middle value; NaN of nothing. */
export function median(v: ArrayLike<number>): number {
  if (v.length === 0) return Number.NaN;
  const s = Float64Array.from(v as ArrayLike<number>).sort();
  const m = s.length >> 1;
  return s.length % 2 ? s[m] : (s[m - 1] + s[m]) / 2;
}

/** Standard deviation as the median absolute deviation tells it (times 1.4826, exact for a normal spread): a few wild values do not move it. */
export function robustSd(v: ArrayLike<number>, middle: number = median(v)): number {
  return 1.4826 * median(Array.from(v as ArrayLike<number>, (x) => Math.abs(x - middle)));
}

/** Half of the 95 % interval of a median of `n` values with standard deviation `sd`; the median's spread is 1.253 that of the mean. */
export function medianHalf95(sd: number, n: number): number {
  return n > 1 ? (1.96 * 1.253 * sd) / Math.sqrt(n) : Number.POSITIVE_INFINITY;
}
