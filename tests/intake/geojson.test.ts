import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { assemble } from '../../src/core/intake/assemble.ts';
import { readGeoJson } from '../../src/core/intake/geojson.ts';
import { DEFAULT_LIMITS, named, type RecordSet } from '../../src/core/intake/index.ts';
import { Pace } from '../../src/core/intake/pace.ts';
import { collection, degrees, feature, readJson, readText, square, utf8, valuesOf } from './helpers.ts';

/** Reads with a window of a few bytes, so that every token is cut somewhere. */
async function readInSmallWindows(text: string, window: number): Promise<RecordSet> {
  const pace = new Pace();
  const raw = await readGeoJson(
    named('map.geojson', utf8(text)),
    'map.geojson',
    DEFAULT_LIMITS,
    [],
    pace,
    undefined,
    {},
    window,
  );
  return assemble(raw, pace);
}

const three = collection([
  feature([square(-93.6, 42)], { section: 1, product: 'corn "A" \\ é 玉米', on: true }),
  feature([square(-93.5999, 42)], { section: 2.5, product: null, on: false }),
  feature([square(-93.5998, 42)], { product: '', on: null, nested: { a: [1, { b: 2 }] } }),
]);

describe('the same map however it is written', () => {
  it('takes keys in any order, blanks, a byte order mark, and members before the features', async () => {
    const expected = await readJson(three);
    const ways = [
      JSON.stringify(three, null, 2),
      JSON.stringify(three, null, '\t').replaceAll('\n', '\r\n'),
      `\ufeff  ${JSON.stringify(three)}\n`,
      JSON.stringify({ bbox: [1, 2, { features: [1] }], name: 'x', ...three }),
      JSON.stringify(Object.fromEntries(Object.entries(three).reverse())),
      JSON.stringify(three, (_k, v) =>
        v && typeof v === 'object' && 'coordinates' in v ? { coordinates: v.coordinates, type: v.type } : v,
      ),
      JSON.stringify(three).replaceAll('"type"', '"ty\\u0070e"').replaceAll('"geometry"', '"geo\\u006detry"'),
    ];
    for (const text of ways) expect(await readText(text), text.slice(0, 60)).toEqual(expected);
  });

  it('gives equal answers for every size of window', async () => {
    const expected = await readJson(three);
    for (const text of [JSON.stringify(three), JSON.stringify(three, null, 1)]) {
      for (let window = 16; window < 400; window += 7) {
        expect(await readInSmallWindows(text, window), `window ${window}`).toEqual(expected);
      }
    }
  });

  it('lets the window grow with a long record, up to the limit of one', async () => {
    const long = JSON.stringify(
      feature([Array.from({ length: 500 }, (_, i) => [-93.6 + (i % 7) * 1e-4, 42 + (i % 5) * 1e-4])]),
    );
    expect((await readInSmallWindows(long, 64)).recordNumber.length).toBe(1);
    const pace = new Pace();
    const limits = { ...DEFAULT_LIMITS, recordBytes: 1000 };
    const reading = readGeoJson(named('map.geojson', utf8(long)), 'map.geojson', limits, [], pace, undefined, {}, 64);
    await expect(reading).rejects.toMatchObject({ detail: { code: 'record-too-big' } });
  });

  it('reads a single Feature, a bare geometry and a GeometryCollection', async () => {
    const ring = square(-93.6, 42);
    const far = square(-93.59, 42);
    const shapesOf = (set: RecordSet): number[] => Array.from(set.shapes.shapeStart);
    const one = await readJson(feature([ring], { a: 7 }));
    expect([shapesOf(one), valuesOf(one, 'a')]).toEqual([[0, 1], [7]]);
    expect(shapesOf(await readJson({ type: 'Polygon', coordinates: [ring] }))).toEqual([0, 1]);
    expect(shapesOf(await readJson({ coordinates: [[ring], [far]], type: 'MultiPolygon' }))).toEqual([0, 2]);
    const bare = {
      type: 'GeometryCollection',
      geometries: [
        { type: 'Polygon', coordinates: [ring] },
        { type: 'Point', coordinates: [1, 2] },
      ],
    };
    const set = await readJson(bare);
    expect(set.total).toBe(2);
    expect(set.skipped).toEqual([{ reason: 'Point geometry', count: 1, firstRecord: 2 }]);
    const inside = await readJson(collection([{ type: 'Feature', properties: {}, geometry: bare }]));
    expect([inside.total, inside.recordNumber.length, inside.notes.map((n) => n.code)]).toEqual([
      1,
      1,
      ['parts-left-out'],
    ]);
  });
});

