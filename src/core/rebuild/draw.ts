import type { Report } from '../answer.ts';
import { areaOf, measure, remain } from '../coverage/index.ts';
import type { Layer } from '../formats/layer.ts';
import type { Lattice, Shapes } from '../geometry/shapes.ts';
import type { RecordSet } from '../intake/types.ts';
import type { RecordedBands } from '../observe/types.ts';
import { extentOf, finerLattice, planeFor } from '../plane/index.ts';
import { findRows, quadsOf } from '../planted/index.ts';
import {
  changesOf,
  geometryOf,
  groupsOf,
  isNoise,
  layShapes,
  type MachineTrack,
  markOf,
  middlesBySection,
  NOTHING_M2,
  newestFirst,
  noiseWidthM,
  type Output,
  OWN,
  outputs as outputsOf,
  ownColumns,
  type PassOf,
  type Piece,
  polygonsOf,
  putColumnsRight,
  rateColumns,
  redraw,
  replacedM2,
} from '../redraw/index.ts';
import { type Note, UserError } from '../shared/messages.ts';
import type { Fitted } from '../steps/fit/index.ts';
import { DEFAULT_ACCURACY_M } from '../steps/job.ts';
import { joinTracks } from '../steps/join.ts';
import type { Passes } from '../track/types.ts';
import type { RebuildInput, Rebuilt } from './types.ts';

/** Edges of a bar within this are the same, meters, on any lattice; on coarse ones a step and a half. No two layouts are so close over a whole bar. */
const SAME_M = 0.02;

/** The input of the drawing. */
export interface Work {
  records: RecordSet;
  /** Each machine's passes, with its own planter. */
  machines: readonly Fitted[];
  report: Report;
  input: Omit<RebuildInput, 'map'>;
  by: 'section' | 'pass';
  at(stage: string): (done: number) => void;
}

/** The map as it should have been, of machines whose displays are known. */
export function draw(w: Work): Rebuilt {
  const { records, machines, report, by } = w;
  const { shapes, lattice } = records;
  const drawing = drawPieces(w);
  const { pieces, gone, recordM2, drawn, fine } = drawing;
  const { all, leftM2, unionM2 } = layOut(w, drawing);
  const list = all.filter((o) => o.done !== 'removed' && o.done !== 'replaced');
  if (list.length === 0)
    throw new UserError(
      'nothing-left',
      'Nothing of the map is left.',
      { file: records.source },
      'Check the planter file.',
    );
  const notes: Note[] = [...report.notes];
  const { carried, ratesCorrected } = carryColumns(w, drawing, list, notes);
  const of = (pass: number): Fitted => machines[drawing.machineOf[pass]?.machine ?? 0];
  const marks = new Map(machines.map((m) => [m, markOf(m.planter, m.layout, by)]));
  const numberOf = (r: number): number => records.recordNumber[r];
  const changes = changesOf(all, list, pieces, gone, recordM2, (pass) => of(pass).planter, numberOf);
  const outM2 = list.reduce((s, o) => s + o.outM2, 0);
  return {
    layer: {
      name: 'rebuilt',
      ...geometryOf(list, pieces, shapes, lattice, drawn, fine),
      columns: [...carried, ...ownColumns(list, pieces, numberOf, (pass) => marks.get(of(pass)) as string)],
    },
    changes,
    format: records.format,
    system: records.system,
    report,
    planters: [...new Set(machines.map((m) => m.planter.name))],
    planting: [...new Set(machines.map((m) => m.layout.planting))].join(', '),
    plantingFound: machines.some((m) => m.plantingFound),
    unchanged: changes.every((c) => c.done === 'kept'),
    before: false,
    inM2: sum(recordM2),
    outM2,
    residualM2: Math.abs(outM2 - leftM2 - unionM2),
    leftOverlapM2: leftM2 < NOTHING_M2 ? 0 : leftM2,
    ratesCorrected,
    rateMeans: ratesCorrected.flatMap((name) => meansOf(name, carried, list)),
    notes,
  };
}

interface Drawing {
  /** Every pass of the map, and whose it is. */
  passes: Passes;
  bands: RecordedBands;
  machineOf: PassOf[];
  /** Pieces in the order in which ground goes to them, and the day of each. */
  pieces: Piece[];
  days: Uint16Array;
  gone: { record: number; why: string }[];
  drawn: Shapes;
  fine: Lattice;
  /** Area of each record of the map and of each piece alone, m². */
  recordM2: Float64Array;
  pieceM2: Float64Array;
  /** Area of the union of the pieces, m². */
  unionM2: number;
}

