import { consequencesOf, effectOf, twoPopulations, verdictOfAll } from '../account/index.ts';
import type { Answer, Evidence, PassDrawing, Report, SeamDrawing } from '../answer.ts';
import { joinPolygons, type Polygons } from '../coverage/index.ts';
import type { GroundFacts } from '../ground/index.ts';
import { WIDTH_SETTINGS } from '../infer/index.ts';
import type { RecordSet } from '../intake/types.ts';
import { planterNotes, runsOf } from '../planter/index.ts';
import { lengthText } from '../planter/units.ts';
import { CAUTIONS, type Note, upperFirst } from '../shared/messages.ts';
import type { Unplaced } from '../track/unplaced.ts';
import type { DiagnosedPart, Explained } from './explain.ts';
import { type Fitted, fieldColumn } from './fit/index.ts';
import type { Job } from './job.ts';
import type { Field } from './join.ts';
import { machineOf } from './machine.ts';
import type { Areas, Covered } from './measure.ts';

/** Everything that an answer is made of. */
interface SummaryInput {
  records: RecordSet;
  field: Field;
  covered: Covered;
  areas: Areas;
  explained: Explained;
  job: Job;
}

/** A larger share of the recorded ground in no pass gets a note. */
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
    sentence: `${(100 * u.share).toFixed(1)} % of the recorded ground could not be assigned to a pass: ${u.records.length} of ${records.recordNumber.length} records could not be linked to their neighbors.`,
    place: { file: records.source, record: records.recordNumber[u.largest] },
    todo: 'This ground counts in the areas only; look at these records in a map viewer.',
  };
}

/** Reports fields that lie apart, and how to check one of them alone. */
function fieldsNote(records: RecordSet, parts: readonly Fitted[]): Note {
  const column = fieldColumn(records, parts);
  return {
    code: 'several-fields',
    sentence: `The map holds ${parts[0].origins.fields} fields that lie apart; each is checked separately.`,
    place: { file: records.source },
    todo: column
      ? `Check one alone with "--where ${column.name}=${column.values[0]}".`
      : 'Export them one at a time to have a report for each.',
  };
}

/** A change of width between two passes may be a second planter, where nothing distinguishes machines and no second planter was given. */
function otherPlanterNote(parts: readonly DiagnosedPart[]): Note[] {
  const [{ part, conclusions }] = parts;
  if (parts.length > 1 || part.origins.from !== 'one') return [];
  if (!conclusions.diagnoses.some((d) => WIDTH_SETTINGS.has(d.setting))) return [];
  const two = twoPopulations(part.passes, part.bands);
  if (!two) return [];
  const { unit } = part.planter;
  const [a, b] = two.map((p) => `passes ${runsOf(p.passes, 6)} are ${lengthText(p.widthM, unit)} wide from end to end`);
  return [
    {
      code: 'two-widths',
      sentence: `${upperFirst(a)}, ${b}: a second planter at work looks the same as a setting that was changed between two passes.`,
      place: {},
      todo: 'If two planters worked here, give both with "--planter": each is then compared with its own passes. A column that names the machine would distinguish them.',
    },
  ];
}

/** Notes of all machines, each once. */
function notesOf(s: SummaryInput): Note[] {
  const { records } = s;
  const notes: Note[] = [...records.notes, ...s.explained.parts[0].facts.columns.notes];
  const add = (n: Note): void => {
    if (!notes.some((k) => k.code === n.code && k.sentence === n.sentence)) notes.push(n);
  };
  if (s.explained.parts[0].part.origins.fields > 1)
    notes.push(
      fieldsNote(
        records,
        s.explained.parts.map((p) => p.part),
      ),
    );
  for (const { part } of s.explained.parts) for (const n of planterNotes(part.planter)) add(n);
  for (const { conclusions } of s.explained.parts) for (const n of conclusions.notes) add(n);
  if (s.explained.parts[0].part.grain !== 'blob' && s.areas.unplaced.share > UNPLACED_SHARE)
    notes.push(unplacedNote(records, s.areas.unplaced));
  for (const n of otherPlanterNote(s.explained.parts)) add(n);
  // What could not be judged is part of an undecided verdict; beside another it is a note.
  for (const { verdict, conclusions } of s.explained.parts)
    for (const w of verdict.verdict === 'differs' ? conclusions.undecided : [])
      add({ code: 'not-judged', sentence: w.what, place: {}, todo: w.wouldDecide });
  return notes;
}

