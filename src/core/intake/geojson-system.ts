import { type Note, UserError } from '../shared/messages.ts';
import { shown } from './bytes.ts';
import { type Crs, crsNotUsed, isAllSmall, looksLikeDegrees, readCrsMember, wantedCrs } from './crs.ts';
import { crsOfWkt } from './prj.ts';
import type { Staging } from './staging.ts';

/** The map's own coordinate system (`member` is its `crs` as text), or else the one that the user named; null for degrees. */
export async function systemOfMap(
  member: string | null,
  staging: Staging,
  file: string,
  notes: Note[],
  crsWanted: string | undefined,
): Promise<Crs | null> {
  const own = await readCrsMember(member, file, (wkt) => crsOfWkt(wkt, 'The crs of the map', file, staging, notes));
  const degrees = member === null && looksLikeDegrees(staging);
  if (crsWanted !== undefined && (degrees || member !== null))
    notes.push(crsNotUsed(crsWanted, degrees ? 'its coordinates are degrees' : 'the map names its own', file));
  const crs = member === null && !degrees ? await wantedCrs(crsWanted, file) : own;
  if (own?.projected && isAllSmall(staging)) {
    throw new UserError(
      'crs-contradicts',
      `The map says that it is in "${shown(own.name)}", but its coordinates look like degrees.`,
      { file, key: 'crs' },
      'Export it again; if it is in degrees, without the crs member.',
    );
  }
  return crs;
}
