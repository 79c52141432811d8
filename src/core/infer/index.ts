/**
 * From measurements to observations, then to diagnoses.
 *
 * Assumes the facts of one map and one planting. Guarantees that every diagnosis points at its observations, that symptoms of one
 * setting make one diagnosis, and that nothing is diagnosed below 30 bars or 50 m of travel.
 *
 * 1. `layout-fits.ts`, `segment-posteriors.ts`, `findings-layout.ts`: which frame, planting and sections the display believed; `findings-changes.ts`: whether that changed midway.
 * 2. `seams.ts`: pass spacing and side offset, where the recorded width does not already explain the seams.
 *    `sidesteps.ts`: the whole drawing is shifted sideways from some place on.
 * 3. `findings-switching.ts`: when sections switch, from `sections.ts` (order, section control, one that stays on), `dropouts.ts` and `timingPosterior.ts` (an offset along travel, a delay).
 *    `absences.ts`: a section at the end of the planter that is off for whole passes.
 * 4. `findings-file.ts`: the declared layout's own rules; repeated records.
 */
import type { Diagnosis, Observation } from '../answer.ts';
import { distanceText } from '../planter/units.ts';
import type { Note } from '../shared/messages.ts';
import { LONGEST_INTERVAL_M } from '../track/index.ts';
import { diagnoseAbsences } from './absences.ts';
import { FEWEST_BARS, LEAST_TRAVEL_M, NAMED } from './decide.ts';
import { type Facts, type Findings, type FindingWithPrediction, scaleOf } from './facts.ts';
import { diagnoseRepeats, diagnoseRules, diagnoseUnits } from './findings-file.ts';
import { diagnoseLayout, stripsMisreadAsPasses } from './findings-layout.ts';
import { diagnoseSwitching } from './findings-switching.ts';
import { diagnoseSeams } from './seams.ts';
import { segmentPosteriors } from './segment-posteriors.ts';
import { stepOf } from './settings/index.ts';
import { diagnoseSidesteps } from './sidesteps.ts';

export { findStretches, type Stretch } from './changepoints.ts';
export { FEWEST_BARS, LEAST_TRAVEL_M, NAMED } from './decide.ts';
export type { Facts, FindingWithPrediction } from './facts.ts';
export { framesOfWidth } from './frames.ts';
export { fitLayouts, type LayoutFits, mirrorBands, mixMirrored, probabilityMirrored } from './layout-fits.ts';
export { seamToleranceM } from './seams.ts';
export { causesInWords, definitionOf, settingsInWords } from './settings/index.ts';

/** The conclusions before the account of the ground is made; the verdict follows from both. */
export interface Conclusions {
  observations: Observation[];
  diagnoses: FindingWithPrediction[];
  /** Open questions, and what would decide them. */
  undecided: { what: string; wouldDecide: string }[];
  notes: Note[];
  /** The recorded layout is the declared one throughout. */
  layoutAgrees: boolean;
}

