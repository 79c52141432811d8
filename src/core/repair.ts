import type { Report } from './answer.ts';
import { checkSource } from './check.ts';
import { areaOf, measure, remain } from './coverage/index.ts';
import { type Fitted, fitMap } from './fit/index.ts';
import type { Layer } from './formats/layer.ts';
import type { Shapes } from './geometry/shapes.ts';
import type { RecordSet } from './intake/types.ts';
import { type CheckInput, DEFAULT_ACCURACY_M, type Hooks, jobOf } from './job.ts';
import { type Note, UserError } from './messages.ts';
import { extentOf, finerLattice, planeFor } from './plane/index.ts';
import { quadsOf } from './planted/index.ts';
import { layoutOf, plantingOf } from './planter/index.ts';
import {
  type Change,
  changesOf,
  geometryOf,
  groupsOf,
  inDegrees,
  isNoise,
  layShapes,
  MARK,
  markOf,
  NOTHING_M2,
  noiseWidthM,
  OWN,
  outputs as outputsOf,
  ownColumns,
  type Piece,
  polygonsOf,
  putColumnsRight,
  rateColumns,
  redraw,
} from './rebuild/index.ts';
import { readSource } from './source.ts';

export interface RebuildInput extends Omit<CheckInput, 'boundary' | 'seedPrice'> {
  by?: 'section' | 'pass';
  /** Corrects rate and population columns for the recorded area. */
  correctRate?: boolean;
}

export interface Rebuilt {
  layer: Layer;
  changes: Change[];
  /** What was found wrong with the map; null for a map that was rebuilt before. */
  report: Report | null;
  planting: string;
  plantingFound: boolean;
  /** True when nothing had to be changed, or the map was rebuilt with this planter before. */
  unchanged: boolean;
  before: boolean;
  inM2: number;
  outM2: number;
  /** m² by which the sum of the output misses the union of what was drawn; rounding. 0 where overlaps were left as they are. */
  residualM2: number;
  /** Overlap that was left because it is no wider than the seam tolerance, m². */
  leftOverlapM2: number;
  /** Columns whose rates were corrected. */
  ratesCorrected: string[];
  /** Their means by area over the map, before and after. */
  rateMeans: { name: string; before: number; after: number }[];
  notes: Note[];
}

/** Edges of a bar within this are the same, metres, on any lattice; on coarse ones a step and a half. No two layouts are so close over a whole bar. */
const SAME_M = 0.02;
/** The map as it should have been. Throws `UserError` when it cannot be worked with, or not be told what was planted. */
export async function rebuild(input: RebuildInput, hooks: Hooks = {}): Promise<Rebuilt> {
  const { records } = await readSource(input, jobOf(input, hooks));
  return rebuildRecords(records, input, hooks);
}

/** Everything after the reading. */
export function rebuildRecords(records: RecordSet, input: Omit<RebuildInput, 'map'>, hooks: Hooks = {}): Rebuilt {
  const by = input.by ?? 'section';
  const again = rebuiltBefore(records, input, by);
  if (again) return again;
  const job = jobOf(input, hooks);
  const parts = fitMap(records, job);
  const [fitted] = parts;
  refuseGrain(records, fitted.grain);
  refuseSeveral(records, parts);
  const { report } = checkSource({ records, boundary: null }, job, parts);
  if (report.verdict === 'undecided')
    throw new UserError(
      'undecided',
      `The map cannot be rebuilt while it is open what was recorded. ${report.says}`,
      { file: records.source },
      report.wouldDecide[0] === undefined
        ? 'Run "guessrow check" on it.'
        : `This would decide it: ${report.wouldDecide[0]}`,
    );
  return draw(records, fitted, report, input, by, hooks);
}

function refuseGrain(records: RecordSet, grain: string): void {
  if (grain !== 'strip' && grain !== 'blob') return;
  throw new UserError(
    'grain',
    grain === 'strip'
      ? 'The map holds one polygon for each pass, not for each log interval, so there are no bars to redraw.'
      : 'The map is dissolved over the field, so there are no bars to redraw.',
    { file: records.source },
    'Export it again with one polygon for each log interval.',
  );
}

/** A display draws the map of its own machine, field and planting: two of them are two maps. */
function refuseSeveral(records: RecordSet, parts: readonly Fitted[]): void {
  if (parts.length === 1) return;
  const column = parts[0].columns.roles.machine?.name;
  const machines = new Set(parts.map((p) => p.of.machine[0]));
  throw new UserError(
    'several-machines',
    `The map holds several machines, fields or days, to be rebuilt one at a time: ${parts.map((p) => `"${p.name}"`).join(', ')}.`,
    { file: records.source },
    column && machines.size > 1
      ? `Pick the records of one: add "--where ${column}=${parts[0].of.machine[0]}".`
      : 'Pick the records of one by a column that tells them apart: add "--where COLUMN=VALUE".',
  );
}

