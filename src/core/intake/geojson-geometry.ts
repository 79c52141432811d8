import { quoted } from './byte-pattern.ts';
import type { JsonBytes } from './json-bytes.ts';
import { HOLE, OUTER, type Staging } from './staging.ts';

export const GEOMETRIES = [
  'Polygon',
  'MultiPolygon',
  'Point',
  'MultiPoint',
  'LineString',
  'MultiLineString',
  'GeometryCollection',
];
const GEOMETRY_WORDS = quoted(GEOMETRIES);
const GEOMETRY_KEYS = quoted(['type', 'coordinates', 'geometries']);
/** Geometry collections within each other. */
const DEEPEST = 16;
/** The result of one geometry: polygons in the staging, or why there are none. */
export const FINE = '';
/** A single position, which is in `pointX` and `pointY`. */
export const POINT = 'Point geometry';

/** Geometry objects of GeoJSON (RFC 7946, 3.1), from bytes to staged rings. Every method consumes its whole value, whatever that holds. */
export class GeometryReader {
  /** Since `begin`: a collection held points or lines beside polygons. */
  hasOtherParts = false;
  /** Position of the last `POINT`. */
  pointX = 0;
  pointY = 0;
  private readonly json: JsonBytes;
  private readonly staging: Staging;

  constructor(json: JsonBytes, staging: Staging) {
    this.json = json;
    this.staging = staging;
  }

  /** A geometry object or null at `pos`: stages its polygons. Returns '' or the reason why the record cannot be used. */
  geometry(depth: number): string {
    const { json } = this;
    if (json.peek() !== 123) {
      const isNull = json.buf[json.pos] === 110;
      json.skip();
      return isNull ? 'no geometry' : 'not a geometry';
    }
    json.pos++;
    let type = '';
    let coordinates = -1;
    let made: string | null = null;
    let comma = false;
    let twice = false;
    const seen = { type: false, coordinates: false, geometries: false };
    for (;;) {
      if (json.peek() === 125) break;
      if (comma) json.take(44);
      comma = true;
      if (json.peek() !== 34) json.fail('expected a key');
      const key = json.oneOf(GEOMETRY_KEYS);
      json.take(58);
      json.peek();
      if (key === 'type' || key === 'coordinates' || key === 'geometries') {
        if (seen[key]) twice = true;
        seen[key] = true;
      }
      if (key === 'type' && json.buf[json.pos] === 34) type = json.oneOf(GEOMETRY_WORDS);
      else if (key === 'coordinates') {
        if (type !== '' && made === null) made = this.coordinates(type);
        else {
          coordinates = json.pos;
          json.skip(true);
        }
      } else if (key === 'geometries' && json.buf[json.pos] === 91 && (type === 'GeometryCollection' || type === '')) {
        made = this.collection(depth);
      } else json.skip();
    }
    json.pos++;
    if (twice) return 'a geometry with a key twice';
    if (made !== null) return made;
    if (coordinates < 0) return type === '' || !GEOMETRIES.includes(type) ? 'unknown geometry type' : 'no coordinates';
    const after = json.pos;
    json.pos = coordinates;
    made = this.coordinates(type);
    json.pos = after;
    return made;
  }

  /** Polygons of a geometry collection become one record; its other parts are counted. */
  private collection(depth: number): string {
    const { json } = this;
    if (depth >= DEEPEST) {
      json.skip();
      return 'geometry collections nested too deeply';
    }
    json.pos++;
    let polygons = 0;
    let others = 0;
    let comma = false;
    for (;;) {
      if (json.peek() === 93) break;
      if (comma) json.take(44);
      comma = true;
      if (this.geometry(depth + 1) === FINE) polygons++;
      else others++;
    }
    json.pos++;
    if (polygons > 0 && others > 0) this.hasOtherParts = true;
    return polygons > 0 ? FINE : 'GeometryCollection without a polygon';
  }

