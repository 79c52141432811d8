import type { Grain } from '../../answer.ts';
import { median, robustSd } from '../../geometry/stats.ts';
import { believe, eitherSide, findStretches, type LayoutFits, mirrorBands, sideOf } from '../../infer/index.ts';
import {
  estimateSeams,
  findBands,
  findKinds,
  findSeams,
  type RecordedBands,
  type Seam,
  type SeamEstimates,
  type SeamsBeside,
  type Segment,
  seamSides,
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

/** Two sections meet when the strip between them is narrower: rounding opens a few centimeters, and no row is that narrow; meters. */
const MEETS_M = 0.05;

/**
 * True when the records are sections: whole bars of one of the layouts hold two that meet. The parts of a bar that was drawn as a whole are
 * what is left between sections that were off, and never meet; where a layout is nothing but such parts, it must be that of most bars.
 */
function holdsSections({ segments }: RecordedBands): boolean {
  const meets = (e: Segment): boolean => e.bands.some((b, i) => i > 0 && b.leftM - e.bands[i - 1].rightM < MEETS_M);
  const bars = (e: Segment): number => (e.bands.length > 1 ? e.fullBars : -e.fullBars);
  return segments.some(meets) || segments.reduce((n, e) => n + bars(e), 0) > 0;
}

/** The seams between passes that lie in one segment, and those with passes of others. */
function seamsOf(
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
  const told = passes.travelFrom !== 'unknown';
  const out = estimateSeams(seams, recordedM, accuracyM, seamSides(seams, recordedM, accuracyM, told));
  const estimates = told ? out : withoutTravel(out, seams.length);
  if (!told && !bySections) return estimates;
  const only = onlyKind(seams, told);
  const outside = all.filter((s) => inside(s.passA) !== inside(s.passB));
  const others = (s: Seam): Segment => segments[segment[passes.passStart[inside(s.passA) ? s.passB : s.passA]]];
  const beside = seamsBeside(outside, others);
  return {
    ...estimates,
    ...(only === undefined ? {} : { only }),
    ...(beside.length > 0 ? { beside: { told, seams: beside } } : {}),
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
function onlyKind(seams: readonly Seam[], told: boolean): SeamEstimates['only'] {
  const [first] = seams;
  if (!first?.opposite || seams.some((s) => s.facing !== first.facing)) return undefined;
  if (!told) return 0;
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
    const estimates = b.segments.map((e) => seamsOf(passes, seams, e, { accuracyM, bySections, bands: b }));
    return wanted.map((p) => believe(b, planter, p.name, bySections, estimates));
  };
  let fit = bestOf(tryAll(bands));
  if (eitherWay) {
    // Nothing distinguishes left from right: the passes are read from both sides, and the more plausible one is kept.
    let turned = bestOf(tryAll(mirrorBands(bands)));
    const p = sideOf(fit, turned);
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
    fit = p > 0.5 ? eitherSide(turned, fit, 1 - p) : eitherSide(fit, turned, p);
  }
  const planting = planter.plantings.find((p) => p.name === fit.planting)!;
  const layout = layoutOf(planter, planting.name);
  const believedCenterM = fit.fits.map((f) => f.ranked[0]?.hypothesis.centerM ?? layout.centerM);
  const isOnlyMachine = track.origins.from === 'one' && part.machine[0] === track.origins.machines[0];
  return {
    ...track,
    name: part.label === '' ? part.machine[0] : isOnlyMachine ? part.label : `${part.machine[0]}, ${part.label}`,
    of: { machine: part.machine, label: part.label, days: part.days, whole: part.whole },
    planter,
    why: '',
    plantingFound: wanted.length > 1,
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
