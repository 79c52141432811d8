/**
 * What the declared planter put in the ground along the recorded track.
 *
 * Assumes passes cut in bars, the place of the recorded width's middle in every bar, and the declared layout of the planting.
 * Guarantees one quad for each run of neighbouring planted rows in each bar, back left corner first, counter-clockwise, on a
 * lattice finer than a tenth of a millimetre.
 *
 * 1. Frame centre of a bar: the middle of the recorded bands less the working centre that the display believed.
 * 2. Rows: all of them in a full bar; else those whose centre lies under a recorded band.
 * 3. Quads between the back and the front line of the bar.
 */
import type { Lattice, Shapes } from '../geometry/shapes.ts';
import type { RecordedBands } from '../layout/bands.ts';
import type { Passes } from '../passes/types.ts';
import type { Plane } from '../plane/index.ts';
import type { PlantedLayout } from '../planter/types.ts';

export interface Planted {
  shapes: Shapes;
  lattice: Lattice;
  /** Bar of each quad. */
  bar: Uint32Array;
}

/** `believedCentreM` per epoch: the working centre of the layout that the display believed, metres right of the frame centre; `lattice` the finer one to write on. */
export function layPlanted(
  passes: Passes,
  bands: RecordedBands,
  layout: PlantedLayout,
  believedCentreM: readonly number[],
  plane: Plane,
  lattice: Lattice,
): Planted {
  const { bars, barStart, corner, leftM, rightM } = passes;
  const metres: number[] = [];
  const bar: number[] = [];
  const rows = layout.rowBands;
  for (let b = 0; b < bars; b++) {
    const middle = bands.middleM[b];
    const from = barStart[b];
    const to = barStart[b + 1];
    const l = 8 * from;
    const r = 8 * (to - 1);
    const back = line(corner[l], corner[l + 1], corner[r + 2], corner[r + 3]);
    const front = line(corner[l + 6], corner[l + 7], corner[r + 4], corner[r + 5]);
    const put = (left: number, right: number): void => {
      for (const [at, u] of [
        [back, left],
        [back, right],
        [front, right],
        [front, left],
      ] as const)
        metres.push(at.x + u * at.dx, at.y + u * at.dy);
      bar.push(b);
    };
    if (Number.isNaN(middle)) {
      // Nothing tells where the frame was: the recorded bands themselves are the best word on what was planted here.
      for (let i = from; i < to; i++) put(leftM[i], rightM[i]);
      continue;
    }
    const centre = middle - (believedCentreM[bands.epoch[b]] ?? 0);
    let run: { left: number; right: number } | null = null;
    for (const band of rows) {
      const x = centre + (band.leftM + band.rightM) / 2;
      let plants = bands.full[b] === 1;
      for (let i = from; i < to && !plants; i++) plants = x > leftM[i] - 0.01 && x < rightM[i] + 0.01;
      if (!plants) {
        if (run) put(run.left, run.right);
        run = null;
      } else if (run) {
        run.right = centre + band.rightM;
      } else {
        run = { left: centre + band.leftM, right: centre + band.rightM };
      }
    }
    if (run) put(run.left, run.right);
  }
  const n = bar.length;
  const flat = Float64Array.from(metres);
  const steps = new Float64Array(8 * n);
  plane.toSteps(flat, 4 * n, steps);
  const scale = lattice.stepsPerDegree / plane.lattice.stepsPerDegree;
  const xy = new Int32Array(8 * n);
  for (let i = 0; i < xy.length; i++) xy[i] = Math.round(steps[i] * scale);
  return {
    shapes: {
      xy,
      ringStart: Uint32Array.from({ length: n + 1 }, (_, i) => 4 * i),
      shapeStart: Uint32Array.from({ length: n + 1 }, (_, i) => i),
    },
    lattice,
    bar: Uint32Array.from(bar),
  };
}

/** Midpoint and unit vector of the line from (x0, y0) to (x1, y1). */
function line(x0: number, y0: number, x1: number, y1: number): { x: number; y: number; dx: number; dy: number } {
  const l = Math.hypot(x1 - x0, y1 - y0);
  return { x: (x0 + x1) / 2, y: (y0 + y1) / 2, dx: (x1 - x0) / l, dy: (y1 - y0) / l };
}
