import { median, robustSd } from '../geometry/stats.ts';
import type { Passes } from '../track/types.ts';
import { estimateSeams } from './estimate.ts';
import { seamSides } from './sides.ts';
import type { RecordedBands, Seam, SeamEstimates, SeamsBeside, Segment } from './types.ts';

/**
 * The seams between passes that lie in segment `e`, and those with passes of others. `bySections`: the records show sections, and with them which sides face each other, even where nothing shows the
 * direction of travel.
 */
export function segmentSeams(
  passes: Passes,
  all: readonly Seam[],
  e: Segment,
  {
    accuracyM,
    bySections,
    bands: { segments, segment },
  }: { accuracyM: number; bySections: boolean; bands: RecordedBands },
): SeamEstimates {
  const inside = (pass: number): boolean => passes.passStart[pass] >= e.from && passes.passStart[pass + 1] <= e.to;
  const seams = all.filter((s) => inside(s.passA) && inside(s.passB));
  const recordedM = seams.map((s) => s.recordedM);
  const travelKnown = passes.travelFrom !== 'unknown';
  const out = estimateSeams(seams, recordedM, accuracyM, seamSides(seams, recordedM, accuracyM, travelKnown));
  const estimates = travelKnown ? out : withoutTravel(out, seams.length);
  if (!travelKnown && !bySections) return estimates;
  const only = onlyKind(seams, travelKnown);
  const outside = all.filter((s) => inside(s.passA) !== inside(s.passB));
  const others = (s: Seam): Segment => segments[segment[passes.passStart[inside(s.passA) ? s.passB : s.passA]]];
  const beside = seamsBeside(outside, others);
  return {
    ...estimates,
    ...(only === undefined ? {} : { only }),
    ...(beside.length > 0 ? { beside: { travelKnown, seams: beside } } : {}),
  };
}

/** Degrees of freedom of a few seams. */
const BESIDE_DOF = 3;

/** Seams with the passes of other segments, on either side; passes that run the same way do not show on which. */
function seamsBeside(seams: readonly Seam[], others: (s: Seam) => Segment): SeamsBeside['seams'] {
  return (['left-left', 'right-right'] as const).flatMap((facing) => {
    const mine = seams.filter((s) => s.facing === facing);
    if (mine.length === 0) return [];
    const value = median(mine.map((s) => s.recordedM));
    const off = Math.max(
      median(mine.map((s) => s.spreadM)),
      robustSd(
        mine.map((s) => s.recordedM),
        value,
      ),
    );
    return [
      {
        side: facing === 'left-left' ? (-1 as const) : (1 as const),
        value,
        standardError: off / Math.sqrt(mine.length),
        degreesOfFreedom: BESIDE_DOF,
        widthM: median(mine.map((s) => others(s).widthM)),
      },
    ];
  });
}

/** Which sides face each other in all seams, if they are the same. Sections show it even where nothing shows the direction of travel, but not which of them are left. */
function onlyKind(seams: readonly Seam[], travelKnown: boolean): SeamEstimates['only'] {
  const [first] = seams;
  if (!first?.opposite || seams.some((s) => s.facing !== first.facing)) return undefined;
  if (!travelKnown) return 0;
  return first.facing === 'left-left' ? 1 : -1;
}

/** Seams that show whether they alternate, where they are one level. */
const FEWEST_ON_ONE_LEVEL = 4;
/** Passes share their errors so that an alternating part is known less well than a steady one, by about this factor (see `estimateSeams`). */
const LESS_KNOWN = 3;

/** Without the direction of travel the two kinds of seams cannot be distinguished: only by how much they alternate is known, or that they do not. */
function withoutTravel(e: SeamEstimates, seams: number): SeamEstimates {
  const { steady, alternating } = e;
  const onOne =
    steady && !alternating && !e.levels && seams >= FEWEST_ON_ONE_LEVEL
      ? { ...steady, value: 0, standardError: LESS_KNOWN * steady.standardError }
      : null;
  const unsigned = alternating ? { ...alternating, value: Math.abs(alternating.value) } : onOne;
  return { ...e, alternating: null, ...(unsigned ? { unsigned } : {}) };
}
