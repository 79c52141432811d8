import type { Report, Setting } from '../core/answer.ts';
import type { Limits, Where } from '../core/intake/index.ts';
import type { Unit } from '../core/planter/types.ts';
import type { DateOrder } from '../core/track/columns/index.ts';

/** The input of the check of one field. Goes to another process or machine unchanged. */
export interface Job {
  /** Files of the map, and of the boundary: paths of this machine, or names below the worker's own `MapsFrom`. */
  map: string[];
  boundary: string[];
  /** Text and name of the planter file. */
  planter: string;
  planterFile: string;
  settings: Settings;
  /** How long the check may take, seconds; then it is stopped. Not part of the field's identity. */
  seconds: number;
}

/** Options that change an answer. */
export interface Settings {
  planting?: string;
  /** By the name of a machine, or a day. */
  plantings?: Record<string, string>;
  /** Every planter of the field as text and name of its file, the job's own too, where there are several or one is of a named machine. */
  planters?: { text: string; file: string; machine?: string }[];
  layer?: string;
  /** Coordinate system of a map that does not name its own. */
  crs?: string;
  where?: Where[];
  dates?: DateOrder;
  columns?: Record<string, string>;
  passAccuracyM?: number;
  seedCostPerHa?: number;
  machineColumn?: string;
  limits?: Partial<Limits>;
}

/** One field to check. `name` is unique within an audit and is what the reader sees. */
export interface Field extends Job {
  name: string;
  /** The machine as the list says; null leaves it to the map. */
  machine: string | null;
}

/** A field for which no job could be made; its sentence goes into the table. */
export interface BadField {
  name: string;
  machine: string | null;
  sentence: string;
}

/** A file in a folder of the audit that was not taken for a map. */
export interface LeftAlone {
  name: string;
  why: string;
}

export type Outcome = Report['verdict'] | 'not checked';

/** The row of one field. Meters and square meters; null where the map does not show it. */
export interface Row {
  verdict: Outcome;
  /** The verdict, or why the field could not be checked, in one sentence. */
  says: string;
  /** Settings that are wrong, most certain first. */
  settings: Setting[];
  planter: string;
  planting: string;
  /** Plantings of the planter, where it has several and none was named: the field waits for one. Empty otherwise. */
  waits: string[];
  /** The planting that the recorded map fits best, and so the one that the display was set to; null where the map does not show it. */
  recordedPlanting: string | null;
  /** What to do next, in one sentence; '' where nothing is to be done. */
  next: string;
  /** Its bars can be redrawn, with `guessrow rebuild`. */
  redraw: boolean;
  /** The machine that a column of the map names; null without one. */
  machine: string | null;
  /** First and last record, ms since 1970 UTC, or null. */
  firstMs: number | null;
  lastMs: number | null;
  unit: Unit;
  /** Ground left without rows plus ground planted twice, by the diagnosis with the largest such area. */
  affectedM2: number;
  /** Seed planted twice and seed that was not planted, of the diagnosis with the largest area, in the user's money; null without a price. */
  cost: number | null;
  acreCountPct: number | null;
  declaredWidthM: number | null;
  recordedWidthM: number | null;
  recordedM2: number;
  coveredM2: number;
  gapM2: number;
  overlapM2: number;
  records: number;
  used: number;
  passes: number;
}

/** Lines and outlines on a square of `PICTURE` steps, y down: x and y in turn. Numbers only, so that nothing in them can be markup. */
export interface Picture {
  covered: number[][];
  tracks: number[][];
  /** Gaps and overlaps of the account: what a setting did, what is open, and what is harmless. */
  setting: number[][];
  open: number[][];
  harmless: number[][];
}
export const PICTURE = 300;

export const VERDICT: Readonly<Record<Outcome, string>> = {
  differs: 'Differs',
  undecided: 'Undecided',
  'not checked': 'Not checked',
  agrees: 'Agrees',
};

/** The result of a field. Reports are whole files, by their extension. */
export interface Checked {
  row: Row;
  picture: Picture | null;
  reports: Record<string, string>;
}

/** A line of the journal: everything of a checked field that is not in its reports. */
export interface Entry {
  key: string;
  row: Row;
  picture: Picture | null;
  /** Report files of the field, below the output folder; empty when it could not be checked. */
  reports: string[];
}

/** A field of the finished audit. */
export interface Done extends Entry {
  name: string;
  /** Records of the map that it is about, as "COLUMN=VALUE"; empty for all of them. */
  where: string[];
  /** Other options of `guessrow rebuild` that the map needs, name and value in turn. */
  options: string[];
  /** Name of the planter file that it was checked with; '' where there was none. */
  planterFile: string;
  /** From the list, else from the map, else ''. */
  machine: string;
  /** Another field of this audit with the very same files and options; it was checked once and counts once. */
  sameAs: string | null;
  /** No worker could finish it: it is not in the journal, and the next run hands it out again. */
  dead: boolean;
}

/** What checks fields: processes of this machine, or workers behind a queue. */
export interface Checker {
  /** Fields that may be under way at once: what is handed out and not yet done stays below this. */
  most: number;
  /** Throws for trouble that may go away. */
  check(field: Field, key: string): Promise<Checked>;
  /** Called when a field's result is safe in the journal. */
  settled(key: string): Promise<void>;
  close(): Promise<void>;
}
