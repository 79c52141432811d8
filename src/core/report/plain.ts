import { clean } from '../shared/safe.ts';

/** Widest line of any text report. */
export const TEXT_WIDTH = 100;

/** Marks up a piece of text for a terminal; each leaves the text as it is when there are no colors. */
export interface Paint {
  bold(s: string): string;
  dim(s: string): string;
  red(s: string): string;
  green(s: string): string;
  yellow(s: string): string;
}

const same = (s: string): string => s;
export const NO_PAINT: Paint = { bold: same, dim: same, red: same, green: same, yellow: same };

// Unsafe characters in the text of a JSON document: JSON.stringify escapes C0 itself; the others can occur only inside strings.
const UNSAFE_IN_JSON = /[\u007F-\u009F\u00AD\u061C\u200B-\u200F\u2028-\u202E\u2060-\u206F\uFEFF\uFFF9-\uFFFB]/g;

/** `value` as JSON (RFC 8259) that is safe to print: characters that act on a terminal or are invisible are written as escapes and read back unchanged. */
export function jsonText(value: unknown, indent?: number): string {
  return JSON.stringify(value, null, indent).replace(
    UNSAFE_IN_JSON,
    (c) => `\\u${c.charCodeAt(0).toString(16).padStart(4, '0')}`,
  );
}

/** `text` on lines of at most `width` columns, later lines indented by `indent`. Words longer than a line are cut. */
export function wrap(text: string, width = TEXT_WIDTH, first = '', indent = first): string[] {
  const out: string[] = [];
  let line = first;
  let empty = true;
  for (const word of clean(text)
    .split(' ')
    .filter((w) => w !== '')) {
    let rest = word;
    if (!empty && columns(line) + 1 + columns(rest) > width) {
      out.push(line);
      line = indent;
      empty = true;
    }
    while (columns(line) + columns(rest) > width) {
      const room = width - columns(line);
      out.push(line + [...rest].slice(0, room).join(''));
      rest = [...rest].slice(room).join('');
      line = indent;
    }
    line += (empty ? '' : ' ') + rest;
    empty = false;
  }
  if (!empty || out.length === 0) out.push(line.trimEnd());
  return out;
}

/** Columns that `s` takes on a terminal, counting every character as one (wide scripts are under-counted). */
export function columns(s: string): number {
  return [...s].length;
}

export function padEnd(s: string, width: number): string {
  return s + ' '.repeat(Math.max(0, width - columns(s)));
}

export function padStart(s: string, width: number): string {
  return ' '.repeat(Math.max(0, width - columns(s))) + s;
}

/** Cut to `width` columns, with an ellipsis where something was cut. */
export function clip(s: string, width: number): string {
  const c = clean(s);
  return columns(c) <= width ? c : `${[...c].slice(0, width - 1).join('')}…`;
}

/** Rows of cells as aligned lines, two blanks between columns; `right` names the columns that are set to the right. */
export function table(rows: readonly (readonly string[])[], indent = '', right: readonly number[] = []): string[] {
  const widths: number[] = [];
  for (const row of rows)
    row.forEach((cell, i) => {
      widths[i] = Math.max(widths[i] ?? 0, columns(cell));
    });
  return rows.map((row) =>
    (
      indent +
      row.map((cell, i) => (right.includes(i) ? padStart(cell, widths[i]) : padEnd(cell, widths[i]))).join('  ')
    ).trimEnd(),
  );
}
