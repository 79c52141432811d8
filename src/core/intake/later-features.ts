import type { PackedColumn } from './columns.ts';
import type { PackedOddities } from './geojson-oddities.ts';
import type { PackedStaging } from './staging.ts';

/** The later features of a GeoJSON as plain data, their rows and records counted from the first of them. */
export interface PackedFeatures {
  staging: PackedStaging;
  columns: PackedColumn[];
  /** Members of the document after the features. */
  members: string[];
  topType: string;
  crs: string | null;
  oddities: PackedOddities;
  suspects: number;
}

/**
 * The later features of a GeoJSON, read by another reader at the same time. That a feature begins at `from` is only a guess: the reader of the first part confirms it when it
 * gets there, and continues alone where it is wrong, or where the others could not be read.
 */
export interface LaterFeatures {
  /** Byte of the file that the first of them begins at. */
  from: number;
  /** Null where they could not be read. */
  features: Promise<PackedFeatures | null>;
}

/** From this size on a second reader saves time, bytes. */
export const WORTHWHILE = 12 * 2 ** 20;

/**
 * Where in `bytes` a feature of a list probably begins: behind the end of another one and a comma. -1 where nothing looks like one.
 */
export function findFeature(bytes: Uint8Array): number {
  const blank = (i: number): number => {
    while (bytes[i] === 32 || bytes[i] === 10 || bytes[i] === 13 || bytes[i] === 9) i++;
    return i;
  };
  const isText = (i: number, text: string): boolean => {
    for (let k = 0; k < text.length; k++) if (bytes[i + k] !== text.charCodeAt(k)) return false;
    return true;
  };
  for (let i = 0; i < bytes.length; i++) {
    if (bytes[i] !== 125) continue;
    const comma = blank(i + 1);
    if (bytes[comma] !== 44) continue;
    const begin = blank(comma + 1);
    if (bytes[begin] !== 123) continue;
    const key = blank(begin + 1);
    if (!isText(key, '"type"')) continue;
    const colon = blank(key + 6);
    if (bytes[colon] === 58 && isText(blank(colon + 1), '"Feature"')) return begin;
  }
  return -1;
}
