import type { LaterFeatures } from './later-features.ts';
import type { Staging } from './staging.ts';

/** The records read so far, in degrees where the file is in degrees. Records whose status is not 0 are not used. */
export type Staged = Pick<
  Staging,
  'records' | 'status' | 'recordStart' | 'ringStart' | 'isPoints' | 'blockOf' | 'x' | 'y'
>;

/** Work in parallel with the reading of a map. */
export interface ParallelReading {
  /** Called often with the records of a GeoJSON read so far; `all`: this reader has finished. */
  watch?: ((staged: Staged, all: boolean) => void) | undefined;
  /** Features read by another reader at the same time. */
  rest?: LaterFeatures | undefined;
}
