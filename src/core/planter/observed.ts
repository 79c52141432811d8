import { runName } from './rows.ts';
import type { PlanterFile, RowRun, Unit } from './types.ts';
import { fromMeters, toMeters, trim } from './units.ts';

/** What a map shows of the planter that recorded it, meters. */
export interface ObservedLayout {
  workingWidthM: number;
  /** Widths of the recorded sections, left to right; empty where the map holds none. */
  sectionsM: readonly number[];
  /** How exactly the widths are known. */
  toleranceM: number;
}

/** A planter that would record such a map; only its owner can say whether it is the right one. */
export interface ProposedPlanter {
  file: PlanterFile;
  rows: number;
  rowSpacingM: number;
  /** False where the recorded sections are no whole numbers of rows: the file then has none. */
  sectionsFit: boolean;
}

/** Row spacings of planters, the usual ones first (common practice). */
const SPACINGS: readonly (readonly [Unit, number])[] = [
  ...[30, 20, 15, 22, 36, 38, 40, 10, 18, 24, 28, 32, 34].map((v) => ['in', v] as const),
  ...[75, 70, 50, 45, 80, 37.5, 60, 25, 90, 100].map((v) => ['cm', v] as const),
];
/** Fewer rows are no planter, and more are met nowhere. */
const ROWS = [2, 96] as const;
/** An edge of a section may lie this much off by the display's own rounding, meters. */
const ROUNDED_M = 0.02;

/**
 * Planters that fit what was recorded, the likeliest first: whole numbers of rows at a usual spacing in every section, or over the working width where
 * no section shows or none fits. Inches or centimeters: whichever fits better. Empty where nothing usual is that wide.
 *
 * Known limit: a map shows the planter that the display believed in. A display set to the wrong rows proposes the wrong planter.
 */
export function proposePlanters(observed: ObservedLayout): ProposedPlanter[] {
  const { workingWidthM, sectionsM } = observed;
  const whole = candidates([workingWidthM], observed.toleranceM);
  const inSections = sectionsM.length > 1 ? candidates(sectionsM, observed.toleranceM + ROUNDED_M) : [];
  const found = inSections.length > 0 ? inSections : whole;
  return found.map(({ unit, spacing, rows }) => {
    const total = rows.reduce((a, b) => a + b, 0);
    const sectionsFit = inSections.length > 0;
    const file: PlanterFile = {
      name: `Planter of ${total} rows at ${trim(spacing, 1)} ${unit}`,
      unit,
      rows: total,
      rowSpacing: spacing,
      plantings: { every: 'all' },
      ...(sectionsFit ? { sections: runsOfSizes(rows).map(runName) } : {}),
    };
    return { file, rows: total, rowSpacingM: toMeters(spacing, unit), sectionsFit };
  });
}

interface Candidate {
  unit: Unit;
  spacing: number;
  rows: number[];
  /** Root mean square of what the widths miss whole rows by, meters. */
  offM: number;
}

/** Spacings of which each width is a whole number, in the order of `SPACINGS`; those of the unit that fits better come first. */
function candidates(widthsM: readonly number[], toleranceM: number): Candidate[] {
  const out: Candidate[] = [];
  for (const [unit, spacing] of SPACINGS) {
    const s = toMeters(spacing, unit);
    const rows = widthsM.map((w) => Math.round(w / s));
    const off = widthsM.map((w, i) => w - rows[i] * s);
    const total = rows.reduce((a, b) => a + b, 0);
    const sumOff = off.reduce((a, b) => a + b, 0);
    if (rows.some((r) => r < 1) || total < ROWS[0] || total > ROWS[1]) continue;
    if (off.some((v) => Math.abs(v) > toleranceM) || Math.abs(sumOff) > 2 * toleranceM) continue;
    const square = off.reduce((a, b) => a + b * b, 0) + sumOff * sumOff;
    out.push({ unit, spacing, rows, offM: Math.sqrt(square / (off.length + 1)) });
  }
  const best = (unit: Unit): number =>
    out.reduce((m, c) => (c.unit === unit ? Math.min(m, c.offM) : m), Number.POSITIVE_INFINITY);
  const inches = best('in') <= best('cm') + 1e-4;
  return out.sort((a, b) => Number((a.unit === 'in') !== inches) - Number((b.unit === 'in') !== inches));
}

function runsOfSizes(sizes: readonly number[]): RowRun[] {
  let last = 0;
  return sizes.map((n) => {
    const first = last + 1;
    last += n;
    return { first, last };
  });
}

/**
 * The same planter with its lengths in another unit: 30 in become 76.2 cm. Lengths keep what a tape shows, a hundredth of an inch or a tenth of a
 * millimeter. Values that are no numbers stay as they are.
 */
export function convertUnit<T extends object>(file: T, from: Unit, to: Unit): T {
  const digits = to === 'm' ? 4 : 2;
  const one = (v: unknown): unknown =>
    typeof v === 'number' && Number.isFinite(v) ? Number(fromMeters(toMeters(v, from), to).toFixed(digits)) : v;
  const all = (v: unknown): unknown =>
    typeof v === 'object' && v !== null ? Object.fromEntries(Object.entries(v).map(([k, w]) => [k, one(w)])) : v;
  const { rowSpacing, offset, passSpacing } = file as Partial<PlanterFile>;
  return {
    ...file,
    unit: to,
    ...(rowSpacing === undefined ? {} : { rowSpacing: one(rowSpacing) }),
    ...(offset === undefined ? {} : { offset: all(offset) }),
    ...(passSpacing === undefined ? {} : { passSpacing: all(passSpacing) }),
  };
}
