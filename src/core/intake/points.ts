import { UserError } from '../shared/messages.ts';
import { finishColumns, type Raw } from './assemble.ts';
import { findInvalid } from './invalid.ts';
import { place } from './lattice.ts';
import { type Limits, tooMany } from './limits.ts';
import type { Pace } from './pace.ts';
import { findPointColumns } from './point-columns.ts';
import { chainsOf, isShuffled, orderOf, pickRows, shuffled, trackOf } from './point-order.ts';
import { StripLayer } from './point-strips.ts';
import { buildRings, shapesOf } from './rings.ts';
import type { Staging } from './staging.ts';
import type { RecordSet, Skipped } from './types.ts';

/**
 * Steps 4 to 6 for a log of points: polygons are laid along the track as a display draws them, and become the records.
 *
 * 1. `findPointColumns`: which column is width, heading, distance, pass, sections.
 * 2. Each point and the one before it (within a pass) make one strip of ground, its corners at the edges of the sections across the heading at either
 *    point. Whether a point's values hold for the strip that ends at it or for the one that begins at it is decided by a column of the distance driven;
 *    without one, for the strip that ends at it (common practice: a display closes an interval when it logs it).
 * 3. A point that begins a pass has no point before it: its strip is as long as the distance that it gives, or it has none.
 *
 * Assumes that positions are the middle of the frame. What is not laid is counted in `skipped`. Record numbers are those of the points; a point with
 * several sections on is several records of that number. Throws `UserError` when nothing gives the width of the ground.
 */
export async function assemblePoints(
  raw: Raw,
  overrides: Partial<Record<string, string>>,
  limits: Limits,
  pace: Pace,
): Promise<RecordSet> {
  const { staging, source, notes } = raw;
  await place(staging, true, source, notes, pace);
  const used = Uint32Array.from(rowsUsed(staging));
  const points = finishColumns(raw, used, notes);
  const at = orderOf(staging, used, points, source, notes);
  const track = trackOf(at.lon, at.lat);
  const columns = findPointColumns(at.columns, track, overrides, source, notes);
  if (isShuffled(track, columns)) throw shuffled(source);
  const n = track.x.length;
  const layer = new StripLayer(at, track, columns);
  for (const chain of chainsOf(columns, track.x.length)) layer.lay(chain);
  layer.leaveUnnumbered();
  const { laid, rowOf, sectionOf } = layer;
  const over = tooMany(source, laid.records, laid.records, laid.points, limits);
  if (over) throw over;
  layer.report(source, notes);

  if (laid.records === 0) throw nothingLaid(n, layer.skipped, source);
  const { lattice } = await place(laid, true, source, [], pace);
  const built = await buildRings(laid, lattice.stepsPerDegree, lattice.originX, lattice.originY, pace);
  const shapes = shapesOf(built);
  const pick = built.keep.map((k) => rowOf[k]);
  const out = at.columns.map((c) => pickRows(c, pick));
  if (columns.sections.kind === 'states') {
    const names = new Set(out.map((c) => c.name.toLowerCase()));
    const name = ['section', 'section_laid', 'section_drawn'].find((n) => !names.has(n)) ?? 'section_';
    out.push({ name, kind: 'number', values: Float64Array.from(built.keep, (k) => sectionOf[k] + 1) });
  }
  const numberOf = (point: number): number => used[at.order[point]] + 1;
  const skipped = mergeSkipped(staging.summary(), layer.skipped, numberOf, laid, rowOf);
  return {
    source,
    format: raw.format,
    system: raw.system,
    lattice,
    shapes,
    recordNumber: pick.map((p) => numberOf(p)),
    columns: out,
    total: built.keep.length + skipped.reduce((s, a) => s + a.count, 0),
    skipped,
    // Strips laid along one track cannot be misfits.
    misfits: [],
    invalidRings: findInvalid(
      shapes,
      lattice,
      { suspects: built.suspects, keep: pick.map((p) => numberOf(p) - 1) },
      source,
      notes,
    ),
    notes,
  };
}

function rowsUsed(staging: Staging): number[] {
  const out: number[] = [];
  for (let r = 0; r < staging.records; r++) if (staging.status[r] === 0) out.push(r);
  return out;
}

function nothingLaid(points: number, left: ReadonlyMap<string, { count: number }>, file: string): UserError {
  const reasons = [...left].map(([reason, { count }]) => `${reason} (${count})`).join(', ');
  return new UserError(
    'no-records',
    `The map holds ${points} point${points === 1 ? '' : 's'}, along which no polygon can be laid: ${reasons}.`,
    { file },
    'Check the columns of width and sections ("--columns width=NAME"), or export the map as polygons.',
  );
}

function mergeSkipped(
  points: Skipped[],
  left: ReadonlyMap<string, { count: number; first: number }>,
  numberOf: (point: number) => number,
  laid: Staging,
  rowOf: readonly number[],
): Skipped[] {
  const out = [...points];
  for (const [reason, { count, first }] of left) out.push({ reason, count, firstRecord: numberOf(first) });
  for (const s of laid.summary()) out.push({ ...s, firstRecord: numberOf(rowOf[s.firstRecord - 1]) });
  return out.sort((a, b) => a.firstRecord - b.firstRecord);
}
