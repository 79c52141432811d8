import { clean } from '../shared/safe.ts';

/** Text that is already markup and is inserted unchanged. Everything else that goes into `markup` is escaped. */
export class Markup {
  readonly text: string;
  constructor(text: string) {
    this.text = text;
  }
}

type Piece = Markup | string | number | null | readonly Piece[];

/** HTML or SVG with every value in it escaped, in text and in quoted attributes; `null` is nothing, lists are joined. */
export function markup(parts: TemplateStringsArray, ...values: Piece[]): Markup {
  let out = parts[0];
  values.forEach((v, i) => {
    out += written(v) + parts[i + 1];
  });
  return new Markup(out);
}

function written(v: Piece): string {
  if (v === null) return '';
  if (v instanceof Markup) return v.text;
  if (typeof v === 'number') return place(v);
  if (typeof v === 'string') return escaped(v);
  return v.map(written).join('');
}

const SIGNS: Readonly<Record<string, string>> = { '&': '&amp;', '<': '&lt;', '>': '&gt;', '"': '&quot;', "'": '&#39;' };

function escaped(text: string): string {
  return clean(text).replace(/[&<>"']/g, (c) => SIGNS[c]);
}

/** A place on paper to a tenth of a pixel, never "-0". */
export function place(v: number): string {
  const t = `${Math.round(v * 10) / 10}`;
  return t === '-0' ? '0' : t;
}
