/** A GeoJSON whose later features are read elsewhere gives what it gives when it is read at one go, wherever the second reader began. */
import { describe, expect, it } from 'vitest';
import { assemble } from '../../src/core/intake/assemble.ts';
import { readFeatures, readGeoJson } from '../../src/core/intake/geojson.ts';
import { DEFAULT_LIMITS, findFeature, named, type RecordSet } from '../../src/core/intake/index.ts';
import { Pace } from '../../src/core/intake/pace.ts';
import { UserError } from '../../src/core/shared/messages.ts';
import { collection, feature, square, utf8 } from './helpers.ts';

type Outcome = RecordSet | UserError['detail'];

async function outcome(bytes: Uint8Array, from?: number, window = 4000, limits = DEFAULT_LIMITS): Promise<Outcome> {
  const pace = new Pace();
  const rest =
    from === undefined
      ? {}
      : { rest: { from, features: readFeatures(named('tail', bytes.subarray(from)), bytes.length, limits) } };
  try {
    const raw = await readGeoJson(named('m.geojson', bytes), 'm.geojson', limits, [], pace, undefined, rest, window);
    return await assemble(raw, pace);
  } catch (e) {
    if (e instanceof UserError) return e.detail;
    throw e;
  }
}

const at = (i: number): number => -93.6 + i * 1e-4;
const many = Array.from({ length: 130 }, (_, i) => feature([square(at(i), 42)], { n: i, odd: i % 3 }));
/** Columns that change their kind, that come late, that are missing; records that cannot be used; keys that come twice. */
const mixed = [
  ...many,
  feature([square(at(130), 42)], { n: 'a', flag: true, big: 2 ** 60 }),
  feature([square(at(131), 42)], { n: 1.5, flag: false, text: 'é 玉米 "x"' }),
  { type: 'Feature', properties: { n: 2 }, geometry: null },
  {
    type: 'Feature',
    properties: { n: null, odd: 'z' },
    geometry: {
      type: 'LineString',
      coordinates: [
        [1, 2],
        [1, 3],
      ],
    },
  },
  feature([square(at(132), 42)], { odd: 7, nested: { type: 'Feature', list: [{ type: 'Feature' }] } }),
  feature([square(at(133), 42)], null),
  ...many.map((_, i) => feature([square(at(i), 42.001)], { late: `w${i % 4}`, n: i % 2 ? i : String(i) })),
];

/** In a file of this size not every feature is judged, and two readers can share it. */
const large = (text: string): Uint8Array => {
  const bytes = new Uint8Array(4.5e6).fill(32);
  bytes.set(utf8(text));
  return bytes;
};

const texts: Record<string, string> = {
  plain: JSON.stringify(collection(many)),
  mixed: JSON.stringify(collection(mixed)),
  'written with blanks': JSON.stringify(collection(mixed), null, 2),
  'a feature a line': `{"type":"FeatureCollection","features":[\n${mixed.map((f) => JSON.stringify(f)).join(',\n')}\n]}\n`,
  'its type and system last': `{"features":${JSON.stringify(mixed)},"type":"FeatureCollection","crs":{"type":"name","properties":{"name":"EPSG:4326"}}}`,
  'a key twice in one feature': JSON.stringify(collection(mixed)).replaceAll('{"odd":7', '{"odd":6,"odd":7'),
  'a feature that breaks the rules': JSON.stringify(collection(mixed)).replace('[[1,2],[1,3]]', '[]'),
  'cut off': JSON.stringify(collection(mixed)).slice(0, -40),
  'broken late': JSON.stringify(collection(mixed)).replace('"w2"', 'w2'),
  'features twice': `${JSON.stringify(collection(mixed)).slice(0, -1)},"features":[]}`,
  'something behind the end': `${JSON.stringify(collection(mixed))}{}`,
};

describe('features that are read elsewhere', () => {
  for (const [name, text] of Object.entries(texts)) {
    it(name, async () => {
      const bytes = large(text);
      const whole = await outcome(bytes);
      const braces = [...bytes.keys()].filter((i) => bytes[i] === 123);
      for (const from of braces.filter((_, i) => i % 97 === 96))
        expect(await outcome(bytes, from), `from byte ${from}`).toEqual(whole);
      const half = text.length >> 1;
      const found = half + findFeature(bytes.subarray(half));
      const begins = new TextDecoder().decode(bytes.subarray(found, found + 80)).replace(/\s/g, '');
      expect(begins.slice(0, 16)).toBe('{"type":"Feature');
      expect(await outcome(bytes, found)).toEqual(whole);
    });
  }

  it('are taken over, and not read again', async () => {
    const bytes = large(texts.mixed);
    const half = texts.mixed.length >> 1;
    const from = half + findFeature(bytes.subarray(half));
    const rest = await readFeatures(named('tail', bytes.subarray(from)), bytes.length, DEFAULT_LIMITS);
    // The reader of the first part is given bytes that it could not read on in.
    const broken = bytes.slice();
    broken.fill(120, from + 40, texts.mixed.length);
    const pace = new Pace();
    const raw = await readGeoJson(
      named('m.geojson', broken),
      'm.geojson',
      DEFAULT_LIMITS,
      [],
      pace,
      undefined,
      { rest: { from, features: Promise.resolve(rest) } },
      4000,
    );
    expect(await assemble(raw, pace)).toEqual(await outcome(bytes));
  });

  it('count against the limits', async () => {
    const bytes = large(texts.plain);
    const half = Math.floor(0.9 * texts.plain.length);
    const from = half + findFeature(bytes.subarray(half));
    for (const limits of [
      { ...DEFAULT_LIMITS, records: 100 },
      { ...DEFAULT_LIMITS, points: 400 },
      { ...DEFAULT_LIMITS, values: 150 },
    ]) {
      const whole = await outcome(bytes, undefined, 4000, limits);
      expect(whole).toHaveProperty('code');
      expect(await outcome(bytes, from, 4000, limits)).toEqual(whole);
    }
  });

  it('are not looked for where there are none', () => {
    expect(findFeature(utf8(JSON.stringify({ a: [{ b: 1 }, { type: 'Polygon' }] })))).toBe(-1);
  });
});
