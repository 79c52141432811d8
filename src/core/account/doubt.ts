import type { RecordSet } from '../intake/types.ts';
import type { Unit } from '../planter/types.ts';
import { areaText, trim } from '../planter/units.ts';
import type { Passes } from '../track/types.ts';

/** Why a map with no fault and no open ground may still not get the verdict "agrees". */
export interface Doubt {
  what: string;
  wouldDecide: string;
}

/** Records in doubt leave the verdict undecided beyond this share of the records in the file, or of the recorded area. */
const RECORD_SHARE = 0.01;

/** Recorded area and width times travel are two sums over the same track: on sound maps they differ by less than half a percent. */
const TRAVEL_SHARE = 0.02;

/** What the records themselves leave open: areas that depend on a rule or belong to records that do not fit, and sums that disagree. */
export function doubtsOf(
  records: Pick<RecordSet, 'invalidRings' | 'misfits' | 'total'>,
  recordedM2: number,
  track: { placedM2: number; traveledM2: number } | null,
  unit: Unit,
): Doubt[] {
  return [...inDoubt(records, recordedM2, unit), ...(track ? besideTravel(track, unit) : [])];
}

function inDoubt(
  { invalidRings, misfits, total }: Pick<RecordSet, 'invalidRings' | 'misfits' | 'total'>,
  recordedM2: number,
  unit: Unit,
): Doubt[] {
  const kinds = [
    {
      name: 'invalid rings',
      look: 'look at the rings in a map viewer',
      of: invalidRings.map((k) => ({ count: k.doubtful, areaM2: k.doubtfulM2 })),
    },
    {
      name: 'an unusual size or position',
      look: 'look at these records in a map viewer',
      // Skipped records are in no sum.
      of: misfits.map((k) => ({ count: k.count, areaM2: k.used ? k.areaM2 : 0 })),
    },
  ];
  const out: Doubt[] = [];
  let shares = 0;
  for (const { name, look, of } of kinds) {
    const count = of.reduce((n, k) => n + k.count, 0);
    if (count === 0) continue;
    const areaM2 = of.reduce((s, k) => s + k.areaM2, 0);
    const share = recordedM2 > 0 ? areaM2 / recordedM2 : 0;
    shares += Math.max(count / total, share);
    out.push({
      what: `${count} of ${total} records (${areaText(areaM2, unit)}, ${trim(100 * share, 1)} % of the recorded area) have ${name}.`,
      wouldDecide: `Export the map again, or ${look} (the notes name the first of each kind): the areas of such records depend on how they are read.`,
    });
  }
  return shares > RECORD_SHARE ? out : [];
}

function besideTravel({ placedM2, traveledM2 }: { placedM2: number; traveledM2: number }, unit: Unit): Doubt[] {
  if (!(Math.abs(placedM2 - traveledM2) > TRAVEL_SHARE * placedM2)) return [];
  return [
    {
      what: `The recorded area (${areaText(placedM2, unit)}) and recorded width times distance traveled (${areaText(traveledM2, unit)}) disagree.`,
      wouldDecide:
        'Check individual records in a map viewer: some have a wrong corner, or cover more than the machine did.',
    },
  ];
}

/** Ground of the records in `passes`, by their corners and by width times travel, square meters. */
export function recordedAndTraveledAreas(passes: Passes): { placedM2: number; traveledM2: number } {
  const { corner: c, barStart, leftM, rightM, lengthM } = passes;
  let placedM2 = 0;
  let traveledM2 = 0;
  for (let b = 0; b < passes.bars; b++) {
    for (let i = barStart[b]; i < barStart[b + 1]; i++) {
      const o = 8 * i;
      // Half the cross product of the diagonals.
      placedM2 +=
        Math.abs((c[o + 4] - c[o]) * (c[o + 7] - c[o + 3]) - (c[o + 6] - c[o + 2]) * (c[o + 5] - c[o + 1])) / 2;
      traveledM2 += (rightM[i] - leftM[i]) * lengthM[b];
    }
  }
  return { placedM2, traveledM2 };
}
