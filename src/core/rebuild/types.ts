/** Input and output of a rebuild. */
import type { Report } from '../answer.ts';
import type { Layer } from '../formats/layer.ts';
import type { RecordSet, System } from '../intake/types.ts';
import type { Change } from '../redraw/index.ts';
import type { Note } from '../shared/messages.ts';
import type { CheckInput } from '../steps/job.ts';

export interface RebuildInput extends Omit<CheckInput, 'boundary' | 'seedPrice'> {
  by?: 'section' | 'pass';
  /** Corrects rate and population columns for the recorded area. */
  correctRate?: boolean;
}

export interface Rebuilt {
  /** In WGS84 degrees; `inSystem` turns it back into the system of the map. */
  layer: Layer;
  /** What the map was read from: its format, and the system of its coordinates, null for WGS84 degrees. */
  format: RecordSet['format'];
  system: System | null;
  changes: Change[];
  /** The report on the map; null for a map that was rebuilt before. */
  report: Report | null;
  /** Names of the planters that its passes were rebuilt by. */
  planters: string[];
  /** What was planted; several where the machines differ. */
  planting: string;
  plantingFound: boolean;
  /** True when nothing had to be changed, or the map was rebuilt with this planter before. */
  unchanged: boolean;
  before: boolean;
  inM2: number;
  outM2: number;
  /** m² by which the sum of the output misses the union of what was drawn; rounding. 0 where overlaps were left as they are. */
  residualM2: number;
  /** Overlap that was left because it is no wider than the seam tolerance, m². */
  leftOverlapM2: number;
  /** Columns whose rates were corrected. */
  ratesCorrected: string[];
  /** Their means by area over the map, before and after. */
  rateMeans: { name: string; before: number; after: number }[];
  notes: Note[];
}
