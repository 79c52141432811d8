export type Unit = 'in' | 'cm' | 'm';

/** The planter file as written, after its structure was checked. Lengths are in `unit`. */
export interface PlanterFile {
  name: string;
  unit: Unit;
  rows: number;
  rowSpacing: number;
  plantings: Record<string, string>;
  sections?: string[];
  drives?: string[];
  offset?: { right?: number; back?: number };
  passSpacing?: Record<string, number>;
}

/** A run of frame rows, both ends included, counted from 1 at the left end facing travel. */
export interface RowRun {
  first: number;
  last: number;
}

/** An interval across the travel direction, meters from the frame center, + to the right of travel. */
export interface Band {
  leftM: number;
  rightM: number;
}

export interface Planting {
  name: string;
  /** Frame rows that run, rising. */
  rows: number[];
  /** Declared pass spacing, meters; null when the file gives none (then the working width is expected). */
  passSpacingM: number | null;
}

/** The planter in meters. `sections` is one run over the whole frame when the file declares none. */
export interface Planter {
  name: string;
  unit: Unit;
  rows: number;
  rowSpacingM: number;
  plantings: Planting[];
  sections: RowRun[];
  sectionsDeclared: boolean;
  drives: RowRun[];
  offsetRightM: number;
  offsetBackM: number;
  file: PlanterFile;
}

/** What the planter does in one planting. */
export interface PlantedLayout {
  planting: string;
  rows: number[];
  /** Band of each planted row, meters, left to right. */
  rowBands: Band[];
  /** One per declared section; null for a section without a planted row. */
  sectionBands: (Band | null)[];
  workingWidthM: number;
  /** Middle of the outer edges, meters from the frame center, + right. */
  centerM: number;
}

export interface RuleBreak {
  rule: 1 | 2 | 3 | 4 | 5;
  /** Names the rows, sections, planting: what a technician would say. */
  says: string;
  /** What to enter instead. */
  todo: string;
  sections: number[];
  planting?: string;
}
