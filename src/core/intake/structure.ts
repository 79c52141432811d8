import gv from 'geojson-validation';
import type { Note } from '../shared/messages.ts';
import { shown } from './bytes.ts';

/** Every feature of a small file is checked, up to this many. */
const ALL = 2000;
const SMALL = 4 * 1024 ** 2;
/** Features at the beginning of a larger file. */
const FIRST = 100;
/** In a larger file: one feature in this many, and suspect ones up to `SUSPECTS`. */
const EVERY = 997;
const SUSPECTS = 500;
/** A longer feature is not parsed for checking. */
const BYTES = 4 * 1024 ** 2;

/**
 * Checks the structure of single features with geojson-validation. It gets one feature at a time (its time over a collection grows with the
 * square of the errors), never names that it could mistake for its own (type "constructor"), and an exception (an empty ring) counts as a
 * finding. It follows the 2008 text of GeoJSON and ignores values, which the reader checks itself.
 */
export class StructureCheck {
  private suspects = 0;
  private bad = 0;
  private firstBad = 0;
  private says = '';

  private readonly small: boolean;

  /** `fileBytes` decides whether the file counts as small. */
  constructor(fileBytes: number) {
    this.small = fileBytes <= SMALL;
  }

  wants(record: number, suspect: boolean): boolean {
    if (record < (this.small ? ALL : FIRST) || record % EVERY === 0) return true;
    return suspect && this.suspects++ < SUSPECTS;
  }

  /** `from` to `to` is where the value of the feature's properties is in its bytes, if it has any; the reader has checked it already. */
  look(record: number, bytes: Uint8Array, from: number, to: number): void {
    if (bytes.length > BYTES) return;
    const verdict = judge(bytes, from, to);
    if (verdict === '') return;
    if (this.bad++ === 0) {
      this.firstBad = record + 1;
      this.says = verdict;
    }
  }

  report(file: string, notes: Note[]): void {
    if (this.bad === 0) return;
    notes.push({
      code: 'geojson-structure',
      sentence: `${this.bad} of the features checked break the rules of GeoJSON; the first one: ${this.says}.`,
      place: { file, record: this.firstBad },
      todo: 'Nothing; records that could not be read are counted as skipped.',
    });
  }
}

const UTF8 = new TextDecoder();

function judge(bytes: Uint8Array, from: number, to: number): string {
  let feature: unknown;
  try {
    const known = to > from && bytes[from] === 123;
    feature = JSON.parse(
      known ? `${UTF8.decode(bytes.subarray(0, from))}{}${UTF8.decode(bytes.subarray(to))}` : UTF8.decode(bytes),
    );
  } catch {
    return 'it holds text or numbers that are not JSON';
  }
  const geometry = (feature as { geometry?: { type?: unknown } | null } | null)?.geometry;
  // The library looks types up in a plain object, where "constructor" and the like are found too.
  if (geometry && (typeof geometry.type !== 'string' || Object.hasOwn(Object.prototype, geometry.type))) {
    return 'the geometry has no known type';
  }
  try {
    const found: unknown = gv.isFeature(feature, true);
    if (!Array.isArray(found) || found.length === 0) return '';
    return shown(String(found[0]), 120);
  } catch {
    return 'a ring or position is empty';
  }
}
