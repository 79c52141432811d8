import { type Note, UserError } from '../shared/messages.ts';
import type { Raw } from './assemble.ts';
import { quoted } from './byte-pattern.ts';
import { shown, tooBig, Window } from './bytes.ts';
import { columnsLeftOut } from './columns.ts';
import {
  type Crs,
  crsNotUsed,
  isAllSmall,
  looksLikeDegrees,
  projectStaging,
  readCrsMember,
  systemOf,
  wantedCrs,
} from './crs.ts';
import { FINE, GEOMETRIES, GeometryReader, POINT } from './geojson-geometry.ts';
import { PropertyReader } from './geojson-properties.ts';
import { ascii, JsonBytes, JsonFault, NEED_MORE } from './json-bytes.ts';
import { type Limits, tooMany, tooManyValues } from './limits.ts';
import type { Pace } from './pace.ts';
import { crsOfWkt } from './prj.ts';
import { Staging } from './staging.ts';
import { StructureCheck } from './structure.ts';
import type { NamedBytes } from './types.ts';

/** Before every text of a sequence (RFC 8142, section 2). */
const SEPARATOR = 0x1e;
const FEATURE = quoted(['Feature']);
/** Members of the whole that may come but once. */
const TOP_KEYS = new Set(['type', 'features', 'geometries', 'geometry', 'coordinates', 'properties', 'crs']);
const FEATURE_KEYS = quoted(['type', 'geometry', 'properties']);

/**
 * Step 3 for GeoJSON (RFC 7946; features one a line or in a text sequence, RFC 8142, too): bytes to staged records, without ever building the document.
 *
 * The document is taken member by member and, within `features` (or the `geometries` of a bare collection), element by element. An element
 * that goes on beyond the window is begun again with more bytes; what it had staged is forgotten first. Keys come in any order. `windowBytes` is the first
 * size of the window, which doubles for records that do not fit.
 */
export async function readGeoJson(
  file: NamedBytes,
  source: string,
  limits: Limits,
  notes: Note[],
  pace: Pace,
  crsWanted?: string,
  windowBytes = 1 << 20,
): Promise<Raw> {
  const reader = new GeoJsonReader(source, file.sizeBytes, limits);
  const window = new Window(file, limits.recordBytes, windowBytes);
  if (file.sizeBytes > limits.fileBytes) throw tooBig(file.name, limits.fileBytes, 'fileBytes');
  pace.phase(0, 0.85, file.sizeBytes);
  const json = reader.json;
  let told = 0;
  try {
    for (;;) {
      await window.more();
      json.look(window.buf, window.start, window.end, window.final);
      reader.base = window.base;
      reader.mark = json.pos;
      try {
        reader.run();
        if (reader.done) break;
      } catch (e) {
        if (e !== NEED_MORE) throw e;
      }
      window.start = reader.mark;
      reader.staging.rollback();
      const at = window.base + window.start;
      reader.expectRows(file.sizeBytes, at);
      if (pace.add(Math.max(1, at - told))) await pace.rest();
      told = at;
    }
  } catch (e) {
    if (e instanceof JsonFault) throw reader.explain(e);
    throw e;
  } finally {
    await window.close();
  }
  pace.phase(0.85, 1, 60 * reader.staging.points);
  return reader.finish(notes, pace, crsWanted);
}

class GeoJsonReader {
  readonly json = new JsonBytes();
  readonly staging = new Staging();
  /** Where in the window the piece in hand begins. */
  mark = 0;
  base = 0;
  done = false;
  private state: 'start' | 'member' | 'element' | 'end' | 'sequence' = 'start';
  private comma = false;
  private sawList = false;
  private bareGeometries = false;
  private topType = '';
  private topGeometry: string | null = null;
  private topCoordinates = false;
  private crs: string | null = null;
  private readonly file: string;
  private readonly limits: Limits;
  private readonly shapes = new GeometryReader(this.json, this.staging);
  private readonly attributes: PropertyReader;
  private partsSkipped = 0;
  private firstPartsSkipped = 0;
  private oddProperties = 0;
  private firstOddProperties = 0;
  private keysTwice = 0;
  private firstKeyTwice = 0;
  private noNumbers = 0;
  private firstNoNumber = 0;
  /** Members of the whole that came before. */
  private readonly members = new Set<string>();
  private readonly judge: StructureCheck;
  /** Where the value of the feature's properties stands; `propertiesTo` 0 where it has none. */
  private propertiesFrom = 0;
  private propertiesTo = 0;

