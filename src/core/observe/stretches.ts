import type { Passes } from '../track/types.ts';
import { estimateSeams } from './estimate.ts';
import { type SeamStatistics, summarizeSeams } from './seam-statistics.ts';
import { seamSides } from './sides.ts';
import type { RecordedBands, Seam, SeamEstimates } from './types.ts';

/** The seams between passes of one segment of the map: where the layout changes, the seams may change too, and a mean over both would describe neither. */
export interface SeamStretch {
  segment: number;
  /** Places in the list of all seams. */
  seams: number[];
  /** Of each of them, which level it belongs to, as `seamSides` gives it. */
  sides: Int8Array;
  lengthM: number;
  recorded: SeamStatistics & SeamEstimates;
  planted: SeamStatistics & SeamEstimates;
}

/** Longest first. `plantedM` beside every seam; seams between passes of two segments belong to neither. A map without seams has one empty stretch. */
export function seamStretches(
  seams: readonly Seam[],
  plantedM: readonly number[],
  passes: Passes,
  bands: RecordedBands,
  accuracyM: number,
): SeamStretch[] {
  const segmentOf = (pass: number): number => bands.segment[passes.passStart[pass]] ?? 0;
  const lists = bands.segments.map((): number[] => []);
  seams.forEach((s, i) => {
    if (segmentOf(s.passA) === segmentOf(s.passB)) lists[segmentOf(s.passA)].push(i);
  });
  const stretch = (list: number[], segment: number): SeamStretch => {
    const own = list.map((i) => seams[i]);
    const recordedM = own.map((s) => s.recordedM);
    const groundM = list.map((i) => plantedM[i]);
    const sides = seamSides(own, recordedM, accuracyM, passes.travelFrom !== 'unknown');
    const of = (m: number[]): SeamStatistics & SeamEstimates => {
      const estimates = estimateSeams(own, m, accuracyM, sides);
      return { ...summarizeSeams(m, sides, estimates.alternating), ...estimates };
    };
    return {
      segment,
      seams: list,
      sides,
      lengthM: own.reduce((s, x) => s + x.lengthM, 0),
      recorded: of(recordedM),
      planted: of(groundM),
    };
  };
  const out = lists.map(stretch).filter((s) => s.seams.length > 0);
  if (out.length === 0) out.push(stretch([], 0));
  return out.sort((a, b) => b.lengthM - a.lengthM || a.segment - b.segment);
}
