import { parseShp } from 'shpjs';
import type { Note } from '../shared/messages.ts';
import { head } from './bytes.ts';
import type { Staging } from './staging.ts';
import type { NamedBytes } from './types.ts';

/** Records at the beginning of the file that are read twice, and the most bytes that may take. */
export const COMPARED_RECORDS = 200;
const BYTES = 1 << 20;
/** One millimeter on the ground, in degrees. */
const NEAR = 1e-8;

/**
 * Reads the first records again with shpjs, geometry and projection, and compares where they lie with `staging` (WGS84 degrees by now). It adds a note
 * when the two disagree: then one of them misreads the file. `bytes` is where record `COMPARED_RECORDS` ends, or the end of the file. An error of shpjs is not
 * a disagreement, because it gives up on files with one bad record.
 */
export async function compareWithShpjs(
  shp: NamedBytes,
  bytes: number,
  prj: string,
  staging: Staging,
  source: string,
  notes: Note[],
): Promise<void> {
  if (bytes > BYTES || bytes <= 100) return;
  const slice = (await head(shp, bytes)).slice();
  const view = new DataView(slice.buffer);
  view.setInt32(24, bytes / 2);
  let found: ReturnType<typeof parseShp>;
  try {
    found = prj ? parseShp(view, prj) : parseShp(view);
  } catch {
    return;
  }
  const count = Math.min(COMPARED_RECORDS, staging.records, found.length);
  for (let r = 0; r < count; r++) {
    const shape = found[r];
    if (shape === null || staging.status[r] !== 0) continue;
    const theirs = boxOfNested(shape.coordinates, [Infinity, Infinity, -Infinity, -Infinity]);
    const ours = [Infinity, Infinity, -Infinity, -Infinity];
    const to = staging.ringStart[staging.recordStart[r + 1]];
    for (let p = staging.ringStart[staging.recordStart[r]]; p < to; p++) widen(ours, staging.x(p), staging.y(p));
    if (ours.every((v, i) => Math.abs(v - theirs[i]) <= NEAR)) continue;
    notes.push({
      code: 'second-reader',
      sentence: `A second reader (shpjs) puts record ${r + 1} at ${theirs[0]}, ${theirs[1]} instead of ${ours[0]}, ${ours[1]}.`,
      place: { file: source, record: r + 1 },
      todo: 'Compare the map with another program before trusting its position.',
    });
    return;
  }
}

function widen(box: number[], x: number, y: number): void {
  if (x < box[0]) box[0] = x;
  if (y < box[1]) box[1] = y;
  if (x > box[2]) box[2] = x;
  if (y > box[3]) box[3] = y;
}

function boxOfNested(coordinates: unknown, box: number[]): number[] {
  if (!Array.isArray(coordinates)) return box;
  if (typeof coordinates[0] === 'number') widen(box, coordinates[0], coordinates[1] as number);
  else for (const inner of coordinates) boxOfNested(inner, box);
  return box;
}
