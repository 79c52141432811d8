import type { AreaDensity, Polygons } from '../coverage/index.ts';
import type { Lattice } from '../geometry/shapes.ts';
import type { RecordedBands } from '../observe/index.ts';
import type { Plane } from '../plane/index.ts';
import type { Owners, PassGround } from './owners.ts';

/** The input for measuring ground. */
export interface Ground {
  plane: Plane;
  /** The finer lattice that drawn geometry is written on, and the ground area of its cells. */
  fine: Lattice;
  fineDensity: AreaDensity;
  passes: PassGround;
  bands: RecordedBands;
  /** Who laid down what in the picture that is measured. */
  owners: Owners;
  /** Rings of the field's boundary, lattice steps; none without one. */
  boundary: readonly Float64Array[];
  /** Points of the map's records: limits grow with them. */
  points: number;
}

/** Ground beside which a line lies: a pass counted from 1, records that belong to no pass, or the field's boundary. */
export type Neighbor = number | 'unplaced' | 'boundary';

/** Which edges of passes bound a piece of ground: their sides along travel, their ends across it, or one of each. */
export type Between = 'sides' | 'ends' | 'side-and-end';

/** Ground that is open, or covered twice, between the same two neighbors. Square meters and meters. */
export interface GroundLine {
  fact: 'gap' | 'overlap';
  /** The neighbor with the lower number first; both are the same where a pass meets itself. */
  a: Neighbor;
  b: Neighbor;
  /** Where `a` and `b` are one pass: the other pass that covered most of the ground covered twice; 0 for none. */
  over: number;
  between: Between;
  areaM2: number;
  /** Length along the longer edges. */
  lengthM: number;
  /** Width that half of the length is narrower than. */
  widthM: number;
  /** Widths that a tenth, and nine tenths, of the length are narrower than. */
  spreadM: [number, number];
  /** Part of the length beside bars in which a section is off on that side, 0 to 1. */
  sectionOff: number;
  /** Part of the length beside bars in which a pass turns, 0 to 1. */
  turning: number;
  /** On the lattice of the map; points may lie between its steps. */
  polygons: Polygons;
}

export interface GroundFacts {
  lines: GroundLine[];
  /** Area of every line and of what is too narrow to be one. */
  areaM2: number;
  /** Slivers narrower than the positioning can show: no lines of their own. */
  noiseM2: number;
  noise: Polygons;
}
