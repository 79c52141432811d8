import type { UserErrorCode } from '../shared/codes.ts';
import { type Note, UserError } from '../shared/messages.ts';
import type { Raw } from './assemble.ts';
import { readAll, shown, tooBig, Window } from './bytes.ts';
import type { ShapefileParts } from './choose-layer.ts';
import { projectStaging, systemOf } from './crs.ts';
import { readDbf } from './dbf.ts';
import { type Limits, tooMany } from './limits.ts';
import type { Pace } from './pace.ts';
import { readPrj } from './prj.ts';
import { COMPARED_RECORDS, compareWithShpjs } from './shpjs-check.ts';
import { Staging, UNKNOWN } from './staging.ts';
import type { NamedBytes } from './types.ts';

const TYPES: Readonly<Record<number, string>> = {
  3: 'lines',
  8: 'groups of points',
  13: 'lines',
  18: 'groups of points',
  23: 'lines',
  28: 'groups of points',
  31: 'multipatches',
};
const POLYGONS = new Set([5, 15, 25]);
const POINTS = new Set([1, 11, 21]);
/** Numbers below this are 'no data' (ESRI Shapefile Technical Description, 1998). */
const NO_DATA = -1e38;

/**
 * Step 3 for shapefiles (ESRI Shapefile Technical Description, July 1998): .shp records, then the .dbf rows beside them, then .prj.
 *
 * The geometry is read here and not by shpjs: shpjs cannot be fed a record at a time, loses a whole file for one bad number, reads on past a truncated
 * file in silence, and looks for holes by boxes only; and its parts alone (geometry 2.5 s, attributes 19 s for 400,000 records of 10 columns) take longer
 * than all of this (2.5 s of processor time, unpacking included). shpjs is the second reader: `second` compares the beginning of every file with it.
 */
export async function readShapefile(
  parts: ShapefileParts,
  source: string,
  limits: Limits,
  notes: Note[],
  pace: Pace,
  crsWanted?: string,
): Promise<Raw> {
  const staging = new Staging();
  const bytes = parts.shp.sizeBytes + (parts.dbf?.sizeBytes ?? 0);
  const share = 0.8 * (parts.shp.sizeBytes / Math.max(1, bytes));
  pace.phase(0, share, parts.shp.sizeBytes);
  const twice = await readShp(parts.shp, staging, limits, notes, pace);
  staging.takePoints();
  if (parts.shx !== undefined) checkShx(parts.shx, staging, notes);

  let columns: Raw['columns'] = [];
  let decode = (b: Uint8Array): string => new TextDecoder().decode(b);
  if (parts.dbf !== undefined) {
    const cpg = parts.cpg === undefined ? null : new TextDecoder().decode(await readAll(parts.cpg, 1 << 16)).trim();
    pace.phase(share, 0.8, parts.dbf.sizeBytes);
    const attributes = await readDbf(parts.dbf, cpg === '' ? null : cpg, staging, limits, notes, pace);
    columns = attributes.columns;
    decode = attributes.decode;
  } else {
    notes.push({
      code: 'dbf-missing',
      sentence: 'There is no .dbf beside the .shp, so the records have no attributes.',
      place: { file: source },
      todo: 'Give the .dbf too if times or sections are to be used.',
    });
  }
  pace.phase(0.8, 1, 90 * staging.points);
  const crs = await readPrj(parts.prj, staging, source, notes, crsWanted);
  if (crs !== null) await projectStaging(staging, crs, pace);
  if (!staging.isPoints)
    await compareWithShpjs(
      parts.shp,
      twice,
      crs === null || crs.plain ? '' : String(crs.definition),
      staging,
      source,
      notes,
    );
  return { source, format: 'shapefile', staging, columns, decode, system: crs && systemOf(crs), notes };
}

/** Stages every record; returns where the first `COMPARED_RECORDS` records end, in bytes. */
async function readShp(file: NamedBytes, staging: Staging, limits: Limits, notes: Note[], pace: Pace): Promise<number> {
  const name = shown(file.name);
  if (file.sizeBytes === 0) throw broken(name, 'empty-file', 'The .shp is empty.');
  if (file.sizeBytes > limits.fileBytes) throw tooBig(file.name, limits.fileBytes, 'fileBytes');
  const cut = (record: number): UserError =>
    broken(name, 'shp-truncated', `The .shp ends in record ${record}.`, record);
  const window = new Window(file, limits.recordBytes);
  try {
    const { length, type } = await readHeader(window, file, notes);
    let view = new DataView(window.buf.buffer);
    let at = window.start;
    let twice = length;
    while (at < length) {
      const record = staging.records + 1;
      const over = tooMany(name, record, record, staging.points, limits);
      if (over) throw over;
      if (window.end - window.start < 8 && !(await window.has(8))) throw cut(record);
      if (view.buffer !== window.buf.buffer) view = new DataView(window.buf.buffer);
      const size = 2 * view.getInt32(window.start + 4);
      if (size < 4) throw broken(name, 'shp-record', `Record ${record} of the .shp has no content.`, record);
      if (at + 8 + size > length) throw cut(record);
      if (window.end - window.start < 8 + size && !(await window.has(8 + size))) throw cut(record);
      if (view.buffer !== window.buf.buffer) view = new DataView(window.buf.buffer);
      stageRecord(view, window.start + 8, size, type, staging, name);
      window.start += 8 + size;
      at += 8 + size;
      if (staging.records === COMPARED_RECORDS) twice = at;
      if (pace.add(8 + size)) await pace.rest();
    }
    if (staging.records === 0) {
      throw new UserError('no-records', 'The .shp holds no records.', { file: name }, 'Export the map again.');
    }
    return twice;
  } finally {
    await window.close();
  }
}

