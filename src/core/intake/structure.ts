import gv from 'geojson-validation';
import type { Note } from '../shared/messages.ts';
import { shown } from './bytes.ts';

/** Every feature of a small file is checked, up to this many. */
const ALL = 2000;
const SMALL = 4 * 1024 ** 2;
/** Features at the beginning of a larger file. */
const FIRST = 100;
/** In a larger file: one feature in this many, drawn by the place of its first byte, and suspect ones up to `SUSPECTS`. */
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

  /** Features that are judged whatever they are. */
  private readonly first: number;

  /** `fileBytes` decides whether the file counts as small. `rest`: the features are not the first of their file. */
  constructor(fileBytes: number, rest = false) {
    this.first = rest ? 0 : fileBytes <= SMALL ? ALL : FIRST;
  }

  /** `at` is the place of the feature in the file, bytes. */
  wants(record: number, at: number, suspect: boolean): boolean {
    if (record < this.first || isDrawn(at)) return true;
    return suspect && this.suspects++ < SUSPECTS;
  }

  /** How many suspects were judged; null where a feature broke the rules. */
  pack(): number | null {
    return this.bad > 0 ? null : Math.min(this.suspects, SUSPECTS);
  }

  /** Goes on after features that another judge has seen, of which `suspects` were suspect and none bad; false where together they are not judged alike. */
  append(suspects: number, records: number): boolean {
    if (records < this.first || this.suspects + suspects > SUSPECTS) return false;
    this.suspects += suspects;
    return true;
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

/** The same for a place whoever asks, and evenly spread. */
function isDrawn(at: number): boolean {
  const mixed = Math.imul(at ^ (at >>> 15) ^ Math.floor(at / 2 ** 32), 0x9e3779b1);
  return ((mixed ^ (mixed >>> 16)) >>> 0) % EVERY === 0;
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
