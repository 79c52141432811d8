import { type Account, consequencesOf, effectOf, type Verdict } from './account/index.ts';
import type { Answer, Evidence, LayoutFit, PassDrawing, Report, SeamDrawing } from './answer.ts';
import { type Coverage, type CoverageRings, joinPolygons, type Polygons } from './coverage/index.ts';
import { tQuantile975 } from './geometry/stats.ts';
import type { GroundFacts } from './ground/index.ts';
import type { Facts, Judgement } from './infer/index.ts';
import type { RecordSet } from './intake/types.ts';
import { CAUTIONS, type Note } from './messages.ts';
import type { Plane } from './plane/index.ts';
import type { Planted } from './planted/index.ts';
import { runName } from './planter/index.ts';
import type { Unplaced } from './track/unplaced.ts';

export interface SummaryInput {
  records: RecordSet;
  facts: Facts;
  judgement: Judgement;
  planterNotes: Note[];
  plane: Plane;
  planted: Planted;
  covered: Coverage;
  unplaced: Unplaced;
  rings: CoverageRings;
  gaps: GroundFacts;
  overlaps: GroundFacts;
  /** Its rings; none without one. */
  boundary: Float64Array[];
  plantedM2: number | null;
  /** A steady seam up to this is no setting, metres. */
  seamToleranceM: number;
  /** Frames as wide as the recorded width, where nothing else is known. */
  sameWidth: { rows: number; rowSpacingM: number }[];
  seedCostPerHa: number | null;
  account: Account;
  verdict: Verdict;
}

/** More recorded ground than this part of it in no pass is worth a note. */
const UNPLACED_SHARE = 0.005;

function unplacedSummary({ recordNumber, shapes, lattice }: RecordSet, u: Unplaced): Report['map']['unplaced'] {
  const point = u.largest < 0 ? 0 : 2 * shapes.ringStart[shapes.shapeStart[u.largest]];
  const degrees = (origin: number, steps: number): number => (origin + steps) / lattice.stepsPerDegree;
  return {
    records: u.records.length,
    areaM2: u.areaM2,
    share: u.share,
    largest:
      u.largest < 0
        ? null
        : {
            record: recordNumber[u.largest],
            at: [degrees(lattice.originX, shapes.xy[point]), degrees(lattice.originY, shapes.xy[point + 1])],
          },
  };
}

function unplacedNote(records: RecordSet, u: Unplaced): Note {
  return {
    code: 'unplaced',
    sentence: `${(100 * u.share).toFixed(1)} % of the recorded ground lies in no pass: ${u.records.length} of ${records.recordNumber.length} records could not be put in line with their neighbors.`,
    place: { file: records.source, record: records.recordNumber[u.largest] },
    todo: 'This ground counts in the areas only; look at these records in a map viewer.',
  };
}