  constructor(file: string, fileBytes: number, limits: Limits) {
    this.judge = new StructureCheck(fileBytes);
    this.attributes = new PropertyReader(this.json, limits.columns);
    this.file = file;
    this.limits = limits;
  }

  /** The records that a file of `bytes` bytes has, if the rest of it is like its first `read` bytes: columns are then made that long at once. */
  expectRows(bytes: number, read: number): void {
    const rows = Math.ceil((1.02 * this.staging.records * bytes) / Math.max(1, read));
    this.attributes.expected.rows = Math.min(rows, this.limits.records);
  }

  /** Reads pieces until the window runs dry (throws NEED_MORE) or the document is done. */
  run(): void {
    const { json } = this;
    for (;;) {
      this.mark = json.pos;
      if (this.state === 'element') this.element();
      else if (this.state === 'member') this.member();
      else if (this.state === 'start') this.start();
      else if (this.state === 'sequence') {
        if (this.next()) return;
      } else {
        this.afterEnd();
        return;
      }
    }
  }

  private start(): void {
    const { json } = this;
    const b = json.buf;
    if (json.end - json.pos < 4 && !json.final) throw NEED_MORE;
    if (b[json.pos] === 0xef && b[json.pos + 1] === 0xbb && b[json.pos + 2] === 0xbf) json.pos += 3;
    if (b[json.pos] === SEPARATOR) json.pos++;
    if (
      (b[json.pos] === 0xff && b[json.pos + 1] === 0xfe) ||
      (b[json.pos] === 0xfe && b[json.pos + 1] === 0xff) ||
      (b[json.pos + 1] === 0 && json.end > 1)
    ) {
      throw new UserError('not-utf8', 'The file is not UTF-8 text.', { file: this.file }, 'Save it as UTF-8.');
    }
    if (json.final && json.end === json.pos) {
      throw new UserError('empty-file', 'The file is empty.', { file: this.file }, 'Export the map again.');
    }
    if (json.peek() !== 123) {
      throw new UserError(
        'not-geojson',
        'The file does not hold a GeoJSON object.',
        { file: this.file },
        'Export the map as GeoJSON or as a shapefile.',
      );
    }
    json.pos++;
    this.state = 'member';
    this.comma = false;
  }

  private member(): void {
    const { json, staging } = this;
    const before = this.comma;
    if (json.peek() === 125) {
      json.pos++;
      this.state = 'end';
      return;
    }
    if (before) json.take(44);
    const key = json.string();
    json.take(58);
    const c = json.peek();
    if (TOP_KEYS.has(key) && this.members.has(key)) {
      throw new UserError(
        'key-twice',
        `The GeoJSON holds the member "${key}" twice.`,
        { file: this.file, key },
        'Export the map again; the one that holds is not known.',
      );
    }
    // All state is changed after the piece is complete, so that a piece can be begun again.
    if (key === 'features' && c === 91) {
      this.members.add(key);
      json.pos++;
      this.sawList = true;
      this.state = 'element';
      this.comma = false;
      return;
    }
    if (key === 'geometries' && c === 91 && this.topType !== 'Feature' && this.topType !== 'FeatureCollection') {
      json.pos++;
      this.members.add(key);
      this.sawList = true;
      this.bareGeometries = true;
      this.state = 'element';
      this.comma = false;
      return;
    }
    if (key === 'type' && c === 34) this.topType = json.string();
    else if (key === 'crs') {
      const from = json.pos;
      json.skip();
      this.crs = new TextDecoder().decode(json.buf.subarray(from, json.pos));
    } else if (this.sawList || this.topType === 'FeatureCollection') json.skip();
    else if (key === 'geometry' && this.topCoordinates === false) {
      staging.rollback();
      const made = this.shapes.geometry(0);
      this.closeTop(made);
    } else if (key === 'coordinates' && this.topGeometry === null) {
      const made = this.topType === '' ? this.shapes.coordinatesByShape() : this.shapes.coordinates(this.topType);
      this.topCoordinates = true;
      this.closeTop(made);
    } else if (key === 'properties' && c === 123) this.attributes.properties(0);
    else json.skip();
    this.members.add(key);
    this.comma = true;
  }

  /** The one record of a bare Feature or geometry. A later `geometry` member of the same object is not looked at. */
  private closeTop(made: string): void {
    if (this.staging.records > 0) return;
    this.topGeometry = made;
    if (made === POINT) this.staging.pointRecord(this.shapes.pointX, this.shapes.pointY, made);
    else this.staging.record(made);
    this.countOddities(0);
  }

  private element(): void {
    const { json } = this;
    if (json.peek() === 93) {
      json.pos++;
      this.state = 'member';
      this.comma = true;
      return;
    }
    if (this.comma) json.take(44);
    this.one();
  }

