import type { Setting } from '../answer.ts';
import type { Band, PlantedLayout, Planter, RowRun } from '../planter/types.ts';

/** One possible belief of the display, and the bands that it would then have recorded, meters from the middle of the outer edges. */
export interface Hypothesis {
  /** The setting that is wrong when this is true; null when it is what the planter file declares. */
  setting: Setting | null;
  /** Rows that plant, and the gap between them. */
  rows: number;
  rowSpacingM: number;
  planting: string;
  /** Rows of the believed frame. */
  frameRows: number;
  frameSpacingM: number;
  widthM: number;
  /** Working center from the believed frame's center, meters right. */
  centerM: number;
  /** How far the middle of the recorded bands lies to the right of the middle of the believed width, because of sections that record nothing. */
  asideM: number;
  /** Width by which the display steers, unless the pass spacing was entered separately: the whole believed width, including sections that record nothing. */
  steersM: number;
  /** Bands when the sections are known; null when any edges on `edges` are possible. Called only where the width fits, because there are thousands of hypotheses. */
  bands: (() => Band[]) | null;
  edges: (() => number[]) | null;
  /** Rows of sections whose band is missing or cut, for the sentence. */
  sections: string[];
  logPrior: number;
  /** Any width below this is possible, meters: bars drawn whole, with unknown sections off. */
  belowM?: number;
  /** True for what is typed by mistake and no planter has: believed only where the map shows it whole, for parts of it fit anything. */
  mistyped?: true;
  /** True for what the display believed in the main segment, with sections at its ends off. */
  off?: true;
  /** Fits only layouts with fewer bands than this. */
  fewerThan?: number;
  /** Declared edges between sections, meters: fits only layouts with an edge that is not one of these. Each further one that moved is half as likely. */
  movedFrom?: number[];
  /** Strips that stay empty between bands, each of them at one of these places (meters) within `slackM`; left out: none is allowed. */
  holes?: { at: number[]; slackM: number };
}

/** What the display believed, whichever sections were on. */
export const beliefOf = ({ setting, frameRows, frameSpacingM, planting }: Hypothesis): string =>
  [setting, frameRows, frameSpacingM, planting].join();

/** Row list with its first two rows' gap in frame rows: 1 for every row, 2 for every other. */
export const strideOf = (rows: number[]): number => (rows.length > 1 ? rows[1] - rows[0] : 1);
export const every = (n: number, first: number, step: number): number[] => {
  const out: number[] = [];
  for (let r = first; r <= n; r += step) out.push(r);
  return out;
};

/** Shifts bands so that the middle of the outer edges is at 0. */
export function centered(bands: Band[]): Band[] {
  if (bands.length === 0) return bands;
  const mid = (bands[0].leftM + bands[bands.length - 1].rightM) / 2;
  return bands.map((b) => ({ leftM: b.leftM - mid, rightM: b.rightM - mid }));
}

/** The bands of sections that have any, centered. */
export const bandsOf = (sectionBands: (Band | null)[]): Band[] => centered(sectionBands.filter((b) => b !== null));

/** The belief when `planter` was entered, with a planting of this layout. */
export function hypothesis(
  setting: Setting | null,
  planter: Planter,
  layout: PlantedLayout,
  logPrior: number,
): Hypothesis {
  return {
    setting,
    rows: layout.rows.length,
    rowSpacingM: strideOf(layout.rows) * planter.rowSpacingM,
    planting: layout.planting,
    frameRows: planter.rows,
    frameSpacingM: planter.rowSpacingM,
    widthM: layout.workingWidthM,
    centerM: layout.centerM,
    asideM: 0,
    steersM: layout.workingWidthM,
    bands: () => bandsOf(layout.sectionBands),
    edges: null,
    sections: [],
    logPrior,
  };
}

/** Same hypothesis, but with sections cut anywhere between planted rows: the price of each free edge is paid in the fit. */
export function anySections(b: Hypothesis, layout: () => PlantedLayout): Hypothesis {
  const edges = (): number[] => {
    const rows = centered(layout().rowBands);
    return [rows[0].leftM, ...rows.map((r) => r.rightM)];
  };
  return { ...b, bands: null, edges };
}

/** One band over the whole width. */
export const wholeWidth = (layout: PlantedLayout) => (): Band[] => [
  { leftM: -layout.workingWidthM / 2, rightM: layout.workingWidthM / 2 },
];

/** The middle of these bands, relative to the frame's center and to the middle of all bands of the layout. */
export function middleOf(bands: Band[], layout: PlantedLayout): { centerM: number; asideM: number } {
  const centerM = (bands[0].leftM + bands[bands.length - 1].rightM) / 2;
  return { centerM, asideM: centerM - layout.centerM };
}

/** Where the display also believes the wrong planting, two things are wrong at once. */
export const SECOND_FAULT_PRIOR = 0.1;

/** Pairs of rows from the left; the single row of an odd frame last, or beside the center line. */
export function inPairs(n: number, center = false): RowRun[] {
  const middle = (n + 1) / 2;
  const single = n % 2 === 0 || !center ? n + 1 : middle % 2 ? middle : middle - 1;
  const out: RowRun[] = [];
  for (let first = 1; first <= n; ) {
    const last = first === single ? first : Math.min(first + 1, n);
    out.push({ first, last });
    first = last + 1;
  }
  return out;
}