/** Every bar with the bands that its planter had; nothing is cut yet. */
function drawPieces({ records, machines, at }: Work): Drawing {
  const { plane, columns, origins } = machines[0];
  const { shapes, lattice } = records;
  const fine = finerLattice(lattice, extentOf(shapes));
  const stepM = 1 / Math.min(...plane.stepsPerMeter);
  at('redrawing bars')(0);
  const { passes, bands } = joinTracks(machines);
  const machineOf = ownersOf(passes, machines);
  const redrawn = redraw({
    records: records.recordNumber.length,
    passes,
    machines: machines.map((m) => trackOf(m)),
    machineOf,
    toleranceM: Math.max(SAME_M, 1.5 * stepM),
    timeMs: columns.timeMs,
  });
  const days = newestFirst(
    redrawn,
    Array.from(passes.number, (n) => origins.day[n - 1]),
  );
  const { pieces, meters, gone } = redrawn;
  const drawn = layShapes(pieces, shapes, lattice, plane.toQuads(meters, fine), fine);
  at('redrawing bars')(1);
  const recordM2 = measure(shapes, plane.density, at('measuring the map')).areaM2;
  const alone = measure(drawn, planeFor(fine, extentOf(drawn)).density, at('measuring the new map'));
  return {
    passes,
    bands,
    machineOf,
    pieces,
    days,
    gone,
    drawn,
    fine,
    recordM2,
    pieceM2: alone.areaM2,
    unionM2: alone.areaAtDepthM2[0] ?? 0,
  };
}

/** The machine of each pass, and which of its passes it is. */
function ownersOf(passes: Passes, machines: readonly Fitted[]): PassOf[] {
  const owners = new Map<number, PassOf>();
  machines.forEach((m, machine) => {
    m.passes.number.forEach((n, pass) => {
      owners.set(n, { machine, pass });
    });
  });
  return Array.from(passes.number, (n) => owners.get(n) as PassOf);
}

function trackOf({
  passes,
  bands: found,
  columns,
  layout,
  bySections,
  planter,
  believedCenterM,
}: Fitted): MachineTrack {
  const bands = { ...found, middleM: middlesBySection(passes, found, columns.section) };
  return {
    passes,
    bands,
    layout,
    rows: findRows(passes, bands, layout, believedCenterM),
    sections: bySections ? planter.sections : null,
    drawer: (b, emit) => quadsOf(passes, b, emit),
  };
}

/** The pieces as output records, each with its own ground. */
function layOut(
  { records, machines, report, input, by, at }: Work,
  { pieces, days, gone, drawn, fine, recordM2, pieceM2, unionM2 }: Drawing,
): { all: Output[]; leftM2: number; unionM2: number } {
  const finePlane = planeFor(fine, extentOf(drawn));
  const group = groupsOf(pieces, by);
  const take = (of: Shapes, groups: Uint32Array, progress?: (done: number) => void) =>
    remain(of, groups, finePlane.density, finePlane.stepsPerMeter, progress);
  const rest = take(drawn, group, at('removing ground covered before'));
  const agrees = report.verdict === 'agrees';
  const asItWas = gone.length === 0 && pieces.every((p) => p.keeps >= 0);
  const noiseM =
    by === 'section' && (agrees || asItWas) ? noiseWidthM(input.passAccuracyM ?? DEFAULT_ACCURACY_M, agrees) : 0;
  const uncut = (g: number): boolean =>
    noiseM > 0 && pieces[g].keeps >= 0 && isNoise(pieceM2[g] - rest.addsM2[g], pieceM2[g], rest.buriedM[g], noiseM);
  const taken = replacedM2(pieces, days, group, drawn, pieceM2, rest.addsM2, (of, g) => take(of, g).addsM2);
  const all = outputsOf(
    pieces,
    group,
    { recordM2, pieceM2, addsM2: rest.addsM2, replacedM2: taken, rings: rest.rings },
    (r) => isSimple(records.shapes, r, recordM2[r], machines[0].plane.density),
    uncut,
  );
  const leftM2 = pieces.reduce((m2, _, g) => m2 + (noiseM > 0 && uncut(g) ? pieceM2[g] - rest.addsM2[g] : 0), 0);
  return { all, leftM2, unionM2 };
}

/** The map's own columns for the output records, with rates corrected on request. */
function carryColumns(
  { records, machines, input }: Work,
  { passes, bands, machineOf, pieces, recordM2, pieceM2 }: Drawing,
  outputs: readonly Output[],
  notes: Note[],
): { carried: Layer['columns']; ratesCorrected: string[] } {
  const [{ columns }] = machines;
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
    pieceM2,
    outputs,
    workingM: (pass) => machines[machineOf[pass]?.machine ?? 0].layout.workingWidthM,
    rateFactor: input.correctRate ? barFactors(passes.bars, pieces, recordM2, pieceM2) : null,
    note(sentence) {
      notes.push({
        code: 'column-kept',
        sentence,
        place: { file: records.source },
        todo: 'Correct it by hand where it matters.',
      });
    },
  });
  return { carried, ratesCorrected };
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

/** A record whose rings add up to its area does not cross itself, and stays unchanged. */
function isSimple(shapes: Shapes, r: number, m2: number, density: Fitted['plane']['density']): boolean {
  return Math.abs(sum(areaOf(polygonsOf(shapes, r), density)) - m2) <= 1e-9 * m2;
}

/** Recorded area over redrawn area of each bar: the seeds counted over the recorded area were planted on the redrawn one. */
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

const sum = (v: Float64Array): number => v.reduce((a, b) => a + b, 0);
