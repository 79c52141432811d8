import type { Lattice, Shapes } from '../geometry/shapes.ts';
import type { Note } from '../shared/messages.ts';
import type { Limits } from './limits.ts';
import type { RingKind } from './nesting.ts';
import type { Pace } from './pace.ts';

/** A file as bytes with its name, from disk or from a file picker. `chunks` may be called more than once. */
export interface NamedBytes {
  name: string;
  sizeBytes: number;
  chunks(): AsyncIterable<Uint8Array>;
}

/** Declared types beyond number and text: a boolean is the text 'true' or 'false', a date 2026-05-01, a time 2026-05-01T08:00:00. */
export type Declared = 'integer' | 'real' | 'boolean' | 'date' | 'datetime';

/** An attribute column of the records that are used (one value per record of `RecordSet`, in the same order). */
export type Column =
  | { name: string; kind: 'number' /** NaN where the file has none. */; values: Float64Array; as?: Declared }
  | {
      name: string;
      kind: 'text' /** Index into `words`; 0 is always the missing value ''. */;
      codes: Uint32Array;
      words: string[];
      as?: Declared;
    };

/** Kinds of files that are read as a map. */
export type MapFormat = 'geojson' | 'shapefile' | 'csv' | 'flatgeobuf' | 'geoparquet' | 'geopackage' | 'kml';

export interface Skipped {
  reason: string;
  count: number;
  /** First record (counted from 1) that was skipped for this reason. */
  firstRecord: number;
}

/** Records whose rings are not a valid polygon. A record counts under one kind. */
export interface InvalidRings {
  kind: RingKind;
  count: number;
  /** First record (counted from 1) of this kind. */
  firstRecord: number;
  /** Area of these records, as it is used, m². */
  areaM2: number;
  /** Those whose area depends on the rule by more than 1 %, and their area, m². */
  doubtful: number;
  doubtfulM2: number;
}

/** Records that do not fit the others of their map. */
export interface Misfit {
  /**
   * `far-corner`: part of the record lies far out of the field; `spike`: many times as long as the others, and across several of them; `far-away`: all
   * of it lies far out of the field; `off-track`: it lies in the field, away from all records that were logged just before and after it.
   */
  kind: 'far-corner' | 'spike' | 'far-away' | 'off-track';
  /** False where they were skipped. */
  used: boolean;
  count: number;
  /** First record (counted from 1) of this kind. */
  firstRecord: number;
  /** Area of these records, m², good to 1 %. */
  areaM2: number;
}

/** Every usable record of one map layer, in file order, on the file's own lattice. */
export interface RecordSet {
  /** File (and layer) that was read, as the user named it. */
  source: string;
  format: MapFormat;
  /** The system that the file's coordinates are in; null for WGS84 degrees. */
  system: System | null;
  lattice: Lattice;
  shapes: Shapes;
  /** Number of the record in the file, counted from 1; of a log of points that of the point, which may have laid several polygons. */
  recordNumber: Uint32Array;
  columns: Column[];
  /** Records in the file, used or not; of a log of points the polygons laid and the points that laid none. */
  total: number;
  skipped: Skipped[];
  /** Empty for a map of valid polygons. The areas of these records depend on a rule, so a map with many of them is in doubt. */
  invalidRings: InvalidRings[];
  /** Empty where every record is like the others. */
  misfits: Misfit[];
  notes: Note[];
}

/** The input of a format reader, which throws `UserError` when the file cannot be read. */
export interface Reading {
  file: NamedBytes;
  /** The file as the user named it. */
  source: string;
  limits: Limits;
  notes: Note[];
  pace: Pace;
  /** The coordinate system that the user named. */
  crs: string | undefined;
}

/** A coordinate system as plain data, so that a map can be written in its own system. */
export interface System {
  /** Its name as the user sees it. */
  name: string;
  /** True for meters or feet; false for degrees on another datum. */
  projected: boolean;
  /** Degrees that a field map cannot distinguish from WGS84: nothing is converted. */
  plain: boolean;
  /** The input for proj4: its own string, WKT, or PROJJSON. */
  definition: string | object;
  /** The file's own name for it, if any: EPSG code, WKT, PROJJSON. */
  code: number | null;
  wkt: string | null;
  json: object | null;
}
