/**
 * Intake: named bytes to records on an integer lattice.
 *
 * Assumes nothing about the bytes. Guarantees: whatever it is given, it returns a `RecordSet` or throws `UserError` (exit status 2) and nothing else,
 * within the limits; every record of the file is either used or counted in `setAside` with the reason and the first record; rings are as
 * `Shapes` says; whatever was assumed or repaired is in `notes`. A .zip and the same files loose give equal answers.
 *
 * 1. `pick`: which of the files, or of the files in the archive (`zip`), make up the one layer to read.
 * 2. `limits`, `pace`, `bytes`: how much it takes on, how it stays stoppable, how files are streamed.
 * 3. `geojson`, `shapefile` and `dbf`: bytes to `staging` and `columns`; `crs` and `prj` turn other coordinate systems into WGS84 degrees; `judge` and `second`
 *    have geojson-validation and shpjs look at the same bytes.
 * 4. `lattice`: degrees checked (and by `fellows`, whether each record is like the others), antimeridian joined, strays set aside, the file's own decimals found.
 * 5. `rings`: rings cleaned and turned; `nesting` sorts outer rings from holes, and `invalid` counts those that are no valid polygon, with their area.
 * 6. `assemble`: the used records and their columns.
 * 7. `where`: of these, the records that the user wants.
 */

import { isOutOfMemory, type Note, outOfMemory } from '../messages.ts';
import { assemble } from './assemble.ts';
import { shown } from './bytes.ts';
import { readGeoJson } from './geojson.ts';
import { DEFAULT_LIMITS, type Limits } from './limits.ts';
import { Pace } from './pace.ts';
import { pick } from './pick.ts';
import { readShapefile } from './shapefile.ts';
import type { NamedBytes, RecordSet } from './types.ts';
import { pickRecords, type Where } from './where.ts';

export { named } from './bytes.ts';
export { DEFAULT_LIMITS, LIMIT_NAMES, type Limits } from './limits.ts';
export type { Column, NamedBytes, RecordSet, SetAside } from './types.ts';
export { choicesOf, parseWhere, pickRecords, type Where } from './where.ts';

export interface ReadOptions {
  /** Layer to read where the files hold several: its base name, or its path in the archive. */
  layer?: string;
  limits?: Partial<Limits>;
  /** Records to keep; all when left out. */
  where?: readonly Where[];
}

/**
 * Reads one map. `files` is a GeoJSON, a .zip, or the loose parts of one shapefile. `progress` gets 0 to 1, often; what it throws stops the reading
 * and comes out unchanged. Throws `UserError` when the files cannot be read as a map of polygons.
 */
export async function read(
  files: NamedBytes[],
  options: ReadOptions = {},
  progress?: (done: number) => void,
): Promise<RecordSet> {
  try {
    return await readLayer(files, options, progress);
  } catch (e) {
    if (!isOutOfMemory(e)) throw e;
    throw outOfMemory({ file: shown(files[0]?.name ?? '') });
  }
}

async function readLayer(
  files: NamedBytes[],
  options: ReadOptions,
  progress?: (done: number) => void,
): Promise<RecordSet> {
  const limits = { ...DEFAULT_LIMITS, ...options.limits };
  const pace = new Pace(progress);
  const notes: Note[] = [];
  const layer = await pick(files, options.layer, limits, notes);
  const raw =
    layer.format === 'geojson'
      ? await readGeoJson(layer.file, layer.source, limits, notes, pace)
      : await readShapefile(layer.parts, layer.source, limits, notes, pace);
  const set = pickRecords(await assemble(raw, pace), options.where ?? []);
  progress?.(1);
  return set;
}
