import type { Grain } from '../../answer.ts';
import type { Lattice } from '../../geometry/shapes.ts';
import type { LayoutFits } from '../../infer/index.ts';
import type { RecordedBands, Seam } from '../../observe/index.ts';
import type { Plane } from '../../plane/index.ts';
import type { PlantedRows } from '../../planted/index.ts';
import type { PlantedLayout, Planter, Planting } from '../../planter/types.ts';
import type { Columns } from '../../track/columns/index.ts';
import type { TracedLanes } from '../../track/index.ts';
import type { Origins } from '../../track/origins.ts';
import type { Passes } from '../../track/types.ts';

/** What the records are, before anything is compared with a planter. */
export interface Track {
  plane: Plane;
  fine: Lattice;
  laid: TracedLanes;
  columns: Columns;
  /** Every pass of the map. */
  passes: Passes;
  origins: Origins;
}

/** Passes that are fitted together. */
export interface Part {
  /** Names of the machine: its own, and others that mean it. */
  machine: string[];
  /** What distinguishes it from other passes of the same machine: a field, days; empty for nothing. */
  label: string;
  /** Dates on which it worked, where days are fitted separately. */
  days: string[];
  passes: Passes;
  /** All passes of the map. */
  whole: boolean;
}

/** The passes of one machine, the planter that they are compared with, and what the display that wrote them believed. */
export interface Fitted extends Omit<Track, 'laid'> {
  /** The machine by name, and its field or days where it has several. */
  name: string;
  of: Omit<Part, 'passes'>;
  planter: Planter;
  /** Why these passes are compared with this planter; empty where there is no choice. */
  why: string;
  /** The user did not name the planting, and the planter has several. */
  plantingFound: boolean;
  /** What other plantings are fitted with where `plantingFound`; else null, for it is larger than all passes. */
  track: Track | null;
  bands: RecordedBands;
  grain: Grain;
  /** Sections show in the records, and are declared. */
  bySections: boolean;
  fit: LayoutFits;
  planting: Planting;
  layout: PlantedLayout;
  /** Per segment of the bands, meters right of the frame center. */
  believedCenterM: number[];
  rows: PlantedRows;
  seams: Seam[];
}
