import type { Polygons } from '../coverage/index.ts';
import type { Setting } from '../shared/setting.ts';

/**
 * The cause of a piece of ground. `setting`: a wrong setting explains it. Harmless: `noise` (positioning), `point-rows` (ends cut by whole
 * sections or log intervals), `headland` (laps, turns and passes that run into them), `planned-overlap` (a last pass that fills the rest of the field),
 * `field-edge` (between the outermost pass and the boundary), `another-machine` (covered by another machine, whose display records only its own ground), `replant` (planted again
 * at least a day later). Open: `section-off` (a section was off, by hand or by a fault), `pass-left-out` (as wide as a pass),
 * `between-machines` (between passes of two machines), `driven-around` (its width varies, which no setting causes: a waterway, an obstacle), `unexplained`.
 */
export type Cause = (typeof CAUSES)[number];

/** Every cause there is. */
export const CAUSES = [
  'setting',
  'section-off',
  'pass-left-out',
  'between-machines',
  'driven-around',
  'unexplained',
  'replant',
  'another-machine',
  'field-edge',
  'planned-overlap',
  'headland',
  'point-rows',
  'noise',
] as const;

/** One line of the account. Square meters and meters; passes are counted from 1. */
export interface AccountLine {
  fact: 'gap' | 'overlap' | 'width';
  /** `recorded`: on the map as it was recorded. `planted`: on the ground, as the declared planter laid it down along the same track. */
  picture: 'recorded' | 'planted';
  areaM2: number;
  lengthM: number;
  /** Narrowest and widest typical width of its pieces. */
  widthM: [number, number];
  passes: number[];
  cause: Cause;
  setting?: Setting;
  /** Other settings that explain it equally well. */
  or?: Setting[];
  /** Probability that the cause is right, 0 to 1. */
  confidence: number;
  /** Recorded less planted ground: what the line adds to the acre count, or takes from it (negative). */
  excessM2: number;
  says: string;
}

/** A line and where it lies, on the lattice of the map. */
export interface PlacedLine {
  line: AccountLine;
  polygons: Polygons;
}

export interface Account {
  /** Largest first; slivers of noise last. */
  lines: PlacedLine[];
  /** Ground that the declared planter covered, counted bar by bar: what an acre count should have read. */
  plantedCountM2: number;
  /** Whether the planted picture has lines of its own; else it equals the recorded one, and so do its lines. */
  plantedApart: boolean;
}

/** Harmless causes. */
export const HARMLESS: ReadonlySet<Cause> = new Set<Cause>([
  'replant',
  'another-machine',
  'field-edge',
  'planned-overlap',
  'headland',
  'point-rows',
  'noise',
]);
