import { BytePattern } from './byte-pattern.ts';
import { ColumnBuilder, type PackedColumn } from './columns.ts';
import type { JsonBytes } from './json-bytes.ts';

const NO_KEY = new Uint8Array(0);

/** Members of `properties` objects, from bytes to columns. Any name is a name, `__proto__` too. */
export class PropertyReader {
  readonly columns: ColumnBuilder[] = [];
  /** Rows that the file probably has; 0 while unknown. */
  readonly expected = { rows: 0 };
  /** The bytes before a value of each column, recognized without making a string. */
  private readonly keys: BytePattern[] = [];
  /** Values left out because the limit of columns was reached. */
  leftOut = 0;
  /** Since it was last cleared: properties that are neither an object nor null; a key that one object holds twice; a value that is not a JSON number, or too large. */
  hasOddProperties = false;
  hasKeyTwice = false;
  hasNoNumber = false;
  /** Objects begun. */
  private objects = 0;
  private readonly byName = new Map<string, ColumnBuilder>();
  private readonly json: JsonBytes;
  private readonly most: number;

  constructor(json: JsonBytes, most: number) {
    this.json = json;
    this.most = most;
  }

  /** The value of `properties` at `pos`, as row `row`. */
  properties(row: number): void {
    const { json } = this;
    if (json.peek() !== 123) {
      if (json.buf[json.pos] !== 110) this.hasOddProperties = true;
      json.skip();
      return;
    }
    json.pos++;
    this.objects++;
    let next = 0;
    let comma = false;
    const { columns, keys } = this;
    for (;;) {
      // Features mostly list the same keys in the same order, so the column after the last one is tried first.
      const at = json.buf;
      let i = json.pos;
      if (comma && at[i] === 44) i++;
      while (at[i] === 32 || at[i] === 10 || at[i] === 13 || at[i] === 9) i++;
      if (next < columns.length && comma === (at[json.pos] === 44) && keys[next].isAt(json.view, i)) {
        json.pos = i + keys[next].bytes.length;
        this.value(columns[next], row);
        next++;
        comma = true;
        continue;
      }
      if (json.peek() === 125) break;
      if (comma) json.take(44);
      comma = true;
      if (json.peek() !== 34) json.fail('expected a key');
      const begin = json.span();
      const end = json.pos - 1;
      const name = json.textOf(begin, end, json.escaped);
      const b = json.buf;
      json.take(58);
      const column = this.columnOf(name, b.slice(begin - 1, end + 2), b[end + 1] === 58);
      if (column !== null) next = columns.indexOf(column) + 1;
      this.value(column, row);
    }
    json.pos++;
  }

  /** Goes on with the columns that another reader made of later rows, from `row` on; false where they are too many. */
  append(columns: readonly PackedColumn[], row: number): boolean {
    const names = new Set([...this.byName.keys(), ...columns.map((c) => c.name)]);
    if (names.size > this.most) return false;
    for (const c of columns) (this.columnOf(c.name, NO_KEY, false) as ColumnBuilder).append(c, row);
    return true;
  }

  /** `key` is the quoted name with its colon, when `compact` says that no blank is between them. */
  private columnOf(name: string, key: Uint8Array, compact: boolean): ColumnBuilder | null {
    const known = this.byName.get(name);
    if (known !== undefined) return known;
    if (this.columns.length >= this.most) {
      this.leftOut++;
      return null;
    }
    const column = new ColumnBuilder(name, this.expected);
    this.columns.push(column);
    this.keys.push(new BytePattern(name, compact ? key : NO_KEY));
    this.byName.set(name, column);
    return column;
  }

  private value(column: ColumnBuilder | null, row: number): void {
    const { json } = this;
    const c = json.peek();
    if (column === null) {
      if (!json.notANumber()) json.skip();
      return;
    }
    if (column.seen === this.objects) this.hasKeyTwice = true;
    column.seen = this.objects;
    if (c === 34) {
      const words = column.dictionary();
      // Sections of one bar and bars of one field mostly repeat the text of the record before.
      if (column.last !== 0 && words.isAt(column.last, json.buf, json.pos + 1)) {
        json.pos += words.length(column.last) + 2;
        column.word(row, column.last);
        return;
      }
      const begin = json.span();
      if (json.escaped) {
        column.last = 0;
        column.text(row, json.textOf(begin, json.pos - 1, true));
        return;
      }
      column.last = words.internHashed(json.buf, begin, json.pos - 1, json.hash);
      column.word(row, column.last);
      return;
    }
    if (c === 123 || c === 91) {
      const begin = json.pos;
      json.skip();
      column.text(row, compact(new TextDecoder().decode(json.buf.subarray(begin, json.pos))));
      return;
    }
    if (c === 45 || (c >= 48 && c <= 57)) {
      const value = json.number();
      if (Number.isFinite(value)) {
        column.number(row, value);
        if (json.roundedInteger) column.rounded = true;
        return;
      }
      if (!Number.isNaN(value)) {
        this.hasNoNumber = true;
        column.missing(row);
        return;
      }
    }
    if (json.notANumber()) {
      this.hasNoNumber = true;
      column.missing(row);
      return;
    }
    const begin = json.pos;
    json.scalar();
    if (c === 116 || c === 102) {
      column.sawBoolean = true;
      column.word(row, column.dictionary().intern(json.buf, begin, json.pos));
    } else column.missing(row);
  }
}

/** A nested value as the shortest JSON, so that blanks do not matter; unchanged where it is nested deeper than the engine's stack. */
function compact(text: string): string {
  try {
    return JSON.stringify(JSON.parse(text));
  } catch {
    return text;
  }
}
