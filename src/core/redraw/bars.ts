import type { Lattice, Shapes } from '../geometry/shapes.ts';
import type { RecordedBands } from '../observe/types.ts';
import type { PlantedRows } from '../planted/index.ts';
import type { PlantedLayout, RowRun } from '../planter/types.ts';
import type { Passes } from '../track/types.ts';

/** `replaced`: planted again on a later day, and without ground of its own since. */
export type Done = 'kept' | 'widened' | 'narrowed' | 'moved' | 'cut' | 'added' | 'removed' | 'replaced';

/** One polygon of the map as it should have been, before ground already covered is taken off. */
export interface Piece {
  /** Bar and pass (0-based), -1 where it has none; declared section (0-based), -1 where it is not known. */
  bar: number;
  pass: number;
  section: number;
  /** Records (0-based) that it comes from, the one that gives the attributes first; and its share of each one's area. */
  sources: number[];
  shares: number[];
  /** The record whose polygon it keeps, or -1 where it is redrawn: the next eight numbers of `meters`. */
  keeps: number;
  done: Done;
  why: string;
  /** Across travel, as drawn and as its first source was recorded, meters; NaN where there is no bar. */
  widthM: number;
  wasM: number;
}

export interface Redrawn {
  /** In planting order, until `newestFirst`. */
  pieces: Piece[];
  /** Corners of the redrawn pieces, meters, eight numbers each. */
  meters: number[];
  /** Records without a place in the new map. */
  gone: { record: number; why: string }[];
}

interface RedrawInput {
  records: number;
  /** Every pass of the map, in planting order. */
  passes: Passes;
  /** Each machine's own passes, and which of them every pass is. */
  machines: readonly MachineTrack[];
  machineOf: readonly PassOf[];
  /** Two edges within this are the same, meters. */
  toleranceM: number;
  /** Time of each record, or null. */
  timeMs: Float64Array | null;
}

/** The passes of one machine, and what its planter had in the ground. */
export interface MachineTrack {
  passes: Passes;
  bands: RecordedBands;
  layout: PlantedLayout;
  rows: PlantedRows;
  /** Declared sections, for a map that shows sections; null where a bar is one record, or none are declared. */
  sections: readonly RowRun[] | null;
  /** Draws bands of a bar: see `quadsOf` of the planted picture. */
  drawer(bar: number, emit: (corners: number[]) => void): (leftM: number, rightM: number) => void;
}

/** A machine, and the number (0-based) of one of its passes among them. */
export interface PassOf {
  machine: number;
  pass: number;
}

type BarInput = MachineTrack & { toleranceM: number };

interface Strip {
  leftM: number;
  rightM: number;
  section: number;
}

/** Every bar with the bands that the planter had, in planting order. Nothing is cut yet. */
export function redraw(input: RedrawInput): Redrawn {
  const { passes } = input;
  const out: Redrawn = { pieces: [], meters: [], gone: [] };
  const inBar = new Uint8Array(input.records);
  for (const q of passes.barQuad) inBar[passes.quads.record[q]] = 1;
  passes.quads.repeated.forEach((r, i) => {
    inBar[r] = 1;
    out.gone.push({ record: r, why: `repeats record ${passes.quads.repeats[i] + 1}` });
  });
  const loose = looseRecords(input, inBar);
  for (const r of loose[0] ?? []) out.pieces.push(asRecorded(r));
  for (let p = 0; p + 1 < passes.passStart.length; p++) {
    redrawPass(input, out, p);
    for (const r of loose[p + 1] ?? []) out.pieces.push(asRecorded(r));
  }
  return out;
}

/** The bars of a pass, by the planter of its machine. */
function redrawPass({ passes, machines, machineOf, toleranceM }: RedrawInput, out: Redrawn, p: number): void {
  const { machine, pass } = machineOf[p];
  const own: BarInput = { ...machines[machine], toleranceM };
  const { passStart } = own.passes;
  const ahead = passes.passStart[p] - passStart[pass];
  for (let b = passStart[pass]; b < passStart[pass + 1]; b++) {
    const from = out.pieces.length;
    redrawBar(own, out, b, p);
    for (const piece of out.pieces.slice(from)) piece.bar = b + ahead;
  }
}

