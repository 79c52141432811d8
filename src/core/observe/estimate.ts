import { median, robustSd } from '../geometry/stats.ts';
import type { Estimate, Seam, SeamEstimates } from './types.ts';

/** Degrees of freedom of the spread along seams, beside those of the spread between them. */
const WITHIN_DOF = 3;
/** Above this share, far-off seams are not outliers. */
const MOST_CUT = 0.15;
const FEWEST_CUT = 3;

/** Whether far-off seams are a second level: many enough of `all`, on one side and close to each other. */
function isLevel(offM: readonly number[], all: number, closeM: number): boolean {
  if (offM.length < Math.max(FEWEST_CUT, MOST_CUT * all)) return false;
  const wider = offM.filter((d) => d > 0).length;
  return Math.max(wider, offM.length - wider) >= 0.8 * offM.length && robustSd(offM) <= closeM;
}

/** Rounding of the file and of the measuring, meters a seam. */
const MEASURING_M = 0.003;

/**
 * How precisely the seams of a map show their steady and their alternating part. Every pass lies a little off its line (standard deviation
 * sigma), so neighboring seams are not independent measurements: what a pass adds to one seam it takes from the next. A mean over
 * seams is a weighted sum of pass errors, and its variance is sigma squared times the sum of the squared net weights of the passes.
 * Where neighbors run opposite ways this makes the steady part more certain, and the alternating part less certain, than independent seams would.
 *
 * `m` are the seam widths, meters, in the order of `seams`; `accuracyM` is what the user says of the positioning, `sides` what
 * `seamSides` says. Seams far off the others (more than 3.5 standard deviations: where a last pass fills the rest of the field) are left out,
 * if they are few: many are another level, and then all count, and the spread with them.
 */
export function estimateSeams(
  seams: readonly Seam[],
  m: readonly number[],
  accuracyM: number,
  sides: Int8Array,
): SeamEstimates {
  const n = seams.length;
  if (n === 0) return { steady: null, alternating: null, levels: null };
  const kind = [...sides];
  const ll = kind.filter((k) => k > 0).length;
  const rr = kind.filter((k) => k < 0).length;
  const both = ll > 0 && rr > 0;
  const mixed = both && ll + rr >= 0.7 * n;
  const within = Math.max(median(seams.map((s) => s.spreadM)), accuracyM, MEASURING_M);
  /** Trimmed means of the kinds (`apart`) or of all seams, and the standard errors that the shared passes give them. */
  const weigh = (apart: boolean): SeamEstimates => {
    const group = kind.map((k) => (apart ? k : 0));
    const use = group.map((g) => !apart || g !== 0);
    const middle = new Map([...new Set(group)].map((g) => [g, median(m.filter((_, i) => group[i] === g))]));
    const off = m.map((v, i) => v - middle.get(group[i])!);
    const mad = 1.4826 * median(off.filter((_, i) => use[i]).map(Math.abs));
    // The spread of a few seams is itself uncertain, and too narrow a limit would drop good ones.
    const limit = 3.5 * (1 + 4 / n) * Math.max(mad, within);
    const inside = off.map((d, i) => use[i] && Math.abs(d) <= limit);
    const cut = off.filter((_, i) => use[i] && !inside[i]);
    const second = isLevel(cut, use.filter(Boolean).length, limit);
    const keep = second ? use : inside;
    const groups = apart ? [1, -1] : [0];
    const of = new Map(groups.map((g) => [g, m.filter((_, i) => keep[i] && group[i] === g)]));
    if ([...of.values()].some((v) => v.length === 0)) return { steady: null, alternating: null, levels: null };
    const level = (want: boolean): { value: number; count: number } => {
      const list = m.filter((_, i) => use[i] && inside[i] === want);
      return { value: median(list), count: list.length };
    };
    const levels = second ? [level(true), level(false)] : null;
    const means = new Map(groups.map((g) => [g, of.get(g)!.reduce((a, b) => a + b, 0) / of.get(g)!.length]));
    let squares = 0;
    let kept = 0;
    keep.forEach((k, i) => {
      if (!k) return;
      kept++;
      squares += (m[i] - means.get(group[i])!) ** 2;
    });
    const dof = WITHIN_DOF + Math.max(0, kept - groups.length);
    // Passes may lie further off their lines than they wander along them; then the spread of the seams decides.
    const seamVar = Math.max(
      (WITHIN_DOF * within * within + squares) / dof,
      kept > groups.length ? squares / (kept - groups.length) : 0,
    );
    const seM = (weight: (i: number) => number): number => {
      const net = new Map<number, number>();
      let measuring = 0;
      const add = (pass: number, w: number): void => {
        net.set(pass, (net.get(pass) ?? 0) + w);
      };
      for (let i = 0; i < n; i++) {
        const w = weight(i);
        if (w === 0) continue;
        // A pass that moves to the right of its travel narrows what lies to its right and widens what lies to its left.
        const k = kind[i];
        add(seams[i].passA, k === 0 ? -w : k * w);
        add(seams[i].passB, k === 0 ? w : k * w);
        measuring += (w * MEASURING_M) ** 2;
      }
      let sum = 0;
      for (const w of net.values()) sum += w * w;
      return Math.sqrt((seamVar / 2) * sum + measuring);
    };
    const w = (i: number): number => (keep[i] ? 1 / groups.length / of.get(group[i])!.length : 0);
    if (!apart)
      return {
        steady: { value: means.get(0)!, standardError: seM(w), degreesOfFreedom: dof },
        alternating: null,
        levels,
      };
    const [l, r] = [means.get(1)!, means.get(-1)!];
    return {
      steady: { value: (l + r) / 2, standardError: seM(w), degreesOfFreedom: dof },
      alternating: { value: (l - r) / 2, standardError: seM((i) => kind[i] * w(i)), degreesOfFreedom: dof },
      levels,
    };
  };
  const apart = both ? weigh(true) : null;
  const whole = mixed && apart?.steady ? apart : weigh(false);
  return { steady: whole.steady, alternating: apart?.alternating ?? null, levels: whole.levels };
}

