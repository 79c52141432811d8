import initSqlJs, { type Database, type SqlValue } from 'sql.js/dist/sql-wasm-inline.js';
import { UserError } from '../shared/messages.ts';
import type { Raw } from './assemble.ts';
import { readAll, shown } from './bytes.ts';
import { chosenNote, recordedOf } from './choose-layer.ts';
import { ColumnBuilder, columnsLeftOut } from './columns.ts';
import { projectStaging, systemOf } from './crs.ts';
import { tooMany, tooManyValues } from './limits.ts';
import { crsOfFile } from './prj.ts';
import { Staging } from './staging.ts';
import type { Declared, Reading } from './types.ts';
import { stageWkb } from './wkb.ts';

const HEAD = 'SQLite format 3\0';
/** A layer with more rows than this counts as a map, when one of several must be chosen. */
const MANY = 50;

interface Table {
  table: string;
  geometry: string;
  srs: number;
  count: number;
}

/**
 * Step 3 for GeoPackage (OGC 12-128r19): one layer of features, through SQLite as WebAssembly. The file is held in memory, twice while it is read; its
 * write-ahead log beside it, if any, is not read.
 */
export async function readGeoPackage(reading: Reading, layer: string | undefined, boundary: boolean): Promise<Raw> {
  const { file, source, limits } = reading;
  const bytes = await readAll(file, limits.archiveBytes, 'archiveBytes');
  if (new TextDecoder('latin1').decode(bytes.subarray(0, 16)) !== HEAD)
    throw broken(source, 'The file is not a GeoPackage: it does not begin as a database.');
  // A write-ahead log cannot be used in memory; the database works without it (file format of SQLite, offsets 18 and 19).
  const copy = bytes.slice();
  if (copy[18] === 2) copy[18] = copy[19] = 1;
  const { Database: Open } = await initSqlJs();
  let db: Database | null = null;
  try {
    db = new Open(copy);
    return await readDatabase(db, reading, layer, boundary);
  } catch (e) {
    if (e instanceof UserError || !isOfSqlite(e)) throw e;
    const words = shown(e instanceof Error ? e.message : String(e), 80);
    throw broken(source, `The database of the GeoPackage cannot be read (${words}).`);
  } finally {
    db?.close();
  }
}

function broken(file: string, sentence: string): UserError {
  return new UserError(
    'gpkg-broken',
    sentence,
    { file },
    'Close the program that has it open, copy the file again, or export the map as GeoJSON.',
  );
}

async function readDatabase(
  db: Database,
  reading: Reading,
  layer: string | undefined,
  boundary: boolean,
): Promise<Raw> {
  const { source, notes, pace, crs: wanted } = reading;
  const tables = tablesOf(db);
  if (tables.length === 0)
    throw new UserError(
      'no-layer',
      'The GeoPackage has no layer of features.',
      { file: source },
      'Export the map again, or as GeoJSON.',
    );
  const table = chosen(tables, layer, boundary, source, notes);
  const staging = new Staging();
  const columns = await readRows(db, table, staging, reading);
  if (staging.records === 0)
    throw new UserError('no-records', 'The layer holds no records.', { file: source }, 'Export the map again.');
  staging.takePoints();
  pace.phase(0.85, 1, 60 * staging.points);
  const crs = await crsOfFile(namedSystem(db, table.srs), staging, wanted, source, notes);
  if (crs !== null) await projectStaging(staging, crs, pace);
  const words = new TextDecoder();
  return {
    source: tables.length > 1 ? `${source}/${shown(table.table)}` : source,
    format: 'geopackage',
    staging,
    columns,
    decode: (b) => words.decode(b),
    system: crs && systemOf(crs),
    notes,
  };
}

/** Stages every row of a layer; returns its columns. */
async function readRows(
  db: Database,
  table: Table,
  staging: Staging,
  { source, limits, notes, pace }: Reading,
): Promise<ColumnBuilder[]> {
  const expected = { rows: table.count };
  const over = tooMany(source, 1, table.count, 0, limits);
  if (over) throw over;
  const fields = fieldsOf(db, table);
  const columns = fields.slice(0, limits.columns).map((f) => new ColumnBuilder(f.name, expected, f.as));
  if (fields.length > limits.columns) notes.push(columnsLeftOut(limits.columns, source));
  if (table.count * columns.length > limits.values) throw tooManyValues(source, limits);
  pace.phase(0, 0.85, table.count);
  const rows = db.prepare(
    `SELECT ${[table.geometry, ...columns.map((c) => c.name)].map(quoted).join(', ')} FROM ${quoted(table.table)}`,
  );
  while (rows.step()) {
    const row = staging.records;
    const values = rows.get();
    stageBlob(values[0], staging);
    for (let k = 0; k < columns.length; k++) put(columns[k], row, values[k + 1]);
    const many = tooMany(source, row + 1, row + 1, staging.points, limits);
    if (many) throw many;
    if (pace.add(100)) await pace.rest();
  }
  rows.free();
  return columns;
}