/** Length of the file in bytes and its shape type, as the header says; the window is then at the first record. */
async function readHeader(window: Window, file: NamedBytes, notes: Note[]): Promise<{ length: number; type: number }> {
  const name = shown(file.name);
  if (!(await window.has(100))) throw broken(name, 'shp-truncated', 'The .shp ends in its header.');
  const view = new DataView(window.buf.buffer);
  if (view.getInt32(0) !== 9994) throw broken(name, 'shp-header', 'The .shp is not a shapefile.');
  const length = 2 * view.getInt32(24);
  const type = view.getInt32(32, true);
  if (!POLYGONS.has(type) && !POINTS.has(type) && type !== 0) {
    throw new UserError(
      'not-polygons',
      TYPES[type] ? `The shapefile holds ${TYPES[type]}, not polygons.` : `The shape type ${type} does not exist.`,
      { file: name },
      'Export the coverage (polygon) layer of the map.',
    );
  }
  if (length < 100) throw broken(name, 'shp-header', 'The header of the .shp makes no sense.');
  if (length > file.sizeBytes) {
    throw broken(name, 'shp-truncated', `The .shp has ${file.sizeBytes} bytes, but should have ${length}.`);
  }
  if (length < file.sizeBytes) {
    notes.push({
      code: 'shp-trailing-bytes',
      sentence: `${file.sizeBytes - length} bytes after the end of the .shp were not read.`,
      place: { file: name },
      todo: 'No action needed, unless records are missing from the map.',
    });
  }
  window.start = 100;
  return { length, type };
}

/** Stages the record whose content of `size` bytes begins at `at`. */
function stageRecord(view: DataView, at: number, size: number, type: number, staging: Staging, name: string): void {
  const record = staging.records + 1;
  const shape = view.getInt32(at, true);
  if (shape !== 0 && shape !== type) {
    throw broken(name, 'shp-record', `Record ${record} has shape type ${shape} in a file of type ${type}.`, record);
  }
  const isPoint = POINTS.has(shape);
  let fault = 'no geometry';
  if (shape !== 0) fault = isPoint ? pointFault(view, at, size) : readPolygon(view, at, size, staging);
  if (fault.startsWith('!'))
    throw broken(name, 'shp-record', `Record ${record} of the .shp ${fault.slice(1)}.`, record);
  if (isPoint && fault === '') {
    staging.pointRecord(view.getFloat64(at + 4, true), view.getFloat64(at + 12, true), 'point');
  } else staging.record(fault);
}

function broken(name: string, code: UserErrorCode, sentence: string, record?: number): UserError {
  return new UserError(
    code,
    sentence,
    record === undefined ? { file: name } : { file: name, record },
    'The file was not written or copied completely: export it again.',
  );
}

/** Stages one polygon record; '' when it is fine, '!…' when the file is damaged, else why the record cannot be used. */
function readPolygon(view: DataView, at: number, size: number, staging: Staging): string {
  if (size < 44) return '!is too short for a polygon';
  const parts = view.getInt32(at + 36, true);
  const points = view.getInt32(at + 40, true);
  if (parts < 0 || points < 0 || 44 + 4 * parts + 16 * points > size) return '!claims more points than it holds';
  if (parts === 0 || points === 0) return 'empty polygon';
  const first = at + 44 + 4 * parts;
  let from = view.getInt32(at + 44, true);
  if (from !== 0) return '!has a ring that does not begin at its first point';
  let fault = '';
  for (let k = 0; k < parts; k++) {
    const to = k + 1 < parts ? view.getInt32(at + 48 + 4 * k, true) : points;
    if (to < from || to > points) return '!has a ring that ends before it begins';
    for (let p = first + 16 * from, end = first + 16 * to; p < end; p += 16) {
      const x = view.getFloat64(p, true);
      const y = view.getFloat64(p + 8, true);
      if (!(x > NO_DATA && y > NO_DATA && x < -NO_DATA && y < -NO_DATA)) fault = 'coordinates that are not numbers';
      staging.point(x, y);
    }
    staging.ring(UNKNOWN);
    from = to;
  }
  return fault;
}

/** '' for a point that can be used; else as `readPolygon`. */
function pointFault(view: DataView, at: number, size: number): string {
  if (size < 20) return '!is too short for a point';
  const x = view.getFloat64(at + 4, true);
  const y = view.getFloat64(at + 12, true);
  return x > NO_DATA && y > NO_DATA && x < -NO_DATA && y < -NO_DATA ? '' : 'coordinates that are not numbers';
}

/** The .shx is not needed, but it confirms the number of records. */
function checkShx(shx: NamedBytes, staging: Staging, notes: Note[]): void {
  const count = (shx.sizeBytes - 100) / 8;
  if (count === staging.records) return;
  notes.push({
    code: 'shx-count',
    sentence: `The .shx lists ${Math.max(0, Math.floor(count))} records, the .shp holds ${staging.records}; the .shp was followed.`,
    place: { file: shown(shx.name) },
    todo: 'Make sure that all parts come from one export.',
  });
}
