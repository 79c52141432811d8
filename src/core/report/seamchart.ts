import type { Evidence, Report, SeamDrawing } from '../answer.ts';
import type { Unit } from '../planter/types.ts';
import { INCH_M } from '../planter/units.ts';
import { place } from './markup.ts';
import { countText, gapText } from './numbers.ts';

/** The seams as a chart: one mark for each in planting order, on a scale from -reach to +reach. Lengths in meters. */
export interface SeamChart {
  seams: SeamDrawing[];
  reachM: number;
  /** Lines across the chart, from the top down. */
  gridM: number[];
  /** The band of steering error reaches this far, either way. */
  toleranceM: number;
  /** The chart as a sentence, for readers who cannot see it. */
  says: string;
  caption: string;
}

/** Seams that could not be measured in both pictures are left out. */
export function seamChartOf(report: Report, evidence: Pick<Evidence, 'seams'>, unit: Unit): SeamChart {
  const { toleranceM, accuracyM } = report.seams;
  const seams = evidence.seams.filter((s) => Number.isFinite(s.recordedM) && Number.isFinite(s.plantedM));
  // One seam at a point row may be yards wide; the scale fits the others.
  const sizes = seams.map((s) => Math.max(Math.abs(s.recordedM), Math.abs(s.plantedM))).sort((a, b) => a - b);
  const usual = sizes[Math.ceil(0.85 * sizes.length) - 1] ?? 0;
  const most = sizes[sizes.length - 1] ?? 0;
  const reachM = niceReach(Math.max(2 * toleranceM, Math.min(most, 1.6 * usual)), unit);
  const beyond = seams.filter((s) => Math.abs(s.plantedM) > toleranceM).length;
  const offScale = sizes.filter((m) => m > reachM).length;
  return {
    seams,
    reachM,
    gridM: [reachM, reachM / 2, 0, -reachM / 2, -reachM],
    toleranceM,
    says: `${countText(seams.length, 'seam')}; ${beyond} as planted lie outside the tolerance of ${gapText(toleranceM, unit)} for a gap or an overlap.`,
    caption:
      'Hollow circles: as recorded. Filled marks: as planted; a point to the right where two right sides meet, to the left where two left sides meet, a square where both passes went the same way. ' +
      `The band is the tolerance: a gap or an overlap of up to ${gapText(toleranceM, unit)}, at a pass-to-pass accuracy of ${gapText(accuracyM, unit)}.` +
      (offScale > 0
        ? ` ${countText(offScale, 'seam')} beyond the scale: marked at its edge; the table of passes has the figure.`
        : ''),
  };
}

/** Where a seam is drawn on the scale: itself, or the edge beyond which it lies; meters. */
export function onScale(m: number, reachM: number): number {
  return Math.min(reachM, Math.max(-reachM, m));
}

/** Outline of the filled mark at a place on paper: pointing right where right sides meet, left where left sides do, else a square. */
export function seamMark(s: SeamDrawing, x: number, y: number): string {
  if (s.facing === 'right-right') return `M${place(x - 4)} ${place(y - 6)}l9 6l-9 6z`;
  if (s.facing === 'left-left') return `M${place(x + 4)} ${place(y - 6)}l-9 6l9 6z`;
  return `M${place(x - 5)} ${place(y - 5)}h10v10h-10z`;
}

/** The next round number of inches or centimeters above `m`, in meters. */
function niceReach(m: number, unit: Unit): number {
  const one = unit === 'in' ? INCH_M : 0.01;
  for (const step of [4, 10, 20, 40, 60, 100, 200, 400, 1000]) if (m <= step * one + 1e-9) return step * one;
  return m;
}