function draw(
  records: RecordSet,
  fitted: Fitted,
  report: Report,
  input: Omit<RebuildInput, 'map'>,
  by: 'section' | 'pass',
  hooks: Hooks,
): Rebuilt {
  const { plane, passes, bands, layout, rows, columns } = fitted;
  const { shapes, lattice } = records;
  const at = (stage: string) => (done: number) => hooks.progress?.(stage, done);
  const extent = extentOf(shapes);
  const fine = finerLattice(lattice, extent);
  const stepM = 1 / Math.min(...plane.stepsPerMetre);

  at('redrawing bars')(0);
  const { pieces, metres, gone } = redraw({
    records: records.recordNumber.length,
    passes,
    bands,
    layout,
    rows,
    sections: fitted.bySections ? input.planter.sections : null,
    toleranceM: Math.max(SAME_M, 1.5 * stepM),
    timeMs: columns.timeMs,
    drawer: (b, emit) => quadsOf(passes, b, emit),
  });
  const drawn = layShapes(pieces, shapes, lattice, plane.toQuads(metres, fine), fine);
  const finePlane = planeFor(fine, extentOf(drawn));
  at('redrawing bars')(1);

  const group = groupsOf(pieces, by);
  const recordM2 = measure(shapes, plane.density, at('measuring the map')).areaM2;
  const alone = measure(drawn, finePlane.density, at('measuring the new map'));
  const rest = remain(drawn, group, finePlane.density, finePlane.stepsPerMetre, at('taking covered ground off'));
  const agrees = report.verdict === 'agrees';
  const asItWas = gone.length === 0 && pieces.every((p) => p.keeps >= 0);
  const noiseM =
    by === 'section' && (agrees || asItWas) ? noiseWidthM(input.passAccuracyM ?? DEFAULT_ACCURACY_M, agrees) : 0;
  const uncut = (g: number): boolean =>
    noiseM > 0 &&
    pieces[g].keeps >= 0 &&
    isNoise(alone.areaM2[g] - rest.addsM2[g], alone.areaM2[g], rest.buriedM[g], noiseM);
  const simple = (r: number): boolean => isSimple(shapes, r, recordM2[r], plane.density);
  const all = outputsOf(
    pieces,
    group,
    { recordM2, pieceM2: alone.areaM2, addsM2: rest.addsM2, rings: rest.rings },
    simple,
    uncut,
  );
  const list = all.filter((o) => o.done !== 'removed');
  if (list.length === 0)
    throw new UserError(
      'nothing-left',
      'Nothing of the map is left.',
      { file: records.source },
      'Check the planter file.',
    );

  const notes: Note[] = [...report.notes];
  const note = (sentence: string): void => {
    notes.push({
      code: 'column-kept',
      sentence,
      place: { file: records.source },
      todo: 'Put it right by hand where it matters.',
    });
  };
  const ratesCorrected = input.correctRate ? rateColumns(records.columns, columns, recordM2) : [];
  if (input.correctRate && ratesCorrected.length === 0)
    throw new UserError(
      'no-rate',
      'No rate or population column was found to correct.',
      { file: records.source },
      'Name it with "--columns rate=NAME", or leave "--correct-rate" out.',
    );
  const carried = putColumnsRight({
    columns: records.columns.filter((c) => !OWN.has(c.name)),
    found: columns,
    passes,
    bands,
    pieces,
    recordM2,
    pieceM2: alone.areaM2,
    outputs: list,
    workingM: layout.workingWidthM,
    rateFactor: input.correctRate ? barFactors(passes.bars, pieces, recordM2, alone.areaM2) : null,
    note,
  });
  const mark = markOf(input.planter, layout, by);
  const numberOf = (r: number): number => records.recordNumber[r];
  const changes = changesOf(all, list, pieces, gone, recordM2, input.planter, numberOf);
  const inM2 = sum(recordM2);
  const outM2 = list.reduce((s, o) => s + o.outM2, 0);
  const leftM2 = pieces.reduce((m2, _, g) => m2 + (noiseM > 0 && uncut(g) ? alone.areaM2[g] - rest.addsM2[g] : 0), 0);
  return {
    layer: {
      name: 'rebuilt',
      ...geometryOf(list, pieces, shapes, lattice, drawn, fine),
      columns: [...carried, ...ownColumns(list, pieces, numberOf, mark)],
    },
    changes,
    report,
    planting: layout.planting,
    plantingFound: report.declared.plantingFound,
    unchanged: changes.every((c) => c.done === 'kept'),
    before: false,
    inM2,
    outM2,
    residualM2: Math.abs(outM2 - leftM2 - (alone.areaAtDepthM2[0] ?? 0)),
    leftOverlapM2: leftM2 < NOTHING_M2 ? 0 : leftM2,
    ratesCorrected,
    rateMeans: ratesCorrected.flatMap((name) => meansOf(name, carried, list)),
    notes,
  };
}