/** Errors of the library: plain errors, texts, and WebAssembly failures, but not a request to stop. */
function isOfSqlite(e: unknown): boolean {
  return (
    typeof e === 'string' ||
    (e instanceof Error && (e.constructor === Error || e.name === 'RuntimeError' || e instanceof RangeError))
  );
}

const quoted = (name: string): string => `"${name.replaceAll('"', '""')}"`;

function all(db: Database, sql: string, values: SqlValue[] = []): SqlValue[][] {
  const s = db.prepare(sql);
  try {
    s.bind(values);
    const out: SqlValue[][] = [];
    while (s.step()) out.push(s.get());
    return out;
  } finally {
    s.free();
  }
}

function tablesOf(db: Database): Table[] {
  const known = new Set(
    all(db, "SELECT name FROM sqlite_master WHERE type IN ('table', 'view')").map(([n]) => String(n).toLowerCase()),
  );
  if (!known.has('gpkg_geometry_columns')) return [];
  return all(db, 'SELECT table_name, column_name, srs_id FROM gpkg_geometry_columns')
    .filter(([table]) => known.has(String(table).toLowerCase()))
    .map(([table, geometry, srs]) => ({
      table: String(table),
      geometry: String(geometry),
      srs: Number(srs),
      count: Number(all(db, `SELECT count(*) FROM ${quoted(String(table))}`)[0][0]),
    }));
}

function chosen(
  tables: readonly Table[],
  layer: string | undefined,
  boundary: boolean,
  file: string,
  notes: Reading['notes'],
): Table {
  const names = tables.map((t) => t.table);
  const listed = names.map((n, i) => `"${shown(n)}" (${tables[i].count} records)`).join(', ');
  if (layer !== undefined) {
    const found = tables.find((t) => t.table.toLowerCase() === layer.toLowerCase());
    if (found) return found;
    throw new UserError(
      'layer-not-found',
      `There is no layer "${shown(layer)}"; there is ${listed}.`,
      { file },
      'Choose one of them (--layer NAME).',
    );
  }
  if (tables.length === 1) return tables[0];
  const choice = recordedOf(
    tables.map((t) => Math.min(MANY, t.count)),
    boundary,
  );
  if (choice < 0)
    throw new UserError(
      'several-layers',
      `There are ${tables.length} layers: ${listed}.`,
      { file },
      'Choose one of them (--layer NAME).',
    );
  notes.push(chosenNote(names, choice, boundary, { file }));
  return tables[choice];
}

/** The columns of a layer but its geometry and its row number. */
function fieldsOf(db: Database, { table, geometry }: Table): { name: string; as: Declared | undefined }[] {
  return all(db, `PRAGMA table_info(${quoted(table)})`)
    .filter(
      ([, name, type, , , key]) => String(name) !== geometry && !(Number(key) === 1 && /^integer$/i.test(String(type))),
    )
    .map(([, name, type]) => ({ name: String(name), as: declaredOf(String(type)) }));
}

/** Data types of the standard, table 1. */
function declaredOf(type: string): Declared | undefined {
  if (/^boolean/i.test(type)) return 'boolean';
  if (/^(tinyint|smallint|mediumint|int|integer)/i.test(type)) return 'integer';
  if (/^(real|double|float)/i.test(type)) return 'real';
  if (/^datetime/i.test(type)) return 'datetime';
  return /^date/i.test(type) ? 'date' : undefined;
}

function put(column: ColumnBuilder, row: number, value: SqlValue | undefined): void {
  if (value === null || value === undefined || value instanceof Uint8Array) return;
  if (typeof value !== 'number') column.text(row, value);
  else if (column.declared === 'boolean') column.boolean(row, value !== 0);
  else column.number(row, value);
}

/** The geometry of the standard, section 2.1.3: "GP", version, flags, system, an envelope of 0 to 64 bytes, then WKB. */
function stageBlob(value: SqlValue, staging: Staging): void {
  if (!(value instanceof Uint8Array)) {
    staging.record('no geometry');
    return;
  }
  const envelope = [0, 32, 48, 48, 64][(value[3] >> 1) & 7];
  if (value[0] !== 0x47 || value[1] !== 0x50 || envelope === undefined)
    staging.record('a geometry that is not that of a GeoPackage');
  else if (value[3] & 0x20) staging.record('a geometry of an extension');
  else stageWkb(value.subarray(8 + envelope), staging);
}

function namedSystem(db: Database, srs: number): Parameters<typeof crsOfFile>[0] {
  const found = all(
    db,
    'SELECT organization, organization_coordsys_id, definition, srs_name FROM gpkg_spatial_ref_sys WHERE srs_id = ?',
    [srs],
  )[0];
  // 0 and -1 say that none is known (standard, requirement 11).
  if (found === undefined || srs <= 0) return {};
  const wkt = String(found[2]);
  return {
    code: /^epsg$/i.test(String(found[0])) ? Number(found[1]) : 0,
    wkt: /^undefined$/i.test(wkt) ? null : wkt,
    name: String(found[3]),
  };
}
