import type { AccountLine } from './account/types.ts';
import type { AreaDensity, Polygons } from './coverage/index.ts';
import type { Lattice, Shapes } from './geometry/shapes.ts';
import type { MapFormat } from './intake/types.ts';
import type { Planter, RuleBreak } from './planter/types.ts';
import type { Note } from './shared/messages.ts';
import type { Setting } from './shared/setting.ts';

export type { Setting };

/** The report. Meters and square meters; key order here is the order in the JSON. Numbers that the map cannot give are null. */
export interface Report {
  report: 'guessrow/1';
  verdict: 'agrees' | 'differs' | 'undecided';
  /** The verdict in one sentence, in the planter file's unit. */
  says: string;
  /** What would decide an `undecided` verdict; empty otherwise. */
  wouldDecide: string[];
  map: MapSummary;
  /** Each machine that worked in the field; a single one where nothing distinguishes machines. The keys below describe the machine with the most travel. */
  machines: MachineSummary[];
  declared: DeclaredSummary;
  recorded: RecordedSummary;
  seams: SeamSummary;
  area: AreaSummary;
  /** Every gap, overlap and differing width with its cause, largest first. Recorded gap lines add up to `gapM2`, overlap lines to `overlapM2`. */
  account: AccountLine[];
  /** The verdict under each planting, where the planter has several and none was named; empty otherwise. */
  ifPlanted: { planting: string; verdict: Report['verdict']; says: string; settings: Setting[] }[];
  observations: Observation[];
  diagnoses: Diagnosis[];
  notes: Note[];
  /** What the tool cannot see and how to stay safe, always present. */
  cautions: string[];
}

export type Grain = 'section' | 'bar' | 'strip' | 'blob';

export interface ColumnRole {
  name: string;
  /** What the numbers do, as text: "rises along every pass, 12,431 of 12,431 steps". */
  evidence: string;
  /** Unit of a width or rate column when the numbers show it. */
  unit?: string;
}
export type Role = 'section' | 'time' | 'width' | 'heading' | 'rate' | 'product' | 'machine';

export interface MapSummary {
  source: string;
  format: MapFormat;
  grain: Grain;
  records: number;
  used: number;
  setAside: { reason: string; count: number; firstRecord: number }[];
  passes: number;
  bars: number;
  travelM: number;
  columns: Partial<Record<Role, ColumnRole>>;
  /** What shows the direction of travel: times, record order, a heading column, or not at all. */
  travelFrom: 'time' | 'order' | 'heading' | 'unknown';
  /**
   * Recorded ground that lies in no pass: records that miss more than a hundredth of theirs, the area, its part of the recorded ground (0 to 1), and
   * the record with the most of it with longitude and latitude of a corner (null where nothing is missing).
   */
  unplaced: {
    records: number;
    areaM2: number;
    share: number;
    largest: { record: number; at: [number, number] } | null;
  };
}

/** One machine: its passes, compared with its own planter. */
export interface MachineSummary {
  /** As a column names it, else "machine 1" and so on in the order in which they began. */
  name: string;
  /** Numbers of its passes. */
  passes: number[];
  travelM: number;
  verdict: Report['verdict'];
  says: string;
  wouldDecide: string[];
  /** Settings that are wrong on it, the leading one first. */
  settings: Setting[];
  /** As in `Report`. */
  ifPlanted: Report['ifPlanted'];
  planter: string;
  planting: string;
  plantingFound: boolean;
  /** Why its passes are compared with this planter; empty where there is no choice. */
  why: string;
  declared: DeclaredSummary;
  recorded: RecordedSummary;
  seams: SeamSummary;
}

export interface SectionBand {
  rows: string;
  leftM: number;
  rightM: number;
}

export interface DeclaredSummary {
  planter: string;
  planting: string;
  /** True when the user left the planting out and the map decided. */
  plantingFound: boolean;
  frameRows: number;
  plantedRows: number;
  rowSpacingM: number;
  workingWidthM: number;
  centerM: number;
  passSpacingM: number;
  /** Price of the seed for a hectare planted once, in the user's money; null when the user named none. */
  seedCostPerHa: number | null;
  sections: SectionBand[];
}

export interface LayoutFit {
  rows: number;
  rowSpacingM: number;
  planting: string;
  confidence: number;
  says: string;
}

export interface RecordedSummary {
  workingWidthM: number | null;
  workingWidthCi95M: [number, number] | null;
  /** Bands of the recorded sections, meters from the middle of the recorded width, left to right; empty in bar and blob grain. */
  sections: { leftM: number; rightM: number }[];
  bestFit: LayoutFit | null;
  alternatives: LayoutFit[];
  /** Where the map shows nothing but the width: every usual frame of that width, fewest rows first. */
  sameWidth: { rows: number; rowSpacingM: number }[];
  /** Where the recorded layout changed on the way: each stretch of one layout, in time order. The figures above are those of the longest. */
  stretches?: RecordedStretch[];
}

export interface RecordedStretch {
  /** Passes with bars of this stretch. */
  passes: number[];
  workingWidthM: number;
  /** How many sections recorded; 0 where the map does not show them. */
  sections: number;
}

export interface SeamStretchSummary {
  /** Passes on either side of these seams. */
  passes: number[];
  count: number;
  recordedM: number;
  plantedM: number;
}