/** Records without a bar, after the pass during which they were logged: index 0 is before the first pass, p + 1 after pass p. */
function looseRecords({ records, passes, timeMs }: RedrawInput, inBar: Uint8Array): number[][] {
  const out: number[][] = [];
  const starts: number[] = [];
  for (let p = 0; p + 1 < passes.passStart.length; p++) {
    const b = passes.passStart[p];
    let first = Infinity;
    for (let i = passes.barStart[b]; i < passes.barStart[b + 1]; i++)
      first = Math.min(first, passes.quads.record[passes.barQuad[i]]);
    starts.push(timeMs ? passes.timeMs[b] : first);
  }
  for (let r = 0; r < records; r++) {
    if (inBar[r] === 1) continue;
    const key = timeMs ? timeMs[r] : r;
    let at = Number.isNaN(key) ? starts.length : 0;
    while (at < starts.length && starts[at] <= key) at++;
    out[at] ??= [];
    out[at].push(r);
  }
  return out;
}

const asRecorded = (r: number): Piece => ({
  bar: -1,
  pass: -1,
  section: -1,
  sources: [r],
  shares: [1],
  keeps: r,
  done: 'kept',
  why: 'lies in no pass, so its track is unknown',
  widthM: Number.NaN,
  wasM: Number.NaN,
});

/** Why a bar is kept where its rows are not known. */
export const NO_FRAME = 'nothing shows where the frame was';

/** One bar: kept where its rows are not known or it is as the planter has it, else redrawn. */
function redrawBar(input: BarInput, out: Redrawn, b: number, pass: number): void {
  const { passes, rows, toleranceM } = input;
  const { barStart, leftM, rightM, barQuad, quads } = passes;
  const from = barStart[b];
  const to = barStart[b + 1];
  /** Keeps each record of the bar once; one of several parts has no one section. */
  const keepAll = (sectionOf: (i: number) => number, why: string): void => {
    for (let i = from; i < to; i++) {
      const parts = partsOf(input, b, i);
      if (parts[0] !== i) continue;
      const widthM = rightM[i] - leftM[i];
      const r = quads.record[barQuad[i]];
      out.pieces.push({
        bar: b,
        pass,
        section: parts.length === 1 ? sectionOf(i) : -1,
        sources: [r],
        shares: [1],
        keeps: r,
        done: 'kept',
        why,
        widthM,
        wasM: widthM,
      });
    }
  };
  if (Number.isNaN(rows.centerM[b])) {
    keepAll(() => -1, NO_FRAME);
    return;
  }
  const strips = stripsOf(input, b);
  const found = agreement(input, b, strips, toleranceM);
  if (found) keepAll((i) => found[i - from], 'matches the planter');
  else drawStrips(input, out, b, pass, strips);
}

/** Places in bar b of the record that stands at place i: a record may have several parts. */
function partsOf({ passes: { barStart, barQuad, quads } }: BarInput, b: number, i: number): number[] {
  const out: number[] = [];
  for (let k = barStart[b]; k < barStart[b + 1]; k++)
    if (quads.record[barQuad[k]] === quads.record[barQuad[i]]) out.push(k);
  return out;
}

/** A piece for each strip, from the records that it meets; records that meet none are gone. */
function drawStrips(input: BarInput, out: Redrawn, b: number, pass: number, strips: readonly Strip[]): void {
  const { passes, toleranceM } = input;
  const { barStart, leftM, rightM, barQuad, quads } = passes;
  const from = barStart[b];
  const to = barStart[b + 1];
  const recordOf = (i: number): number => quads.record[barQuad[i]];
  const sameRecord = (i: number): number[] => partsOf(input, b, i);
  const draw = input.drawer(b, (corners) => out.meters.push(...corners));
  const overlap = (i: number, s: Strip): number =>
    Math.max(0, Math.min(rightM[i], s.rightM) - Math.max(leftM[i], s.leftM));
  const total = (i: number): number => strips.reduce((sum, s) => sum + overlap(i, s), 0);
  const used = (i: number): number => strips.reduce((sum, s) => sum + counted(overlap(i, s), total(i), toleranceM), 0);
  for (const s of strips) {
    const meets: { i: number; o: number }[] = [];
    for (let i = from; i < to; i++) {
      const o = overlap(i, s);
      // A neighbor that only reaches in by rounding is no source, unless it has no other piece.
      if (o > toleranceM || (o > 0 && o === total(i))) meets.push({ i, o });
    }
    meets.sort((a, c) => c.o - a.o || a.i - c.i);
    const shares = meets.map(({ i, o }) => o / sameRecord(i).reduce((sum, k) => sum + used(k), 0));
    const widthM = s.rightM - s.leftM;
    const wasM = meets.length > 0 ? rightM[meets[0].i] - leftM[meets[0].i] : 0;
    let sources = meets.map(({ i }) => recordOf(i));
    let done: Done = 'moved';
    if (sources.length === 0) {
      done = 'added';
      sources = [recordOf(nearest(from, to, (i) => Math.max(leftM[i] - s.rightM, s.leftM - rightM[i])))];
    } else if (widthM > wasM + toleranceM) done = 'widened';
    else if (widthM < wasM - toleranceM) done = 'narrowed';
    draw(s.leftM, s.rightM);
    out.pieces.push({
      bar: b,
      pass,
      section: s.section,
      sources,
      shares: shares.length > 0 ? shares : [0],
      keeps: -1,
      done,
      why: WHY[done],
      widthM,
      wasM,
    });
  }
  for (let i = from; i < to; i++)
    if (sameRecord(i)[0] === i && sameRecord(i).every((k) => used(k) === 0))
      out.gone.push({ record: recordOf(i), why: 'no planted row ran under it' });
}

