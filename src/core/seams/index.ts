/**
 * The lines between neighbouring passes, measured on the recorded map.
 *
 * Assumes passes cut in bars, and knows for every record which band of the recorded layout it is. Guarantees that a seam is only
 * measured where both passes hold their outermost band on the facing side and run parallel, outer edge against outer edge.
 *
 * 1. `measure.ts`: samples from the outer edge of every bar to the facing edge of the neighbour.
 * 2. `planted.ts`: the same seams on the ground, and bridges over open seams.
 * 3. `summary.ts`: one value a seam, the steady part and the part that alternates with the direction of travel.
 * 4. `level.ts`: how well those parts are known, given that neighbouring seams share a pass.
 */

export { type Level, type Levels, levelsOf } from './level.ts';
export { findSeams, type SeamMap } from './measure.ts';
export { bridgeShapes, plantedSeams } from './planted.ts';
export { type Kinds, summarise } from './summary.ts';

export interface Seam {
  /** 0-based, a before b. */
  passA: number;
  passB: number;
  opposite: boolean;
  facing: 'right-right' | 'left-left' | 'same-way';
  /** Recorded width, metres, + gap, - overlap: median of the samples. */
  recordedM: number;
  samples: number;
  /** Robust standard deviation along the seam, metres. */
  spreadM: number;
  /** Metres of travel over which the two passes lay side by side. */
  lengthM: number;
}
