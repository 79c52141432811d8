import type { FeatureCollection, MultiPolygon, Polygon } from 'geojson';

/** First and last frame row, counted from 1 at the left end facing travel. */
export type Run = [first: number, last: number];

/** A toolbar with its row units: the real one, or the one entered in the display. */
export interface Toolbar {
  rows: number;
  rowSpacingM: number;
  /** Rows that run, rising. */
  planted: number[];
  sections: Run[];
  drives?: Run[];
}

/** The planter as it really is. */
export interface Truth extends Toolbar {
  offsetRightM?: number;
  offsetBackM?: number;
  /** Seconds from the command until the rows really plant, and until they really stop. */
  onDelayS?: number;
  offDelayS?: number;
}

/** The display's settings. Settings left out are true. */
export interface Belief extends Toolbar {
  /**
   * `planted`: a section is drawn as wide as its planted rows reach, so that the strips close over idle rows.
   * `physical`: a section is drawn as wide as its row units, and one without a planted row is not drawn at all.
   */
  sectionsBy?: 'planted' | 'physical';
  /** What becomes of a section that straddles two drives: nothing, not recorded, or recorded on one side of the drive line only. */
  acrossDrives?: 'fine' | 'missing' | 'left-only' | 'right-only';
  offsetRightM?: number;
  offsetBackM?: number;
  /** Delays that the display allows for, seconds. */
  onDelayS?: number;
  offDelayS?: number;
  /** Section 1 acts as the last one and so on: sections shut off in mirrored order. */
  mirrored?: boolean;
  /** This section (counted from 1) records wherever the planter is down. */
  stuckOn?: number;
  /** This section does not record in passes `from` to `to` (counted from 1; all when left out). */
  stuckOff?: { section: number; from?: number; to?: number };
}

export type FieldShape =
  | { kind: 'strip'; lengthM: number; passes: number; sameWay?: boolean; curve?: Curve }
  | {
      kind: 'field';
      /** Along the travel of the interior passes. */
      lengthM: number;
      widthM: number;
      headlandLaps: 0 | 1 | 2;
      curve?: Curve;
      /** Slant of the far end of the field against the square end, degrees: point rows. */
      pointRowsDeg?: number;
      sameWay?: boolean;
    };

export interface Curve {
  amplitudeM: number;
  wavelengthM: number;
}

export type LengthUnit = 'm' | 'cm' | 'ft' | 'in';

/** Attribute columns that are written, with the names and units of this display. */
export interface Columns {
  time?: { name: string; as: 'iso' | 'epoch-ms' | 'epoch-s' | 'seconds' | 'local' };
  section?: { name: string; firstIs?: 0 | 1 };
  /** `record`: width of the record itself; `working`: the whole believed working width on every record. */
  width?: { name: string; unit: LengthUnit; of?: 'record' | 'working' };
  heading?: { name: string };
  /** Seeds per acre with a little spread, in thousands when the name says so is up to the caller. */
  rate?: { name: string; mean: number; sd: number };
  product?: { name: string; values: string[] };
  /** Columns that mean nothing here: every display writes some. */
  filler?: string[];
}

export interface FieldSpec {
  seed: number;
  /** South-west corner of the field (of the first pass), degrees. */
  origin: { lat: number; lon: number };
  /** Travel of the first interior pass, degrees clockwise from north; 0 when left out. */
  headingDeg?: number;
  shape: FieldShape;
  truth: Truth;
  belief?: Partial<Belief>;
  /** Line spacing that the guidance steers. */
  passSpacingM: number;
  /** Which point is kept on the guidance lines: the middle of the planted rows, or the middle of the frame. */
  centerOn?: 'working' | 'frame';
  sectionControl?: boolean;
  /** How far interior passes run into the headland before the planter goes down or up, meters. */
  runInM?: number;
  /** The map is drawn this far to the right of the frame's true track. */
  sideShiftM?: number;
  /** From this pass (and bar of it, counted from 1) on the display has other settings. */
  change?: { pass: number; bar?: number; belief: Partial<Belief> };
  /** Records written a second time at the end of the file, counted from 1; `all` for the whole map twice. */
  repeat?: 'all' | { first: number; count: number };
  grain?: 'section' | 'bar' | 'strip' | 'strip-section' | 'blob';
  noise?: { wanderM?: number; passBiasM?: number; headingDeg?: number };
  hz?: number;
  speedMPerS?: number;
  /** Spread of the speed, part of the mean. */
  speedSpread?: number;
  decimals?: number;
  corners?: 'shared' | 'independent';
  columns?: Columns;
  order?: 'log' | 'section-major' | 'shuffled';
}

export interface DrawnPass {
  /** Counted from 1 in time order. */
  number: number;
  kind: 'headland' | 'interior';
  /** Place of an interior pass's line across the field, in passes from the first one; null for headland runs. */
  line: number | null;
  /** +1 with the heading of the first interior pass, -1 against it; 0 for headland runs. */
  direction: number;
  records: number;
}

export interface DrawnTruth {
  /** One entry per feature. Pass and bar counted from 1 (bars over the whole map); section 0 where a feature holds several. */
  pass: number[];
  bar: number[];
  section: number[];
  /** Log interval, counted whether anything was recorded or not: records of one section with neighboring intervals touch. */
  interval: number[];
  passes: DrawnPass[];
  bars: number;
  /** Outer edge to outer edge of what the display draws at the start of the job, and of what the planter plants. */
  believedWidthM: number;
  plantedWidthM: number;
  /** Strips that the display draws at the start of the job, meters from the frame center. */
  believedStrips: Strip[];
  /** Planned seam between neighboring interior passes: as drawn (before any side shift) and on the ground. */
  recordedSeamM: number;
  plantedSeamM: number;
  /** Sum over the bars of their true length, meters. */
  travelM: number;
  /** Milliseconds since 1970 UTC of the first record. */
  startMs: number;
}

export interface Strip {
  /** Counted from 1 at the left. */
  section: number;
  leftM: number;
  rightM: number;
}

export interface DrawnField {
  features: FeatureCollection<Polygon | MultiPolygon>;
  truth: DrawnTruth;
}