  /** The value of `coordinates` at `pos`. Consumes all of it, whatever it holds. */
  coordinates(type: string): string {
    const { json, staging } = this;
    if (type === 'Point') return this.lonePoint();
    if (type !== 'Polygon' && type !== 'MultiPolygon') {
      json.skip();
      return GEOMETRIES.includes(type) ? `${type} geometry` : 'unknown geometry type';
    }
    const begin = json.pos;
    const rings = staging.rings;
    const points = staging.points;
    const fine = type === 'Polygon' ? this.polygon() : this.polygons();
    if (!fine) {
      staging.cut(rings, points);
      json.pos = begin;
      // A position lost while recording costs its record, not the map.
      json.skip(true);
      return `${type} with broken coordinates`;
    }
    return staging.rings > rings ? FINE : `empty ${type}`;
  }

  private lonePoint(): string {
    const { json } = this;
    const begin = json.pos;
    this.pointX = Number.NaN;
    if (json.buf[json.pos] === 91) {
      json.pos++;
      json.peek();
      const x = json.coordinate();
      if (json.peek() === 44) {
        json.pos++;
        json.peek();
        const y = json.coordinate();
        if (!Number.isNaN(x) && !Number.isNaN(y)) [this.pointX, this.pointY] = [x, y];
      }
      json.pos = begin;
    }
    json.skip();
    return Number.isNaN(this.pointX) ? 'Point with broken coordinates' : POINT;
  }

  private polygons(): boolean {
    const { json } = this;
    if (json.peek() !== 91) return false;
    json.pos++;
    if (json.peek() === 93) {
      json.pos++;
      return true;
    }
    for (;;) {
      if (!this.polygon()) return false;
      const c = json.peek();
      json.pos++;
      if (c === 93) return true;
      if (c !== 44) return false;
    }
  }

  private polygon(): boolean {
    const { json, staging } = this;
    if (json.peek() !== 91) return false;
    json.pos++;
    if (json.peek() === 93) {
      json.pos++;
      return true;
    }
    let role = OUTER;
    for (;;) {
      if (!this.ring()) return false;
      staging.ring(role);
      role = HOLE;
      const c = json.peek();
      json.pos++;
      if (c === 93) return true;
      if (c !== 44) return false;
    }
  }

  private ring(): boolean {
    const { json, staging } = this;
    if (json.peek() !== 91) return false;
    json.pos++;
    if (json.peek() === 93) {
      json.pos++;
      return true;
    }
    for (;;) {
      if (json.position()) {
        staging.point(json.x, json.y);
        const c = json.peek();
        json.pos++;
        if (c === 44) continue;
        return c === 93;
      }
      if (json.peek() !== 91) return false;
      json.pos++;
      json.peek();
      const x = json.coordinate();
      if (json.peek() !== 44) return false;
      json.pos++;
      json.peek();
      const y = json.coordinate();
      // NaN means that a coordinate was not a number; then nothing was consumed.
      if (Number.isNaN(x) || Number.isNaN(y)) return false;
      staging.point(x, y);
      let c = json.peek();
      while (c === 44) {
        json.pos++;
        json.skip();
        c = json.peek();
      }
      if (c !== 93) return false;
      json.pos++;
      c = json.peek();
      json.pos++;
      if (c === 93) return true;
      if (c !== 44) return false;
    }
  }

  /** Coordinates of a bare geometry whose type is not known yet: polygons are recognized by how deeply they are nested. */
  coordinatesByShape(): string {
    const { json } = this;
    let i = json.pos;
    let depth = 0;
    for (;;) {
      const c = json.buf[i];
      if (c === 91) depth++;
      else if (c === 0) json.fail('a zero byte', i);
      else if (c !== 32 && c !== 10 && c !== 13 && c !== 9) break;
      i++;
    }
    return this.coordinates(depth === 4 ? 'MultiPolygon' : depth === 3 ? 'Polygon' : 'Point');
  }
}
