import type { Setting } from '../answer.ts';
import { median } from '../geometry/stats.ts';
import type { Estimate } from '../observe/index.ts';
import { areaText as area, distanceText, gapText as gap, lengthText as length } from '../planter/units.ts';
import { type Facts, type Findings, NO_EFFECT, observe } from './facts.ts';
import { half95, seamPosterior } from './posterior.ts';
import { plural } from './words.ts';

/** Fewest seams that decide anything about seams. */
const FEWEST_SEAMS = 2;
/** A seam below this is steering, not a setting, whatever the accuracy; metres. */
const LEAST_SEAM_M = 0.05;

/** A pass spacing wrong by less than this is seldom a setting: half of the closest rows, metres. */
const FAR_M = 0.15;

/** Between strips there may lie others that are no plain strips: two gaps alike are chance. */
const FEWEST_STRIP_SEAMS = 3;

/** Fewest seams of both kinds together that decide anything about the side offset. */
const FEWEST_ALTERNATING = 3;

/** A steady seam up to this, either way, is steering and no setting; metres. */
export function seamToleranceM(accuracyM: number): number {
  return Math.max(LEAST_SEAM_M, 2 * accuracyM);
}

/** A seam diagnosis is named from this probability on; down to `DOUBTED` it leaves the verdict open. */
const NAMED = 0.75;
const DOUBTED = 0.2;

/**
 * Diagnoses about how passes lie beside each other: pass spacing and side offset. `unknown` says that nothing is known of the layout that was recorded: then it
 * may be another planting that was planted, and its passes lie rightly.
 */
