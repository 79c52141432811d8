import { runName } from '../planter/index.ts';
import type { Planter } from '../planter/types.ts';
import { cell } from '../shared/safe.ts';
import type { Done, Piece } from './bars.ts';
import type { Output } from './outputs.ts';

/** One line of the change log: an output record, or a record that has none. Records are counted from 1. */
export interface Change {
  /** Number of the output record, null for what was removed. */
  output: number | null;
  done: Done;
  why: string;
  /** Records of the map that it comes from. */
  from: string;
  pass: number | null;
  section: string | null;
  /** The planter of its pass. */
  planter: string | null;
  /** Across travel, meters. */
  wasWidthM: number | null;
  widthM: number | null;
  /** Area before, cut away as planted before, and after, m²; and after less before. */
  inM2: number;
  cutM2: number;
  outM2: number;
  differenceM2: number;
}

/** The log of all outputs and of the records without one. `planterOf` is the planter of a pass (0-based); `numberOf` gives a record's number in the file. */
export function changesOf(
  all: readonly Output[],
  list: readonly Output[],
  pieces: readonly Piece[],
  gone: readonly { record: number; why: string }[],
  recordM2: Float64Array,
  planterOf: (pass: number) => Planter,
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
      section: one && p.section >= 0 ? runName(planterOf(p.pass).sections[p.section]) : null,
      planter: p.pass < 0 ? null : planterOf(p.pass).name,
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
      planter: null,
      wasWidthM: null,
      widthM: null,
      inM2: recordM2[record],
      cutM2: 0,
      outM2: 0,
      differenceM2: -recordM2[record],
    });
  return out;
}

const HEAD =
  'output,done,why,from,pass,section,planter,width_before_m,width_m,area_before_m2,cut_m2,area_m2,difference_m2';

/** The log as CSV (RFC 4180), one line a change, areas with all their digits so that they sum. */
export function* changeCsv(changes: readonly Change[]): Generator<string> {
  yield `${HEAD}\r\n`;
  for (const c of changes)
    yield `${[c.output, c.done, c.why, c.from, c.pass, c.section, c.planter, rounded(c.wasWidthM), rounded(c.widthM), c.inM2, c.cutM2, c.outM2, c.differenceM2].map(cellOf).join(',')}\r\n`;
}

/** The log as JSON: `about` first, then the changes. */
export function* changeJson(about: object, changes: readonly Change[]): Generator<string> {
  yield `${JSON.stringify({ log: 'guessrow-rebuild/1', ...about }, null, 2).slice(0, -2)},\n  "changes": [`;
  let first = true;
  for (const c of changes) {
    yield `${first ? '' : ','}\n    ${JSON.stringify({ ...c, wasWidthM: rounded(c.wasWidthM), widthM: rounded(c.widthM) })}`;
    first = false;
  }
  yield '\n  ]\n}\n';
}

const rounded = (v: number | null): number | null => (v === null ? null : Number(v.toFixed(4)));

const cellOf = (v: string | number | null): string => (typeof v === 'string' ? cell(v) : v === null ? '' : String(v));

/** Record numbers (0-based in, from 1 out) as "1-4,9". */
export function recordsText(records: readonly number[], numberOf: (r: number) => number): string {
  const n = records.map(numberOf);
  if (n.length < 3) return n.join(',');
  n.sort((a, b) => a - b);
  const out: string[] = [];
  for (let i = 0; i < n.length; ) {
    let k = i;
    while (k + 1 < n.length && n[k + 1] === n[k] + 1) k++;
    out.push(k === i ? `${n[i]}` : `${n[i]}-${n[k]}`);
    i = k + 1;
  }
  return out.join(',');
}
