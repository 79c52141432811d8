import { quoted } from './byte-pattern.ts';
import type { GeometryReader } from './geojson-geometry.ts';
import type { PropertyReader } from './geojson-properties.ts';
import type { JsonBytes } from './json-bytes.ts';
import type { Staging } from './staging.ts';

const FEATURE = quoted(['Feature']);
const FEATURE_KEYS = quoted(['type', 'geometry', 'properties']);

/** Reads one feature: its geometry into the staging, its properties into the columns. */
export class FeatureReader {
  /** Where the value of the feature's properties begins and ends; `propertiesTo` 0 where it has none. */
  propertiesFrom = 0;
  propertiesTo = 0;

  constructor(
    private readonly json: JsonBytes,
    private readonly staging: Staging,
    private readonly shapes: GeometryReader,
    private readonly attributes: PropertyReader,
  ) {}

  /** Reads the feature at `pos` as record `row`. Returns why it cannot be used, or `FINE`. */
  read(row: number): string {
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
}