export function diagnoseSeams(f: Facts, out: Findings, layoutWrong: Setting[], unknown: boolean): void {
  const u = f.planter.unit;
  const r = f.recordedKinds;
  const p = f.plantedKinds;
  // Strips that mostly lie beside nothing say little by the few that do.
  const few = f.grain === 'strip' && r.count < Math.max(FEWEST_STRIP_SEAMS, 0.25 * (f.passes.passStart.length - 2));
  if (r.count < FEWEST_SEAMS || few) {
    out.undecided.push({
      what:
        r.count === 0
          ? 'No two passes lie side by side, so the pass spacing cannot be judged.'
          : r.count === 1
            ? 'One seam decides nothing about the pass spacing.'
            : `Only ${plural(r.count, 'seam')} could be measured between the strips, too few to judge the pass spacing.`,
      wouldDecide: `At least three passes side by side, each ${distanceText(50, u)} or longer, with every section on.`,
    });
    return;
  }
  const limit = seamToleranceM(f.accuracyM);
  const bearing = [...new Set(f.seams.flatMap((s) => [s.passA + 1, s.passB + 1]))].sort((a, b) => a - b);
  const [plantedEstimate, recordedEstimate] = [f.plantedEstimates.steady!, f.recordedEstimates.steady!];
  const half = half95(plantedEstimate);
  const recordedHalf = half95(recordedEstimate);
  const word = (m: number): string => (m > 0 ? 'gap' : 'overlap');

  const observations: string[] = [];
  if (Math.abs(p.steadyM) > half || Math.abs(r.steadyM) > recordedHalf) {
    observations.push(
      observe(out, {
        kind: 'seam',
        says: `Seams on the ground: ${gap(Math.abs(p.steadyM), u)} ${word(p.steadyM)} (median of ${plural(p.count, 'seam')}, give or take ${gap(half, u)}); on the recorded map ${Math.abs(r.steadyM) < 0.01 ? 'closed' : `${gap(Math.abs(r.steadyM), u)} ${word(r.steadyM)}`}.`,
        measuredM: p.steadyM,
        expectedM: 0,
        n: p.count,
        share: 1,
        passes: bearing,
      }),
    );
  }
  const recordedWidth = mainWidth(f);
  const spacing = recordedWidth + r.steadyM;
  // With a wrong recorded width, seams that close on the recorded map are the width's doing: the steering followed the same setting.
  const weighed = layoutWrong.length > 0 ? [plantedEstimate, recordedEstimate] : [plantedEstimate];
  const sure = Math.min(...weighed.map((v) => seamPosterior(v, 'pass-spacing')));
  const beyond =
    Math.abs(p.steadyM) > limit &&
    half < Math.abs(p.steadyM) &&
    weighed.every((v) => Math.abs(v.value) > limit && v.value * p.steadyM > 0);
  const roughly = (what: string, m: number, h: number): void => {
    out.undecided.push({
      what: `${what} is ${gap(Math.abs(m), u)}, give or take ${gap(h, u)}: the passes lie too unevenly to tell whether that is a setting.`,
      wouldDecide: `More passes side by side from the same day, or the pass-to-pass accuracy of the positioning, when it is coarser than ${gap(f.accuracyM, u)}.`,
    });
  };
  const expected = f.planting.passSpacingM ?? f.layout.workingWidthM;
  if (beyond && sure >= NAMED && unknown) {
    out.undecided.push({
      what: `Passes lie ${length(spacing, u)} apart where ${length(expected, u)} was meant, but the recorded layout is none that could be tried: another planting may be what was planted.`,
      wouldDecide: 'Ask what was planted, read the rows that plant and the sections off the display, and check again.',
    });
  } else if (beyond && sure >= NAMED) {
    const other = f.planter.plantings.find(
      (q) => q.name !== f.planting.name && Math.abs((q.passSpacingM ?? widthOfRows(f, q.rows)) - spacing) < limit,
    );
    const unplanted = p.steadyM > 0;
    const areaM2 = f.seams.reduce(
      (s, seam, i) => s + Math.max(0, unplanted ? f.plantedSeamM[i] : -f.plantedSeamM[i]) * seam.lengthM,
      0,
    );
    out.diagnoses.push({
      setting: 'pass-spacing',
      confidence: Math.min(0.99, sure),
      says: `Passes lie ${length(spacing, u)} apart where ${length(expected, u)} was meant${other ? `: that is the pass spacing of the "${other.name}" planting` : ''}. On the ground every seam is a ${gap(Math.abs(p.steadyM), u)} ${word(p.steadyM)}, ${area(areaM2, u)} in all.`,
      check: `Look at the pass spacing (the guidance width) for "${f.planting.name}": it must be ${length(expected, u)}. Then drive three passes and measure the guess row on the ground: from outer row to outer row it must be ${gap(guessRow(f, expected), u)}.`,
      because: observations,
      effect: { acreCountPct: null, unplantedM2: unplanted ? areaM2 : 0, doubledM2: unplanted ? 0 : areaM2 },
    });
  } else if (
    (beyond && sure >= DOUBTED) ||
    reachesFar(layoutWrong.length > 0 ? recordedEstimate : plantedEstimate, limit)
  ) {
    roughly('The steady seam', p.steadyM, half);
  }

  if (r.alternatingM !== null && f.passes.travelFrom !== 'unknown') diagnoseSide(f, out, bearing);
}

