/**
 * What the declared planter put in the ground along the recorded track.
 *
 * Assumes passes cut in bars, the place of the recorded width's middle in every bar, and the declared layout of the planting.
 * Guarantees one quad for each run of neighbouring planted rows in each bar, back left corner first, counter-clockwise, on a
 * lattice of a tenth of a millimetre.
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

/** The frame of the declared planter over every bar, and which planted rows were in the ground. */
export interface PlantedRows {
  /** Frame centre of each bar, metres right of the middle of the bar's own records; NaN where nothing tells it. */
  centreM: Float64Array;
  /** 1 where planted row i of bar b ran: `on[b * rows + i]`, rows as in `PlantedLayout.rowBands`. All 0 where the centre is not known. */
  on: Uint8Array;
}

/**
 * Steps 1 and 2. `believedCentreM` per epoch: the working centre of the layout that the display believed, metres right of the frame
 * centre. Where sections are off, a row ran when its centre lies under a recorded band. A row that has no band in any full bar (a
 * section that the display never records, a frame wider than it believed) cannot show whether it ran: it did where the nearest rows that can show it, on
 * every side that has one, did.
 */
export function findRows(
  passes: Passes,
  bands: RecordedBands,
  layout: PlantedLayout,
  believedCentreM: readonly number[],
): PlantedRows {
  const { bars, barStart, leftM, rightM } = passes;
  const rows = layout.rowBands.map((r) => (r.leftM + r.rightM) / 2);
  const n = rows.length;
  const centreM = new Float64Array(bars).fill(Number.NaN);
  const on = new Uint8Array(bars * n);
  const under = (x: number, left: number, right: number): boolean => x > left - 0.01 && x < right + 0.01;
  const shows = bands.epochs.map((e, i) =>
    rows.map((x) => e.bands.some((r) => under(x - (believedCentreM[i] ?? 0), r.leftM, r.rightM))),
  );
  for (let b = 0; b < bars; b++) {
    const middle = bands.middleM[b];
    if (Number.isNaN(middle)) continue;
    const centre = middle - (believedCentreM[bands.epoch[b]] ?? 0);
    centreM[b] = centre;
    if (bands.full[b] === 1) {
      on.fill(1, b * n, (b + 1) * n);
      continue;
    }
    const own = on.subarray(b * n, (b + 1) * n);
    for (let k = 0; k < n; k++) {
      for (let i = barStart[b]; i < barStart[b + 1] && own[k] === 0; i++)
        if (under(centre + rows[k], leftM[i], rightM[i])) own[k] = 1;
    }
    const seen = shows[bands.epoch[b]];
    for (let k = 0; k < n; k++) {
      if (seen[k] || own[k] === 1) continue;
      let l = k;
      while (l >= 0 && !seen[l]) l--;
      let r = k;
      while (r < n && !seen[r]) r++;
      if ((l >= 0 || r < n) && (l < 0 || own[l] === 1) && (r === n || own[r] === 1)) own[k] = 1;
    }
  }
  return { centreM, on };
}

/** Step 3, from the rows of `findRows`; `lattice` is the finer one to write on. */
export function layPlanted(
  passes: Passes,
  rows: PlantedRows,
  layout: PlantedLayout,
  plane: Plane,
  lattice: Lattice,
): Planted {
  const { bars, barStart, leftM, rightM } = passes;
  const metres: number[] = [];
  const bar: number[] = [];
  const n = layout.rowBands.length;
  for (let b = 0; b < bars; b++) {
    const put = quadsOf(passes, b, (corners) => {
      metres.push(...corners);
      bar.push(b);
    });
    const centre = rows.centreM[b];
    if (Number.isNaN(centre)) {
      // Nothing tells where the frame was: the recorded bands themselves are the best word on what was planted here.
      for (let i = barStart[b]; i < barStart[b + 1]; i++) put(leftM[i], rightM[i]);
      continue;
    }
    for (let k = 0; k < n; ) {
      if (rows.on[b * n + k] === 0) {
        k++;
        continue;
      }
      const first = k;
      while (k < n && rows.on[b * n + k] === 1) k++;
      put(centre + layout.rowBands[first].leftM, centre + layout.rowBands[k - 1].rightM);
    }
  }
  return { shapes: toQuads(metres, plane, lattice), lattice, bar: Uint32Array.from(bar) };
}

/**
 * Draws bands of bar `b` between its back and its front line: give it left and right, metres from the middle of the bar's records, and
 * `emit` gets the corners in metres, back left first, counter-clockwise. Bars that share their corners share the drawn ones.
 */
export function quadsOf(
  passes: Passes,
  b: number,
  emit: (corners: number[]) => void,
): (leftM: number, rightM: number) => void {
  const { corner, barStart } = passes;
  const l = 8 * barStart[b];
  const r = 8 * (barStart[b + 1] - 1);
  const back = line(corner[l], corner[l + 1], corner[r + 2], corner[r + 3]);
  const front = line(corner[l + 6], corner[l + 7], corner[r + 4], corner[r + 5]);
  return (left, right) => {
    const out: number[] = [];
    for (const [at, u] of [
      [back, left],
      [back, right],
      [front, right],
      [front, left],
    ] as const)
      out.push(at.x + u * at.dx, at.y + u * at.dy);
    emit(out);
  };
}

/** Quads with corners in metres on the plane (eight numbers each) as shapes on `lattice`, which has the origin of the plane's. */
export function toQuads(metres: ArrayLike<number>, plane: Plane, lattice: Lattice): Shapes {
  const n = metres.length / 8;
  const steps = new Float64Array(8 * n);
  plane.toSteps(metres, 4 * n, steps);
  const scale = lattice.stepsPerDegree / plane.lattice.stepsPerDegree;
  const xy = new Int32Array(8 * n);
  for (let i = 0; i < xy.length; i++) xy[i] = Math.round(steps[i] * scale);
  return {
    xy,
    ringStart: Uint32Array.from({ length: n + 1 }, (_, i) => 4 * i),
    shapeStart: Uint32Array.from({ length: n + 1 }, (_, i) => i),
  };
}

/** Midpoint and unit vector of the line from (x0, y0) to (x1, y1). */
function line(x0: number, y0: number, x1: number, y1: number): { x: number; y: number; dx: number; dy: number } {
  const l = Math.hypot(x1 - x0, y1 - y0);
  return { x: (x0 + x1) / 2, y: (y0 + y1) / 2, dx: (x1 - x0) / l, dy: (y1 - y0) / l };
}
