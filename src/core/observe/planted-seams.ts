import type { PlantedLayout } from '../planter/types.ts';
import type { Passes } from '../track/types.ts';
import type { RecordedBands, Seam } from './types.ts';

/**
 * Width of the same seams in the planted picture, meters: the recorded seam, plus on both sides what the recorded band reaches
 * further out than the planted one. `believedCenterM` as in the planted picture, per segment.
 */
export function plantedSeams(
  seams: readonly Seam[],
  passes: Passes,
  bands: RecordedBands,
  layout: PlantedLayout,
  believedCenterM: readonly number[],
): number[] {
  const reach = (pass: number, side: number): number => {
    const e = bands.segment[passes.passStart[pass]];
    // Middle of the planted width, from the middle of the recorded one.
    const shift = layout.centerM - (believedCenterM[e] ?? 0);
    return bands.segments[e].widthM / 2 - (layout.workingWidthM / 2 + side * shift);
  };
  return seams.map((s) => {
    if (s.facing === 'same-way') return s.recordedM + reach(s.passA, 1) + reach(s.passB, -1);
    const side = s.facing === 'right-right' ? 1 : -1;
    return s.recordedM + reach(s.passA, side) + reach(s.passB, side);
  });
}
