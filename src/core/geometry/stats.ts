/** Middle value; NaN of nothing. */
export function median(v: ArrayLike<number>): number {
  return middleOf(new Float64Array(v));
}

/** The median of the first `n` of `s`, which are put in another order. */
export function middleOf(s: Float64Array, n = s.length): number {
  if (n === 0) return Number.NaN;
  const m = n >> 1;
  const upper = select(s, n, m);
  if (n % 2) return upper;
  let lower = -Infinity;
  for (let i = 0; i < m; i++) if (s[i] > lower) lower = s[i];
  return (lower + upper) / 2;
}

/** k-th smallest of the first `n` of `s` (0-based), which is left with nothing larger before place k (Hoare's selection). NaNs must not be in it. */
function select(s: Float64Array, n: number, k: number): number {
  let lo = 0;
  let hi = n - 1;
  while (lo < hi) {
    const pivot = s[(lo + hi) >> 1];
    let i = lo;
    let j = hi;
    while (i <= j) {
      while (s[i] < pivot) i++;
      while (s[j] > pivot) j--;
      if (i <= j) {
        const t = s[i];
        s[i++] = s[j];
        s[j--] = t;
      }
    }
    if (k <= j) hi = j;
    else if (k >= i) lo = i;
    else break;
  }
  return s[k];
}

/** Standard deviation estimated from the median absolute deviation (times 1.4826, exact for a normal distribution): a few outliers do not move it. */
export function robustSd(v: ArrayLike<number>, middle: number = median(v)): number {
  const d = new Float64Array(v.length);
  for (let i = 0; i < d.length; i++) d[i] = Math.abs(v[i] - middle);
  return 1.4826 * middleOf(d);
}

/** Half of the 95 % interval of a median of `n` values with standard deviation `sd`; the median's spread is 1.253 that of the mean. */
export function medianHalf95(sd: number, n: number): number {
  return n > 1 ? (1.96 * 1.253 * sd) / Math.sqrt(n) : Number.POSITIVE_INFINITY;
}

/** 97.5 % point of Student's t with `dof` (3 or more) degrees of freedom, within 1.5 %. Abramowitz and Stegun, Handbook of Mathematical Functions, 26.7.5. */
export function tQuantile975(dof: number): number {
  const z = 1.959964;
  return (
    z +
    (z ** 3 + z) / (4 * dof) +
    (5 * z ** 5 + 16 * z ** 3 + 3 * z) / (96 * dof ** 2) +
    (3 * z ** 7 + 19 * z ** 5 + 17 * z ** 3 - 15 * z) / (384 * dof ** 3)
  );
}

/** Natural logarithm of the density of Student's t at `x` standard scales. Abramowitz and Stegun, 26.7.1. */
export function logT(x: number, dof: number): number {
  return (
    logGamma((dof + 1) / 2) -
    logGamma(dof / 2) -
    0.5 * Math.log(dof * Math.PI) -
    ((dof + 1) / 2) * Math.log1p((x * x) / dof)
  );
}

/** Natural logarithm of the beta function, a and b above 0. Abramowitz and Stegun, 6.2.2. */
export function logBeta(a: number, b: number): number {
  return logGamma(a) + logGamma(b) - logGamma(a + b);
}

/** Logarithm of the gamma function for x > 0, to 1e-9: Stirling's series after moving x beyond 7. Abramowitz and Stegun, 6.1.41. */
function logGamma(x: number): number {
  let shift = 0;
  let y = x;
  for (; y < 7; y++) shift -= Math.log(y);
  const r = 1 / (y * y);
  return shift + (y - 0.5) * Math.log(y) - y + 0.5 * Math.log(2 * Math.PI) + (1 / 12 - r * (1 / 360 - r / 1260)) / y;
}

/** Logarithm of the sum of numbers that are given by their logarithms. */
export function logSum(logs: readonly number[]): number {
  const top = Math.max(...logs);
  return top + Math.log(logs.reduce((sum, v) => sum + Math.exp(v - top), 0));
}
