import { UserError } from '../messages.ts';

/** What the reader will take on before it refuses. Sizes in bytes. Every limit can be raised by the caller. */
export interface Limits {
  /** A .zip as it lies on disk; it is held in memory. */
  archiveBytes: number;
  /** Files in an archive, folders and hidden files included. */
  archiveEntries: number;
  /** One file after unpacking. It is streamed, so this bounds time rather than memory. */
  unpackedBytes: number;
  /** Unpacked over packed size of one file, looked at from 16 MB unpacked on. Deflate itself cannot pass 1032. */
  archiveRatio: number;
  /** A map or attribute file as it lies on disk. */
  fileBytes: number;
  /** Records of one map. */
  records: number;
  /** Points of one map; each takes 16 bytes while reading and 8 bytes after. */
  points: number;
  /** Bytes of one GeoJSON feature or one shapefile record. */
  recordBytes: number;
  /** Attribute columns; further ones are left out with a note. */
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

export function tooManyValues(file: string, limits: Limits): UserError {
  return new UserError(
    'too-many-values',
    `The map holds more than ${limits.values} values (records times columns).`,
    { file },
    'Export fewer columns or one field at a time, or raise the limit.',
  );
}
