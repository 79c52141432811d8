import type { Setting } from '../answer.ts';
import { areaText as area, distanceText, gapText as gap, lengthText as length } from '../planter/units.ts';
import { type Facts, type Findings, NO_EFFECT, observe } from './facts.ts';
import { plural } from './words.ts';

/** Fewest seams that decide anything about seams. */
const FEWEST_SEAMS = 2;
/** A seam below this is steering, not a setting, whatever the accuracy; metres. */
const LEAST_SEAM_M = 0.05;

/** A steady seam up to this, either way, is steering and no setting; metres. */
export function seamToleranceM(accuracyM: number): number {
  return Math.max(LEAST_SEAM_M, 2 * accuracyM);
}

/** Half interval of a seam statistic, never surer than the positioning allows over so many seams. */
function half95(f: Facts, half: number, n: number): number {
  return Math.max(half, (1.96 * 1.253 * f.accuracyM) / Math.sqrt(Math.max(1, n)) / 2);
}

/** Diagnoses about how passes lie beside each other: pass spacing and side offset. */
export function diagnoseSeams(f: Facts, out: Findings, layoutWrong: Setting[]): void {
  const u = f.planter.unit;
  const r = f.recordedKinds;
  const p = f.plantedKinds;
  if (r.count < FEWEST_SEAMS) {
    out.undecided.push({
      what:
        r.count === 0
          ? 'No two passes lie side by side, so the pass spacing cannot be judged.'
          : 'One seam decides nothing about the pass spacing.',
      wouldDecide: `At least three passes side by side, each ${distanceText(50, u)} or longer, with every section on.`,
    });
    return;
  }
  const limit = seamToleranceM(f.accuracyM);
  const bearing = [...new Set(f.seams.flatMap((s) => [s.passA + 1, s.passB + 1]))].sort((a, b) => a - b);
  const half = half95(f, Number.isFinite(p.steadyHalf95M) ? p.steadyHalf95M : 0, p.count);
  const recordedHalf = half95(f, Number.isFinite(r.steadyHalf95M) ? r.steadyHalf95M : 0, r.count);
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
  const planted = Math.abs(p.steadyM) > limit && Math.abs(p.steadyM) - half > 0;
  // With a wrong recorded width, seams that close on the recorded map are the width's doing: the steering followed the same setting.
  const byWidth = layoutWrong.length > 0 && Math.abs(r.steadyM) <= limit;
  if (planted && !byWidth) {
    const expected = f.planting.passSpacingM ?? f.layout.workingWidthM;
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
      confidence: sure(Math.abs(p.steadyM), half, limit),
      says: `Passes lie ${length(spacing, u)} apart where ${length(expected, u)} was meant${other ? `: that is the pass spacing of the "${other.name}" planting` : ''}. On the ground every seam is a ${gap(Math.abs(p.steadyM), u)} ${word(p.steadyM)}, ${area(areaM2, u)} in all.`,
      check: `Look at the pass spacing (the guidance width) for "${f.planting.name}": it must be ${length(expected, u)}. Then drive three passes and measure the guess row on the ground: from outer row to outer row it must be ${gap(guessRow(f, expected), u)}.`,
      because: observations,
      effect: { acreCountPct: null, unplantedM2: unplanted ? areaM2 : 0, doubledM2: unplanted ? 0 : areaM2 },
    });
  }

  if (r.alternatingM !== null && f.passes.travelFrom !== 'unknown') {
    const alt = r.alternatingM;
    const altHalf = half95(
      f,
      Number.isFinite(r.alternatingHalf95M) ? r.alternatingHalf95M : 0,
      Math.min(r.leftLeft, r.rightRight) * 2,
    );
    const enough = r.leftLeft >= 1 && r.rightRight >= 1 && r.leftLeft + r.rightRight >= 3;
    if (Math.abs(alt) > altHalf && Math.abs(alt) > 0.02) {
      const id = observe(out, {
        kind: 'seam-alternating',
        says: `Seams alternate with the direction of travel by ${gap(Math.abs(alt), u)} either way (${plural(r.leftLeft, 'left-to-left seam')}, ${r.rightRight} right-to-right).`,
        measuredM: alt,
        expectedM: 0,
        n: r.leftLeft + r.rightRight,
        share: (r.leftLeft + r.rightRight) / r.count,
        passes: bearing,
      });
      if (enough && Math.abs(alt) > limit && Math.abs(alt) - altHalf > 0) {
        const e = alt / 2;
        out.diagnoses.push({
          setting: 'side-offset',
          confidence: sure(Math.abs(alt), altHalf, limit),
          says: `Every pass is recorded ${gap(Math.abs(e), u)} to the ${e > 0 ? 'right' : 'left'} of its travel, so seams open and close by ${gap(Math.abs(alt), u)} in turn.`,
          check: `Look at the side offset of the planter (left/right distance from the antenna or hitch to the frame's centre): it is off by ${gap(Math.abs(e), u)}. Measure it on the machine, then drive three passes back and forth and measure two neighbouring guess rows: they must be equal.`,
          because: [id],
          effect: NO_EFFECT,
        });
      }
    }
  }
}

/** 0.5 at the threshold with a wide interval, towards 0.99 when the seam stands many intervals clear of it. */
function sure(value: number, half: number, limit: number): number {
  const z = (value - Math.min(limit, value * 0.5)) / Math.max(half / 1.96, 1e-4);
  return Math.min(0.99, 0.5 + 0.5 * (1 - Math.exp(-z / 2)));
}

/** Width of the stretch with most bars. */
function mainWidth(f: Facts): number {
  return f.bands.epochs.reduce((a, e) => (e.to - e.from > a.to - a.from ? e : a)).widthM;
}

function widthOfRows(f: Facts, rows: number[]): number {
  const step = rows.length > 1 ? rows[1] - rows[0] : 1;
  return (rows[rows.length - 1] - rows[0] + step) * f.planter.rowSpacingM;
}

function guessRow(f: Facts, spacing: number): number {
  const rows = f.layout.rows;
  return spacing - (rows[rows.length - 1] - rows[0]) * f.planter.rowSpacingM;
}