  /** A feature of a sequence (of lines, or RFC 8142); true when there is none left. */
  private next(): boolean {
    const { json } = this;
    const b = json.buf;
    while (
      b[json.pos] === SEPARATOR ||
      b[json.pos] === 32 ||
      b[json.pos] === 10 ||
      b[json.pos] === 13 ||
      b[json.pos] === 9
    )
      json.pos++;
    this.mark = json.pos;
    if (json.pos < json.end) {
      this.one();
      return false;
    }
    if (!json.final) throw NEED_MORE;
    this.done = true;
    return true;
  }

  /** One record of the list or sequence, at `pos`. */
  private one(): void {
    const { json, staging } = this;
    const c = json.peek();
    const from = json.pos;
    const row = staging.records;
    this.shapes.hasOtherParts = false;
    this.attributes.hasOddProperties = false;
    this.attributes.hasKeyTwice = false;
    this.attributes.hasNoNumber = false;
    let reason: string;
    if (c !== 123) {
      json.skip();
      reason = this.bareGeometries ? 'not a geometry' : 'not a feature';
    } else if (this.bareGeometries) reason = this.shapes.geometry(0);
    else reason = this.feature(row);
    const over = tooMany(this.file, row + 1, row + 1, staging.points, this.limits);
    if (over) throw over;
    if (row * this.attributes.columns.length > this.limits.values) throw tooManyValues(this.file, this.limits);
    if (reason === POINT) staging.pointRecord(this.shapes.pointX, this.shapes.pointY, reason);
    else staging.record(reason);
    this.countOddities(row);
    this.comma = true;
    if (!this.bareGeometries && this.judge.wants(row, reason !== FINE)) {
      this.judge.look(row, json.buf.subarray(from, json.pos), this.propertiesFrom - from, this.propertiesTo - from);
    }
  }

  /** Counted when the record is complete, because an element may be begun more than once. */
  private countOddities(row: number): void {
    if (this.shapes.hasOtherParts && this.partsSkipped++ === 0) this.firstPartsSkipped = row + 1;
    if (this.attributes.hasOddProperties && this.oddProperties++ === 0) this.firstOddProperties = row + 1;
    if (this.attributes.hasKeyTwice && this.keysTwice++ === 0) this.firstKeyTwice = row + 1;
    if (this.attributes.hasNoNumber && this.noNumbers++ === 0) this.firstNoNumber = row + 1;
  }

  private feature(row: number): string {
    const { json, staging } = this;
    json.pos++;
    this.propertiesTo = 0;
    let made = 'no geometry';
    let isFeature = false;
    let comma = false;
    let geometries = 0;
    let others = 0;
    let types = 0;
    for (;;) {
      if (json.peek() === 125) break;
      if (comma) {
        json.take(44);
        json.peek();
      }
      comma = true;
      if (json.buf[json.pos] !== 34) json.fail('expected a key');
      const key = json.oneOf(FEATURE_KEYS);
      json.take(58);
      const c = json.peek();
      if (key === 'type' && c === 34) {
        types++;
        isFeature = json.oneOf(FEATURE) === 'Feature';
      } else if (key === 'geometry') {
        geometries++;
        staging.rollback();
        made = this.shapes.geometry(0);
      } else if (key === 'properties') {
        others++;
        this.propertiesFrom = json.pos;
        this.attributes.properties(row);
        this.propertiesTo = json.pos;
      } else json.skip();
    }
    json.pos++;
    if (types > 1 || others > 1) this.attributes.hasKeyTwice = true;
    return !isFeature ? 'not a feature' : geometries > 1 ? 'two geometries' : made;
  }

  private afterEnd(): void {
    const { json } = this;
    const b = json.buf;
    while (b[json.pos] === 32 || b[json.pos] === 10 || b[json.pos] === 13 || b[json.pos] === 9) json.pos++;
    this.mark = json.pos;
    if (json.pos < json.end) {
      const lines = b[json.pos] === 123 || b[json.pos] === SEPARATOR;
      if (lines && this.topType === 'Feature') {
        this.state = 'sequence';
        return;
      }
      throw new UserError(
        lines ? 'several-documents' : 'json-syntax',
        lines
          ? 'The file holds several GeoJSON objects that are not features, one after another.'
          : 'Something follows the end of the GeoJSON object.',
        { file: this.file },
        'Export the map as one FeatureCollection, or as one feature a line.',
      );
    }
    if (!json.final) throw NEED_MORE;
    this.done = true;
  }

