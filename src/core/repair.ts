import type { Report } from './answer.ts';
import { type CheckInput, checkRecords, DEFAULT_ACCURACY_M, type Fitted, fitMap, type Hooks } from './check.ts';
import { areaOf, measure, remain } from './coverage/index.ts';
import type { Layer } from './formats/layer.ts';
import type { Lattice, Shapes } from './geometry/shapes.ts';
import { read } from './intake/index.ts';
import type { Column, RecordSet } from './intake/types.ts';
import { type Note, UserError } from './messages.ts';
import { extentOf, finerLattice, planeFor } from './plane/index.ts';
import { quadsOf, toQuads } from './planted/index.ts';
import { layoutOf, plantingOf, runName } from './planter/index.ts';
import type { PlantedLayout, Planter } from './planter/types.ts';
import {
  type Change,
  groupsOf,
  layShapes,
  type Output,
  outputs as outputsOf,
  type Piece,
  putColumnsRight,
  rateColumns,
  redraw,
} from './rebuild/index.ts';
import { recordsText } from './rebuild/log.ts';
import { polygonsOf } from './rebuild/outputs.ts';

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
  notes: Note[];
}

/** Edges of a bar within this are the same, metres, on any lattice; on coarse ones a step and a half. No two layouts are so close over a whole bar. */
const SAME_M = 0.02;
/** Narrower overlaps are positioning noise, metres: the least that a seam diagnosis takes. */
const SEAM_M = 0.05;
/** Less than this is rounding, not ground, m². */
const NOTHING_M2 = 1e-9;
/** Says with which planter a record was rebuilt. */
const MARK = 'gr_layout';

/** The map as it should have been. Throws `UserError` when it cannot be worked with, or not be told what was planted. */
export async function rebuild(input: RebuildInput, hooks: Hooks = {}): Promise<Rebuilt> {
  if (input.planting !== undefined) plantingOf(input.planter, input.planting);
  const { layer, limits = {} } = input;
  const records = await read(input.map, layer === undefined ? { limits } : { limits, layer }, (done) =>
    hooks.progress?.('reading the map', done),
  );
  return rebuildRecords(records, input, hooks);
}

/** Everything after the reading. */
export function rebuildRecords(records: RecordSet, input: Omit<RebuildInput, 'map'>, hooks: Hooks = {}): Rebuilt {
  const by = input.by ?? 'section';
  const again = rebuiltBefore(records, input, by);
  if (again) return again;
  const fitted = fitMap(records, input, hooks);
  refuseGrain(records, fitted.grain);
  const { report } = checkRecords(records, input, hooks, null, fitted);
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
  const drawn = layShapes(pieces, shapes, lattice, toQuads(metres, plane, fine), fine);
  const finePlane = planeFor(fine, extentOf(drawn));
  at('redrawing bars')(1);

  const group = groupsOf(pieces, by);
  const recordM2 = measure(shapes, plane.density, at('measuring the map')).areaM2;
  const alone = measure(drawn, finePlane.density, at('measuring the new map'));
  const rest = remain(drawn, group, finePlane.density, finePlane.stepsPerMetre, at('taking covered ground off'));
  const agrees = report.verdict === 'agrees';
  const asItWas = gone.length === 0 && pieces.every((p) => p.keeps >= 0);
  const noiseM = by === 'section' && (agrees || asItWas) ? noiseWidthM(input.passAccuracyM, agrees) : 0;
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
  const ratesCorrected = input.correctRate ? rateColumns(records.columns, columns) : [];
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
    notes,
  };
}

/**
 * Overlaps up to this are positioning noise, metres. Where the map agrees, seams are right as a whole, and single bars stray: two passes that each
 * stray by the accuracy (standard deviation) meet within sqrt(2) of it, and the widest of 100,000 bars strays 4.3 times that (normal
 * distribution), six times the accuracy. In other maps only what no seam diagnosis would take up is noise.
 */
function noiseWidthM(accuracyM = DEFAULT_ACCURACY_M, agrees: boolean): number {
  return Math.max(SEAM_M, (agrees ? 6 : 2) * accuracyM);
}

/**
 * Whether a record reaches over earlier ground by no more than a strip `widthM` wide, and by less than half of itself. `cutM2` is what it shares,
 * `buriedM` the length of its boundary on that ground: the long side of the strip and one short one, the other being the last record's.
 */
