import type { Quads } from './quads.ts';

/** One lane: quads laid down by one section (or the whole width) one after another. Made from geometry alone. */
export interface Lanes {
  quads: Quads;
  /** Which side of each quad is its front, for the lane's own direction (not yet the direction of travel). */
  front: Uint8Array;
  lane: Int32Array;
  /** Quads of lane i, front to back order of the lane's direction: `laneQuads[laneStart[i] .. laneStart[i + 1])`. */
  laneStart: Uint32Array;
  laneQuads: Uint32Array;
  /** Group of lanes that ran side by side, per lane; and 1 when the lane's own direction runs against its group's. */
  group: Int32Array;
  against: Uint8Array;
  groups: number;
  /** The quad to the right and left at the same log instant (in the lane's own direction), or -1. */
  right: Int32Array;
  left: Int32Array;
  /** Part of the quads whose across side is shared digit for digit with the next one. */
  sharedShare: number;
}

/** A pass cut into bars, in the direction of travel. All arrays are per bar unless noted; lengths in meters on the plane. */
export interface Passes {
  /** Bars of pass p (0-based): `passStart[p] .. passStart[p + 1]`. Passes are in time order (record order without times). */
  passStart: Uint32Array;
  /** Number of each pass in the whole map, counted from 1: what observations and messages name it by. */
  number: Uint32Array;
  bars: number;
  /** Middle of the bar's records, and the unit vector to the right of travel. */
  center: Float64Array;
  right: Float64Array;
  /** Length along travel at the middle. */
  lengthM: Float64Array;
  /** Records of bar b, left to right: `barStart[b] .. barStart[b + 1]` into the three arrays below. */
  barStart: Uint32Array;
  barQuad: Uint32Array;
  /** Left and right side of each record across travel, from `center`, mean of its back and front edge. */
  leftM: Float64Array;
  rightM: Float64Array;
  /** Corners of each record in travel order: back left, back right, front right, front left (eight numbers). */
  corner: Float64Array;
  /** Time of each bar, ms since 1970 UTC or any rising unit; NaN without a time column. */
  timeMs: Float64Array;
  travelFrom: 'time' | 'order' | 'heading' | 'unknown';
  /** Record of each quad, and the records without one because they repeat an earlier one. The rest of the quads is let go: `corner` holds what counts of it. */
  quads: Pick<Quads, 'record' | 'repeated' | 'repeats'>;
}

/** Quads of one instant, before they are put in the direction of travel. */
export interface Bars {
  of: Int32Array;
  count: number;
  group: Int32Array;
  /** Lowest record of the bar. */
  lowest: Uint32Array;
  /** Quads of bar b: `list[start[b] .. start[b + 1])`. */
  start: Uint32Array;
  list: Uint32Array;
}

/** Of a quad: 1 (2: for certain) where its sides 0 and 2 are front and back, -1 (-2) where sides 1 and 3 are, 0 where the column does not tell. */
export type Vote = (q: number) => number;

/** Votes of columns, and of clocks by their steps, which count only where they speak against most of a map. */
export interface Evidence {
  columns: readonly Vote[];
  clocks: readonly Vote[];
}
