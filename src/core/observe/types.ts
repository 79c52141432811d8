/** What is observed of passes: the ground between two of them, and the bands across one. */

/** The line between two neighboring passes. */
export interface Seam {
  /** 0-based, a before b. */
  passA: number;
  passB: number;
  opposite: boolean;
  facing: 'right-right' | 'left-left' | 'same-way';
  /** Recorded width, meters, + gap, - overlap: median of the samples. */
  recordedM: number;
  samples: number;
  /** Robust standard deviation along the seam, meters. */
  spreadM: number;
  /** Meters of travel over which the two passes lay side by side. */
  lengthM: number;
}

/** One band of the recorded layout, meters from the middle of the recorded width, + right. */
export interface MeasuredBand {
  leftM: number;
  rightM: number;
  /** Standard errors of the two sides. */
  leftSeM: number;
  rightSeM: number;
}

/** A stretch of bars, in time order, over which the recorded layout stays the same. */
export interface Segment {
  /** First bar and the bar after the last. */
  from: number;
  to: number;
  bands: MeasuredBand[];
  widthM: number;
  width: Estimate;
  /** Layout of `BarKinds`, and how much better the map is explained with the change at `from` than without it, natural logarithm. */
  layout: number;
  logOdds: number;
  /** Passes that hold whole bars; pieces of passes count as part of one. */
  passes: number;
  /** Bars that hold every band. */
  fullBars: number;
}

export interface RecordedBands {
  segments: Segment[];
  /** Segment of each bar. */
  segment: Uint16Array;
  /** 1 where a bar holds every band of its segment. */
  full: Uint8Array;
  /** Band of each bar record (same order as `Passes.barQuad`), -1 where it is not known. */
  slot: Int16Array;
  /** Where the middle of the recorded width lies from the bar's own center, meters right; NaN where it is not known. */
  middleM: Float64Array;
}

/** A seam statistic with its uncertainty: a Student t with `degreesOfFreedom` and scale `standardError`. */
export interface Estimate {
  value: number;
  standardError: number;
  degreesOfFreedom: number;
}

/** Seams between the passes of one segment and those of others, by the side of its own passes on which they lie. */
export interface SeamsBeside {
  /** False where left and right may be the other way round, both of them. */
  travelKnown: boolean;
  /** `side` 1 right, -1 left; `widthM` is what the passes of the other segment record. */
  seams: (Estimate & { side: 1 | -1; widthM: number })[];
}

export interface SeamEstimates {
  /** Seam without the part that alternates; null without a seam. */
  steady: Estimate | null;
  /** Where sides of one kind face each other in all seams, `steady` holds what alternates too: 1 left sides, -1 right sides; 0 where left and right are not known. */
  only?: 1 | -1 | 0;
  /** Seams with passes of other segments. */
  beside?: SeamsBeside;
  /** Half the difference between left-left and right-right seams; null without both kinds. */
  alternating: Estimate | null;
  /** The same without a sign, where nothing shows which way the passes were driven. */
  unsigned?: Estimate;
  /** Where the seams lie on two levels that the direction of travel does not explain: both, meters, and the seams on each. */
  levels: { value: number; count: number }[] | null;
}

/** One start or stop of one section. */
export interface End {
  pass: number;
  slot: number;
  kind: 'start' | 'stop';
  /** How far the record reaches onto covered ground, meters; below 0 the gap that it leaves before it. */
  overlapM: number;
  /** Meters per second over several bars, NaN without times. */
  speedMPerS: number;
  /**
   * Lengths of the log intervals before and after the end, meters: how far back the section may really have switched where the display
   * samples its state at the beginning of an interval, and how far ahead where it samples at the end.
   */
  intervalBeforeM: number;
  intervalAfterM: number;
  /** Length of the last (of a start: first) record as a part of the interval that is usual there: 1 where no record is cut at a switch. */
  cutShare: number;
  bar: number;
  /** The pass goes on around a corner from here: of strips, which hold no instants, nothing shows that anything switched. */
  corner: boolean;
  /** Place of the end along the line of travel, from the bar's own center, meters. */
  alongM: number;
}
