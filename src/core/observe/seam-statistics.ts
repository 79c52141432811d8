import { median, medianHalf95, robustSd, tQuantile975 } from '../geometry/stats.ts';
import type { Estimate } from './types.ts';

/** The seams of one map, separated by which sides face each other. Lengths in meters. */
export interface SeamStatistics {
  count: number;
  /** Median over all seams. */
  medianM: number;
  /** Seam without the part that alternates: the mean of the two kinds' medians where both are there, else the median. */
  steadyM: number;
  /** Half of the 95 % interval of `steadyM`; infinite for fewer than two seams. */
  steadyHalf95M: number;
  /** Half the difference between left-left and right-right seams: + where a pass sits to the right of its travel. Null where one level explains the seams. */
  alternatingM: number | null;
  /** Seams of the two kinds. */
  leftLeft: number;
  rightRight: number;
}

/** Seams that alternate by less than this are one level, whatever the statistics: rounding of the file, meters. */
const LEAST_ALTERNATING_M = 0.02;

/** Summary of seam widths `m` (meters) with the sides that face each other, as `seamSides` gives them. */
export function summarizeSeams(m: readonly number[], sides: Int8Array, alternating: Estimate | null): SeamStatistics {
  const of = (side: number): number[] => m.filter((_, i) => sides[i] === side);
  const ll = of(1);
  const rr = of(-1);
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
    alternatingM: isClear(alternating) ? (ml - mr) / 2 : null,
    leftLeft: ll.length,
    rightRight: rr.length,
  };
}

/** Two levels explain the seams better than one: their difference is clear of zero. */
function isClear(e: Estimate | null): boolean {
  return (
    e !== null &&
    Math.abs(e.value) > LEAST_ALTERNATING_M &&
    Math.abs(e.value) > e.standardError * tQuantile975(e.degreesOfFreedom)
  );
}