/** Seams that open and close with the direction of travel. */
function diagnoseSide(f: Facts, out: Findings, bearing: number[]): void {
  const u = f.planter.unit;
  const r = f.recordedKinds;
  const alt = r.alternatingM!;
  const level = f.recordedEstimates.alternating;
  if (!level) return;
  const limit = seamToleranceM(f.accuracyM);
  const half = half95(level);
  const clear = Math.abs(alt) > half && Math.abs(alt) > 0.02;
  const id = clear
    ? observe(out, {
        kind: 'seam-alternating',
        says: `Seams alternate with the direction of travel, in turn ${gap(Math.abs(alt), u)} wider and narrower (${plural(r.leftLeft, 'left-to-left seam')}, ${r.rightRight} right-to-right).`,
        measuredM: alt,
        expectedM: 0,
        n: r.leftLeft + r.rightRight,
        share: (r.leftLeft + r.rightRight) / r.count,
        passes: bearing,
      })
    : null;
  if (Math.abs(alt) <= limit || Math.abs(level.value) <= limit) return;
  if (explainedByLayout(f, alt, Math.max(limit, half))) return;
  const p = seamPosterior(level, 'side-offset');
  const enough = r.leftLeft + r.rightRight >= FEWEST_ALTERNATING;
  if (id && enough && p >= NAMED) {
    const e = alt / 2;
    out.diagnoses.push({
      setting: 'side-offset',
      confidence: Math.min(0.99, p),
      says: `Every pass is recorded ${gap(Math.abs(e), u)} to the ${e > 0 ? 'right' : 'left'} of its travel, so seams open and close by ${gap(Math.abs(alt), u)} in turn.`,
      check: `Look at the side offset of the planter (left/right distance from the antenna or hitch to the frame's centre): it is off by ${gap(Math.abs(e), u)}. Measure it on the machine, then drive three passes back and forth and measure two neighbouring guess rows: they must be equal.`,
      because: [id],
      effect: NO_EFFECT,
    });
  } else if (
    (id && p >= DOUBTED) ||
    (Math.abs(level.value) + half > 2 * Math.max(2.5 * limit, FAR_M) && !restsOnOne(f, limit))
  ) {
    out.undecided.push({
      what: `Seams alternate with the direction of travel by ${gap(Math.abs(alt), u)}, give or take ${gap(half, u)}, over ${plural(r.leftLeft, 'left-to-left seam')} and ${r.rightRight} right-to-right: too few or too uneven to tell whether the side offset is wrong.`,
      wouldDecide: `At least four passes side by side, driven back and forth, each ${distanceText(50, u)} or longer.`,
    });
  }
}

/** A layout less likely than this explains nothing. */
const WORTH_A_THOUGHT = 0.02;

/** True when one seam makes all of the alternation: a last pass that fills what the field leaves lies where it must. */
function restsOnOne(f: Facts, limit: number): boolean {
  return f.seams.some((_, out) => {
    const [l, r] = (['left-left', 'right-right'] as const).map((kind) =>
      f.seams.flatMap((s, i) => (i !== out && s.facing === kind ? [s.recordedM] : [])),
    );
    return l.length > 0 && r.length > 0 && Math.abs(median(l) - median(r)) / 2 <= limit;
  });
}

/**
 * A display that takes the working centre to be elsewhere draws every pass as far to one side, and the passes alternate by twice
 * that: the layout's doing, put right with it.
 */
function explainedByLayout(f: Facts, alternatingM: number, toleranceM: number): boolean {
  return f.fits.some(({ ranked }) =>
    ranked.some(({ hypothesis, probability }) => {
      const off = hypothesis.centreM - f.layout.centreM;
      if (hypothesis.setting === null || probability < WORTH_A_THOUGHT || Math.abs(off) < 1e-3) return false;
      return Math.abs(alternatingM - 2 * off) <= toleranceM;
    }),
  );
}

/** True when a steady seam far beyond the tolerance cannot be ruled out: the passes say nothing about their spacing. */
function reachesFar(level: Estimate, limit: number): boolean {
  return Math.abs(level.value) + half95(level) > Math.max(2.5 * limit, FAR_M);
}

/** Width of the stretch with most bars. */
function mainWidth(f: Facts): number {
  return f.bands.segments.reduce((a, e) => (e.to - e.from > a.to - a.from ? e : a)).widthM;
}

function widthOfRows(f: Facts, rows: number[]): number {
  const step = rows.length > 1 ? rows[1] - rows[0] : 1;
  return (rows[rows.length - 1] - rows[0] + step) * f.planter.rowSpacingM;
}

function guessRow(f: Facts, spacing: number): number {
  const rows = f.layout.rows;
  return spacing - (rows[rows.length - 1] - rows[0]) * f.planter.rowSpacingM;
}