function isNoise(cutM2: number, ownM2: number, buriedM: number, widthM: number): boolean {
  if (cutM2 < NOTHING_M2) return true;
  const stripM = (buriedM - Math.sqrt(Math.max(0, buriedM ** 2 - 4 * cutM2))) / 2;
  return cutM2 < ownM2 / 2 && stripM <= widthM;
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

function changesOf(
  all: readonly Output[],
  list: readonly Output[],
  pieces: readonly Piece[],
  gone: readonly { record: number; why: string }[],
  recordM2: Float64Array,
  planter: Planter,
  numberOf: (r: number) => number,
): Change[] {
  const number = new Map(list.map((o, i) => [o, i + 1]));
  const out: Change[] = all.map((o) => {
    const p = pieces[o.pieces[0]];
    const one = o.pieces.length === 1;
    return {
      output: number.get(o) ?? null,
      done: o.done,
      why: o.why,
      from: recordsText(o.sources, numberOf),
      pass: p.pass < 0 ? null : p.pass + 1,
      section: one && p.section >= 0 ? runName(planter.sections[p.section]) : null,
      wasWidthM: one && !Number.isNaN(p.wasM) ? p.wasM : null,
      widthM: one && !Number.isNaN(p.widthM) ? p.widthM : null,
      inM2: o.inM2,
      cutM2: o.cutM2,
      outM2: o.outM2,
      differenceM2: o.outM2 - o.inM2,
    };
  });
  for (const { record, why } of gone)
    out.push({
      output: null,
      done: 'removed',
      why,
      from: String(numberOf(record)),
      pass: null,
      section: null,
      wasWidthM: null,
      widthM: null,
      inM2: recordM2[record],
      cutM2: 0,
      outM2: 0,
      differenceM2: -recordM2[record],
    });
  return out;
}

const OWN = new Set(['gr_done', 'gr_from', 'gr_pass', 'gr_section', 'gr_width_m', 'gr_area_m2', 'gr_cut_m2', MARK]);

function ownColumns(
  list: readonly Output[],
  pieces: readonly Piece[],
  numberOf: (r: number) => number,
  mark: string,
): Column[] {
  const first = (o: Output): Piece => pieces[o.pieces[0]];
  const one = (o: Output, v: number): number => (o.pieces.length === 1 ? v : Number.NaN);
  const number = (name: string, of: (o: Output) => number): Column => ({
    name,
    kind: 'number',
    values: Float64Array.from(list, of),
  });
  return [
    texts(
      'gr_done',
      list.map((o) => o.done),
    ),
    texts(
      'gr_from',
      list.map((o) => recordsText(o.sources, numberOf)),
    ),
    number('gr_pass', (o) => (first(o).pass < 0 ? Number.NaN : first(o).pass + 1)),
    number('gr_section', (o) => one(o, first(o).section < 0 ? Number.NaN : first(o).section + 1)),
    number('gr_width_m', (o) => one(o, Number(first(o).widthM.toFixed(4)))),
    number('gr_area_m2', (o) => Number(o.outM2.toFixed(6))),
    number('gr_cut_m2', (o) => Number(o.cutM2.toFixed(6))),
    texts(
      MARK,
      list.map(() => mark),
    ),
  ];
}

function texts(name: string, values: readonly string[]): Column {
  const codes = new Map<string, number>([['', 0]]);
  const list = Uint32Array.from(values, (v) => {
    let c = codes.get(v);
    if (c === undefined) {
      c = codes.size;
      codes.set(v, c);
    }
    return c;
  });
  return { name, kind: 'text', codes: list, words: [...codes.keys()] };
}

/** Name of the planting, the grain and a digest (FNV-1a, 32 bits) of rows and section bands. */
function markOf(planter: Planter, layout: PlantedLayout, by: string): string {
  const text = JSON.stringify([layout.rowBands, planter.sections]);
  let h = 0x811c9dc5;
  for (let i = 0; i < text.length; i++) h = Math.imul(h ^ text.charCodeAt(i), 0x01000193);
  return `${layout.planting} by ${by} ${(h >>> 0).toString(16).padStart(8, '0')}`;
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
      ...layerGeometry(Array.from({ length: n }, (_, r) => ({ p: polygonsOf(shapes, r), lattice }))),
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
    notes: records.notes,
  };
}

type Drawn = { p: ReturnType<typeof polygonsOf>; lattice: Lattice };

function geometryOf(
  list: readonly Output[],
  pieces: readonly Piece[],
  shapes: Shapes,
  lattice: Lattice,
  drawn: Shapes,
  fine: Lattice,
): Pick<Layer, 'lonLat' | 'ringStart' | 'polygonStart' | 'recordStart'> {
  return layerGeometry(
    list.map((o): Drawn => {
      if (o.rings) return { p: o.rings, lattice: fine };
      const p = pieces[o.pieces[0]];
      return p.keeps >= 0
        ? { p: polygonsOf(shapes, p.keeps), lattice }
        : { p: polygonsOf(drawn, o.pieces[0]), lattice: fine };
    }),
  );
}

/** Degrees. Whole steps of a decimal lattice divide to the very double that the file's digits are read as. */
function layerGeometry(list: readonly Drawn[]): Pick<Layer, 'lonLat' | 'ringStart' | 'polygonStart' | 'recordStart'> {
  const lonLat: number[] = [];
  const ringStart = [0];
  const polygonStart = [0];
  const recordStart = [0];
  for (const { p, lattice } of list) {
    const { stepsPerDegree: s, originX, originY } = lattice;
    // A record that lies beyond the antimeridian as a whole comes back to this side; one that crosses it goes on past 180.
    let west = Infinity;
    let east = -Infinity;
    for (let i = 0; i < p.xy.length; i += 2) {
      west = Math.min(west, p.xy[i]);
      east = Math.max(east, p.xy[i]);
    }
    const turn = originX + west >= 180 * s ? -360 * s : originX + east <= -180 * s ? 360 * s : 0;
    for (let g = 0; g + 1 < p.polygonStart.length; g++) {
      for (let r = p.polygonStart[g]; r < p.polygonStart[g + 1]; r++) {
        for (let k = p.ringStart[r]; k < p.ringStart[r + 1]; k++)
          lonLat.push((originX + turn + p.xy[2 * k]) / s, (originY + p.xy[2 * k + 1]) / s);
        ringStart.push(lonLat.length / 2);
      }
      polygonStart.push(ringStart.length - 1);
    }
    recordStart.push(polygonStart.length - 1);
  }
  return {
    lonLat: Float64Array.from(lonLat),
    ringStart: Uint32Array.from(ringStart),
    polygonStart: Uint32Array.from(polygonStart),
    recordStart: Uint32Array.from(recordStart),
  };
}

const sum = (v: Float64Array): number => v.reduce((a, b) => a + b, 0);
