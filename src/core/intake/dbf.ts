import type { UserErrorCode } from '../shared/codes.ts';
import { type Note, UserError } from '../shared/messages.ts';
import { shown, tooBig, Window } from './bytes.ts';
import { byLanguage, byName, isUtf8, type TextReader } from './codepage.ts';
import { ColumnBuilder } from './columns.ts';
import { type Field, readValue } from './dbf-values.ts';
import { type Limits, tooManyValues } from './limits.ts';
import type { Pace } from './pace.ts';
import type { Staging } from './staging.ts';
import type { Declared, NamedBytes } from './types.ts';

export interface Attributes {
  columns: ColumnBuilder[];
  decode(bytes: Uint8Array): string;
}

const MOST_FIELDS = 2046;

/**
 * Attributes of a shapefile (.dbf: dBASE III to 5 and FoxPro), row by row into columns; row i belongs to record i of `staging`.
 *
 * Numbers (N, F, and the binary I, O, B, Y, +) become numbers; overflow ('***'), blanks and anything but a number are missing. Dates are text 'YYYY-MM-DD',
 * times text 'YYYY-MM-DDTHH:MM:SS', logicals 'true' and 'false', all without any time zone. A row marked as deleted skips its record.
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
  const broken = (code: UserErrorCode, sentence: string): UserError =>
    new UserError(
      code,
      sentence,
      { file: name },
      'Export the map again, or leave the .dbf out to read the shapes without attributes.',
    );
  if (file.sizeBytes > limits.fileBytes) throw tooBig(file.name, limits.fileBytes, 'fileBytes');
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
        todo: 'No action needed, unless the text matters.',
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
      if (window.buf[at] === 0x2a) staging.skip(row, 'deleted in the attribute table');
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
  broken: (code: UserErrorCode, sentence: string) => UserError,
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
  // Spare bytes could be anywhere, and values would be read from the wrong place.
  if (!long && sum(false) !== rowLength) {
    throw broken('dbf-header', `The columns of the .dbf need ${sum(false)} bytes a row, but a row has ${rowLength}.`);
  }
  let offset = 1;
  return raw.map((f) => {
    const length = f.length + (long && f.type === 'C' ? 256 * f.decimals : 0);
    const column = new ColumnBuilder(f.name, undefined, declaredOf(f.type, f.decimals));
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
    field.column = new ColumnBuilder(name, undefined, field.column.declared);
  });
  if (again.length === 0) return;
  notes.push({
    code: 'column-name-twice',
    sentence: `${again.length} column name(s) occur more than once, the first is "${shown(again[0])}"; later ones got a number.`,
    place: { file, key: shown(again[0]) },
    todo: `Use "${shown(again[0])}_2" to name the second one.`,
  });
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

/** The code page: from the .cpg, else the language byte, else UTF-8 when the text is that, else Windows-1252. */
function textReader(cpg: string | null, language: number, file: string, notes: Note[]): TextReader {
  if (cpg !== null) {
    const reader = byName(cpg);
    if (reader !== null) return reader;
    notes.push({
      code: 'code-page-unknown',
      sentence: `The code page "${shown(cpg, 30)}" of the .cpg is not known here.`,
      place: { file },
      todo: 'Letters beyond ASCII may be wrong; numbers are not affected.',
    });
  }
  return byLanguage(language) ?? { name: '', decode: guess };
}

const guess = (bytes: Uint8Array): string => new TextDecoder(isUtf8(bytes) ? 'utf-8' : 'windows-1252').decode(bytes);

/** Adds a note when text is not valid in the code page that the file claims; such texts are read as UTF-8 or Windows-1252. */
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
        todo: 'Letters beyond ASCII may be wrong; numbers are not affected.',
      });
    }
    return wrong ? guess(bytes) : text;
  };
}

/** The declared type of a field's values; numbers without decimals are whole. */
function declaredOf(type: string, decimals: number): Declared | undefined {
  if (type === 'D') return 'date';
  if (type === 'T' || type === '@') return 'datetime';
  if (type === 'N' || type === 'F') return decimals === 0 && type === 'N' ? 'integer' : 'real';
  return type === 'I' || type === '+' ? 'integer' : undefined;
}
