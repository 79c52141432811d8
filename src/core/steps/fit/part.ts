import type { Grain } from '../../answer.ts';
import {
  FEWEST_BARS,
  findStretches,
  fitLayouts,
  type LayoutFits,
  mirrorBands,
  mixMirrored,
  probabilityMirrored,
} from '../../infer/index.ts';
import { HOLE_M } from '../../infer/noise.ts';
import {
  findBands,
  findKinds,
  findSeams,
  type RecordedBands,
  type Segment,
  segmentSeams,
} from '../../observe/index.ts';
import { findRows } from '../../planted/index.ts';
import { layoutOf } from '../../planter/index.ts';
import type { Planter, Planting } from '../../planter/types.ts';
import { findPasses } from '../../track/index.ts';
import { partPasses } from '../../track/origins.ts';
import type { Lanes, Passes } from '../../track/types.ts';
import type { Job } from '../job.ts';
import type { Fitted, Part, Track } from './types.ts';

/** Where no planting fits as declared, the one that the display had chosen explains the map with the fewest faults. */
export const weightOf = (f: LayoutFits): number => f.declared + f.chosen;
const bestOf = (list: readonly LayoutFits[]): LayoutFits => list.reduce((a, b) => (weightOf(b) > weightOf(a) ? b : a));

/**
 * True when the records are sections: whole bars of one of the layouts hold two that meet. Where a bar was drawn as a whole
 * and a section in its middle was off, the two parts to its left and right never meet: a layout of such parts alone must be that of most bars, and no other may show the same width in one piece.
 */
function holdsSections({ segments }: RecordedBands): boolean {
  const meets = (e: Segment): boolean => e.bands.some((b, i) => i > 0 && b.leftM - e.bands[i - 1].rightM < HOLE_M);
  const parted = segments.filter((e) => e.bands.length > 1);
  const isWhole = (e: Segment): boolean =>
    e.bands.length === 1 && e.fullBars >= FEWEST_BARS && parted.some((o) => e.widthM > o.widthM - HOLE_M);
  const bars = (e: Segment): number => (e.bands.length > 1 ? e.fullBars : -e.fullBars);
  return segments.some(meets) || (segments.reduce((n, e) => n + bars(e), 0) > 0 && !segments.some(isWhole));
}

/** The recorded bands of every segment of the passes. */
function bandsOf(passes: Passes, lanes: Lanes, stepM: number): RecordedBands {
  const kinds = findKinds(passes, stepM);
  return findBands(passes, lanes, stepM, kinds, findStretches(passes, kinds));
}

/**
 * What the display that wrote these passes believed, and the rows that planted under the planting that it fits best. `early` gets the bands as soon as they are
 * known, where nothing that follows can change them.
 */
export function fitPart(
  track: Track,
  part: Part,
  planter: Planter,
  wanted: readonly Planting[],
  { accuracyM }: Pick<Job, 'accuracyM'>,
  early?: (bands: RecordedBands) => void,
): Fitted {
  const { laid, columns, plane } = track;
  const stepM = 1 / Math.min(...plane.stepsPerMeter);
  let { passes } = part;
  let bands = bandsOf(passes, laid.lanes, stepM);
  const seesSections = holdsSections(bands);
  const grain: Grain = laid.grain !== 'interval' ? laid.grain : seesSections ? 'section' : 'bar';
  // Without declared sections there is nothing to compare the recorded ones with: only the width is fitted.
  const bySections = seesSections && planter.sectionsDeclared;
  const eitherWay = passes.travelFrom === 'unknown' && bySections;
  if (!eitherWay) early?.(bands);
  const worksM = Math.max(...wanted.map((p) => layoutOf(planter, p.name).workingWidthM));
  let seams = findSeams(passes, bands, worksM);
  const tryAll = (b: RecordedBands): LayoutFits[] => {
    const estimates = b.segments.map((e) => segmentSeams(passes, seams, e, { accuracyM, bySections, bands: b }));
    return wanted.map((p) => fitLayouts(b, planter, p.name, bySections, estimates, passes.travelFrom !== 'unknown'));
  };
  let fit = bestOf(tryAll(bands));
  if (eitherWay) {
    // Nothing distinguishes left from right: the passes are read from both sides, and the more plausible one is kept.
    let turned = bestOf(tryAll(mirrorBands(bands)));
    const p = probabilityMirrored(fit, turned);
    if (p > 0.5) {
      const numbers = new Set(passes.number);
      const all = findPasses(laid.lanes, columns, true);
      passes = part.whole ? all : partPasses(all, (k) => numbers.has(all.number[k]));
      bands = bandsOf(passes, laid.lanes, stepM);
      seams = findSeams(passes, bands, worksM);
      // Seen from the other side, the bars may divide into other segments.
      turned = bestOf(tryAll(bands));
      fit = bestOf(tryAll(mirrorBands(bands)));
    }
    fit = p > 0.5 ? mixMirrored(turned, fit, 1 - p) : mixMirrored(fit, turned, p);
  }
  const planting = planter.plantings.find((p) => p.name === fit.planting)!;
  const layout = layoutOf(planter, planting.name);
  const believedCenterM = fit.fits.map((f) => f.ranked[0]?.hypothesis.centerM ?? layout.centerM);
  const { fine, origins } = track;
  const isOnlyMachine = origins.from === 'one' && part.machine[0] === origins.machines[0];
  return {
    plane,
    fine,
    columns,
    origins,
    name: part.label === '' ? part.machine[0] : isOnlyMachine ? part.label : `${part.machine[0]}, ${part.label}`,
    of: { machine: part.machine, label: part.label, days: part.days, whole: part.whole },
    planter,
    why: '',
    plantingFound: wanted.length > 1,
    track: wanted.length > 1 ? track : null,
    passes,
    bands,
    grain,
    bySections,
    fit,
    planting,
    layout,
    believedCenterM,
    rows: findRows(passes, bands, layout, believedCenterM),
    seams,
  };
}
