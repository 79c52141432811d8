import { UserError } from '../shared/messages.ts';

/** Read limits. Sizes in bytes. The caller can raise every limit. */
export interface Limits {
  /** A .zip on disk; it is held in memory. */
  archiveBytes: number;
  /** Files in an archive, folders and hidden files included. */
  archiveEntries: number;
  /** One file after unpacking. It is streamed, so this bounds time rather than memory. */
  unpackedBytes: number;
  /** Unpacked over packed size of one file, checked once 16 MB are unpacked. Deflate itself cannot pass 1032. */
  archiveRatio: number;
  /** A map or attribute file on disk. */
  fileBytes: number;
  /** Records of one map. */
  records: number;
  /** Points of one map; each takes 16 bytes while reading and 8 bytes after. */
  points: number;
  /** Bytes of one GeoJSON feature or one shapefile record. */
  recordBytes: number;
  /** Attribute columns; the others are left out with a note. */
  columns: number;
  /** Records times columns: a column takes room for every record, also where most have no value. */
  values: number;
}

export const DEFAULT_LIMITS: Readonly<Limits> = {
  archiveBytes: 1024 ** 3,
  archiveEntries: 2000,
  unpackedBytes: 4 * 1024 ** 3,
  archiveRatio: 300,
  fileBytes: 8 * 1024 ** 3,
  records: 10_000_000,
  points: 100_000_000,
  recordBytes: 512 * 1024 ** 2,
  columns: 300,
  values: 250_000_000,
};

/** The name of a limit on the command line. */
export const LIMIT_NAMES: Readonly<Record<keyof Limits, string>> = {
  archiveBytes: 'archive-size',
  archiveEntries: 'archive-files',
  unpackedBytes: 'unpacked-size',
  archiveRatio: 'packing-ratio',
  fileBytes: 'file-size',
  records: 'records',
  points: 'points',
  recordBytes: 'record-size',
  columns: 'columns',
  values: 'values',
};

/** What to do about a limit that was reached. */
export function orRaise(todo: string, limit: keyof Limits): string {
  return `${todo}, or raise the limit (--limit ${LIMIT_NAMES[limit]}=…).`;
}

/** A size for a sentence. */
export function sizeText(bytes: number): string {
  const unit = ['bytes', 'kB', 'MB', 'GB'];
  let k = 0;
  let v = bytes;
  for (; v >= 1024 && k < 3; k++) v /= 1024;
  return `${Math.round(10 * v) / 10} ${unit[k]}`;
}

/** Null while a map of this many records and points is within the limits. */
export function tooMany(
  file: string,
  record: number,
  records: number,
  points: number,
  limits: Limits,
): UserError | null {
  const over = records > limits.records ? 'records' : points > limits.points ? 'points' : null;
  if (over === null) return null;
  return new UserError(
    'too-many-records',
    `The map holds more than ${limits[over]} ${over}, the limit.`,
    { file, record },
    orRaise('Export one field at a time', over),
  );
}

export function tooManyValues(file: string, limits: Limits): UserError {
  return new UserError(
    'too-many-values',
    `The map holds more than ${limits.values} values (records times columns).`,
    { file },
    orRaise('Export fewer columns or one field at a time', 'values'),
  );
}
