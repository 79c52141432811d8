import type { Note, UserError } from '../shared/messages.ts';
import type { Raw } from './assemble.ts';
import type { Beside } from './beside.ts';
import { tooBig, Window } from './bytes.ts';
import { columnsLeftOut } from './columns.ts';
import { projectStaging, systemOf } from './crs.ts';
import {
  badSyntax,
  emptyFile,
  memberTwice,
  notAnObject,
  nothingToRead,
  notUtf8,
  trailingText,
  truncated,
} from './geojson-errors.ts';
import { FeatureReader } from './geojson-feature.ts';
import { FINE, GEOMETRIES, GeometryReader, POINT } from './geojson-geometry.ts';
import { Oddities } from './geojson-oddities.ts';
import { PropertyReader } from './geojson-properties.ts';
import { systemOfMap } from './geojson-system.ts';
import { ascii, JsonBytes, JsonFault, NEED_MORE } from './json-bytes.ts';
import type { PackedFeatures } from './later-features.ts';
import { type Limits, tooMany, tooManyValues } from './limits.ts';
import { Pace } from './pace.ts';
import { Staging } from './staging.ts';
import { StructureCheck } from './structure.ts';
import type { NamedBytes } from './types.ts';

/** The byte before every text of a sequence (RFC 8142, section 2). */
const SEPARATOR = 0x1e;
/** Two features stand no further apart, bytes: a comma and blanks. */
const BETWEEN = 256;
/** Members of the document that may come only once. */
const TOP_KEYS = new Set(['type', 'features', 'geometries', 'geometry', 'coordinates', 'properties', 'crs']);

/**
 * Step 3 for GeoJSON (RFC 7946; features one a line or in a text sequence, RFC 8142, too): bytes to staged records, without ever building the document.
 *
 * The document is taken member by member and, within `features` (or the `geometries` of a bare collection), element by element. An element
 * that runs beyond the window is read again with more bytes, after its staged points are dropped. Keys come in any order. `windowBytes` is the first
 * size of the window, which doubles for records that do not fit. Where the later features are read elsewhere (`rest`), it stops at the first of them and takes
 * them over.
 */
