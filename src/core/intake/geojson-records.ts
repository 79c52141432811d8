import type { Note } from '../shared/messages.ts';
import { columnsLeftOut } from './columns.ts';
import { FeatureReader } from './geojson-feature.ts';
import { FINE, GeometryReader, POINT } from './geojson-geometry.ts';
import { Oddities } from './geojson-oddities.ts';
import { PropertyReader } from './geojson-properties.ts';
import type { JsonBytes } from './json-bytes.ts';
import type { PackedFeatures } from './later-features.ts';
import { type Limits, tooMany, tooManyValues } from './limits.ts';
import { Staging } from './staging.ts';
import { StructureCheck } from './structure.ts';

/** What is known of the features alone, as plain data. */
type PackedRecords = Omit<PackedFeatures, 'members' | 'topType' | 'crs'>;

/** Staged records of a GeoJSON, one at a time, at the place where `json` is. */
export class RecordReader {
  readonly staging = new Staging();
  readonly shapes: GeometryReader;
  readonly attributes: PropertyReader;
  private readonly oddities = new Oddities();
  private readonly structure: StructureCheck;
  private readonly features: FeatureReader;

  /** `before`: bytes of the file before those that are read. */
  constructor(
    private readonly json: JsonBytes,
    private readonly file: string,
    fileBytes: number,
    private readonly limits: Limits,
    private readonly before: number,
  ) {
    this.shapes = new GeometryReader(json, this.staging);
    this.structure = new StructureCheck(fileBytes, before > 0);
    this.attributes = new PropertyReader(json, limits.columns);
    this.features = new FeatureReader(json, this.staging, this.shapes, this.attributes);
  }

  /** Estimates the records of a file of `bytes` bytes from its first `read` bytes, so that columns are allocated once. */
  expectRows(bytes: number, read: number): void {
    const rows = Math.ceil((1.02 * this.staging.records * bytes) / Math.max(1, read));
    this.attributes.expected.rows = Math.min(rows, this.limits.records);
  }

  /** Ends the one record of a bare Feature or geometry, which was read as `made`. */
  close(made: string): void {
    if (made === POINT) this.staging.pointRecord(this.shapes.pointX, this.shapes.pointY, made);
    else this.staging.record(made);
    this.countOddities(0);
  }

  /** The record of a list or sequence that is next, a geometry where they are `bare`. `base`: byte of the file, less `before`, at which the window begins. */
  read(bare: boolean, base: number): void {
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
      reason = bare ? 'not a geometry' : 'not a feature';
    } else if (bare) reason = this.shapes.geometry(0);
    else reason = this.features.read(row);
    const over = tooMany(this.file, row + 1, row + 1, staging.points, this.limits);
    if (over) throw over;
    if (row * this.attributes.columns.length > this.limits.values) throw tooManyValues(this.file, this.limits);
    if (reason === POINT) staging.pointRecord(this.shapes.pointX, this.shapes.pointY, reason);
    else staging.record(reason);
    this.countOddities(row);
    if (!bare && this.structure.wants(row, this.before + base + from, reason !== FINE)) {
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

  /** The features as plain data; null where they cannot be joined to others. */
  pack(): PackedRecords | null {
    const staging = this.staging.pack();
    const suspects = this.structure.pack();
    if (staging === null || suspects === null || this.attributes.leftOut > 0) return null;
    const columns = this.attributes.columns.map((c) => c.pack());
    return { staging, columns, oddities: this.oddities.pack(), suspects };
  }

  /** Takes over features that were read elsewhere. False, with nothing taken, where they cannot be joined. */
  append(f: PackedRecords): boolean {
    const { staging, attributes, limits, structure } = this;
    const { records } = staging;
    const rows = records + f.staging.status.length;
    if (tooMany(this.file, rows, rows, staging.points + f.staging.points, limits)) return false;
    if (rows * (attributes.columns.length + f.columns.length) > limits.values) return false;
    if (attributes.leftOut > 0 || structure.pack() === null || !structure.append(f.suspects, records)) return false;
    if (!attributes.append(f.columns, records)) return false;
    staging.append(f.staging);
    this.oddities.append(f.oddities, records);
    return true;
  }

  /** Notes on all that was read. */
  report(notes: Note[]): void {
    this.structure.report(this.file, notes);
    if (this.attributes.leftOut > 0) notes.push(columnsLeftOut(this.limits.columns, this.file));
    this.oddities.report(this.file, notes);
  }
}
