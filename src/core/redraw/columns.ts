import { median } from '../geometry/stats.ts';
import type { Column } from '../intake/types.ts';
import type { RecordedBands } from '../observe/types.ts';
import { FOOT_M, INCH_M } from '../planter/units.ts';
import type { Columns } from '../track/columns/index.ts';
import type { Passes } from '../track/types.ts';
import { areaColumns, rateColumns } from './amounts.ts';
import type { Piece } from './bars.ts';
import type { Output } from './outputs.ts';

interface ColumnInput {
  columns: readonly Column[];
  found: Columns;
  passes: Passes;
  bands: RecordedBands;
  pieces: readonly Piece[];
  /** Area of each record of the map, m². */
  recordM2: Float64Array;
  /** Area of each piece as drawn, before anything is cut, m². */
  pieceM2: Float64Array;
  outputs: readonly Output[];
  /** Declared working width of the planter of a pass (0-based), meters. */
  workingM(pass: number): number;
  /** Factor of the rate of each bar, recorded area over area as it should have been; null: rates stay. */
  rateFactor: Float64Array | null;
  /** Reports what was not corrected. */
  note(sentence: string): void;
}

/**
 * The columns of the map, one row for each output record: those of its first source; section numbers, widths and areas as they should have been, rates
 * where asked. A column that changes leaves its old values in `was_NAME`. In dissolved records a value that differs along the pass is left empty, save rates (mean by area) and
 * the time (its first).
 */
export function putColumnsRight(input: ColumnInput): Column[] {
  const { columns, found, outputs, pieces } = input;
  const out: Column[] = [];
  const rates = new Set(input.rateFactor ? rateColumns(columns, found, input.recordM2) : []);
  const means = new Set(rateColumns(columns, found, input.recordM2));
  // The rate is recognized by name only, and may be a count.
  const roles = new Set(Object.entries(found.roles).flatMap(([role, r]) => (role === 'rate' ? [] : [r.name])));
  const areas = areaColumns(
    columns.filter((c) => !roles.has(c.name) && !means.has(c.name)),
    input.recordM2,
  );
  sayStale(input, areas.stale);
  for (const c of columns) {
    const old = c.kind === 'number' ? numbers(input, c, means.has(c.name)) : words(input, c);
    let now: Column | null = null;
    if (c.name === found.roles.section?.name) now = sections(input, c, old);
    else if (c.name === found.roles.width?.name && c.kind === 'number') now = widths(input, c, old);
    else if (rates.has(c.name) && c.kind === 'number' && old.kind === 'number') {
      const factor = input.rateFactor!;
      const values = old.values.map((v, i) => {
        const list = outputs[i].pieces;
        if (list.every((k) => pieces[k].bar < 0)) return v;
        return meanByArea(input, c, list, (k) => (pieces[k].bar < 0 ? 1 : factor[pieces[k].bar]));
      });
      now = { name: c.name, kind: 'number', values };
    }
    const area = areas.columns.find((a) => a.name === c.name);
    if (area && old.kind === 'number') {
      const values = old.values.map((v, i) => (isAsItWas(outputs[i]) ? v : tidy(outputs[i].outM2 / area.unitM2, 7)));
      now = { name: c.name, kind: 'number', values };
    }
    out.push(now ?? old);
    if (now && differs(now, old)) out.push({ ...old, name: `was_${c.name}` });
  }
  return out;
}

const isAsItWas = ({ done, pieces }: Output): boolean => done === 'kept' && pieces.length === 1;

/** Amounts that cannot be corrected from the values are carried over, and reported as such. */
function sayStale({ outputs, note }: ColumnInput, names: readonly string[]): void {
  if (names.length === 0 || outputs.every(isAsItWas)) return;
  const list = names.map((n) => `"${n}"`).join(', ');
  note(
    `${names.length === 1 ? `Column ${list} holds an amount` : `Columns ${list} hold amounts`} for each record as it was recorded, carried over as ${names.length === 1 ? 'it was' : 'they were'}: where records changed, ${names.length === 1 ? 'it is' : 'they are'} out of date, and sums over the rebuilt map may be wrong.`,
  );
}

const tidy = (v: number, digits: number): number => (Number.isFinite(v) ? Number(v.toPrecision(digits)) : v);

function differs(a: Column, b: Column): boolean {
  if (a.kind === 'number' && b.kind === 'number')
    return a.values.some((v, i) => v !== b.values[i] && !(Number.isNaN(v) && Number.isNaN(b.values[i])));
  if (a.kind === 'text' && b.kind === 'text') return a.codes.some((v, i) => a.words[v] !== b.words[b.codes[i]]);
  return true;
}

function numbers(input: ColumnInput, c: Column & { kind: 'number' }, mean: boolean): Column & { kind: 'number' } {
  const { outputs, found } = input;
  const values = Float64Array.from(outputs, ({ sources, pieces: list }) => {
    const first = c.values[sources[0]];
    if (list.length === 1 || sources.every((r) => Object.is(c.values[r], first))) return first;
    if (found.timeNames.includes(c.name)) return first;
    return mean ? meanByArea(input, c, list, () => 1) : Number.NaN;
  });
  return { ...c, values };
}

/** Mean by area of what the first sources of the pieces `list` hold, each times its factor; NaN where none holds anything. */
function meanByArea(
  { pieces, pieceM2 }: ColumnInput,
  c: Column & { kind: 'number' },
  list: readonly number[],
  factor: (piece: number) => number,
): number {
  let sum = 0;
  let weight = 0;
  for (const k of list) {
    const v = c.values[pieces[k].sources[0]];
    const w = pieceM2[k];
    if (Number.isNaN(v) || !(w > 0)) continue;
    sum += v * factor(k) * w;
    weight += w;
  }
  return weight > 0 ? tidy(sum / weight, 7) : Number.NaN;
}