export async function readGeoJson(
  file: NamedBytes,
  source: string,
  limits: Limits,
  notes: Note[],
  pace: Pace,
  crsWanted?: string,
  { watch, rest }: Beside = {},
  windowBytes = 1 << 20,
): Promise<Raw> {
  const reader = new GeoJsonReader(source, file.sizeBytes, limits);
  if (file.sizeBytes > limits.fileBytes) throw tooBig(file.name, limits.fileBytes, 'fileBytes');
  reader.stopAt = rest?.from ?? Infinity;
  pace.phase(0, 0.85, rest?.from ?? file.sizeBytes);
  const window = new Window(file, limits.recordBytes, windowBytes);
  try {
    await readOn(reader, window, file.sizeBytes, pace, watch);
    if (!reader.done && rest) {
      const features = await rest.features;
      // Where they cannot be had, the reader goes on.
      if (!features || !reader.append(features)) {
        reader.stopAt = Infinity;
        pace.phase((0.85 * rest.from) / file.sizeBytes, 0.85, file.sizeBytes - rest.from);
        await readOn(reader, window, file.sizeBytes, pace, watch);
      }
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

/** The features of `file`, which is the end of a GeoJSON of `fileBytes` bytes from the first byte of a feature on; null where they cannot be had so. */
export async function readFeatures(
  file: NamedBytes,
  fileBytes: number,
  limits: Limits,
  watch?: Beside['watch'],
): Promise<PackedFeatures | null> {
  const reader = new GeoJsonReader(file.name, fileBytes, limits, fileBytes - file.sizeBytes);
  const window = new Window(file, limits.recordBytes);
  try {
    await readOn(reader, window, file.sizeBytes, new Pace(), watch);
    return reader.pack();
  } catch {
    // What is wrong is said by the reader of the whole.
    return null;
  } finally {
    await window.close();
  }
}

/** Reads until the document is done, or the features begin that are read elsewhere. `bytes`: size of what `window` looks at. */
async function readOn(
  reader: GeoJsonReader,
  window: Window,
  bytes: number,
  pace: Pace,
  watch: Beside['watch'],
): Promise<void> {
  const { json } = reader;
  let told = window.base + window.start;
  for (;;) {
    await window.more();
    json.look(window.buf, window.start, window.end, window.final);
    reader.base = window.base;
    reader.mark = json.pos;
    try {
      const atRest = reader.run();
      if (atRest || reader.done) {
        window.start = reader.mark;
        watch?.(reader.staging, true);
        return;
      }
    } catch (e) {
      if (e !== NEED_MORE) throw e;
    }
    window.start = reader.mark;
    reader.staging.rollback();
    const at = window.base + window.start;
    reader.expectRows(bytes, at);
    watch?.(reader.staging, false);
    if (pace.add(Math.max(1, at - told))) await pace.rest();
    told = at;
  }
}

class GeoJsonReader {
  readonly json = new JsonBytes();
  readonly staging = new Staging();
  /** Where the current piece begins in the window. */
  mark = 0;
  base = 0;
  done = false;
  /** Byte of the file at which the features begin that are read elsewhere. */
  stopAt = Infinity;
  private state: 'start' | 'member' | 'element' | 'end' | 'sequence' = 'start';
  private comma = false;
  private sawList = false;
  private bareGeometries = false;
  private topType = '';
  private topGeometry: string | null = null;
  private topCoordinates = false;
  private crs: string | null = null;
  private readonly shapes = new GeometryReader(this.json, this.staging);
  private readonly attributes: PropertyReader;
  private readonly oddities = new Oddities();
  /** Members of the document read so far. */
  private readonly members = new Set<string>();
  private readonly structure: StructureCheck;
  private readonly features: FeatureReader;

  /** `before`: bytes of the file before those that are read, which begin with a feature of a list. */
  constructor(
    private readonly file: string,
    fileBytes: number,
    private readonly limits: Limits,
    private readonly before = 0,
  ) {
    this.structure = new StructureCheck(fileBytes, before > 0);
    this.attributes = new PropertyReader(this.json, limits.columns);
    this.features = new FeatureReader(this.json, this.staging, this.shapes, this.attributes);
    if (before === 0) return;
    this.state = 'element';
    this.sawList = true;
  }

  /** Estimates the records of a file of `bytes` bytes from its first `read` bytes, so that columns are allocated once. */
  expectRows(bytes: number, read: number): void {
    const rows = Math.ceil((1.02 * this.staging.records * bytes) / Math.max(1, read));
    this.attributes.expected.rows = Math.min(rows, this.limits.records);
  }

  /** Reads pieces until the window runs dry (throws NEED_MORE), the document is done, or the features begin that are read elsewhere: then true. */
  run(): boolean {
    const { json } = this;
    for (;;) {
      this.mark = json.pos;
      if (this.base + json.pos > this.stopAt - BETWEEN && this.isAtRest()) return true;
      if (this.state === 'element') this.element();
      else if (this.state === 'member') this.member();
      else if (this.state === 'start') this.start();
      else if (this.state === 'sequence') {
        if (this.next()) return false;
      } else {
        this.afterEnd();
        return false;
      }
    }
  }

  /** Whether the next thing is the first feature that is read elsewhere. */
  private isAtRest(): boolean {
    const { json } = this;
    const stop = this.stopAt - this.base;
    if (this.mark >= stop) {
      // No feature begins there.
      this.stopAt = Infinity;
      return false;
    }
    if (this.state !== 'element' || !this.comma) return false;
    if (json.peek() === 44) {
      json.pos++;
      json.peek();
    }
    const there = json.pos === stop && json.buf[stop] === 123;
    json.pos = this.mark;
    return there;
  }

  /** The features as plain data; null where they are not all that there is, or cannot be joined to others. */
  pack(): PackedFeatures | null {
    const { topType, crs } = this;
    const staging = this.staging.pack();
    const suspects = this.structure.pack();
    if (!this.done || staging === null || suspects === null || this.attributes.leftOut > 0) return null;
    return {
      staging,
      columns: this.attributes.columns.map((c) => c.pack()),
      members: [...this.members],
      topType,
      crs,
      oddities: this.oddities.pack(),
      suspects,
    };
  }

  /** Takes over the features that were read elsewhere, and with them the end of the document. False, with nothing taken, where they cannot be joined. */
  append(f: PackedFeatures): boolean {
    const { staging, attributes, limits, structure } = this;
    const { records } = staging;
    const rows = records + f.staging.status.length;
    const isOdd = (m: string): boolean => this.members.has(m) || (TOP_KEYS.has(m) && m !== 'type' && m !== 'crs');
    if (this.bareGeometries || f.members.some(isOdd)) return false;
    if (tooMany(this.file, rows, rows, staging.points + f.staging.points, limits)) return false;
    if (rows * (attributes.columns.length + f.columns.length) > limits.values) return false;
    if (attributes.leftOut > 0 || structure.pack() === null || !structure.append(f.suspects, records)) return false;
    if (!attributes.append(f.columns, records)) return false;
    staging.append(f.staging);
    for (const m of f.members) this.members.add(m);
    if (f.topType !== '') this.topType = f.topType;
    if (f.crs !== null) this.crs = f.crs;
    this.oddities.append(f.oddities, records);
    this.done = true;
    return true;
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
      throw notUtf8(this.file);
    }
    if (json.final && json.end === json.pos) throw emptyFile(this.file);
    if (json.peek() !== 123) throw notAnObject(this.file);
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
    if (TOP_KEYS.has(key) && this.members.has(key)) throw memberTwice(this.file, key);
    // State changes only after the piece is complete, so that a piece can be read again.
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

  /** The one record of a bare Feature or geometry. A later `geometry` member of the same object is ignored. */
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
    else reason = this.features.read(row);
    const over = tooMany(this.file, row + 1, row + 1, staging.points, this.limits);
    if (over) throw over;
    if (row * this.attributes.columns.length > this.limits.values) throw tooManyValues(this.file, this.limits);
    if (reason === POINT) staging.pointRecord(this.shapes.pointX, this.shapes.pointY, reason);
    else staging.record(reason);
    this.countOddities(row);
    this.comma = true;
    if (!this.bareGeometries && this.structure.wants(row, this.before + this.base + from, reason !== FINE)) {
      const { propertiesFrom, propertiesTo } = this.features;
      this.structure.look(row, json.buf.subarray(from, json.pos), propertiesFrom - from, propertiesTo - from);
    }
  }

  /** Counted when the record is complete, because an element may be read more than once. */
  private countOddities(row: number): void {
    if (this.shapes.hasOtherParts) this.oddities.count('otherParts', row);
    if (this.attributes.hasOddProperties) this.oddities.count('oddProperties', row);
    if (this.attributes.hasKeyTwice) this.oddities.count('keyTwice', row);
    if (this.attributes.hasNoNumber) this.oddities.count('noNumber', row);
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
      throw trailingText(this.file, lines);
    }
    if (!json.final) throw NEED_MORE;
    this.done = true;
  }

  explain(e: JsonFault): UserError {
    const inRecord = this.state === 'element' || this.state === 'sequence';
    const record = inRecord ? this.staging.records + 1 : null;
    if (e.message === 'the file ends') return truncated(this.file, record);
    const { buf, end } = this.json;
    const near = ascii(buf, Math.max(0, e.at - 15), Math.min(end, e.at + 15));
    return badSyntax(this.file, record, this.base + e.at, near, e.message);
  }

  async finish(notes: Note[], pace: Pace, crsWanted: string | undefined): Promise<Raw> {
    const { staging, file } = this;
    if (!this.sawList && this.topGeometry === null) {
      throw nothingToRead(file, this.topType);
    }
    if (this.topCoordinates && this.topType !== 'Polygon' && this.topType !== 'MultiPolygon') {
      staging.skip(0, GEOMETRIES.includes(this.topType) ? `${this.topType} geometry` : 'unknown geometry type');
    }
    this.structure.report(file, notes);
    if (this.attributes.leftOut > 0) notes.push(columnsLeftOut(this.limits.columns, file));
    this.oddities.report(file, notes);
    staging.takePoints();
    const crs = await systemOfMap(this.crs, staging, file, notes, crsWanted);
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
}
