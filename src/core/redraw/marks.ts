import type { Column } from '../intake/types.ts';
import type { PlantedLayout, Planter } from '../planter/types.ts';
import type { Piece } from './bars.ts';
import { recordsText } from './log.ts';
import type { Output } from './outputs.ts';

/** Marks with which planter a record was rebuilt. */
export const MARK = 'gr_layout';

/** Columns that a rebuilt map has besides its own. */
export const OWN = new Set([
  'gr_done',
  'gr_from',
  'gr_pass',
  'gr_section',
  'gr_width_m',
  'gr_area_m2',
  'gr_cut_m2',
  MARK,
]);

export function ownColumns(
  list: readonly Output[],
  pieces: readonly Piece[],
  numberOf: (r: number) => number,
  markOfPass: (pass: number) => string,
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
      list.map((o) => markOfPass(first(o).pass)),
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
export function markOf(planter: Planter, layout: PlantedLayout, by: string): string {
  const text = JSON.stringify([layout.rowBands, planter.sections]);
  let h = 0x811c9dc5;
  for (let i = 0; i < text.length; i++) h = Math.imul(h ^ text.charCodeAt(i), 0x01000193);
  return `${layout.planting} by ${by} ${(h >>> 0).toString(16).padStart(8, '0')}`;
}
