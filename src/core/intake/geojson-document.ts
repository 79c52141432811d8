import type { Note, UserError } from '../shared/messages.ts';
import type { Raw } from './assemble.ts';
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
import { GEOMETRIES } from './geojson-geometry.ts';
import { RecordReader } from './geojson-records.ts';
import { systemOfMap } from './geojson-system.ts';
import { ascii, JsonBytes, type JsonFault, NEED_MORE } from './json-bytes.ts';
import type { PackedFeatures } from './later-features.ts';
import type { Limits } from './limits.ts';
import type { Pace } from './pace.ts';
import type { Staging } from './staging.ts';

/** The byte before every text of a sequence (RFC 8142, section 2). */
const SEPARATOR = 0x1e;
/** Two features stand no further apart, bytes: a comma and blanks. */
const BETWEEN = 256;
/** Members of the document that may come only once. */
const TOP_KEYS = new Set(['type', 'features', 'geometries', 'geometry', 'coordinates', 'properties', 'crs']);

/** The document: its members, and where its records begin. A piece that runs beyond the window is read again. */
export class DocumentReader {
  readonly json = new JsonBytes();
  readonly staging: Staging;
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
  /** Members of the document read so far. */
  private readonly members = new Set<string>();
  private readonly records: RecordReader;

  /** `before`: bytes of the file before those that are read, which begin with a feature of a list. */
  constructor(
    private readonly file: string,
    fileBytes: number,
    limits: Limits,
    before = 0,
  ) {
    this.records = new RecordReader(this.json, file, fileBytes, limits, before);
    this.staging = this.records.staging;
    if (before === 0) return;
    this.state = 'element';
    this.sawList = true;
  }

  /** As `RecordReader.expectRows`. */
  expectRows(bytes: number, read: number): void {
    this.records.expectRows(bytes, read);
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
    const records = this.done ? this.records.pack() : null;
    return records && { ...records, members: [...this.members], topType, crs };
  }

  /** Takes over the features that were read elsewhere, and with them the end of the document. False, with nothing taken, where they cannot be joined. */
  append(f: PackedFeatures): boolean {
    const isOdd = (m: string): boolean => this.members.has(m) || (TOP_KEYS.has(m) && m !== 'type' && m !== 'crs');
    if (this.bareGeometries || f.members.some(isOdd) || !this.records.append(f)) return false;
    for (const m of f.members) this.members.add(m);
    if (f.topType !== '') this.topType = f.topType;
    if (f.crs !== null) this.crs = f.crs;
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
    const { shapes, attributes } = this.records;
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
      const made = shapes.geometry(0);
      this.closeTop(made);
    } else if (key === 'coordinates' && this.topGeometry === null) {
      const made = this.topType === '' ? shapes.coordinatesByShape() : shapes.coordinates(this.topType);
      this.topCoordinates = true;
      this.closeTop(made);
    } else if (key === 'properties' && c === 123) attributes.properties(0);
    else json.skip();
    this.members.add(key);
    this.comma = true;
  }

  /** The one record of a bare Feature or geometry. A later `geometry` member of the same object is ignored. */
  private closeTop(made: string): void {
    if (this.staging.records > 0) return;
    this.topGeometry = made;
    this.records.close(made);
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

  private one(): void {
    this.records.read(this.bareGeometries, this.base);
    this.comma = true;
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
    this.records.report(notes);
    staging.takePoints();
    const crs = await systemOfMap(this.crs, staging, file, notes, crsWanted);
    if (crs !== null) await projectStaging(staging, crs, pace);
    const decoder = new TextDecoder();
    return {
      source: file,
      format: 'geojson',
      staging,
      columns: this.records.attributes.columns,
      decode: (b) => decoder.decode(b),
      system: crs && systemOf(crs),
      notes,
    };
  }
}