/** Puts what the stages found into the shape of an answer. Nothing is measured here. */
export function summarizeAnswer(s: SummaryInput): Answer {
  const { records } = s;
  const { passes } = s.field;
  const machines = s.explained.parts.map((p) => machineOf(p, s.job));
  const mainAt = machines.reduce((best, m, i) => (m.travelM > machines[best].travelM ? i : best), 0);
  const main = s.explained.parts[mainAt];
  const several = s.explained.parts.length > 1;
  const residual = Math.max(
    Math.abs(s.covered.coverage.residual),
    relative(s.covered.rings.coveredM2, s.covered.coverage.areaAtDepthM2[0] ?? 0),
    relative(
      s.covered.rings.overlapM2,
      s.covered.coverage.areaAtDepthM2[1] ?? 0,
      s.covered.coverage.areaAtDepthM2[0] ?? 0,
    ),
  );
  const { declared, recorded, seams } = machines[mainAt];
  const report: Report = {
    report: 'guessrow/1',
    ...verdictOfAll(machines),
    map: {
      source: records.source,
      format: records.format,
      grain: main.facts.grain,
      records: records.total,
      used: records.recordNumber.length,
      setAside: records.skipped,
      passes: passes.passStart.length - 1,
      bars: passes.bars,
      travelM: machines.reduce((sum, m) => sum + m.travelM, 0),
      columns: main.facts.columns.roles,
      travelFrom: passes.travelFrom,
      unplaced: unplacedSummary(records, s.areas.unplaced),
    },
    machines,
    declared,
    recorded,
    seams,
    area: {
      recordedM2: s.covered.coverage.sumM2,
      coveredM2: s.covered.coverage.areaAtDepthM2[0] ?? 0,
      overlapM2: s.covered.coverage.areaAtDepthM2[1] ?? 0,
      gapM2: s.areas.recorded.gaps.areaM2,
      plantedM2: s.areas.plantedM2,
      residual,
    },
    account: s.explained.account.lines.map((p) => p.line),
    ifPlanted: [],
    observations: s.explained.parts.flatMap((p) => p.conclusions.observations),
    diagnoses: s.explained.parts.flatMap(({ part, conclusions, account }) =>
      conclusions.diagnoses.map(({ predicts: _, ...d }) => ({
        ...d,
        ...(several ? { machine: part.name, says: `${upperFirst(part.name)}: ${d.says}` } : {}),
        effect: consequencesOf(effectOf(d, account), s.job.seedCostPerHa),
      })),
    ),
    notes: notesOf(s),
    cautions: CAUTIONS,
  };
  return { report, planter: main.part.planter, ruleBreaks: main.facts.ruleBreaks, evidence: evidenceOf(s) };
}

/** The answer with another price of the seed, for a hectare planted once; null for none. All else stays as it is. */
export function priceSeed(answer: Answer, perHa: number | null): Answer {
  const { report } = answer;
  return {
    ...answer,
    report: {
      ...report,
      machines: report.machines.map((m) => ({ ...m, declared: { ...m.declared, seedCostPerHa: perHa } })),
      declared: { ...report.declared, seedCostPerHa: perHa },
      diagnoses: report.diagnoses.map((d) => ({ ...d, effect: consequencesOf(d.effect, perHa) })),
    },
  };
}

const relative = (a: number, b: number, scale = b): number => (scale > 0 ? Math.abs(a - b) / scale : 0);

/** Every line's polygons and the slivers. */
function allPolygons(f: GroundFacts): Polygons {
  return joinPolygons([...f.lines.map((l) => l.polygons), f.noise]);
}

function evidenceOf(s: SummaryInput): Evidence {
  const { records } = s;
  const { plane, passes, bands } = s.field;
  const { columns } = s.explained.parts[0].facts;
  const n = records.recordNumber.length;
  const recordPass = new Uint32Array(n);
  const recordBar = new Int32Array(n).fill(-1);
  const recordSection = new Int16Array(n).fill(-1);
  const recordWidthM = new Float32Array(n).fill(Number.NaN);
  const drawings: PassDrawing[] = [];
  const passOfBar = new Uint32Array(passes.bars);
  for (let p = 0; p + 1 < passes.passStart.length; p++) {
    const [from, to] = [passes.passStart[p], passes.passStart[p + 1]];
    const widths: number[] = [];
    let lengthM = 0;
    passOfBar.fill(p + 1, from, to);
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
    const clock = columns.timeIsClock && !Number.isNaN(t0 + t1);
    const track = new Float64Array(2 * (to - from));
    plane.toSteps(passes.center.subarray(2 * from, 2 * to), to - from, track);
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
  const seams: SeamDrawing[] = s.explained.parts.flatMap(({ facts: f }) =>
    f.seams.map((m, i) => ({
      passA: f.passes.number[m.passA],
      passB: f.passes.number[m.passB],
      opposite: m.opposite,
      facing: m.facing,
      recordedM: m.recordedM,
      plantedM: f.plantedSeamM[i],
      samples: m.samples,
    })),
  );
  return {
    machines: s.explained.parts.map((p) => p.part.of.machine[0]),
    lattice: records.lattice,
    density: plane.density,
    records: records.shapes,
    recordNumber: records.recordNumber,
    recordPass,
    recordBar,
    recordSection,
    recordWidthM,
    planted: s.field.planted.shapes,
    plantedLattice: s.field.planted.lattice,
    plantedPass: s.field.planted.bar.map((b) => passOfBar[b]),
    plantedApart: s.explained.account.plantedApart,
    covered: s.covered.rings.covered,
    overlap: s.covered.rings.overlap,
    gaps: allPolygons(s.areas.recorded.gaps),
    account: s.explained.account.lines.map((p) => p.polygons),
    boundary: s.covered.boundary,
    passes: drawings,
    seams,
    stepsPerMeter: plane.stepsPerMeter,
  };
}
