/** What a check is asked to do, and the same with every default resolved. Defaults are written only here. */
import type { Limits, Where } from '../intake/index.ts';
import type { NamedBytes } from '../intake/types.ts';
import { plantingOf } from '../planter/index.ts';
import type { Planter } from '../planter/types.ts';
import type { DateOrder } from '../track/columns/index.ts';

/** A planter that worked in the field; `machine` names it as the map does, and only the passes of that machine are compared with it. */
export interface DeclaredPlanter {
  planter: Planter;
  machine?: string;
}

export interface CheckInput {
  /** The map: a GeoJSON, a zipped shapefile, or the loose parts of one shapefile. */
  map: NamedBytes[];
  planter: Planter;
  /** Every planter that worked in this field, `planter` included, where there are several or one belongs to a machine that the map names. */
  planters?: readonly DeclaredPlanter[];
  /** Left out: each planting is tried and the report says which one the map fits. */
  planting?: string;
  /** What single machines planted, by the name of the machine. */
  plantings?: Readonly<Record<string, string>>;
  boundary?: NamedBytes[];
  /** Column names per role, as the user gave them. */
  columns?: Partial<Record<string, string>>;
  /** Order of day and month in dates that can be read either way; left out, such dates are not used. */
  dates?: DateOrder;
  layer?: string;
  /** Records of the map to keep, such as those of one field or machine; all when left out. */
  where?: readonly Where[];
  /** Coordinate system of a map that does not name its own, such as "EPSG:32615". */
  crs?: string;
  /** Read limits that differ from the usual; for map and boundary alike. */
  limits?: Partial<Limits>;
  /** Pass-to-pass accuracy of the positioning, meters; 0.025 when left out. */
  passAccuracyM?: number;
  /** Price of the seed for a hectare planted once, in the user's money. */
  seedCostPerHa?: number;
}

export interface Hooks {
  /** Called with the stage in a user's words and how much of it is done, 0 to 1; may throw to stop the check. */
  progress?(stage: string, done: number): void;
}

/** Pass-to-pass accuracy of the positioning when the user says nothing, meters. */
export const DEFAULT_ACCURACY_M = 0.025;

/** A check as the stages need it. */
export interface Job {
  planter: Planter;
  /** Every planter that worked in this field. */
  declared: readonly DeclaredPlanter[];
  /** The user listed the planters: a planting is then that of those who have it. */
  listed: boolean;
  /** Null: each planting is tried. */
  planting: string | null;
  /** By the name of a machine, or by a date. */
  plantings: Readonly<Record<string, string>>;
  columns: Partial<Record<string, string>>;
  dates: DateOrder | null;
  accuracyM: number;
  seedCostPerHa: number | null;
  /** Reports how much of a stage is done, 0 to 1; may throw to stop the check. */
  progress(stage: string, done: number): void;
}

/** Throws `UserError` for a planting that no planter has. */
export function jobOf(input: Omit<CheckInput, 'map' | 'boundary'>, hooks: Hooks = {}): Job {
  const { planter, planters, planting } = input;
  if (planting !== undefined && !planters) plantingOf(planter, planting);
  return {
    planter,
    declared: planters ?? [{ planter }],
    listed: planters !== undefined,
    planting: planting ?? null,
    plantings: input.plantings ?? {},
    columns: input.columns ?? {},
    dates: input.dates ?? null,
    accuracyM: input.passAccuracyM ?? DEFAULT_ACCURACY_M,
    seedCostPerHa: input.seedCostPerHa ?? null,
    progress: (stage, done) => hooks.progress?.(stage, done),
  };
}
