/**
 * What the declared planter put in the ground along the recorded track.
 *
 * Assumes passes cut in bars, the place of the recorded width's middle in every bar, and the declared layout of the planting.
 * Guarantees one quad for each run of neighboring planted rows in each bar, back left corner first, counter-clockwise, on a
 * lattice of a tenth of a millimeter.
 *
 * 1. Frame center of a bar: the middle of the recorded bands less the working center that the display believed.
 * 2. Rows: all of them in a full bar; else those whose center lies under a recorded band.
 * 3. Quads between the back and the front line of the bar.
 *
 * Decision: steps of 0.1 mm, not 0.01 mm. Crossings of two edges then stay within the range in which doubles are exact; finer steps would need
 * big integers for every one.
 */
import { lengthOf } from '../geometry/length.ts';
import type { Lattice, Shapes } from '../geometry/shapes.ts';
import type { RecordedBands } from '../observe/types.ts';
import type { Plane } from '../plane/index.ts';
import type { PlantedLayout } from '../planter/types.ts';
import type { Passes } from '../track/types.ts';

export interface Planted {
  shapes: Shapes;
  lattice: Lattice;
  /** Bar of each quad. */
  bar: Uint32Array;
}

/** The frame of the declared planter over every bar, and which planted rows were in the ground. */
export interface PlantedRows {
  /** Frame center of each bar, meters right of the middle of the bar's own records; NaN where nothing shows it. */
  centerM: Float64Array;
  /** 1 where planted row i of bar b ran: `on[b * rows + i]`, rows as in `PlantedLayout.rowBands`. All 0 where the center is not known. */
  on: Uint8Array;
}

/**
 * Steps 1 and 2. `believedCenterM` per segment: the working center of the layout that the display believed, meters right of the frame
 * center. Where sections are off, a row ran when its center lies under a recorded band. A row that has no band in any full bar (a
 * section that the display never records, a frame wider than it believed) cannot show whether it ran: it did where the nearest rows that can show it, on
 * every side that has one, did.
 */
export function findRows(
  passes: Passes,
  bands: RecordedBands,
  layout: PlantedLayout,
  believedCenterM: readonly number[],
): PlantedRows {
  const { bars, barStart, leftM, rightM } = passes;
  const rows = layout.rowBands.map((r) => (r.leftM + r.rightM) / 2);
  const n = rows.length;
  const centerM = new Float64Array(bars).fill(Number.NaN);
  const on = new Uint8Array(bars * n);
  const under = (x: number, left: number, right: number): boolean => x > left - 0.01 && x < right + 0.01;
  const shows = bands.segments.map((e, i) =>
    rows.map((x) => e.bands.some((r) => under(x - (believedCenterM[i] ?? 0), r.leftM, r.rightM))),
  );
  for (let b = 0; b < bars; b++) {
    const middle = bands.middleM[b];
    if (Number.isNaN(middle)) continue;
    const center = middle - (believedCenterM[bands.segment[b]] ?? 0);
    centerM[b] = center;
    if (bands.full[b] === 1) {
      on.fill(1, b * n, (b + 1) * n);
      continue;
    }
    const own = on.subarray(b * n, (b + 1) * n);
    for (let k = 0; k < n; k++) {
      for (let i = barStart[b]; i < barStart[b + 1] && own[k] === 0; i++)
        if (under(center + rows[k], leftM[i], rightM[i])) own[k] = 1;
    }
    const seen = shows[bands.segment[b]];
    for (let k = 0; k < n; k++) {
      if (seen[k] || own[k] === 1) continue;
      let l = k;
      while (l >= 0 && !seen[l]) l--;
      let r = k;
      while (r < n && !seen[r]) r++;
      if ((l >= 0 || r < n) && (l < 0 || own[l] === 1) && (r === n || own[r] === 1)) own[k] = 1;
    }
  }
  return { centerM, on };
}

/** Bands whose edges are closer than this meet there, meters: half a step of 1e-7 degree. */
const ONE_EDGE_M = 0.005;

