import type { Note } from '../shared/messages.ts';
import { type PackedStrings, StringTable } from './string-table.ts';
import type { Column, Declared } from './types.ts';

/**
 * One attribute column while the file is read. It begins without a kind, becomes numeric at the first number, and turns to text for good at
 * the first value that is not a number. Rows that are never set are missing: NaN, or code 0.
 */
export class ColumnBuilder {
  readonly name: string;
  kind: 'none' | 'number' | 'text' = 'none';
  /** The last text set by `word`, so that readers can compare it; 0 for none. */
  last = 0;
  /** The object that set it last, so that readers notice a key that comes twice. */
  seen = 0;
  /** Whether an integer had more digits than a double holds. */
  rounded = false;
  /** Whether a boolean occurred: with no other texts than 'true' and 'false' the column is boolean. */
  sawBoolean = false;
  private values = new Float64Array(0);
  private codes = new Uint32Array(0);
  private words: StringTable | null = null;
  /** Rows below this one may have been set. */
  private rows = 0;

  constructor(
    name: string,
    /** Rows that the file probably has. */
    private readonly expected: { rows: number } = { rows: 0 },
    /** The type of the values according to the file. */
    readonly declared?: Declared,
  ) {
    this.name = name;
  }

  number(row: number, value: number): void {
    if (this.kind === 'number') {
      if (row >= this.values.length) this.growValues(row);
      this.values[row] = value;
      if (row >= this.rows) this.rows = row + 1;
    } else if (this.kind === 'none') {
      this.kind = 'number';
      this.number(row, value);
    } else this.text(row, Number.isNaN(value) ? '' : String(value));
  }

  boolean(row: number, value: boolean): void {
    this.sawBoolean = true;
    this.text(row, value ? 'true' : 'false');
  }

  /** Marks a row as missing, which matters only where the row was set before. */
  missing(row: number): void {
    if (row < this.values.length) this.values[row] = Number.NaN;
    if (row < this.codes.length) this.codes[row] = 0;
  }

  text(row: number, value: string): void {
    const bytes = new TextEncoder().encode(value);
    this.word(row, this.dictionary().intern(bytes, 0, bytes.length));
  }

  /** The words of a text column; turns the column to text. */
  dictionary(): StringTable {
    if (this.words === null) this.toText();
    return this.words as StringTable;
  }

  /** Sets a row to a word of `dictionary()`. */
  word(row: number, code: number): void {
    if (row >= this.codes.length) this.growCodes(row);
    this.codes[row] = code;
    if (row >= this.rows) this.rows = row + 1;
  }

  private toText(): void {
    this.words = new StringTable();
    this.kind = 'text';
    const values = this.values;
    const rows = Math.min(this.rows, values.length);
    this.values = new Float64Array(0);
    for (let row = 0; row < rows; row++) if (!Number.isNaN(values[row])) this.text(row, String(values[row]));
  }

  /** Room for the expected rows is made only after a good part of them has come: a file may give a wrong count. */
  private roomFor(row: number, now: number): number {
    return Math.max(1024, row + 1, 2 * now, Math.min(this.expected.rows, 16 * row));
  }

  private growValues(row: number): void {
    const bigger = new Float64Array(this.roomFor(row, this.values.length));
    bigger.set(this.values);
    bigger.fill(Number.NaN, this.values.length);
    this.values = bigger;
  }

  private growCodes(row: number): void {
    const bigger = new Uint32Array(this.roomFor(row, this.codes.length));
    bigger.set(this.codes);
    this.codes = bigger;
  }

  /** What was set of the column, to be joined to what another reader set of the same one. */
  pack(): PackedColumn {
    const { name, kind, rounded, sawBoolean } = this;
    return {
      ...{ name, kind, rounded, sawBoolean },
      values: this.values.slice(0, this.rows),
      codes: this.codes.slice(0, this.rows),
      words: this.words?.pack() ?? null,
    };
  }

  /** Goes on with what another reader set, its rows from `row` on: as if the values had come one by one. */
  append(p: PackedColumn, row: number): void {
    if (p.rounded) this.rounded = true;
    if (p.sawBoolean) this.sawBoolean = true;
    if (p.kind === 'none') return;
    if (p.words !== null) {
      const { words, codes } = p;
      const own = this.dictionary();
      const code = new Uint32Array(words.from.length - 1);
      for (let w = 1; w < code.length; w++) code[w] = own.intern(words.arena, words.from[w], words.from[w + 1]);
      if (codes.length === 0) return;
      if (row + codes.length > this.codes.length) this.growCodes(row + codes.length - 1);
      for (let i = 0; i < codes.length; i++) this.codes[row + i] = code[codes[i]];
    } else if (this.kind === 'text') {
      for (let i = 0; i < p.values.length; i++) if (!Number.isNaN(p.values[i])) this.number(row + i, p.values[i]);
      return;
    } else {
      this.kind = 'number';
      if (p.values.length === 0) return;
      if (row + p.values.length > this.values.length) this.growValues(row + p.values.length - 1);
      this.values.set(p.values, row);
    }
    this.rows = Math.max(this.rows, row + Math.max(p.codes.length, p.values.length));
  }

  /** The column of the rows in `keep`, in that order. `decode` turns bytes into text. */
  finish(keep: Uint32Array, decode: (bytes: Uint8Array) => string): Column {
    const n = keep.length;
    // Usually every record is kept, and the rows can be used unchanged.
    const all = n === 0 || keep[n - 1] === n - 1;
    if (this.kind === 'number') {
      const values = all && this.values.length >= n ? this.values.slice(0, n) : new Float64Array(n);
      if (!all || this.values.length < n)
        for (let i = 0; i < keep.length; i++)
          values[i] = keep[i] < this.values.length ? this.values[keep[i]] : Number.NaN;
      this.values = new Float64Array(0);
      const as = this.declared === 'integer' || this.declared === 'real' ? { as: this.declared } : {};
      return { name: this.name, kind: 'number', values, ...as };
    }
    const codes = all && this.codes.length >= n ? this.codes.slice(0, n) : new Uint32Array(n);
    if (!all || this.codes.length < n)
      for (let i = 0; i < keep.length; i++) codes[i] = keep[i] < this.codes.length ? this.codes[keep[i]] : 0;
    this.codes = new Uint32Array(0);
    const words = this.words === null ? [''] : this.words.list(decode);
    const as =
      this.sawBoolean && words.every((w) => w === '' || w === 'true' || w === 'false') ? 'boolean' : this.declared;
    return {
      name: this.name,
      kind: 'text',
      codes,
      words,
      ...(as === undefined || as === 'integer' || as === 'real' ? {} : { as }),
    };
  }
}

/** What a reader set of a column, as plain data. */
export interface PackedColumn {
  name: string;
  kind: ColumnBuilder['kind'];
  rounded: boolean;
  sawBoolean: boolean;
  values: Float64Array;
  codes: Uint32Array;
  /** Null where the column is no text. */
  words: PackedStrings | null;
}

/** The note for a map with more columns than the limit. */
export function columnsLeftOut(most: number, file: string): Note {
  return {
    code: 'columns-left-out',
    sentence: `The map has more than ${most} columns; the others were left out.`,
    place: { file },
    todo: 'Raise the limit if one of them is needed.',
  };
}
