import { Parser } from 'htmlparser2';
import { UserError } from '../shared/messages.ts';
import type { Raw } from './assemble.ts';
import { shown, tooBig } from './bytes.ts';
import { ColumnBuilder } from './columns.ts';
import { crsNotUsed } from './crs.ts';
import { POINT } from './geojson-geometry.ts';
import type { Limits } from './limits.ts';
import { orRaise, sizeText, tooMany, tooManyValues } from './limits.ts';
import { HOLE, OUTER, Staging } from './staging.ts';
import type { Reading } from './types.ts';

/**
 * Step 3 for KML (OGC 12-007r2): every Placemark is a record, of polygons or of one point, in WGS84 degrees as KML always is. Its name, its time and the
 * values of ExtendedData are its columns; KML styles are not read.
 */
export async function readKml({ file, source, limits, notes, pace, crs: wanted }: Reading): Promise<Raw> {
  if (file.sizeBytes > limits.fileBytes) throw tooBig(file.name, limits.fileBytes, 'fileBytes');
  if (wanted !== undefined) notes.push(crsNotUsed(wanted, 'KML is always in WGS84 degrees', source));
  const reader = new KmlReader(source, limits);
  const parser = new Parser(reader, { xmlMode: true, decodeEntities: true });
  pace.phase(0, 0.85, file.sizeBytes);
  const decoder = new TextDecoder();
  for await (const bytes of file.chunks()) {
    for (let i = 0; i < bytes.length; i += 1 << 18) {
      const part = bytes.subarray(i, i + (1 << 18));
      parser.write(decoder.decode(part, { stream: true }));
      if (pace.add(part.length)) await pace.rest();
    }
  }
  parser.write(decoder.decode());
  reader.atEnd();
  parser.end();
  const { staging, columns } = reader;
  staging.takePoints();
  pace.phase(0.85, 1, 60 * staging.points);
  const words = new TextDecoder();
  return { source, format: 'kml', staging, columns, decode: (b) => words.decode(b), system: null, notes };
}

class KmlReader {
  readonly staging = new Staging();
  readonly columns: ColumnBuilder[] = [];
  private readonly byName = new Map<string, ColumnBuilder>();
  /** Names of the open elements, without prefix. */
  private readonly open: string[] = [];
  private text = '';
  private textBytes = 0;
  private key = '';
  private inPlacemark = false;
  private sawKml = false;
  private other = '';
  private point: [number, number] | null = null;
  private fault = '';

  constructor(
    private readonly file: string,
    private readonly limits: Limits,
  ) {}

  onopentag(name: string, attributes: Record<string, string>): void {
    const plain = name.replace(/^.*:/, '');
    this.open.push(plain);
    this.text = '';
    if (this.open.length > 200)
      throw new UserError(
        'kml-broken',
        'Elements of the KML are nested too deeply.',
        { file: this.file },
        'Export it again.',
      );
    if (plain === 'kml' || plain === 'Document' || plain === 'Placemark') this.sawKml = true;
    if (plain === 'Placemark') {
      this.inPlacemark = true;
      this.other = '';
      this.fault = '';
      this.point = null;
    }
    if (plain === 'Data' || plain === 'SimpleData') this.key = attributes.name ?? '';
    if (plain === 'LineString' || plain === 'Track' || plain === 'Model') this.other = plain;
  }

  ontext(text: string): void {
    if (!this.inPlacemark) return;
    this.text += text;
    this.textBytes = this.text.length;
    if (this.textBytes > this.limits.recordBytes)
      throw new UserError(
        'record-too-big',
        `One record is larger than ${sizeText(this.limits.recordBytes)}, the limit.`,
        { file: this.file, record: this.staging.records + 1 },
        orRaise('Export the map as one record per section or per pass', 'recordBytes'),
      );
  }

  onclosetag(name: string): void {
    const plain = name.replace(/^.*:/, '');
    this.open.pop();
    const parent = this.open.at(-1) ?? '';
    if (this.inPlacemark) {
      const text = this.text.trim();
      if (plain === 'coordinates') this.coordinates(text, parent);
      else if (plain === 'value' && parent === 'Data') this.put(this.key, text);
      else if (plain === 'SimpleData') this.put(this.key, text);
      else if (plain === 'name' && parent === 'Placemark') this.put('name', text);
      else if (plain === 'when' && parent === 'TimeStamp') this.put('time', text);
      else if (plain === 'Placemark') this.end();
    }
    this.text = '';
  }

  private end(): void {
    const { staging, point } = this;
    this.inPlacemark = false;
    const any = staging.rings > staging.recordStart[staging.records];
    if (this.fault !== '') staging.record(this.fault);
    else if (any) staging.record();
    else if (point !== null) staging.pointRecord(point[0], point[1], POINT);
    else staging.record(this.other === '' ? 'no geometry' : `${this.other} geometry`);
    const over = tooMany(this.file, staging.records, staging.records, staging.points, this.limits);
    if (over) throw over;
    if (staging.records * this.columns.length > this.limits.values) throw tooManyValues(this.file, this.limits);
  }

  private coordinates(text: string, parent: string): void {
    const { staging } = this;
    if (parent !== 'LinearRing' && parent !== 'Point') return;
    let points = 0;
    for (const tuple of text.split(/\s+/)) {
      const [x, y] = tuple.split(',');
      const [lon, lat] = [Number(x || Number.NaN), Number(y || Number.NaN)];
      if (Number.isNaN(lon) || Number.isNaN(lat)) {
        this.fault = 'coordinates that are not numbers';
        continue;
      }
      if (parent === 'Point') {
        this.point = [lon, lat];
        return;
      }
      staging.point(lon, lat);
      points++;
    }
    if (points > 0) staging.ring(this.open.includes('innerBoundaryIs') ? HOLE : OUTER);
  }

  private put(name: string, text: string): void {
    if (name === '' || text === '') return;
    let column = this.byName.get(name);
    if (column === undefined) {
      if (this.columns.length >= this.limits.columns) return;
      column = new ColumnBuilder(name);
      this.columns.push(column);
      this.byName.set(name, column);
    }
    const row = this.staging.records;
    if (/^[-+]?(\d+\.?\d*|\.\d+)(e[-+]?\d+)?$/i.test(text) && Number.isFinite(Number(text)))
      column.number(row, Number(text));
    else column.text(row, text);
  }

  onerror(e: Error): void {
    throw e;
  }

  /** The parser closes open elements when it ends, so this is checked before. */
  atEnd(): void {
    const place = { file: this.file };
    if (!this.sawKml)
      throw new UserError('not-kml', 'The file is not KML.', place, 'Export the map as KML, or as GeoJSON.');
    if (this.open.length > 0)
      throw new UserError(
        'kml-truncated',
        `The KML ends in the middle${this.inPlacemark ? ` of record ${this.staging.records + 1}` : ''}: "${shown(this.open.at(-1) ?? '', 30)}" is not closed.`,
        this.inPlacemark ? { ...place, record: this.staging.records + 1 } : place,
        'It was not written or copied completely: export it again.',
      );
    if (this.staging.records === 0)
      throw new UserError(
        'no-records',
        'The KML holds no Placemark.',
        place,
        'If it only links to others (NetworkLink), export those.',
      );
  }
}
