import type { Passes } from '../track/types.ts';
import type { RecordedBands } from './types.ts';

/** Passes that meet at a corner run across one another: cosine of 30 degrees. */
const ACROSS = Math.cos(Math.PI / 6);

/** Where a lap goes round a corner, one pass ends and the next begins. */
export class Corners {
  /** First and last bar of each pass. */
  private readonly ends: [number, number][];

  constructor(
    private readonly passes: Passes,
    private readonly bands: RecordedBands,
  ) {
    const { passStart } = passes;
    this.ends = Array.from({ length: passStart.length - 1 }, (_, p) => [passStart[p], passStart[p + 1] - 1]);
  }

  /** Whether pass `p` goes on around a corner from bar `b`, its first or last one: another one that runs across it begins or ends within its width. */
  goesRound(p: number, b: number): boolean {
    const [first, last] = this.ends[p];
    if (b !== first && b !== last) return false;
    const { center, right } = this.passes;
    // The first bar of a pass may hold one section of many.
    const { widthM } = this.bands.segments[this.bands.segment[b]];
    return [p - 1, p + 1].some((q) =>
      this.ends[q]?.some(
        (c) =>
          Math.abs(right[2 * b] * right[2 * c] + right[2 * b + 1] * right[2 * c + 1]) < ACROSS &&
          Math.hypot(center[2 * b] - center[2 * c], center[2 * b + 1] - center[2 * c + 1]) < widthM,
      ),
    );
  }
}
