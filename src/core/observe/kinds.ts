import { median, medianHalf95, robustSd } from '../geometry/stats.ts';

/** The seams of one map told apart by which sides face each other. Lengths in metres. */
export interface Kinds {
  count: number;
  /** Median over all seams. */
  medianM: number;
  /** Seam without the part that alternates: the mean of the two kinds' medians where both are there, else the median. */
  steadyM: number;
  /** Half of the 95 % interval of `steadyM`; infinite for fewer than two seams. */
  steadyHalf95M: number;
  /** Half the difference between left-left and right-right seams: + where a pass sits to the right of its travel. Null without both kinds. */
  alternatingM: number | null;
  alternatingHalf95M: number;
  /** Seams of the two kinds. */
  leftLeft: number;
  rightRight: number;
}

/** Summary of seam widths `m` (metres) with the sides that face each other. */
export function summarise(m: readonly number[], facing: readonly ('right-right' | 'left-left' | 'same-way')[]): Kinds {
  const of = (kind: string): number[] => m.filter((_, i) => facing[i] === kind);
  const ll = of('left-left');
  const rr = of('right-right');
  const all = median(m);
  const half = (v: number[]): number => medianHalf95(Math.max(robustSd(v), 0.002), v.length);
  const both = ll.length > 0 && rr.length > 0;
  const ml = median(ll);
  const mr = median(rr);
  const mixed = both && ll.length + rr.length >= 0.7 * m.length;
  const fan = Math.hypot(half(ll), half(rr)) / 2;
  return {
    count: m.length,
    medianM: all,
    steadyM: mixed ? (ml + mr) / 2 : all,
    steadyHalf95M: mixed && Number.isFinite(fan) ? fan : half([...m]),
    alternatingM: both ? (ml - mr) / 2 : null,
    alternatingHalf95M: both ? fan : Number.POSITIVE_INFINITY,
    leftLeft: ll.length,
    rightRight: rr.length,
  };
}