/** Mean by area of a corrected column, and of the values that it had. */
function meansOf(
  name: string,
  columns: Layer['columns'],
  outputs: readonly { outM2: number }[],
): { name: string; before: number; after: number }[] {
  const mean = (of: string): number => {
    const c = columns.find((k) => k.name === of);
    if (c?.kind !== 'number') return Number.NaN;
    let sum = 0;
    let weight = 0;
    outputs.forEach(({ outM2 }, i) => {
      if (Number.isNaN(c.values[i])) return;
      sum += c.values[i] * outM2;
      weight += outM2;
    });
    return weight > 0 ? sum / weight : Number.NaN;
  };
  const after = mean(name);
  const was = mean(`was_${name}`);
  return [{ name, before: Number.isNaN(was) ? after : was, after }];
}

/** A record whose rings add up to its area does not cross itself, and stands as it is. */
function isSimple(shapes: Shapes, r: number, m2: number, density: Fitted['plane']['density']): boolean {
  return Math.abs(sum(areaOf(polygonsOf(shapes, r), density)) - m2) <= 1e-9 * m2;
}

/** Recorded area over redrawn area of each bar: seeds counted over the one were spread over the other. */
function barFactors(
  bars: number,
  pieces: readonly Piece[],
  recordM2: Float64Array,
  pieceM2: Float64Array,
): Float64Array {
  const was = new Float64Array(bars);
  const is = new Float64Array(bars);
  pieces.forEach((p, i) => {
    if (p.bar < 0) return;
    is[p.bar] += pieceM2[i];
    p.sources.forEach((r, k) => {
      was[p.bar] += p.shares[k] * recordM2[r];
    });
  });
  return was.map((v, b) => (pieces.length > 0 && is[b] > 0 && v > 0 && Math.abs(v / is[b] - 1) > 1e-9 ? v / is[b] : 1));
}

/** A map that says of itself that it was rebuilt: given back as it is, or refused where another planter, planting or grain is asked for. */
function rebuiltBefore(records: RecordSet, input: Omit<RebuildInput, 'map'>, by: 'section' | 'pass'): Rebuilt | null {
  const marks = records.columns.find((c) => c.name === MARK);
  if (marks?.kind !== 'text') return null;
  const found = new Set(Array.from(marks.codes, (c) => marks.words[c]));
  const wanted = input.planting === undefined ? input.planter.plantings : [plantingOf(input.planter, input.planting)];
  const own = wanted.find(
    (p) => found.size === 1 && found.has(markOf(input.planter, layoutOf(input.planter, p.name), by)),
  );
  if (!own)
    throw new UserError(
      'rebuilt-before',
      'The map was rebuilt before, with another planter, planting or "--by".',
      { file: records.source },
      'Start from the map as it was recorded.',
    );
  const { shapes, lattice } = records;
  const density = planeFor(lattice, extentOf(shapes)).density;
  const areaM2 = measure(shapes, density).areaM2;
  const n = records.recordNumber.length;
  const changes = Array.from(
    { length: n },
    (_, r): Change => ({
      output: r + 1,
      done: 'kept',
      why: 'rebuilt with this planter before',
      from: String(records.recordNumber[r]),
      pass: null,
      section: null,
      wasWidthM: null,
      widthM: null,
      inM2: areaM2[r],
      cutM2: 0,
      outM2: areaM2[r],
      differenceM2: 0,
    }),
  );
  return {
    layer: {
      name: 'rebuilt',
      ...inDegrees(shapes, lattice),
      columns: records.columns,
    },
    changes,
    report: null,
    planting: own.name,
    plantingFound: input.planting === undefined && input.planter.plantings.length > 1,
    unchanged: true,
    before: true,
    inM2: sum(areaM2),
    outM2: sum(areaM2),
    residualM2: 0,
    leftOverlapM2: 0,
    ratesCorrected: [],
    rateMeans: [],
    notes: records.notes,
  };
}

const sum = (v: Float64Array): number => v.reduce((a, b) => a + b, 0);
