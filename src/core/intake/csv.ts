import { UserError } from '../shared/messages.ts';
import type { Raw } from './assemble.ts';
import { shown, tooBig } from './bytes.ts';
import { ColumnBuilder } from './columns.ts';
import { crsOfUnnamed, projectStaging, systemOf } from './crs.ts';
import { POINT } from './geojson-geometry.ts';
import { type Limits, orRaise, sizeText, tooMany, tooManyValues } from './limits.ts';
import { Staging } from './staging.ts';
import type { NamedBytes, Reading } from './types.ts';
import { stageWkt } from './wkt.ts';

const DELIMITERS = [',', ';', '\t', '|'] as const;
/** Names of the columns of a position, letters only. */
const LON = /^(lon|long|longitude|lng|x|pointx|xcoord|easting|utmx|xm)(deg|dd|decimaldegrees|wgs)?$/;
const LAT = /^(lat|latitude|y|pointy|ycoord|northing|utmy|ym)(deg|dd|decimaldegrees|wgs)?$/;
const WKT = /^(wkt|geometry|geom|thegeom|shape)$/;

/**
 * Step 3 for comma-separated values (RFC 4180; semicolons, tabs and bars too): one line of column names, then a point or a polygon a line. The position
 * is in a column of longitude (or x) and one of latitude (or y), or as WKT in a column of that name. With semicolons or tabs a comma is a decimal one.
 */
export async function readCsv({ file, source, limits, notes, pace, crs: crsWanted }: Reading): Promise<Raw> {
  if (file.sizeBytes > limits.fileBytes) throw tooBig(file.name, limits.fileBytes, 'fileBytes');
  const utf8 = await isUtf8(file);
  if (!utf8)
    notes.push({
      code: 'not-utf8',
      sentence: 'The file is not UTF-8 text; it was read as Windows-1252.',
      place: { file: source },
      todo: 'Save it as UTF-8 if letters look wrong.',
    });
  pace.phase(0, 0.85, file.sizeBytes);
  const reader = new CsvReader(source, limits);
  const decoder = new TextDecoder(utf8 ? 'utf-8' : 'windows-1252');
  for await (const bytes of file.chunks()) {
    for (let i = 0; i < bytes.length; i += 1 << 18) {
      const part = bytes.subarray(i, i + (1 << 18));
      reader.push(decoder.decode(part, { stream: true }));
      if (pace.add(part.length)) await pace.rest();
    }
  }
  reader.push(decoder.decode());
  const staging = reader.end();
  staging.takePoints();
  pace.phase(0.85, 1, 60 * staging.points);
  const crs = await crsOfUnnamed(staging, crsWanted, source, notes);
  if (crs !== null) await projectStaging(staging, crs, pace);
  const words = new TextDecoder();
  return {
    source,
    format: 'csv',
    staging,
    columns: reader.columns.filter((c): c is ColumnBuilder => c !== null),
    decode: (b) => words.decode(b),
    system: crs && systemOf(crs),
    notes,
  };
}

async function isUtf8(file: NamedBytes): Promise<boolean> {
  const decoder = new TextDecoder('utf-8', { fatal: true });
  try {
    for await (const bytes of file.chunks()) decoder.decode(bytes, { stream: true });
    decoder.decode();
    return true;
  } catch (e) {
    if (e instanceof TypeError) return false;
    throw e;
  }
}

class CsvReader {
  readonly staging = new Staging();
  /** Null for the columns of the position. */
  columns: (ColumnBuilder | null)[] = [];
  private rest = '';
  private delimiter = ',';
  private started = false;
  private lon = -1;
  private lat = -1;
  private wkt = -1;
  private row = 0;
  private readonly expected = { rows: 0 };

  constructor(
    private readonly file: string,
    private readonly limits: Limits,
  ) {}

  push(text: string): void {
    this.rest += text;
    if (!this.started && this.rest.length > 0) this.rest = this.rest.replace(/^\ufeff/, '');
    let from = 0;
    for (;;) {
      const end = this.recordEnd(from);
      if (end < 0) break;
      this.record(this.rest.slice(from, end).replace(/\r$/, ''));
      from = end + 1;
    }
    this.rest = this.rest.slice(from);
    if (this.rest.length > this.limits.recordBytes)
      throw new UserError(
        'record-too-big',
        `One line is larger than ${sizeText(this.limits.recordBytes)}, the limit; a quote may be left open.`,
        { file: this.file, record: this.row + 1 },
        orRaise('Look for a quote that is not closed', 'recordBytes'),
      );
  }

