import { logT, median } from '../geometry/stats.ts';
import type { Seam } from '../observe/index.ts';
import { gapText as gap } from '../planter/units.ts';
import { passesOf } from '../track/span.ts';
import { LOG_CHANGE_COST, MOST_CHANGES, MOST_SURE, NAMED } from './decide.ts';
import { addObservation, type Facts, type Findings, whenWords } from './facts.ts';
import { SIDESTEP_DOF, SIDESTEP_M } from './noise.ts';
import { posterior } from './posterior.ts';

/** The whole drawing is shifted sideways from some place on: a changepoint of the sideways position. */
export function diagnoseSidesteps(f: Facts, out: Findings): void {
  const { steps, noiseM, places } = f.sidesteps;
  // A larger step is a turn that was read as one pass, not an offset that anyone enters.
  const sure = steps.flatMap((step) => {
    if (Math.abs(step.asideM) > SIDESTEP_M) return [];
    const logHonest = logT(step.asideM / noiseM, SIDESTEP_DOF) - Math.log(noiseM);
    const { ranked } = posterior([
      { of: 'step', logPrior: -LOG_CHANGE_COST - Math.log(places), logLikelihood: -Math.log(2 * SIDESTEP_M) },
      { of: 'noise', logPrior: Math.log1p(-Math.exp(-LOG_CHANGE_COST) / places), logLikelihood: logHonest },
    ]);
    const probability = ranked.find((r) => r.of === 'step')!.probability;
    return probability >= NAMED ? [{ step, probability }] : [];
  });
  const travelKnown = f.passes.travelFrom !== 'unknown';
  const asideText = (m: number): string =>
    `${gap(Math.abs(m), f.planter.unit)} ${travelKnown ? (m > 0 ? 'further right' : 'further left') : 'further aside'}`;
  const because = sure.slice(0, MOST_CHANGES + 1).map(({ step: { bar, asideM } }) =>
    addObservation(out, {
      kind: 'change',
      says: `From ${whenWords(f, bar)} on the whole map is drawn ${asideText(asideM)}.`,
      measuredM: asideM,
      expectedM: 0,
      n: f.passes.bars - bar,
      share: (f.passes.bars - bar) / f.passes.bars,
      passes: passesOf(f.passes, bar, f.passes.bars),
    }),
  );
  if (sure.length > MOST_CHANGES) {
    out.undecided.push({
      what: `Passes step sideways in ${sure.length} places, the first at ${whenWords(f, sure[0].step.bar)}: this usually means that the position jumped.`,
      wouldDecide: 'Look at the log of the receiver for lost corrections.',
    });
    return;
  }
  sure.forEach(({ step: { bar, asideM }, probability }, i) => {
    // Which way the others were driven, and which came later, is not known either.
    if (!travelKnown || !isOfPlanter(f, bar, asideM)) {
      out.undecided.push({
        what: `From ${whenWords(f, bar)} on the map is drawn ${asideText(asideM)}, in the middle of the pass, and the seams after it do not show whether a setting was changed or the position jumped.`,
        wouldDecide:
          'Look at the log of the receiver for a lost correction at that moment, and ask what was entered or reset on the display.',
      });
      return;
    }
    out.diagnoses.push({
      setting: 'changed-midway',
      confidence: Math.min(MOST_SURE, probability),
      says: `From ${whenWords(f, bar)} on the whole map is drawn ${asideText(asideM)} than before, in the middle of the pass.`,
      check: 'Ask what was entered or reset on the display at that moment: a side offset, another antenna or hitch.',
      because: [because[i]],
    });
  });
}

/**
 * Whether the seams between passes after a step open and close by it in turn: an offset of the planter goes with the direction of travel. A position that jumped takes all passes
 * along, whichever way they are driven, and leaves their seams as they were.
 */
function isOfPlanter(f: Facts, bar: number, asideM: number): boolean {
  const pass = f.passes.passStart.findLastIndex((first) => first <= bar);
  const turned = f.seams.filter((s) => s.facing !== 'same-way');
  const [before, after] = [turned.filter((s) => s.passB < pass), turned.filter((s) => s.passA > pass)];
  if (after.length === 0) return false;
  const widthOf = (list: readonly Seam[]): number => median(list.map((s) => s.recordedM));
  const openedM = after.map((s) => {
    const alike = before.filter((o) => o.facing === s.facing);
    const usualM = alike.length > 0 ? widthOf(alike) : before.length > 0 ? widthOf(before) : 0;
    return (s.facing === 'left-left' ? 1 : -1) * (s.recordedM - usualM);
  });
  // Either twice the step, or nothing.
  return median(openedM) / asideM > 1;
}