function words({ outputs, found }: ColumnInput, c: Column & { kind: 'text' }): Column & { kind: 'text' } {
  const codes = Uint32Array.from(outputs, ({ sources, pieces: list }) => {
    const first = c.codes[sources[0]];
    if (list.length === 1 || found.timeNames.includes(c.name) || sources.every((r) => c.codes[r] === first))
      return first;
    return 0;
  });
  return { ...c, codes };
}

/** Section numbers counted as the map counted them: its first section may be 0 or 1, or a word that ends in a number. */
function sections(input: ColumnInput, c: Column, old: Column): Column | null {
  const { passes, bands, pieces, outputs } = input;
  const label = (r: number): string => (c.kind === 'number' ? String(c.values[r]) : c.words[c.codes[r]]);
  const counted = (pairs: Iterable<readonly [record: number, section: number]>): string | null => {
    const schemes = new Map<string, number>();
    let seen = 0;
    for (const [r, section] of pairs) {
      if (section < 0) continue;
      seen++;
      const m = /^(\D*)(\d+)$/.exec(label(r));
      if (!m) continue;
      const key = `${m[1]}\n${Number(m[2]) - section}`;
      schemes.set(key, (schemes.get(key) ?? 0) + 1);
    }
    const best = [...schemes].sort((a, b) => b[1] - a[1])[0];
    return best && best[1] >= 0.9 * seen ? best[0] : null;
  };
  function* asRecorded(): Generator<[number, number]> {
    for (let i = 0; i < passes.barQuad.length; i++) yield [passes.quads.record[passes.barQuad[i]], bands.slot[i]];
  }
  function* asDeclared(): Generator<[number, number]> {
    for (const p of pieces) if (p.done !== 'added') yield [p.sources[0], p.section];
  }
  // Where a strip stays empty, the recorded bands are fewer than the sections, and only the declared ones count on past it.
  const best = counted(asRecorded()) ?? counted(asDeclared());
  const changed = outputs.some((o) => pieces[o.pieces[0]].keeps < 0);
  if (best === null) {
    if (changed && c.name)
      input.note(
        `Column "${c.name}" does not number sections from the left, so its values were carried over as they were.`,
      );
    return null;
  }
  const [prefix, base] = best.split('\n');
  const right = outputs.map((o, i) => {
    const { section, keeps } = pieces[o.pieces[0]];
    if (o.pieces.length > 1 || section < 0 || keeps >= 0)
      return old.kind === 'number' ? String(old.values[i]) : old.words[old.codes[i]];
    return `${prefix}${section + Number(base)}`;
  });
  if (old.kind === 'number') return { name: c.name, kind: 'number', values: Float64Array.from(right, Number) };
  const codes = new Map<string, number>([['', 0]]);
  const list = Uint32Array.from(right, (w) => {
    if (!codes.has(w)) codes.set(w, codes.size);
    return codes.get(w)!;
  });
  return { name: c.name, kind: 'text', codes: list, words: [...codes.keys()] };
}

/** Widths of the record, of the whole bar, or the working width throughout, whichever the column held. */
function widths(input: ColumnInput, c: Column & { kind: 'number' }, old: Column): Column | null {
  const { passes, bands, pieces, outputs, found, workingM } = input;
  const { barStart, leftM, rightM, barQuad, quads } = passes;
  const perUnit = UNITS[found.roles.width?.unit ?? ''];
  if (old.kind !== 'number' || perUnit === undefined) return null;
  const off: [number[], number[], number[]] = [[], [], []];
  for (let b = 0; b < passes.bars; b++) {
    const bar = rightM[barStart[b + 1] - 1] - leftM[barStart[b]];
    const full = bands.segments[bands.segment[b]]?.widthM ?? bar;
    for (let i = barStart[b]; i < barStart[b + 1]; i++) {
      const v = c.values[quads.record[barQuad[i]]] * perUnit;
      if (!(v > 0)) continue;
      [rightM[i] - leftM[i], bar, full].forEach((w, k) => {
        off[k].push(Math.abs(w / v - 1));
      });
    }
  }
  // In full bars the bar is as wide as the layout; the mean over all bars distinguishes the two.
  const mean = off.map((v) => v.reduce((a, x) => a + Math.min(x, 1), 0) / v.length + 1e-3 * median(v));
  const kind = mean.indexOf(Math.min(...mean));
  const barM = new Map<number, number>();
  for (const p of pieces) if (p.bar >= 0) barM.set(p.bar, (barM.get(p.bar) ?? 0) + p.widthM);
  const values = Float64Array.from(outputs, (o, i) => {
    const p = pieces[o.pieces[0]];
    if (o.pieces.length > 1) {
      // A record of a pass is as wide as its bars, where all are.
      const all = o.pieces.map((k) =>
        kind === 2 ? workingM(pieces[k].pass) : (barM.get(pieces[k].bar) ?? Number.NaN),
      );
      const even = Math.max(...all) - Math.min(...all) < 0.01;
      return even ? Number((median(all) / perUnit).toFixed(4)) : Number.NaN;
    }
    if (p.keeps >= 0) return old.values[i];
    const m = kind === 0 ? p.widthM : kind === 1 ? barM.get(p.bar)! : workingM(p.pass);
    return Number((m / perUnit).toFixed(4));
  });
  return { name: c.name, kind: 'number', values };
}

const UNITS: Readonly<Record<string, number>> = { m: 1, ft: FOOT_M, in: INCH_M, cm: 0.01, mm: 0.001 };