describe('columns', () => {
  const value = fc.oneof(
    fc.double({ noDefaultInfinity: true, noNaN: true }),
    fc.integer(),
    fc.string(),
    fc.constant(null),
    fc.boolean(),
  );
  const key = fc.oneof(fc.string(), fc.constantFrom('__proto__', 'constructor', 'toString', 'a', 'b', 'é"\\'));

  /** What a column must hold, from the values that JSON.parse gives (ECMA-404 through the engine's own parser). */
  function oracle(rows: Map<string, unknown>[], name: string, every: unknown[]): (string | number | null)[] {
    const values = rows.map((r) => r.get(name) ?? null);
    const numbers = every.every((v) => v === null || typeof v === 'number') && every.some((v) => v !== null);
    return values.map((v) => {
      if (v === null || v === '') return null;
      // JSON has one zero less than doubles: -0 and 0 are the same reading.
      return numbers ? (v as number) + 0 : String(v);
    });
  }

  it('hold what JSON.parse finds, whatever the keys and values', async () => {
    await fc.assert(
      fc.asyncProperty(
        fc.array(fc.array(fc.tuple(key, value), { maxLength: 6 }), { minLength: 1, maxLength: 6 }),
        async (features) => {
          const texts = features.map((pairs, i) => {
            const members = pairs.map(([k, v]) => `${JSON.stringify(k)}:${JSON.stringify(v)}`).join(',');
            return `{"type":"Feature","properties":{${members}},"geometry":{"type":"Polygon","coordinates":${JSON.stringify([square(-93.6 + i * 1e-4, 42)])}}}`;
          });
          const set = await readText(`{"type":"FeatureCollection","features":[${texts.join(',')}]}`);
          // A key that comes twice in one object: the later one counts, as in JSON.parse.
          const rows = features.map(
            (pairs) => new Map<string, unknown>(pairs.map(([k, v]) => [k, JSON.parse(JSON.stringify(v))])),
          );
          const names = new Set(features.flatMap((pairs) => pairs.map(([k]) => k)));
          expect(new Set(set.columns.map((c) => c.name))).toEqual(names);
          for (const name of names) {
            // A value that a later one of the same key replaces has still shown what the column holds.
            const every = features.flatMap((pairs) => pairs.filter(([k]) => k === name).map(([, v]) => v));
            const got = valuesOf(set, name).map((v) => (typeof v === 'number' ? v + 0 : v));
            expect(got, name).toEqual(oracle(rows, name, every));
          }
        },
      ),
      { numRuns: 300, seed: 11 },
    );
  });

  it('keep booleans and nested values as text, and say when long integers are rounded', async () => {
    const set = await readJson(three);
    expect(valuesOf(set, 'on')).toEqual(['true', 'false', null]);
    expect(valuesOf(set, 'nested')).toEqual([null, null, '{"a":[1,{"b":2}]}']);
    expect(valuesOf(set, 'product')).toEqual(['corn "A" \\ é 玉米', null, null]);
    expect(valuesOf(set, 'section')).toEqual([1, 2.5, null]);
    const long = await readText(
      JSON.stringify(collection([feature([square(-93.6, 42)], { id: 1 })])).replace('"id":1', '"id":9007199254740993'),
    );
    expect(long.notes.map((n) => n.code)).toEqual(['numbers-rounded']);
  });

  it('leaves out columns beyond the limit, with a note', async () => {
    const many = Object.fromEntries(Array.from({ length: 30 }, (_, i) => [`c${i}`, i]));
    const set = await readText(JSON.stringify(collection([feature([square(-93.6, 42)], many)])), {
      limits: { columns: 10 },
    });
    expect(set.columns.length).toBe(10);
    expect(set.notes.map((n) => n.code)).toEqual(['columns-left-out']);
  });
});

describe('coordinates', () => {
  it('are given back digit for digit at the file’s own decimals', async () => {
    for (const [decimals, steps] of [
      [5, 1e5],
      [6, 1e6],
      [7, 1e7],
      [8, 1e8],
      [9, 1e9],
    ] as const) {
      const at = (v: number): number => Number(v.toFixed(decimals));
      const d = 7 * 10 ** -decimals;
      const ring = [
        [-93.6123456789, 42.0123456789],
        [-93.6123456789 + d, 42.0123456789],
        [-93.6123456789 + d, 42.0123456789 + d],
      ].map(([x, y]): [number, number] => [at(x), at(y)]);
      const set = await readJson(collection([feature([[...ring, ring[0]]])]));
      expect(set.lattice.stepsPerDegree, `${decimals} decimals`).toBe(steps);
      expect(degrees(set, 0)).toEqual([ring]);
    }
  });

  it('written with all the digits of a double are kept to 1e-10 degree (0.01 mm) or better', async () => {
    const ring = square(-93.6, 42).map(([x, y]): [number, number] => [x + Math.PI * 1e-7, y + Math.E * 1e-7]);
    const set = await readJson(collection([feature([ring])]));
    expect(set.lattice.stepsPerDegree).toBe(1e10);
    degrees(set, 0)[0].forEach(([x, y], i) => {
      expect(Math.abs(x - ring[i][0])).toBeLessThan(0.51e-10);
      expect(Math.abs(y - ring[i][1])).toBeLessThan(0.51e-10);
    });
  });

  it('take exponents, long tails of digits and heights', async () => {
    const text =
      '{"type":"Polygon","coordinates":[[[-9.36e1,4.2E+1,300],[-93.59990000000000000000,42,1],[-93.5999,42.00010000000000000001],[-93.6,42,300]]]}';
    const set = await readText(text);
    expect(set.lattice.stepsPerDegree).toBe(1e4);
    expect(degrees(set, 0)).toEqual([
      [
        [-93.6, 42],
        [-93.5999, 42],
        [-93.5999, 42.0001],
      ],
    ]);
  });
});
