import type { LaterFeatures } from './later-features.ts';
import type { Staging } from './staging.ts';

/** Records as far as they were read, in degrees where the file is in degrees. Records whose status is not 0 are not used. */
export type Staged = Pick<
  Staging,
  'records' | 'status' | 'recordStart' | 'ringStart' | 'isPoints' | 'blockOf' | 'x' | 'y'
>;

/** What goes on beside the reading of a map. */
export interface Beside {
  /** Called often with what was read of a GeoJSON so far; `all`: nothing follows that is read here. */
  watch?: ((staged: Staged, all: boolean) => void) | undefined;
  /** Features that are read elsewhere at the same time. */
  rest?: LaterFeatures | undefined;
}
