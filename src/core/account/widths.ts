import type { RecordedBands } from '../observe/index.ts';
import type { PlantedRows } from '../planted/index.ts';
import type { PlantedLayout } from '../planter/types.ts';
import { passesOf } from '../track/span.ts';
import type { Passes } from '../track/types.ts';

/** Bars whose recorded width is not that of the declared planter: one segment of the map. */
export interface WidthFact {
  segment: number;
  /** Recorded width of a full bar, strips that stay empty taken off, and from outer edge to outer edge; declared width; meters. */
  recordedM: number;
  outerM: number;
  declaredM: number;
  /** How far the middle of the planted rows lies beside the middle of the recorded width, meters, twice: either way, for both passes of a seam. */
  shiftM: number;
  lengthM: number;
  /** Recorded less planted ground of its bars, square meters. */
  excessM2: number;
  /** Counted from 1. */
  passes: number[];
}

/** The smallest difference of widths that counts, meters: twice the rounding of a display. */
const LEAST_M = 0.02;

/**
 * Compares every bar's recorded width with what the declared planter covered there. `plantedM2` is the latter, summed over all bars whose
 * rows are known: what an acre count of this track should read.
 */
export function compareWidths(
  passes: Passes,
  bands: RecordedBands,
  rows: PlantedRows,
  layout: PlantedLayout,
  believedCenterM: readonly number[],
): { facts: WidthFact[]; plantedM2: number } {
  const n = layout.rowBands.length;
  const rowM = layout.rowBands.map((b) => b.rightM - b.leftM);
  const excess = new Float64Array(bands.segments.length);
  const lengthM = new Float64Array(bands.segments.length);
  let plantedM2 = 0;
  for (let b = 0; b < passes.bars; b++) {
    if (Number.isNaN(rows.centerM[b])) continue;
    let recorded = 0;
    for (let i = passes.barStart[b]; i < passes.barStart[b + 1]; i++) recorded += passes.rightM[i] - passes.leftM[i];
    let planted = 0;
    for (let k = 0; k < n; k++) if (rows.on[b * n + k] === 1) planted += rowM[k];
    plantedM2 += planted * passes.lengthM[b];
    excess[bands.segment[b]] += (recorded - planted) * passes.lengthM[b];
    lengthM[bands.segment[b]] += passes.lengthM[b];
  }
  const facts: WidthFact[] = [];
  bands.segments.forEach((s, i) => {
    const band = s.bands.reduce((sum, b) => sum + b.rightM - b.leftM, 0);
    const shiftM = 2 * Math.abs((believedCenterM[i] ?? layout.centerM) - layout.centerM);
    const same = Math.abs(band - layout.workingWidthM) <= Math.max(LEAST_M, 2 * s.width.standardError);
    if (same && shiftM <= 2 * LEAST_M) return;
    facts.push({
      segment: i,
      recordedM: band,
      outerM: s.widthM,
      declaredM: layout.workingWidthM,
      shiftM,
      lengthM: lengthM[i],
      excessM2: excess[i],
      passes: passesOf(passes, s.from, s.to),
    });
  });
  return { facts, plantedM2 };
}