/** Puts what the stages found into the shape of an answer. Nothing is measured here. */
export function summariseAnswer(s: SummaryInput): Answer {
  const { facts: f, judgement: j, records } = s;
  const { passes, bands, layout, planter, planting } = f;
  const main = bands.segments.length ? bands.segments.reduce((a, e) => (e.to - e.from > a.to - a.from ? e : a)) : null;
  const mainFit = main ? f.fits[bands.segments.indexOf(main)] : null;
  const fits: LayoutFit[] = [];
  for (const r of mainFit?.ranked ?? []) {
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
  const residual = Math.max(
    Math.abs(s.covered.residual),
    relative(s.rings.coveredM2, s.covered.areaAtDepthM2[0] ?? 0),
    relative(s.rings.overlapM2, s.covered.areaAtDepthM2[1] ?? 0, s.covered.areaAtDepthM2[0] ?? 0),
  );
  const half = main ? main.width.standardError * tQuantile975(main.width.degreesOfFreedom) : 0;
  const [seams] = f.stretches;
  const guess =
    seams.planted.count > 0
      ? seams.planted.steadyM +
        layout.workingWidthM -
        (layout.rows[layout.rows.length - 1] - layout.rows[0]) * planter.rowSpacingM
      : null;
  const notes: Note[] = [...records.notes, ...f.columns.notes, ...s.planterNotes, ...j.notes];
  if (f.grain !== 'blob' && s.unplaced.share > UNPLACED_SHARE) notes.push(unplacedNote(records, s.unplaced));
  // What could not be judged is part of an undecided verdict; beside another it is a note.
  for (const w of s.verdict.verdict === 'differs' ? j.undecided : [])
    notes.push({ code: 'not-judged', sentence: w.what, place: {}, todo: w.wouldDecide });
  const report: Report = {
    report: 'guessrow/1',
    ...s.verdict,
    map: {
      source: records.source,
      format: records.format,
      grain: f.grain,
      records: records.total,
      used: records.recordNumber.length,
      setAside: records.setAside,
      passes: passes.passStart.length - 1,
      bars: passes.bars,
      travelM: f.travelM,
      columns: f.columns.roles,
      travelFrom: passes.travelFrom,
      unplaced: unplacedSummary(records, s.unplaced),
    },
    declared: {
      planter: planter.name,
      planting: planting.name,
      plantingFound: false,
      frameRows: planter.rows,
      plantedRows: layout.rows.length,
      rowSpacingM: planter.rowSpacingM,
      workingWidthM: layout.workingWidthM,
      centreM: layout.centreM,
      passSpacingM: planting.passSpacingM ?? layout.workingWidthM,
      seedCostPerHa: s.seedCostPerHa,
      sections: planter.sections.flatMap((r, i) => {
        const b = layout.sectionBands[i];
        return b ? [{ rows: runName(r), leftM: b.leftM, rightM: b.rightM }] : [];
      }),
    },
    recorded: {
      workingWidthM: main ? main.widthM : null,
      workingWidthCi95M: main ? [main.widthM - half, main.widthM + half] : null,
      sections:
        main && (f.grain === 'section' || (f.grain === 'strip' && main.bands.length > 1))
          ? main.bands.map((b) => ({ leftM: b.leftM, rightM: b.rightM }))
          : [],
      bestFit: f.grain === 'blob' ? null : (fits[0] ?? null),
      alternatives: f.grain === 'blob' ? [] : fits.slice(1).filter((x) => x.confidence > 0.005),
      sameWidth: s.sameWidth,
    },
    seams: {
      count: f.seams.length,
      medianM: orNull(seams.recorded.medianM),
      recordedM: orNull(seams.recorded.steadyM),
      plantedM: orNull(seams.planted.steadyM),
      guessRowM: guess,
      alternatingM: seams.recorded.alternatingM,
      accuracyM: f.accuracyM,
      toleranceM: s.seamToleranceM,
    },
    area: {
      recordedM2: s.covered.sumM2,
      coveredM2: s.covered.areaAtDepthM2[0] ?? 0,
      overlapM2: s.covered.areaAtDepthM2[1] ?? 0,
      gapM2: s.gaps.areaM2,
      plantedM2: s.plantedM2,
      residual,
    },
    account: s.account.lines.map((p) => p.line),
    ifPlanted: [],
    observations: j.observations,
    diagnoses: j.diagnoses.map((d) => ({ ...d, effect: consequencesOf(effectOf(d, s.account), s.seedCostPerHa) })),
    notes,
    cautions: CAUTIONS,
  };
  return { report, planter, ruleBreaks: f.ruleBreaks, evidence: evidenceOf(s) };
}

/** The answer with another price of the seed, for a hectare planted once; null for none. All else stays as it is. */
export function priceSeed(answer: Answer, perHa: number | null): Answer {
  const { report } = answer;
  return {
    ...answer,
    report: {
      ...report,
      declared: { ...report.declared, seedCostPerHa: perHa },
      diagnoses: report.diagnoses.map((d) => ({ ...d, effect: consequencesOf(d.effect, perHa) })),
    },
  };
}

const orNull = (v: number): number | null => (Number.isNaN(v) ? null : v);
const relative = (a: number, b: number, scale = b): number => (scale > 0 ? Math.abs(a - b) / scale : 0);

/** Every line's polygons and the slivers. */
function allPolygons(f: GroundFacts): Polygons {
  return joinPolygons([...f.lines.map((l) => l.polygons), f.noise]);
}

function evidenceOf(s: SummaryInput): Evidence {
  const { facts: f, records, plane } = s;
  const { passes, bands } = f;
  const n = records.recordNumber.length;
  const recordPass = new Uint32Array(n);
  const recordBar = new Int32Array(n).fill(-1);
  const recordSection = new Int16Array(n).fill(-1);
  const recordWidthM = new Float32Array(n).fill(Number.NaN);
  const drawings: PassDrawing[] = [];
  for (let p = 0; p + 1 < passes.passStart.length; p++) {
    const from = passes.passStart[p];
    const to = passes.passStart[p + 1];
    const widths: number[] = [];
    let lengthM = 0;
    for (let b = from; b < to; b++) {
      lengthM += passes.lengthM[b];
      for (let i = passes.barStart[b]; i < passes.barStart[b + 1]; i++) {
        const r = passes.quads.record[passes.barQuad[i]];
        recordPass[r] = p + 1;
        recordBar[r] = b;
        recordSection[r] = bands.slot[i] ?? -1;
        recordWidthM[r] = passes.rightM[i] - passes.leftM[i];
      }
      widths.push(passes.rightM[passes.barStart[b + 1] - 1] - passes.leftM[passes.barStart[b]]);
    }
    widths.sort((a, b) => a - b);
    const mid = (from + to) >> 1;
    const t0 = passes.timeMs[from];
    const t1 = passes.timeMs[to - 1];
    const clock = f.columns.timeIsClock && !Number.isNaN(t0 + t1);
    const track = new Float64Array(2 * (to - from));
    plane.toSteps(passes.centre.subarray(2 * from, 2 * to), to - from, track);
    drawings.push({
      number: p + 1,
      bars: to - from,
      lengthM,
      headingDeg: ((Math.atan2(-passes.right[2 * mid + 1], passes.right[2 * mid]) * 180) / Math.PI + 360) % 360,
      recordedWidthM: widths[widths.length >> 1],
      startMs: clock ? t0 : null,
      endMs: clock ? t1 : null,
      track,
    });
  }
  const seams: SeamDrawing[] = f.seams.map((m, i) => ({
    passA: m.passA + 1,
    passB: m.passB + 1,
    opposite: m.opposite,
    facing: m.facing,
    recordedM: m.recordedM,
    plantedM: f.plantedSeamM[i],
    samples: m.samples,
  }));
  return {
    lattice: records.lattice,
    density: plane.density,
    records: records.shapes,
    recordNumber: records.recordNumber,
    recordPass,
    recordBar,
    recordSection,
    recordWidthM,
    planted: s.planted.shapes,
    plantedLattice: s.planted.lattice,
    covered: s.rings.covered,
    overlap: s.rings.overlap,
    gaps: allPolygons(s.gaps),
    account: s.account.lines.map((p) => p.polygons),
    boundary: s.boundary,
    passes: drawings,
    seams,
    stepsPerMetre: plane.stepsPerMetre,
  };
}
