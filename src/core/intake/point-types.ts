import type { Column } from './types.ts';

/** Roles that only a log of points has: the distance of each interval, the first section that was on, and how many were. */
export const POINT_ROLES: readonly string[] = ['distance', 'first', 'count'];

export type NumberColumn = Extract<Column, { kind: 'number' }>;

/** Places of points on a plane, meters. */
export interface PointTrack {
  x: Float64Array;
  y: Float64Array;
}

/** The attributes of each point, from the columns of a log of points. */
export interface PointColumns {
  width: { name: string; unit: string; meters: Float64Array };
  /** Degrees clockwise from north. */
  heading: { name: string; values: Float64Array } | null;
  distance: { name: string; unit: string; meters: Float64Array } | null;
  /** A value that changes from pass to pass. */
  pass: { name: string; values: ArrayLike<number> } | null;
  sections: Sections;
}

/**
 * How sections are recorded: not at all; as states of all sections in every point; or a point for each section, at its own place
 * (`own`) or at that of the frame (`shared`).
 */
export type Sections =
  | { kind: 'none' }
  | { kind: 'states'; says: string; edgesM: Float64Array; on(point: number, section: number): boolean }
  | { kind: 'own' | 'shared'; name: string; says: string; of: Int32Array; labels: number[]; edgesM: Float64Array };
