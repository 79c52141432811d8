import type { RecordedBands } from '../observe/index.ts';
import type { Passes } from '../track/types.ts';

/** Passes of one recorded width. */
export interface Population {
  widthM: number;
  /** Counted from 1. */
  passes: number[];
}

/** Widths within this share of each other count as one. */
const SAME_PART = 0.04;

/**
 * The two populations of a map whose every pass is as wide from end to end as one of two widths, each two passes or more; else null. A second planter
 * at work leaves such a map, and so does a setting that is changed between two passes: nothing in the map shows which.
 */
export function twoPopulations(passes: Passes, bands: RecordedBands): [Population, Population] | null {
  const found: Population[] = [];
  for (let p = 0; p + 1 < passes.passStart.length; p++) {
    const widths = new Set(bands.segment.subarray(passes.passStart[p], passes.passStart[p + 1]));
    const [first, ...rest] = [...widths].map((i) => bands.segments[i]?.widthM ?? Number.NaN);
    if (Number.isNaN(first) || rest.some((w) => !isSame(w, first))) return null;
    const own = found.find((f) => isSame(f.widthM, first));
    if (own) own.passes.push(passes.number[p]);
    else found.push({ widthM: first, passes: [passes.number[p]] });
  }
  const [a, b] = found;
  return found.length === 2 && a.passes.length > 1 && b.passes.length > 1 ? [a, b] : null;
}

const isSame = (a: number, b: number): boolean => Math.abs(a - b) <= SAME_PART * Math.max(a, b);
