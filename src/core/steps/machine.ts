/** The summary of one machine: its verdict, the layout that was declared, what it recorded, and its seams. */

import type {
  DeclaredSummary,
  LayoutFit,
  MachineSummary,
  RecordedStretch,
  RecordedSummary,
  SeamStretchSummary,
  SeamSummary,
} from '../answer.ts';
import { tQuantile975 } from '../geometry/stats.ts';
import { type Facts, framesOfWidth, seamToleranceM } from '../infer/index.ts';
import type { RecordedBands, SeamStretch, Segment } from '../observe/index.ts';
import { runName } from '../planter/index.ts';
import { passesOf } from '../track/span.ts';
import type { DiagnosedPart } from './explain.ts';
import type { Job } from './job.ts';

/** Two widths closer than this are one in a map of rounded corners, meters. */
const LEAST_TOLD_M = 0.012;

/** The recorded segment that most bars show. */
function longestOf({ segments }: RecordedBands): RecordedBands['segments'][number] | null {
  return segments.length ? segments.reduce((a, e) => (e.to - e.from > a.to - a.from ? e : a)) : null;
}

function declaredOf({ facts: f, part }: DiagnosedPart, seedCostPerHa: number | null): DeclaredSummary {
  const { planter, planting, layout } = f;
  return {
    planter: planter.name,
    planting: planting.name,
    plantingFound: part.plantingFound,
    frameRows: planter.rows,
    plantedRows: layout.rows.length,
    rowSpacingM: planter.rowSpacingM,
    workingWidthM: layout.workingWidthM,
    centerM: layout.centerM,
    passSpacingM: planting.passSpacingM ?? layout.workingWidthM,
    seedCostPerHa,
    sections: planter.sections.flatMap((r, i) => {
      const b = layout.sectionBands[i];
      return b ? [{ rows: runName(r), leftM: b.leftM, rightM: b.rightM }] : [];
    }),
  };
}

function recordedOf({ facts: f }: DiagnosedPart): RecordedSummary {
  const main = longestOf(f.bands);
  const fits: LayoutFit[] = [];
  for (const r of (main ? f.fits[f.bands.segments.indexOf(main)] : null)?.ranked ?? []) {
    const b = r.hypothesis;
    const same = fits.find(
      (x) => x.rows === b.rows && Math.abs(x.rowSpacingM - b.rowSpacingM) < 1e-6 && x.planting === b.planting,
    );
    if (same) same.confidence += r.probability;
    else
      fits.push({
        rows: b.rows,
        rowSpacingM: b.rowSpacingM,
        planting: b.planting,
        confidence: r.probability,
        says: b.setting ?? 'as declared',
      });
  }
  fits.sort((a, b) => b.confidence - a.confidence);
  const half = main ? main.width.standardError * tQuantile975(main.width.degreesOfFreedom) : 0;
  return {
    workingWidthM: main ? main.widthM : null,
    workingWidthCi95M: main ? [main.widthM - half, main.widthM + half] : null,
    sections:
      main && (f.grain === 'section' || (f.grain === 'strip' && main.bands.length > 1))
        ? main.bands.map((b) => ({ leftM: b.leftM, rightM: b.rightM }))
        : [],
    bestFit: f.grain === 'blob' ? null : (fits[0] ?? null),
    alternatives: f.grain === 'blob' ? [] : fits.slice(1).filter((x) => x.confidence > 0.005),
    // Where nothing but the width is known, every frame of the trade that is as wide.
    sameWidth:
      main && main.bands.length === 1
        ? framesOfWidth(main.widthM, Math.max(LEAST_TOLD_M, 2 * main.width.standardError))
        : [],
    ...(f.bands.segments.length > 1 ? { stretches: f.bands.segments.map((s) => recordedStretch(f, s)) } : {}),
  };
}

function recordedStretch(f: Facts, s: Segment): RecordedStretch {
  return {
    passes: passesOf(f.passes, s.from, s.to),
    workingWidthM: s.widthM,
    sections: f.grain === 'section' || (f.grain === 'strip' && s.bands.length > 1) ? s.bands.length : 0,
  };
}

function seamsOf({ facts: f }: DiagnosedPart, toleranceM: number): SeamSummary {
  const { layout, planter } = f;
  const [{ recorded, planted }] = f.stretches;
  return {
    count: f.seams.length,
    medianM: orNull(recorded.medianM),
    recordedM: orNull(recorded.steadyM),
    plantedM: orNull(planted.steadyM),
    guessRowM:
      planted.count > 0
        ? planted.steadyM +
          layout.workingWidthM -
          (layout.rows[layout.rows.length - 1] - layout.rows[0]) * planter.rowSpacingM
        : null,
    alternatingM: recorded.alternatingM,
    accuracyM: f.accuracyM,
    toleranceM,
    ...(f.stretches.length > 1
      ? { stretches: [...f.stretches].sort((a, b) => a.segment - b.segment).map((s) => seamStretch(f, s)) }
      : {}),
  };
}

function seamStretch({ seams, passes }: Facts, s: SeamStretch): SeamStretchSummary {
  const beside = new Set(s.seams.flatMap((i) => [passes.number[seams[i].passA], passes.number[seams[i].passB]]));
  return {
    passes: [...beside].sort((a, b) => a - b),
    count: s.seams.length,
    recordedM: s.recorded.steadyM,
    plantedM: s.planted.steadyM,
  };
}

/** One machine of the field. */
export function machineOf(p: DiagnosedPart, job: Job): MachineSummary {
  const { part, facts, verdict, conclusions } = p;
  return {
    name: part.name,
    passes: [...part.passes.number],
    travelM: facts.travelM,
    ...verdict,
    settings: conclusions.diagnoses.map((d) => d.setting),
    ifPlanted: [],
    planter: part.planter.name,
    planting: part.planting.name,
    plantingFound: part.plantingFound,
    why: part.why,
    declared: declaredOf(p, job.seedCostPerHa),
    recorded: recordedOf(p),
    seams: seamsOf(p, seamToleranceM(job.accuracyM)),
  };
}

const orNull = (v: number): number | null => (Number.isNaN(v) ? null : v);