/** Step 3, from the rows of `findRows`; `lattice` is the finer one to write on. */
export function layPlanted(
  passes: Passes,
  rows: PlantedRows,
  layout: PlantedLayout,
  plane: Plane,
  lattice: Lattice,
): Planted {
  const { bars, barStart, leftM, rightM } = passes;
  const n = layout.rowBands.length;
  const lines = new BarLines(passes);
  let meters = new Float64Array(8 * bars);
  let bar = new Uint32Array(bars);
  let count = 0;
  const put = (b: number, left: number, right: number): void => {
    if (count === bar.length) {
      const [m, o] = [meters, bar];
      meters = new Float64Array(16 * count);
      bar = new Uint32Array(2 * count);
      meters.set(m);
      bar.set(o);
    }
    lines.draw(left, right, meters, 8 * count);
    bar[count++] = b;
  };
  for (let b = 0; b < bars; b++) {
    lines.of(b);
    const center = rows.centerM[b];
    if (Number.isNaN(center)) {
      // Nothing shows where the frame was; the recorded bands are the best evidence of what was planted here.
      for (let i = barStart[b]; i < barStart[b + 1]; ) {
        const first = i++;
        while (i < barStart[b + 1] && Math.abs(leftM[i] - rightM[i - 1]) < ONE_EDGE_M) i++;
        put(b, leftM[first], rightM[i - 1]);
      }
      continue;
    }
    for (let k = 0; k < n; ) {
      if (rows.on[b * n + k] === 0) {
        k++;
        continue;
      }
      const first = k;
      while (k < n && rows.on[b * n + k] === 1) k++;
      put(b, center + layout.rowBands[first].leftM, center + layout.rowBands[k - 1].rightM);
    }
  }
  return { shapes: plane.toQuads(meters.subarray(0, 8 * count), lattice), lattice, bar: bar.slice(0, count) };
}

/**
 * Draws bands of bar `b` between its back and its front line: give it left and right, meters from the middle of the bar's records, and
 * `emit` gets the corners in meters, back left first, counter-clockwise. Bars that share their corners share the drawn ones.
 */
export function quadsOf(
  passes: Passes,
  b: number,
  emit: (corners: number[]) => void,
): (leftM: number, rightM: number) => void {
  const lines = new BarLines(passes);
  lines.of(b);
  return (left, right) => {
    const out = [0, 0, 0, 0, 0, 0, 0, 0];
    lines.draw(left, right, out, 0);
    emit(out);
  };
}

/** The back and the front line of one bar after another. */
class BarLines {
  /** Midpoint x and y, and unit vector, of the back line and then of the front line. */
  private readonly line = new Float64Array(8);

  constructor(private readonly passes: Passes) {}

  /** Turns to bar b. */
  of(b: number): void {
    const { corner, barStart } = this.passes;
    const l = 8 * barStart[b];
    const r = 8 * (barStart[b + 1] - 1);
    this.put(0, corner[l], corner[l + 1], corner[r + 2], corner[r + 3]);
    this.put(4, corner[l + 6], corner[l + 7], corner[r + 4], corner[r + 5]);
  }

  private put(at: number, x0: number, y0: number, x1: number, y1: number): void {
    const l = lengthOf(x1 - x0, y1 - y0);
    this.line[at] = (x0 + x1) / 2;
    this.line[at + 1] = (y0 + y1) / 2;
    this.line[at + 2] = (x1 - x0) / l;
    this.line[at + 3] = (y1 - y0) / l;
  }

  /** Corners of the band from `left` to `right`: back left, back right, front right, front left, into `out` from `at` on. */
  draw(left: number, right: number, out: Float64Array | number[], at: number): void {
    const { line } = this;
    out[at] = line[0] + left * line[2];
    out[at + 1] = line[1] + left * line[3];
    out[at + 2] = line[0] + right * line[2];
    out[at + 3] = line[1] + right * line[3];
    out[at + 4] = line[4] + right * line[6];
    out[at + 5] = line[5] + right * line[7];
    out[at + 6] = line[4] + left * line[6];
    out[at + 7] = line[5] + left * line[7];
  }
}
