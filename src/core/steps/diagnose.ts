/** What each machine's passes show on their own: observed, then inferred. */
import { compareWidths } from '../account/index.ts';
import type { Coverage } from '../coverage/index.ts';
import { type Conclusions, diagnose, type Facts } from '../infer/index.ts';
import type { RecordSet } from '../intake/types.ts';
import {
  findCovered,
  findEnds,
  findFieldEnds,
  findSidesteps,
  findStates,
  plantedSeams,
  seamStretches,
} from '../observe/index.ts';
import { ruleBreaks } from '../planter/index.ts';
import { tellsStripsApart } from '../track/index.ts';
import type { Fitted } from './fit/index.ts';
import type { Job } from './job.ts';
import type { Covered } from './measure.ts';

/** Bars of a machine whose width is not the declared one, and what the planter covered. */
type Widths = ReturnType<typeof compareWidths>;

export const widthsOf = ({ passes, bands, rows, layout, believedCenterM }: Fitted): Widths =>
  compareWidths(passes, bands, rows, layout, believedCenterM);

/** Whether some bars are not as wide as declared, so that the planted picture has gaps and overlaps of its own. */
export const differsFrom = (widths: readonly Widths[]): boolean => widths.some((w) => w.facts.length > 0);

export interface Diagnosed {
  part: Fitted;
  facts: Facts;
  conclusions: Conclusions;
  widths: Widths;
}

/** Observations are numbered across all machines. */
export function diagnoseMachines(
  records: RecordSet,
  machines: readonly Fitted[],
  { coverage }: Covered,
  job: Job,
  widths = machines.map(widthsOf),
): Diagnosed[] {
  let known = 0;
  const diagnosed = machines.map((part, i) => {
    const facts = factsOf(records, part, coverage, job);
    const conclusions = numberOn(diagnose(facts), known);
    known += conclusions.observations.length;
    return { part, facts, conclusions, widths: widths[i] };
  });
  job.progress('fitting the layout', 1);
  return diagnosed;
}

function numberOn(j: Conclusions, known: number): Conclusions {
  if (known === 0) return j;
  const next = (id: string): string => `o${Number(id.slice(1)) + known}`;
  return {
    ...j,
    observations: j.observations.map((o) => ({ ...o, id: next(o.id) })),
    diagnoses: j.diagnoses.map((d) => ({ ...d, because: d.because.map(next) })),
  };
}

function factsOf(records: RecordSet, fitted: Fitted, covered: Coverage, { accuracyM }: Job): Facts {
  const { planter, columns, passes, bands, grain, fit, planting, layout, believedCenterM, seams } = fitted;
  const plantedSeamM = plantedSeams(seams, passes, bands, layout, believedCenterM);
  const isStrip = grain === 'strip';
  const stepM = 1 / Math.min(...fitted.plane.stepsPerMeter);
  const ground =
    grain === 'blob' || (passes.travelFrom === 'unknown' && !isStrip) ? null : findCovered(passes, columns.timeIsClock);
  return {
    planter,
    planting,
    layout,
    grain,
    passes,
    bands,
    fits: fit.fits,
    seams,
    plantedSeamM,
    stretches: seamStretches(seams, plantedSeamM, passes, bands, accuracyM),
    ends: ground ? findEnds(passes, bands, ground, columns.tickMs) : [],
    fieldEnds: ground && grain !== 'bar' ? findFieldEnds(passes, bands, ground) : [],
    tellsStripsApart: tellsStripsApart(stepM),
    sidesteps: ground ? findSidesteps(passes, bands, stepM, isStrip) : { steps: [], noiseM: 0, places: 0 },
    states: !ground
      ? { visits: [], slots: [], absences: [], shut: new Float64Array(bands.segments.length) }
      : passes.travelFrom === 'unknown'
        ? { ...findStates(passes, bands, ground), visits: [] }
        : findStates(passes, bands, ground),
    columns,
    ruleBreaks: ruleBreaks(planter),
    records: records.recordNumber.length,
    repeated: passes.quads.repeated.length,
    repeatedM2: passes.quads.repeated.reduce((s, r) => s + covered.alreadyCoveredM2[r], 0),
    accuracyM,
    travelM: passes.lengthM.reduce((s, l) => s + l, 0),
    coveredM2: covered.areaAtDepthM2[0] ?? 0,
    recordedM2: covered.sumM2,
    twins: fit.twins,
  };
}
