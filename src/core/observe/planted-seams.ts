import type { Shapes } from '../geometry/shapes.ts';
import type { Plane } from '../plane/index.ts';
import type { PlantedLayout } from '../planter/types.ts';
import type { Passes } from '../track/types.ts';
import type { RecordedBands } from './bands.ts';
import type { Seam, SeamMap } from './facing.ts';

/**
 * Width of the same seams in the planted picture, metres: the recorded seam, plus on both sides what the recorded band reaches
 * further out than the planted one. `believedCentreM` as in the planted picture, per segment.
 */
export function plantedSeams(
  seams: readonly Seam[],
  passes: Passes,
  bands: RecordedBands,
  layout: PlantedLayout,
  believedCentreM: readonly number[],
): number[] {
  const reach = (pass: number, side: number): number => {
    const e = bands.segment[passes.passStart[pass]];
    // Middle of the planted width, from the middle of the recorded one.
    const shift = layout.centreM - (believedCentreM[e] ?? 0);
    return bands.segments[e].widthM / 2 - (layout.workingWidthM / 2 + side * shift);
  };
  return seams.map((s) => {
    if (s.facing === 'same-way') return s.recordedM + reach(s.passA, 1) + reach(s.passB, -1);
    const side = s.facing === 'right-right' ? 1 : -1;
    return s.recordedM + reach(s.passA, side) + reach(s.passB, side);
  });
}

/** Bridges over open seams, and over empty strips inside bars, as shapes on the map's lattice. */
export function bridgeShapes(map: SeamMap, passes: Passes, plane: Plane): Shapes {
  const metres = Array.from(map.bridges);
  const { bars, barStart, leftM, rightM, corner } = passes;
  for (let b = 0; b < bars; b++) {
    for (let i = barStart[b] + 1; i < barStart[b + 1]; i++) {
      if (leftM[i] - rightM[i - 1] < 0.03) continue;
      const l = 8 * (i - 1);
      const r = 8 * i;
      metres.push(
        corner[l + 2],
        corner[l + 3],
        corner[r],
        corner[r + 1],
        corner[r + 6],
        corner[r + 7],
        corner[l + 4],
        corner[l + 5],
      );
    }
  }
  return plane.toQuads(metres, plane.lattice);
}
