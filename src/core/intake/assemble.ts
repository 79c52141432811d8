import type { Note } from '../shared/messages.ts';
import type { ColumnBuilder } from './columns.ts';
import { findInvalid } from './invalid.ts';
import { noRecords, place } from './lattice.ts';
import type { Pace } from './pace.ts';
import { buildRings, shapesOf } from './rings.ts';
import type { Staging } from './staging.ts';
import type { Column, MapFormat, RecordSet, System } from './types.ts';

/** The result of a format reader: staged records, their columns (one row per record), and the decoder for texts. */
export interface Raw {
  source: string;
  format: MapFormat;
  staging: Staging;
  columns: ColumnBuilder[];
  decode: (bytes: Uint8Array) => string;
  /** The system that the coordinates came in; null for WGS84 degrees. Projected ones have no decimals of their own. */
  system: System | null;
  notes: Note[];
}

/** The columns of the rows in `keep`, one at a time. They can be taken once. */
function* finishing(raw: Raw, keep: Uint32Array, notes: Note[]): Generator<Column> {
  for (const c of raw.columns) {
    if (c.rounded) {
      notes.push({
        code: 'numbers-rounded',
        sentence: `Column "${c.name}" holds whole numbers of more than 15 digits, which are rounded.`,
        place: { file: raw.source, key: c.name },
        todo: 'No action needed, unless the last digits matter.',
      });
    }
    yield c.finish(keep, raw.decode);
  }
}

export const finishColumns = (raw: Raw, keep: Uint32Array, notes: Note[]): Column[] => [...finishing(raw, keep, notes)];

/** Steps 4 to 6 of the intake: from staged degrees to records on the lattice. */
export async function assemble(raw: Raw, pace: Pace): Promise<RecordSet> {
  const { staging, notes, source } = raw;
  const { lattice, misfits } = await place(staging, raw.system?.projected ?? false, source, notes, pace);
  const built = await buildRings(staging, lattice.stepsPerDegree, lattice.originX, lattice.originY, pace);
  if (built.keep.length === 0) {
    throw noRecords(staging, source);
  }
  const { counts } = built;
  if (counts.unclosed > 0) {
    notes.push({
      code: 'rings-closed',
      sentence: `${counts.unclosed} record(s) have a ring that does not end where it began; the rings were closed.`,
      place: { file: source, record: counts.firstUnclosed },
      todo: 'No action needed, unless the shapes look wrong on the map.',
    });
  }
  if (counts.sameWound > 0) {
    notes.push({
      code: 'holes-by-place',
      sentence: `${counts.sameWound} record(s) have a ring inside a ring, wound the same way; it was read as a hole.`,
      place: { file: source, record: counts.firstSameWound },
      todo: 'Look at the record in a map viewer.',
    });
  }
  const shapes = shapesOf(built);
  const invalidRings = findInvalid(shapes, lattice, built, source, notes);
  const columns = [];
  for (const column of finishing(raw, built.keep, notes)) {
    columns.push(column);
    if (pace.add(8 * built.keep.length)) await pace.rest();
  }
  return {
    source,
    format: raw.format,
    system: raw.system,
    lattice,
    shapes,
    recordNumber: built.keep.map((r) => r + 1),
    columns,
    total: staging.records,
    skipped: staging.summary(),
    invalidRings,
    misfits,
    notes,
  };
}