/** Overlap that makes a record a source of a piece, 0 where it does not. */
const counted = (o: number, total: number, toleranceM: number): number => (o > toleranceM || o === total ? o : 0);

const WHY: Record<string, string> = {
  widened: 'recorded narrower than its planted rows reach',
  narrowed: 'recorded wider than its planted rows reach',
  moved: 'recorded beside its planted rows, or redrawn with the rest of its bar',
  added: 'planted rows ran where nothing was recorded',
};

function nearest(from: number, to: number, distance: (i: number) => number): number {
  let best = from;
  for (let i = from + 1; i < to; i++) if (distance(i) < distance(best)) best = i;
  return best;
}

/** Where the planted rows that ran reached, from the middle of the bar's records, left to right, cut at the declared sections. */
function stripsOf({ layout, rows, sections }: BarInput, b: number): Strip[] {
  const n = layout.rowBands.length;
  const out: Strip[] = [];
  let before = -2;
  for (let k = 0; k < n; k++) {
    if (rows.on[b * n + k] === 0) continue;
    const row = layout.rows[k];
    const section = sections ? sections.findIndex((s) => row >= s.first && row <= s.last) : -1;
    const { leftM, rightM } = layout.rowBands[k];
    const last = out[out.length - 1];
    if (last && before === k - 1 && last.section === section) last.rightM = rows.centerM[b] + rightM;
    else out.push({ leftM: rows.centerM[b] + leftM, rightM: rows.centerM[b] + rightM, section });
    before = k;
  }
  return out;
}

/** The section of each record of a bar that already lies as it should; null where any edge does not. */
function agreement({ passes, sections }: BarInput, b: number, strips: Strip[], toleranceM: number): number[] | null {
  const { barStart, leftM, rightM } = passes;
  const from = barStart[b];
  const to = barStart[b + 1];
  const same = (x: number, y: number): boolean => Math.abs(x - y) <= toleranceM;
  if (sections) {
    if (strips.length !== to - from) return null;
    for (let k = 0; k < strips.length; k++)
      if (!same(leftM[from + k], strips[k].leftM) || !same(rightM[from + k], strips[k].rightM)) return null;
    return strips.map((s) => s.section);
  }
  // Recorded sections with no declared counterpart: only their outer ends are compared with the rows.
  let k = 0;
  for (let i = from; i < to; k++) {
    if (k >= strips.length || !same(leftM[i], strips[k].leftM)) return null;
    while (i + 1 < to && same(rightM[i], leftM[i + 1])) i++;
    if (!same(rightM[i], strips[k].rightM)) return null;
    i++;
  }
  return k === strips.length ? new Array<number>(to - from).fill(-1) : null;
}

/** Kept polygons and drawn ones together on `lattice`, in the order of `pieces`; `drawn` holds the latter. */
export function layShapes(
  pieces: readonly Piece[],
  kept: Shapes,
  keptLattice: Lattice,
  drawn: Shapes,
  lattice: Lattice,
): Shapes {
  const factor = lattice.stepsPerDegree / keptLattice.stepsPerDegree;
  const xy: number[] = [];
  const ringStart = [0];
  const shapeStart = [0];
  let next = 0;
  for (const p of pieces) {
    if (p.keeps < 0) {
      for (let k = 8 * next; k < 8 * next + 8; k++) xy.push(drawn.xy[k]);
      next++;
      ringStart.push(xy.length / 2);
    } else {
      for (let r = kept.shapeStart[p.keeps]; r < kept.shapeStart[p.keeps + 1]; r++) {
        for (let k = 2 * kept.ringStart[r]; k < 2 * kept.ringStart[r + 1]; k++) xy.push(kept.xy[k] * factor);
        ringStart.push(xy.length / 2);
      }
    }
    shapeStart.push(ringStart.length - 1);
  }
  return { xy: Int32Array.from(xy), ringStart: Uint32Array.from(ringStart), shapeStart: Uint32Array.from(shapeStart) };
}