  explain(e: JsonFault): UserError {
    const cut = e.message === 'the file ends';
    const at = this.base + e.at;
    const near = shown(ascii(this.json.buf, Math.max(0, e.at - 15), Math.min(this.json.end, e.at + 15)), 40);
    const inRecord = this.state === 'element' || this.state === 'sequence';
    const place = inRecord ? { file: this.file, record: this.staging.records + 1 } : { file: this.file };
    if (cut) {
      return new UserError(
        'json-truncated',
        `The file ends in the middle${inRecord ? ` of record ${this.staging.records + 1}` : ''}.`,
        place,
        'It was not written or copied completely: export it again.',
      );
    }
    return new UserError(
      'json-syntax',
      `The file is not valid JSON at byte ${at}, near "${near}": ${e.message}.`,
      place,
      'Export the map again.',
    );
  }

  async finish(notes: Note[], pace: Pace, crsWanted: string | undefined): Promise<Raw> {
    const { staging, file } = this;
    if (!this.sawList && this.topGeometry === null) {
      const known = this.topType === 'FeatureCollection' || this.topType === 'Feature';
      throw new UserError(
        known ? 'no-records' : 'not-geojson',
        known
          ? 'The GeoJSON has no features.'
          : `The file is JSON but not GeoJSON${this.topType ? ` (type "${shown(this.topType, 30)}")` : ''}.`,
        { file },
        'Export the map as a GeoJSON FeatureCollection of polygons.',
      );
    }
    if (this.topCoordinates && this.topType !== 'Polygon' && this.topType !== 'MultiPolygon') {
      staging.skip(0, GEOMETRIES.includes(this.topType) ? `${this.topType} geometry` : 'unknown geometry type');
    }
    this.takeNotes(notes);
    staging.takePoints();
    const crs = await this.system(notes, crsWanted);
    if (crs !== null) await projectStaging(staging, crs, pace);
    const decoder = new TextDecoder();
    return {
      source: file,
      format: 'geojson',
      staging,
      columns: this.attributes.columns,
      decode: (b) => decoder.decode(b),
      system: crs && systemOf(crs),
      notes,
    };
  }

  /** What was noticed while reading. */
  private takeNotes(notes: Note[]): void {
    const { file } = this;
    this.judge.report(file, notes);
    if (this.attributes.leftOut > 0) notes.push(columnsLeftOut(this.limits.columns, file));
    if (this.partsSkipped > 0) {
      notes.push({
        code: 'parts-left-out',
        sentence: `${this.partsSkipped} record(s) hold points or lines beside polygons; only the polygons were read.`,
        place: { file, record: this.firstPartsSkipped },
        todo: 'Nothing, unless the points or lines matter.',
      });
    }
    if (this.oddProperties > 0) {
      notes.push({
        code: 'properties-not-an-object',
        sentence: `${this.oddProperties} record(s) have properties that are not an object; they were read without attributes.`,
        place: { file, record: this.firstOddProperties },
        todo: 'Export the map again if attributes matter.',
      });
    }
    if (this.keysTwice > 0) {
      notes.push({
        code: 'keys-twice',
        sentence: `${this.keysTwice} record(s) hold a key twice; the last one was taken.`,
        place: { file, record: this.firstKeyTwice },
        todo: 'Export the map again if attributes matter.',
      });
    }
    if (this.noNumbers > 0) {
      notes.push({
        code: 'no-numbers',
        sentence: `${this.noNumbers} record(s) hold values such as NaN, Infinity or 1e400, which are no numbers of JSON; they count as missing.`,
        place: { file, record: this.firstNoNumber },
        todo: 'Nothing, unless these values matter.',
      });
    }
  }

  /** The map's own coordinate system, or else the one that the user named; null for degrees. */
  private async system(notes: Note[], crsWanted: string | undefined): Promise<Crs | null> {
    const { staging, file } = this;
    const own = await readCrsMember(this.crs, file, (wkt) => crsOfWkt(wkt, 'The crs of the map', file, staging, notes));
    const degrees = this.crs === null && looksLikeDegrees(staging);
    if (crsWanted !== undefined && (degrees || this.crs !== null))
      notes.push(crsNotUsed(crsWanted, degrees ? 'its coordinates are degrees' : 'the map names its own', file));
    const crs = this.crs === null && !degrees ? await wantedCrs(crsWanted, file) : own;
    if (own?.projected && isAllSmall(staging)) {
      throw new UserError(
        'crs-contradicts',
        `The map says that it is in "${shown(own.name)}", but its coordinates look like degrees.`,
        { file, key: 'crs' },
        'Export it again; if it is in degrees, without the crs member.',
      );
    }
    return crs;
  }
}