  /** Where the line that begins at `from` ends, with regard to quotes; -1 where it is not complete. */
  private recordEnd(from: number): number {
    let end = this.rest.indexOf('\n', from);
    let quote = this.rest.indexOf('"', from);
    if (quote < 0 || quote > end) return end;
    let open = false;
    let at = from;
    for (;;) {
      end = this.rest.indexOf('\n', at);
      if (end < 0) return -1;
      for (quote = this.rest.indexOf('"', at); quote >= 0 && quote < end; quote = this.rest.indexOf('"', quote + 1))
        open = !open;
      if (!open) return end;
      at = end + 1;
    }
  }

  end(): Staging {
    if (this.rest.trim() !== '') this.record(this.rest.replace(/\r$/, ''));
    if (!this.started)
      throw new UserError('empty-file', 'The file is empty.', { file: this.file }, 'Export the map again.');
    if (this.staging.records === 0)
      throw new UserError(
        'no-records',
        'The file has column names but no rows.',
        { file: this.file },
        'Export the map again.',
      );
    return this.staging;
  }

  private record(line: string): void {
    if (line.trim() === '') return;
    if (!this.started) {
      this.header(line);
      return;
    }
    const cells = this.split(line);
    const { row, staging, lon, lat, wkt } = this;
    const over = tooMany(this.file, row + 1, row + 1, staging.points, this.limits);
    if (over) throw over;
    if (row * this.columns.length > this.limits.values) throw tooManyValues(this.file, this.limits);
    for (let k = 0; k < this.columns.length; k++) {
      const column = this.columns[k];
      const cell = cells[k]?.trim() ?? '';
      if (column === null || cell === '') continue;
      const n = this.number(cell);
      if (Number.isNaN(n)) column.text(row, cell);
      else column.number(row, n);
    }
    if (wkt >= 0) stageWkt(cells[wkt] ?? '', staging);
    else {
      const [x, y] = [this.number(cells[lon]?.trim() ?? ''), this.number(cells[lat]?.trim() ?? '')];
      if (Number.isNaN(x) || Number.isNaN(y)) staging.record('no position');
      else staging.pointRecord(x, y, POINT);
    }
    this.row++;
  }

  private header(line: string): void {
    this.started = true;
    const count = (d: string): number => line.split(d).length;
    this.delimiter = DELIMITERS.reduce((a, d) => (count(d) > count(a) ? d : a));
    const names = this.split(line).map((n) => n.trim());
    const plain = names.map((n) => n.toLowerCase().replaceAll(/[^a-z]/g, ''));
    this.wkt = plain.findIndex((n) => WKT.test(n));
    if (this.wkt < 0) {
      this.lon = plain.findIndex((n) => LON.test(n));
      this.lat = plain.findIndex((n) => LAT.test(n));
      if (this.lon < 0 || this.lat < 0)
        throw new UserError(
          'csv-no-position',
          `The first line names no columns of longitude and latitude; it has ${names
            .slice(0, 12)
            .map((n) => `"${shown(n, 30)}"`)
            .join(', ')}${names.length > 12 ? ' and more' : ''}.`,
          { file: this.file },
          'Name them "longitude" and "latitude" (or "x" and "y"), or export the map as GeoJSON or a shapefile.',
        );
    }
    this.columns = names
      .slice(0, this.limits.columns)
      .map((name, k) =>
        k === this.lon || k === this.lat || k === this.wkt
          ? null
          : new ColumnBuilder(name || `column ${k + 1}`, this.expected),
      );
  }

  private number(cell: string): number {
    const text = this.delimiter !== ',' && /^[-+]?\d+,\d+$/.test(cell) ? cell.replace(',', '.') : cell;
    return /^[-+]?(\d+\.?\d*|\.\d+)(e[-+]?\d+)?$/i.test(text) ? Number(text) : Number.NaN;
  }

  private split(line: string): string[] {
    if (!line.includes('"')) return line.split(this.delimiter);
    const out: string[] = [];
    let cell = '';
    for (let i = 0; i <= line.length; i++) {
      const c = line[i];
      if (c === undefined || c === this.delimiter) {
        out.push(cell);
        cell = '';
      } else if (c === '"') {
        for (i++; i < line.length; i++) {
          if (line[i] !== '"') cell += line[i];
          else if (line[i + 1] === '"') {
            cell += '"';
            i++;
          } else break;
        }
      } else cell += c;
    }
    return out;
  }
}