export interface SeamSummary {
  count: number;
  medianM: number | null;
  recordedM: number | null;
  plantedM: number | null;
  guessRowM: number | null;
  alternatingM: number | null;
  /** Pass-to-pass accuracy of the positioning that the check assumed. */
  accuracyM: number;
  /** A steady seam up to this, either way, is steering error, not a setting. */
  toleranceM: number;
  /** Where the recorded layout changed on the way: the seams between passes of one layout, in time order. The figures above are those of the longest. */
  stretches?: SeamStretchSummary[];
}

export interface AreaSummary {
  recordedM2: number;
  coveredM2: number;
  overlapM2: number;
  gapM2: number;
  plantedM2: number | null;
  /** Self-check of the areas, relative: sum of records against union plus every further depth, and rings against parts. */
  residual: number;
}

export type ObservationKind =
  | 'width'
  | 'section-count'
  | 'section-edges'
  | 'section-missing'
  | 'section-dropout'
  | 'seam'
  | 'seam-alternating'
  | 'end-gap'
  | 'end-overlap'
  | 'double-coverage'
  | 'change'
  | 'repeated-records'
  | 'column-width'
  | 'layout-rule';

export interface Observation {
  id: string;
  kind: ObservationKind;
  says: string;
  measuredM: number | null;
  expectedM: number | null;
  n: number;
  /** Part of the bars (or seams, or records) that show it, 0 to 1. */
  share: number;
  /** Passes that bear it, counted from 1. */
  passes: number[];
}

/** What the map shows of a fault's effect; null where it does not show it. */
export interface MeasuredEffect {
  acreCountPct: number | null;
  unplantedM2: number | null;
  doubledM2: number | null;
}

/** What follows from that under a condition, which every report states beside it. */
export interface Effect extends MeasuredEffect {
  /** A population or rate computed from the recorded area, as a multiple of the true one. */
  populationFactor: number | null;
  /** Cost of seed planted a second time, and of the seed for ground left without rows, in the user's money. */
  seedCost: { doubledCost: number | null; unplantedCost: number | null } | null;
}

/** A diagnosis from the map alone. */
export interface Finding {
  setting: Setting;
  /** Settings that would have recorded the same map, each with its own finding: only one of them is wrong. Left out where there is none. */
  or?: Setting[];
  confidence: number;
  /** Machine that it was found on; left out where there is only one. */
  machine?: string;
  /** What is wrong and what it should be, as a technician would say it. */
  says: string;
  /** How to confirm it. */
  check: string;
  because: string[];
}

export interface Diagnosis extends Finding {
  effect: Effect;
}

/** One pass, for drawing and tables. Points are lattice steps, never degrees. */
export interface PassDrawing {
  number: number;
  bars: number;
  lengthM: number;
  /** Direction of travel, degrees clockwise from north, at the middle of the pass. */
  headingDeg: number;
  recordedWidthM: number;
  /** Milliseconds since 1970 UTC of the first and last bar, or null without a time column. */
  startMs: number | null;
  endMs: number | null;
  /** Center line, x and y lattice steps in turn. */
  track: Float64Array;
}

/** One seam between two neighboring passes; `left` and `right` are as seen along the direction of the first pass. */
export interface SeamDrawing {
  passA: number;
  passB: number;
  /** True when the two passes were driven in opposite directions. */
  opposite: boolean;
  /** Which sides face each other: both right sides, both left sides, or one of each. */
  facing: 'right-right' | 'left-left' | 'same-way';
  recordedM: number;
  plantedM: number;
  samples: number;
}

/** Everything a picture needs. Shapes and polygons are in lattice steps of `lattice`. */
export interface Evidence {
  lattice: Lattice;
  density: AreaDensity;
  records: Shapes;
  recordNumber: Uint32Array;
  /** The machine of each of the report's `machines`, by the name with which a planter is given for it. */
  machines: string[];
  /** Pass of each record (1-based, 0 none), its bar within the map (-1 none), and its section slot counted from the left (0-based, -1 none). */
  recordPass: Uint32Array;
  recordBar: Int32Array;
  recordSection: Int16Array;
  /** Width across travel of each record, meters; NaN where it has none. */
  recordWidthM: Float32Array;
  /** What the declared planter put in the ground along the same track. */
  planted: Shapes;
  plantedLattice: Lattice;
  /** Pass of each planted shape, counted from 1. */
  plantedPass: Uint32Array;
  /** Whether the planted picture has account lines of its own; otherwise it equals the recorded picture and shares its lines. */
  plantedApart: boolean;
  covered: Polygons;
  overlap: Polygons;
  gaps: Polygons;
  /** Where each line of the report's account lies, in the same order; a width has no place. */
  account: Polygons[];
  /** Rings of the field boundary that was given, first points not repeated; none without one. */
  boundary: Float64Array[];
  passes: PassDrawing[];
  seams: SeamDrawing[];
  /** Ground coordinates per meter near the map center, for scale bars: lattice steps per meter east and north. */
  stepsPerMeter: [number, number];
}

export interface Answer {
  report: Report;
  planter: Planter;
  ruleBreaks: RuleBreak[];
  evidence: Evidence;
}
