import { diagnoseControl } from './control.ts';
import type { Facts, Findings } from './facts.ts';
import { diagnoseLate, late } from './late.ts';
import { diagnoseSlant } from './slant.ts';

/** What beginnings and stops share: offset along travel, delay, and sections that do not switch as they should. */
export function diagnoseSwitching(f: Facts, out: Findings): void {
  if (f.passes.travelFrom === 'unknown' || f.bands.segments.length === 0) return;
  const facts = besideOverlap(f);
  const l = late(facts);
  const explained = diagnoseSlant(facts, out) || diagnoseControl(facts, out, l);
  if (!explained) diagnoseLate(facts, out, l);
}

/** Part of an outer section over which a seam may overlap before the neighbouring pass, and no headland, is what its ends meet. */
const OVERLAP_SHARE = 0.4;

/** The facts without the ends of outer sections that ride on the neighbouring pass. */
function besideOverlap(f: Facts): Facts {
  const overlapM = Math.abs(f.recordedKinds.alternatingM ?? 0) - f.recordedKinds.steadyM;
  if (!(overlapM > 0)) return f;
  const rides = f.bands.segments.map(({ bands }) =>
    [0, bands.length - 1].filter((k) => overlapM > OVERLAP_SHARE * (bands[k].rightM - bands[k].leftM)),
  );
  return { ...f, ends: f.ends.filter((e) => !rides[f.bands.segment[e.bar]]?.includes(e.slot)) };
}