/** Degrees of freedom of the spread within passes, beside those of the spread between them. */
const INSIDE_DOF = 1;
/** With fewer degrees of freedom the error is practically unknown. */
const LEAST_DOF = 3;

/** Two rounded ends are off by up to a step together, and a little more where the line between them is aslant. */
const ROUNDED = 1.5;

/**
 * Mean of values along passes, without outliers, with its standard error. `values[start[i]]` up to `values[start[i + 1]]` are one
 * pass. All of a pass may share one error, so the average is over passes (cluster-robust standard error; Cameron and
 * Miller 2015, "A Practitioner's Guide to Cluster-Robust Inference"). The error that the spread within passes alone would give, with
 * neighbors counted as dependent as far as they agree, is added with a few degrees of freedom of its own, for maps of few
 * passes. Never below `floor`. `stepM`: step of the lattice that both ends of a value were rounded to.
 */
export function meanOfPasses(values: Float64Array, start: readonly number[], floor: number, stepM = 0): Estimate {
  const mid = median(values);
  // On a coarse lattice most values may be one and the same, and those a step off are none the worse.
  const most = Math.max(4 * robustSd(values, mid), 0.01, ROUNDED * stepM);
  const passes: { n: number; sum: number }[] = [];
  let n = 0;
  let sum = 0;
  let square = 0;
  let lagged = 0;
  let pairs = 0;
  for (let i = 0; i + 1 < start.length; i++) {
    const pass = { n: 0, sum: 0 };
    let before = Number.NaN;
    for (let j = start[i]; j < start[i + 1]; j++) {
      const d = values[j] - mid;
      const wild = Math.abs(d) > most;
      if (!wild) {
        pass.n++;
        pass.sum += d;
        square += d * d;
        if (!Number.isNaN(before)) {
          lagged += d * before;
          pairs++;
        }
      }
      before = wild ? Number.NaN : d;
    }
    n += pass.n;
    sum += pass.sum;
    if (pass.n > 0) passes.push(pass);
  }
  const mean = sum / n;
  const variance = Math.max(0, square / n - mean * mean) * (n / Math.max(1, n - 1));
  // First-order autoregression; neighboring bars share an edge, so the coefficient is at least a half.
  const rho = variance > 0 && pairs > 1 ? (lagged / pairs - mean * mean) / variance : 0;
  const r = Math.min(0.95, Math.max(0.5, rho));
  const inside = (variance / n) * ((1 + r) / (1 - r));
  const count = passes.length;
  let between = 0;
  for (const p of passes) between += (p.sum - p.n * mean) ** 2 / (n * n);
  if (count > 1) between *= count / (count - 1);
  const degreesOfFreedom = count - 1 + INSIDE_DOF;
  const squared = ((count - 1) * between + INSIDE_DOF * inside) / degreesOfFreedom;
  return {
    value: mid + mean,
    standardError: Math.max(floor, Math.sqrt(squared)),
    degreesOfFreedom: Math.max(LEAST_DOF, degreesOfFreedom),
  };
}
