import { type Note, UserError } from '../messages.ts';
import { shown, Window } from './bytes.ts';
import { byLanguage, byName, isUtf8, type TextReader } from './codepage.ts';
import { ColumnBuilder } from './columns.ts';
import { type Limits, tooManyValues } from './limits.ts';
import type { Pace } from './pace.ts';
import type { Staging } from './staging.ts';
import type { NamedBytes } from './types.ts';

interface Field {
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

export interface Attributes {
  columns: ColumnBuilder[];
  decode(bytes: Uint8Array): string;
}

const MOST_FIELDS = 2046;
/** Days from the beginning of the Julian day count to 1970-01-01. */
const UNIX_JULIAN = 2440588;

/**
 * Attributes of a shapefile (.dbf: dBASE III to 5 and FoxPro), row by row into columns; row i belongs to record i of `staging`.
 *
 * Numbers (N, F, and the binary I, O, B, Y, +) become numbers; overflow ('***'), blanks and what is no number are missing. Dates are text 'YYYY-MM-DD',
 * times text 'YYYY-MM-DDTHH:MM:SS', logicals 'true' and 'false', all without any time zone. Rows marked as deleted set their record aside.
 * Throws `UserError` when the file is cut off, its header contradicts itself, or its rows are not as many as the records.
 */
export async function readDbf(
  file: NamedBytes,
  cpg: string | null,
  staging: Staging,
  limits: Limits,
  notes: Note[],
  pace: Pace,
): Promise<Attributes> {
  const name = shown(file.name);
  const broken = (code: string, sentence: string): UserError =>
    new UserError(
      code,
      sentence,
      { file: name },
      'Export the map again, or leave the .dbf out to read the shapes without attributes.',
    );
  if (file.sizeBytes > limits.fileBytes) throw broken('file-too-big', 'The .dbf is larger than the limit.');
  const window = new Window(file, limits.recordBytes);
  try {
    if (!(await window.has(32))) throw broken('dbf-truncated', 'The .dbf ends in its header.');
    let view = new DataView(window.buf.buffer);
    const rows = view.getUint32(4, true);
    const headerLength = view.getUint16(8, true);
    const rowLength = view.getUint16(10, true);
    const language = window.buf[29];
    if (headerLength < 33 || rowLength < 1) throw broken('dbf-header', 'The header of the .dbf makes no sense.');
    if (!(await window.has(headerLength))) throw broken('dbf-truncated', 'The .dbf ends in its header.');
    const reader = textReader(cpg, language, name, notes);
    const fields = readFields(window.buf, headerLength, rowLength, reader, broken);
    if (rows !== staging.records) {
      throw broken(
        'dbf-count',
        `The .dbf has ${rows} rows, but the .shp has ${staging.records} records, so attributes cannot be matched to shapes.`,
      );
    }
    nameFields(fields, name, notes);
    const kept = fields.slice(0, limits.columns);
    if (kept.length < fields.length) {
      notes.push({
        code: 'columns-left-out',
        sentence: `The map has ${fields.length} columns; those after the first ${limits.columns} were left out.`,
        place: { file: name },
        todo: 'Raise the limit if one of them is needed.',
      });
    }
    if (rows * kept.length > limits.values) throw tooManyValues(name, limits);
    const memos = fields.filter((f) => 'MGPW'.includes(f.type));
    if (memos.length > 0) {
      notes.push({
        code: 'memo-not-read',
        sentence: `The memo column "${shown(memos[0].name)}" keeps its text in another file and is read as empty.`,
        place: { file: name, key: shown(memos[0].name) },
        todo: 'Nothing, unless the text matters.',
      });
    }

    const scratch = new Uint8Array(10);
    window.start = headerLength;
    for (let row = 0; row < rows; row++) {
      if (window.end - window.start < rowLength) {
        if (!(await window.has(rowLength))) {
          throw broken('dbf-truncated', `The .dbf ends in row ${row + 1} of ${rows}.`);
        }
        view = new DataView(window.buf.buffer);
      }
      const at = window.start;
      if (window.buf[at] === 0x2a) staging.setAside(row, 'deleted in the attribute table');
      else if (window.buf[at] !== 0x20) {
        throw broken('dbf-rows', `Row ${row + 1} of the .dbf does not begin where the header says.`);
      }
      for (const field of kept) readValue(field, row, window.buf, view, at + field.at, scratch);
      window.start = at + rowLength;
      if (pace.add(rowLength)) await pace.rest();
    }
    noteBadValues(kept, name, notes);
    return { columns: kept.map((f) => f.column), decode: watchedDecoder(reader, cpg !== null, name, notes) };
  } finally {
    await window.close();
  }
}

function readFields(
  buf: Uint8Array,
  headerLength: number,
  rowLength: number,
  reader: TextReader,
  broken: (code: string, sentence: string) => UserError,
): Field[] {
  const raw: { name: string; type: string; length: number; decimals: number }[] = [];
  let at = 32;
  while (at < headerLength && buf[at] !== 0x0d) {
    if (at + 32 > headerLength || raw.length > MOST_FIELDS) {
      throw broken('dbf-header', 'The list of columns in the .dbf has no end.');
    }
    let end = at;
    while (end < at + 11 && buf[end] !== 0) end++;
    const name = reader.decode(buf.subarray(at, end)).trim();
    raw.push({ name, type: String.fromCharCode(buf[at + 11]), length: buf[at + 16], decimals: buf[at + 17] });
    at += 32;
  }
  if (raw.length === 0) throw broken('dbf-header', 'The .dbf has no columns.');
  const sum = (long: boolean): number =>
    raw.reduce((s, f) => s + f.length + (long && f.type === 'C' ? 256 * f.decimals : 0), 1);
  // FoxPro keeps the high byte of a long text column's length where numbers have their decimals.
  const long = sum(false) !== rowLength && sum(true) === rowLength;
  if (!long && sum(false) > rowLength) {
    throw broken('dbf-header', `The columns of the .dbf need ${sum(false)} bytes a row, but a row has ${rowLength}.`);
  }
  let offset = 1;
  return raw.map((f) => {
    const length = f.length + (long && f.type === 'C' ? 256 * f.decimals : 0);
    const column = new ColumnBuilder(f.name, new Uint8Array(0));
    const field = { name: f.name, type: f.type, at: offset, length, column, overflow: 0, bad: 0, firstBad: 0 };
    offset += length;
    return field;
  });
}

/** Gives every column its own name; the first of a name keeps it. */
function nameFields(fields: Field[], file: string, notes: Note[]): void {
  const taken = new Set<string>();
  const again: string[] = [];
  fields.forEach((field, i) => {
    let name = field.name || `column ${i + 1}`;
    if (taken.has(name)) {
      again.push(name);
      let k = 2;
      while (taken.has(`${name}_${k}`)) k++;
      name = `${name}_${k}`;
    }
    taken.add(name);
    field.name = name;
    field.column = new ColumnBuilder(name, new Uint8Array(0));
  });
  if (again.length === 0) return;
  notes.push({
    code: 'column-name-twice',
    sentence: `${again.length} column name(s) occur more than once, the first is "${shown(again[0])}"; later ones got a number.`,
    place: { file, key: shown(again[0]) },
    todo: `Use "${shown(again[0])}_2" to name the second one.`,
  });
}

function readValue(field: Field, row: number, b: Uint8Array, view: DataView, at: number, scratch: Uint8Array): void {
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
  // Stars say that the number was too long for its column; 'NaN', 'null' and the like say that there is none.
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

function noteBadValues(fields: Field[], file: string, notes: Note[]): void {
  for (const f of fields) {
    if (f.overflow === 0 && f.bad === 0) continue;
    const what = f.overflow > 0 ? 'did not fit their column when they were written (***)' : 'cannot be read';
    notes.push({
      code: f.overflow > 0 ? 'dbf-overflow' : 'dbf-bad-value',
      sentence: `${f.overflow + f.bad} value(s) of column "${shown(f.name)}" ${what} and count as missing.`,
      place: { file, record: f.firstBad, key: shown(f.name) },
      todo: 'Export the map again if this column matters.',
    });
  }
}

/** The code page: what the .cpg says, else the language byte, else UTF-8 when the text is that, else Windows-1252. */
function textReader(cpg: string | null, language: number, file: string, notes: Note[]): TextReader {
  if (cpg !== null) {
    const reader = byName(cpg);
    if (reader !== null) return reader;
    notes.push({
      code: 'code-page-unknown',
      sentence: `The code page "${shown(cpg, 30)}" of the .cpg is not known here.`,
      place: { file },
      todo: 'Letters beyond ASCII may be wrong; numbers are not touched.',
    });
  }
  return byLanguage(language) ?? { name: '', decode: guess };
}

const guess = (bytes: Uint8Array): string => new TextDecoder(isUtf8(bytes) ? 'utf-8' : 'windows-1252').decode(bytes);

/** Adds a note when text does not read well in the code page that the file claims; such words are read as UTF-8 or Windows-1252. */
function watchedDecoder(
  reader: TextReader,
  claimed: boolean,
  file: string,
  notes: Note[],
): (bytes: Uint8Array) => string {
  let told = false;
  return (bytes) => {
    const text = reader.decode(bytes);
    const wrong = reader.name !== '' && text.includes('\ufffd');
    const guessed = reader.name === '' && !isUtf8(bytes);
    if ((wrong || guessed) && !told) {
      told = true;
      notes.push({
        code: 'text-encoding',
        sentence: guessed
          ? 'The file does not say its code page; text was read as Windows-1252.'
          : `Text is not in ${reader.name}, which ${claimed ? 'the .cpg' : 'the .dbf'} claims; it was read as Windows-1252.`,
        place: { file },
        todo: 'Letters beyond ASCII may be wrong; numbers are not touched.',
      });
    }
    return wrong ? guess(bytes) : text;
  };
}
