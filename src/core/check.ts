import type { Answer } from './answer.ts';
import type { NamedBytes } from './intake/types.ts';
import type { Planter } from './planter/types.ts';

export interface CheckInput {
  /** The map: a GeoJSON, a zipped shapefile, or the loose parts of one shapefile. */
  map: NamedBytes[];
  planter: Planter;
  /** Left out: each planting is tried and the report says which one the map fits. */
  planting?: string;
  boundary?: NamedBytes[];
  /** Column names per role, as the user gave them. */
  columns?: Partial<Record<string, string>>;
  layer?: string;
  /** Pass-to-pass accuracy of the positioning, metres; 0.025 when left out. */
  passAccuracyM?: number;
}

export interface Hooks {
  /** Called with the stage in a user's words and how much of it is done, 0 to 1; may throw to stop the check. */
  progress?(stage: string, done: number): void;
}

/** The whole pipeline. Throws `UserError` when the input cannot be worked with. */
export declare function check(input: CheckInput, hooks?: Hooks): Promise<Answer>;
