import { POINT } from './geojson-geometry.ts';
import { HOLE, OUTER, type Staging } from './staging.ts';

const TYPES: Readonly<Record<number, string>> = {
  1: POINT,
  2: 'LineString geometry',
  4: 'MultiPoint geometry',
  5: 'MultiLineString geometry',
  7: 'GeometryCollection geometry',
};

/**
 * Stages one record from well-known binary (OGC 06-103r4, section 8.2, with Z and M by thousands or, as some databases write it, by high bits): a
 * point, a polygon or several. Whatever else the bytes hold, the record is skipped with the reason.
 */
export function stageWkb(bytes: Uint8Array | null | undefined, staging: Staging): void {
  if (!(bytes instanceof Uint8Array) || bytes.length === 0) {
    staging.record('no geometry');
    return;
  }
  const reader = new WkbReader(bytes, staging);
  try {
    const fault = reader.geometry();
    if (fault === POINT) staging.pointRecord(reader.x, reader.y, POINT);
    else staging.record(fault);
  } catch (e) {
    if (!(e instanceof RangeError)) throw e;
    staging.record('a geometry that is cut off');
  }
}

class WkbReader {
  x = 0;
  y = 0;
  private readonly view: DataView;
  private at = 0;
  private little = true;

  constructor(
    bytes: Uint8Array,
    private readonly staging: Staging,
  ) {
    this.view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  }

  private uint(): number {
    const v = this.view.getUint32(this.at, this.little);
    this.at += 4;
    return v;
  }

  /** Type and number of ordinates of the geometry that begins here. */
  private head(): { type: number; size: number } {
    this.little = this.view.getUint8(this.at++) === 1;
    const code = this.uint();
    const plain = code & 0x0fffffff;
    if (code & 0x20000000) this.at += 4;
    const thousands = Math.floor(plain / 1000);
    const z = (code & 0x80000000) !== 0 || thousands === 1 || thousands === 3;
    const m = (code & 0x40000000) !== 0 || thousands === 2 || thousands === 3;
    return { type: plain % 1000, size: 2 + (z ? 1 : 0) + (m ? 1 : 0) };
  }

  /** '' for polygons that were staged, `POINT` for a position in `x` and `y`, else why the record cannot be used. */
  geometry(): string {
    const { type, size } = this.head();
    if (type === 1) {
      this.position();
      return Number.isNaN(this.x) ? 'empty point' : POINT;
    }
    if (type === 3) return this.polygon(size) ? '' : 'empty polygon';
    if (type !== 6) return TYPES[type] ?? 'unknown geometry type';
    let any = false;
    for (let n = this.uint(); n > 0; n--) {
      const part = this.head();
      if (part.type !== 3) return 'a MultiPolygon that holds something else';
      if (this.polygon(part.size)) any = true;
    }
    return any ? '' : 'empty MultiPolygon';
  }

  private position(): void {
    this.x = this.view.getFloat64(this.at, this.little);
    this.y = this.view.getFloat64(this.at + 8, this.little);
  }

  private polygon(size: number): boolean {
    let role = OUTER;
    let any = false;
    for (let rings = this.uint(); rings > 0; rings--) {
      const points = this.uint();
      // Checked before anything is staged, so that a wrong count costs nothing.
      if (this.at + 8 * size * points > this.view.byteLength) throw new RangeError('cut off');
      for (let i = 0; i < points; i++) {
        this.position();
        this.staging.point(this.x, this.y);
        this.at += 8 * size;
      }
      if (points === 0) continue;
      this.staging.ring(role);
      role = HOLE;
      any = true;
    }
    return any;
  }
}
