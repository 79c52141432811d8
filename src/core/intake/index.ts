/**
 * Intake: named bytes to records on an integer lattice.
 *
 * Assumes nothing about the bytes. Guarantees: for any input it returns a `RecordSet` or throws `UserError` (exit status 2) and nothing else,
 * within the limits; every record of the file is either used or counted in `skipped` with the reason and the first record; rings follow
 * `Shapes`; every assumption and repair is in `notes`. A .zip and the same files loose give equal answers.
 *
 * 1. `pick`: which of the files, or of the files in the archive (`zip`), make up the one layer to read.
 * 2. `limits`, `pace`, `bytes`: read limits, how the reading can be stopped, how files are streamed.
 * 3. `geojson`, `shapefile` and `dbf`: bytes to `staging` and `columns`; `crs` and `prj` turn other coordinate systems into WGS84 degrees; `structure` and `second`
 *    check the same bytes with geojson-validation and shpjs.
 * 4. `lattice`: degrees checked (and by `fellows`, whether each record is like the others), antimeridian joined, strays skipped, the file's own decimals found.
 * 5. `rings`: rings cleaned and turned; `nesting` sorts outer rings from holes, and `invalid` counts those that are not valid polygons, with their area.
 * 6. `assemble`: the used records and their columns; `points`: a log of points, along which polygons are laid first.
 * 7. `where`: of these, the records that the user wants.
 */

import { isOutOfMemory, type Note, outOfMemory, UserError } from '../shared/messages.ts';
import { assemble, type Raw } from './assemble.ts';
import { shown } from './bytes.ts';
import { type Layer, pick } from './choose-layer.ts';
import { readGeoJson } from './geojson.ts';
import { DEFAULT_LIMITS, type Limits } from './limits.ts';
import { Pace } from './pace.ts';
import { POINT_ROLES } from './point-types.ts';
import type { ParallelReading } from './reading.ts';
import { readShapefile } from './shapefile.ts';
import type { NamedBytes, Reading, RecordSet } from './types.ts';
import { pickRecords, type Where } from './where.ts';

export { named } from './bytes.ts';
export { crsOf, wantedCrs } from './crs.ts';
export { findFeature, type PackedFeatures, WORTHWHILE } from './later-features.ts';
export { DEFAULT_LIMITS, LIMIT_NAMES, type Limits } from './limits.ts';
export { POINT_ROLES } from './point-types.ts';
export type { ParallelReading, Staged } from './reading.ts';
export type { Column, NamedBytes, RecordSet, Skipped, System } from './types.ts';
export { choicesOf, parseWhere, pickRecords, type Where } from './where.ts';

export interface ReadOptions {
  /** Layer to read where the files hold several: its base name, or its path in the archive. */
  layer?: string | undefined;
  /** Whether a field boundary is wanted: of a recorded layer and one with few records, the latter. */
  boundary?: boolean | undefined;
  limits?: Partial<Limits> | undefined;
  /** Coordinate system of a map that does not name its own, such as "EPSG:32615". */
  crs?: string | undefined;
  /** Column names by role, as the user gave them: a log of points is laid by its width, heading, distance and section. */
  columns?: Partial<Record<string, string>> | undefined;
  /** Records to keep; all when left out. */
  where?: readonly Where[] | undefined;
}

/**
 * Reads one map. `files` is a GeoJSON, a .zip, or the loose parts of one shapefile. `progress` gets 0 to 1, often; an exception from it stops the reading
 * and is passed on unchanged. Throws `UserError` when the files cannot be read as a map of polygons. `beside` goes on at the same time; it changes no answer.
 */
export async function read(
  files: NamedBytes[],
  options: ReadOptions = {},
  progress?: (done: number) => void,
  beside: ParallelReading = {},
): Promise<RecordSet> {
  try {
    return await readLayer(files, options, progress, beside);
  } catch (e) {
    if (!isOutOfMemory(e)) throw e;
    throw outOfMemory({ file: shown(files[0]?.name ?? '') });
  }
}

/** Longest name of a column, characters. A longer one is an export error, and would fill reports and terminals. */
const LONGEST_NAME = 200;

/** Cuts longer column names, each to a unique name, and adds a note. */
function capNames(set: RecordSet): RecordSet {
  const long = set.columns.filter((c) => c.name.length > LONGEST_NAME);
  if (long.length === 0) return set;
  const taken = new Set(set.columns.map((c) => c.name));
  for (const column of long) {
    const { length } = column.name;
    let cut = `${column.name.slice(0, LONGEST_NAME)}…`;
    for (let n = 2; taken.has(cut); n++) cut = `${column.name.slice(0, LONGEST_NAME)}…${n}`;
    taken.add(cut);
    column.name = cut;
    if (column === long[0])
      set.notes.push({
        code: 'column-name-long',
        sentence: `${long.length === 1 ? 'A column has a name' : `${long.length} columns have names`} of more than ${LONGEST_NAME} characters (the first: ${length}); the rest was cut off.`,
        place: { file: shown(set.source) },
        todo: 'Give the column a short name in the export.',
      });
  }
  return set;
}

async function readLayer(
  files: NamedBytes[],
  options: ReadOptions,
  progress: ((done: number) => void) | undefined,
  beside: ParallelReading,
): Promise<RecordSet> {
  const limits = { ...DEFAULT_LIMITS, ...options.limits };
  const pace = new Pace(progress);
  const notes: Note[] = [];
  const layer = await pick(files, options, limits, notes);
  const raw = await readAs(layer, limits, notes, pace, options.crs, beside);
  if (raw.staging.isPoints && options.boundary)
    throw new UserError(
      'not-polygons',
      'The boundary holds points, not polygons.',
      { file: raw.source },
      'Export the boundary as polygons.',
    );
  const role = POINT_ROLES.find((r) => options.columns?.[r]);
  if (!raw.staging.isPoints && role !== undefined)
    throw new UserError(
      'columns-role',
      `The role "${role}" applies only to a log of points, and the map holds polygons.`,
      { file: shown(raw.source) },
      `Leave "--columns ${role}=NAME" out.`,
    );
  const all = raw.staging.isPoints
    ? await (await import('./points.ts')).assemblePoints(raw, options.columns ?? {}, limits, pace)
    : await assemble(raw, pace);
  const set = pickRecords(capNames(all), options.where ?? []);
  progress?.(1);
  return set;
}

/** Readers of rarer formats are loaded on demand. */
async function readAs(
  layer: Layer,
  limits: Limits,
  notes: Note[],
  pace: Pace,
  crs: string | undefined,
  beside: ParallelReading,
): Promise<Raw> {
  if (layer.format === 'geojson') return readGeoJson(layer.file, layer.source, limits, notes, pace, crs, beside);
  if (layer.format === 'shapefile') return readShapefile(layer.parts, layer.source, limits, notes, pace, crs);
  const from: Reading = { file: layer.file, source: layer.source, limits, notes, pace, crs };
  switch (layer.format) {
    case 'csv':
      return (await import('./csv.ts')).readCsv(from);
    case 'flatgeobuf':
      return (await import('./flatgeobuf.ts')).readFlatGeobuf(from);
    case 'geoparquet':
      return (await import('./geoparquet.ts')).readGeoParquet(from);
    case 'geopackage':
      return (await import('./geopackage.ts')).readGeoPackage(from, layer.table, layer.boundary);
    case 'kml':
      return (await import('./kml.ts')).readKml(from);
  }
}