/** Diagnoses the map. */
export function diagnose(f: Facts): Conclusions {
  const out: Findings = { observations: [], diagnoses: [], undecided: [] };
  const notes: Note[] = [];
  const far = (m: number): string => distanceText(m, f.planter.unit);
  // A map drawn too small has short passes, whose strips look like log intervals.
  const travelM = f.travelM / scaleOf(f);
  const ofStrips = f.grain === 'strip' || travelM > LONGEST_INTERVAL_M * f.passes.bars;
  const enough = f.passes.bars > 0 && (ofStrips || f.passes.bars >= FEWEST_BARS) && travelM >= LEAST_TRAVEL_M;
  let layoutAgrees = false;
  diagnoseRules(f, out);
  diagnoseRepeats(f, out);
  diagnoseUnits(f, out);
  if (f.grain === 'blob' || f.passes.bars === 0) {
    out.undecided.push({
      what: 'The map is dissolved across passes: only covered ground can be read from it, not widths, sections or seams.',
      wouldDecide:
        'An export of the same map with one polygon for each section and log interval, or at least one for each pass.',
    });
  } else if (!enough) {
    // At the pace and log interval of this map, the fewest bars take this distance.
    const leastM = Math.max(LEAST_TRAVEL_M, f.grain === 'strip' ? 0 : (FEWEST_BARS * f.travelM) / f.passes.bars);
    out.undecided.push({
      what: `The map holds ${f.passes.bars} bars over ${far(f.travelM)} of travel; at least ${FEWEST_BARS} bars and ${far(LEAST_TRAVEL_M)} are needed.`,
      wouldDecide: `A strip of at least ${far(leastM)} with every section on, better three passes of ${far(2 * leastM)} side by side.`,
    });
  } else {
    const segments = segmentPosteriors(f);
    layoutAgrees = segments.every((e) => e.agrees);
    diagnoseLayout(f, out, segments);
    const wrong = out.diagnoses.filter((d) => WIDTH_SETTINGS.has(d.setting)).map((d) => d.setting);
    const torn = stripsMisreadAsPasses(f, segments);
    const layouts = f.bands.segments.map((segment) => {
      const v = segments.find((s) => s.segment === segment);
      return {
        wrong: v?.agrees ? wrong.filter((s) => s === 'map-units') : wrong,
        // Where a section is missing at one end, the map does not show where the frame ran.
        unknown:
          torn ||
          (v?.share.get('other') ?? 1) > NAMED ||
          (v?.best?.hypothesis.setting === 'section-stuck-off' && f.bands.segments.length > 1),
      };
    });
    diagnoseSeams(f, out, layouts);
    diagnoseSidesteps(f, out);
    diagnoseSwitching(f, out);
    // A frame that was entered with fewer rows leaves the same strips.
    if (wrong.length === 0) diagnoseAbsences(f, out);
    if (f.grain === 'bar' && f.planter.sections.length > 1) {
      notes.push({
        code: 'sections-unseen',
        sentence: 'Each record holds the whole width, so sections cannot be checked.',
        place: {},
        todo: 'Export the map with one polygon for each section to have them checked.',
      });
    }
    if (f.twins.length > 0) {
      notes.push({
        code: 'plantings-alike',
        sentence: `On this frame the plantings "${[f.planting.name, ...f.twins].join('" and "')}" record the same bands, only shifted sideways: the map does not show which of them was chosen on the display.`,
        place: {},
        todo: 'Read the rows that plant off the display.',
      });
    }
  }
  // Repeated records and broken rules hold for a short map too; nothing else was checked.
  const diagnoses = inOrder(out.diagnoses);
  notes.push({
    code: 'offsets-silent',
    sentence:
      'A map without alternating seams or uneven ends does not prove that the offsets and the switching delays are right: they show only where switching and mapping disagree.',
    place: {},
    todo: 'Measure them on the machine.',
  });
  return { observations: out.observations, diagnoses, undecided: out.undecided, notes, layoutAgrees };
}

/** By step and sureness. Findings that the map cannot distinguish stay together, the surest first, where that one belongs. */
function inOrder(all: FindingWithPrediction[]): FindingWithPrediction[] {
  const lead = (d: FindingWithPrediction): FindingWithPrediction =>
    all.reduce((a, b) => (d.or?.includes(b.setting) && b.confidence > a.confidence ? b : a), d);
  return [...all].sort((a, b) => stepOf(lead(a).setting) - stepOf(lead(b).setting) || b.confidence - a.confidence);
}

/** Settings that change the recorded width, so that the steering may have followed them. */
export const WIDTH_SETTINGS: ReadonlySet<Diagnosis['setting']> = new Set<Diagnosis['setting']>([
  'map-units',
  'planted-rows',
  'frame-rows',
  'row-spacing',
  'frame-as-wide',
  'section-idle',
  'section-across-drives',
  'changed-midway',
]);
