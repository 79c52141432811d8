import type { ColumnBuilder } from './columns.ts';

/** One column of a .dbf. */
export interface Field {
  name: string;
  type: string;
  /** Offset in the row, the deletion mark counted. */
  at: number;
  length: number;
  column: ColumnBuilder;
  /** Values that could not be read, and the first row (from 1) with one. */
  overflow: number;
  bad: number;
  firstBad: number;
}

/** Days from the beginning of the Julian day count to 1970-01-01. */
const UNIX_JULIAN = 2440588;

/** Reads the value of `field` at offset `at` of the window into `row` of its column. `scratch` holds ten bytes. */
export function readValue(
  field: Field,
  row: number,
  b: Uint8Array,
  view: DataView,
  at: number,
  scratch: Uint8Array,
): void {
  const { column, length } = field;
  switch (field.type) {
    case 'N':
    case 'F':
      readNumber(field, row, b, at);
      return;
    case 'D':
      readDate(field, row, b, at, scratch);
      return;
    case 'L': {
      const c = b[at] | 32;
      column.sawBoolean = true;
      if (c === 0x74 || c === 0x79) column.word(row, column.dictionary().intern(TRUE, 0, 4));
      else if (c === 0x66 || c === 0x6e) column.word(row, column.dictionary().intern(FALSE, 0, 5));
      return;
    }
    case 'I':
    case '+':
      if (length === 4) column.number(row, view.getInt32(at, true));
      return;
    case 'O':
    case 'B':
      if (length === 8) {
        const value = view.getFloat64(at, true);
        if (Number.isFinite(value)) column.number(row, value);
      }
      return;
    case 'Y':
      if (length === 8) column.number(row, Number(view.getBigInt64(at, true)) / 10_000);
      return;
    case 'T':
    case '@':
      if (length === 8) readTime(field, row, view, at);
      return;
    case 'M':
    case 'G':
    case 'P':
    case 'W':
    case '0':
      return;
    default: {
      // Text is padded with blanks, or with zero bytes by some programs.
      let end = at + length;
      while (end > at && (b[end - 1] === 0x20 || b[end - 1] === 0)) end--;
      let begin = at;
      while (begin < end && b[begin] === 0x20) begin++;
      column.word(row, column.dictionary().intern(b, begin, end));
    }
  }
}

const TRUE = new TextEncoder().encode('true');
const FALSE = new TextEncoder().encode('false');

const P10 = Array.from({ length: 16 }, (_, i) => 10 ** i);

function readNumber(field: Field, row: number, b: Uint8Array, at: number): void {
  let i = at;
  let end = at + field.length;
  while (i < end && (b[i] === 0x20 || b[i] === 0)) i++;
  while (end > i && (b[end - 1] === 0x20 || b[end - 1] === 0)) end--;
  if (i === end) {
    if (field.column.kind === 'none') field.column.number(row, Number.NaN);
    return;
  }
  const begin = i;
  const minus = b[i] === 0x2d;
  if (minus) i++;
  let m = 0;
  let digits = 0;
  let dot = -1;
  for (; i < end; i++) {
    const c = b[i];
    if (c >= 48 && c <= 57) {
      m = m * 10 + (c - 48);
      digits++;
    } else if (c === 0x2e && dot < 0) dot = i;
    else break;
  }
  if (i === end && digits > 0 && digits <= 15) {
    const value = dot < 0 ? m : m / P10[end - dot - 1];
    field.column.number(row, minus ? -value : value);
    return;
  }
  let text = '';
  for (let k = begin; k < end; k++) text += String.fromCharCode(b[k]);
  const value = /^[-+]?(\d+\.?\d*|\.\d+)([eEdD][-+]?\d+)?$/.test(text) ? Number(text.replace(/[dD]/, 'e')) : Number.NaN;
  field.column.number(row, Number.isFinite(value) ? value : Number.NaN);
  if (Number.isFinite(value)) {
    if (Number.isInteger(value) && Math.abs(value) > Number.MAX_SAFE_INTEGER) field.column.rounded = true;
    return;
  }
  // Stars mean that the number was too long for its column; 'NaN', 'null' and the like mean that there is none.
  if (b[begin] === 0x2a) field.overflow++;
  else if (!/^[-+]?(nan|inf(inity)?|null|1?[.]#\w+)$/i.test(text)) field.bad++;
  else return;
  if (field.firstBad === 0) field.firstBad = row + 1;
}

/** YYYYMMDD to YYYY-MM-DD, byte by byte: a date in every row of a large file must not make a string in every row. */
function readDate(field: Field, row: number, b: Uint8Array, at: number, iso: Uint8Array): void {
  const words = field.column.dictionary();
  let n = 0;
  let zeros = true;
  let digits = true;
  for (let k = 0; k < field.length; k++) {
    const c = b[at + k];
    if (c <= 0x20) continue;
    if (c !== 48) zeros = false;
    if (c < 48 || c > 57) digits = false;
    // The two dashes lie at 4 and 7.
    if (n < 8) iso[n < 4 ? n : n < 6 ? n + 1 : n + 2] = c;
    n++;
  }
  if (n === 0 || (zeros && digits)) return;
  if (digits && n === 8 && isDay(100 * two(iso, 0) + two(iso, 2), two(iso, 5), two(iso, 8))) {
    iso[4] = iso[7] = 0x2d;
    field.column.word(row, words.intern(iso, 0, 10));
  } else if (field.bad++ === 0 && field.firstBad === 0) field.firstBad = row + 1;
}

function two(digits: Uint8Array, i: number): number {
  return 10 * (digits[i] - 48) + digits[i + 1] - 48;
}

/** A day of the Gregorian calendar. */
function isDay(year: number, month: number, day: number): boolean {
  const leap = (year % 4 === 0 && year % 100 !== 0) || year % 400 === 0;
  const days = month === 2 ? (leap ? 29 : 28) : month === 4 || month === 6 || month === 9 || month === 11 ? 30 : 31;
  return month >= 1 && month <= 12 && day >= 1 && day <= days;
}

/** Julian day and milliseconds of the day (FoxPro and dBASE 7 date-times). */
function readTime(field: Field, row: number, view: DataView, at: number): void {
  const day = view.getInt32(at, true);
  const ms = view.getInt32(at + 4, true);
  if (day === 0 && ms === 0) {
    field.column.dictionary();
    return;
  }
  const when = (day - UNIX_JULIAN) * 86_400_000 + ms;
  const year = Math.abs(when) < 8e15 ? new Date(when).getUTCFullYear() : 0;
  if (ms >= 0 && ms < 86_400_000 && year > 1900 && year < 2200) {
    field.column.text(row, new Date(when).toISOString().slice(0, 19));
  } else if (field.bad++ === 0 && field.firstBad === 0) field.firstBad = row + 1;
}
