import { INCH_M } from '../planter/units.ts';

/** Row spacings in use. Common practice. */
export const TRADE_SPACINGS_M = [
  ...[6, 7, 7.5, 8, 10, 12, 14, 15, 18, 19, 20, 21, 22, 24, 28, 30, 32, 34, 36, 38, 40].map((v) => v * INCH_M),
  ...[12.5, 15, 19, 25, 37.5, 40, 45, 50, 55, 56, 60, 70, 75, 76, 80, 90, 96.5, 100].map((v) => v / 100),
];

/** The spacings that most planters are built for: the others are those of drills, of special crops, or of a few machines. Common practice. */
const USUAL_SPACINGS_M = [...[15, 20, 22, 30, 36, 38, 40].map((v) => v * INCH_M), 0.375, 0.45, 0.5, 0.7, 0.75, 0.8];

/** Whether a spacing, meters, is one that most planters are built for. */
export const isUsual = (spacingM: number): boolean => USUAL_SPACINGS_M.some((s) => Math.abs(s - spacingM) < 1e-4);

/** Rows closer than this are drilled, and rarely planted (common practice). */
export const CLOSEST_ROWS_M = 0.25;

/**
 * Frames at usual spacings that are `widthM` wide, meters, within `toleranceM`: the candidates for a width alone. Rows planted, and the
 * gap between them; of two spacings that give the same number of rows the closer one is kept.
 */
export function framesOfWidth(widthM: number, toleranceM: number): { rows: number; rowSpacingM: number }[] {
  const best = new Map<number, { rows: number; rowSpacingM: number; off: number }>();
  for (const s of TRADE_SPACINGS_M) {
    const rows = Math.round(widthM / s);
    const off = Math.abs(rows * s - widthM);
    if (s < CLOSEST_ROWS_M || rows < 2 || off > toleranceM) continue;
    const known = best.get(rows);
    if (!known || off < known.off) best.set(rows, { rows, rowSpacingM: s, off });
  }
  return [...best.values()].sort((a, b) => a.rows - b.rows).map(({ rows, rowSpacingM }) => ({ rows, rowSpacingM }));
}

/** The same spacing, entered in the other unit and rounded to half a centimeter or a quarter of an inch (common practice): not a wrong setting. */
export const SAME_SPACING_M = 0.006;
