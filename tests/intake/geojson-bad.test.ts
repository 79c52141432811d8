import { describe, expect, it } from 'vitest';
import { named, read } from '../../src/core/intake/index.ts';
import {
  codeOf,
  collection,
  degrees,
  feature,
  noteCodes,
  readJson,
  readText,
  signedArea,
  square,
  utf8,
  valuesOf,
} from './helpers.ts';

const fine = (i: number): unknown => feature([square(-93.6 + i * 1e-4, 42)], { n: i });
const text = (features: unknown[], more: object = {}): string => JSON.stringify(collection(features, more));
/** A map whose second feature is `middle`, as text. */
const around = (middle: string): string => text([fine(0), 'MIDDLE', fine(2)]).replace('"MIDDLE"', middle);
const geometry = (type: string, coordinates: string): string =>
  `{"type":"Feature","properties":{"n":1},"geometry":{"type":"${type}","coordinates":${coordinates}}}`;

const refused: [string, string, string][] = [
  ['nothing', 'empty-file', ''],
  ['blanks', 'json-truncated', '  \n '],
  ['an array', 'not-geojson', '[1,2]'],
  ['plain text', 'not-geojson', 'hello'],
  ['other JSON', 'not-geojson', '{"a":1}'],
  ['a topology', 'not-geojson', '{"type":"Topology","objects":{}}'],
  ['type constructor', 'not-geojson', '{"type":"constructor"}'],
  ['no features', 'no-records', '{"type":"FeatureCollection"}'],
  ['an empty list', 'no-records', '{"type":"FeatureCollection","features":[]}'],
  ['only points', 'no-records', text([feature([-93.6, 42], {}, 'Point')])],
  ['cut in a feature', 'json-truncated', text([fine(0), fine(1)]).slice(0, -60)],
  ['cut after a feature', 'json-truncated', text([fine(0), fine(1)]).slice(0, -2)],
  ['cut in a key', 'json-truncated', text([fine(0)]).slice(0, 12)],
  ['a missing comma', 'json-syntax', text([fine(0), fine(1)]).replace('},{"type":"Feature"', '}{"type":"Feature"')],
  ['a missing colon', 'json-syntax', text([fine(0)]).replace('"n":', '"n"')],
  ['a bare word', 'json-syntax', text([fine(0)]).replace('"n":0', '"n":zero')],
  ['a zero byte', 'json-syntax', text([fine(0)]).replace('"n":0', '"n":\u00000')],
  ['one object after another', 'several-documents', `${JSON.stringify(fine(0))}\n${JSON.stringify(fine(1))}`],
  ['text after the end', 'json-syntax', `${text([fine(0)])} x`],
  ['UTM metres', 'not-degrees', text([feature([square(450309, 4649950, 10)])])],
  ['latitude first (42, -93.6)', 'swapped-axes', text([feature([square(42, -93.6)])])],
  ['latitude first where it could be a place (40, -89)', 'polar', text([feature([square(40, -89)])])],
  ['longitude 999', 'not-degrees', text([feature([square(999, 42)])])],
  ['two fields 60 degrees apart', 'map-too-wide', text([fine(0), feature([square(-30, 42)])])],
  ['an unknown crs', 'crs-unknown', text([fine(0)], { crs: { type: 'name', properties: { name: 'EPSG:31467' } } })],
  [
    'a crs behind a link',
    'crs-unknown',
    text([fine(0)], { crs: { type: 'link', properties: { href: 'http://localhost/x' } } }),
  ],
  [
    'degrees that the crs calls metres',
    'crs-contradicts',
    text([fine(0)], { crs: { type: 'name', properties: { name: 'EPSG:32615' } } }),
  ],
  ['a crs of nonsense', 'crs-unknown', text([fine(0)], { crs: 7 })],
];

describe('GeoJSON that is refused', () => {
  it.each(refused)('%s: %s', async (_what, code, json) => {
    expect(await codeOf(readText(json))).toBe(code);
  });

  it('text in UTF-16', async () => {
    const bytes = Uint8Array.from([...text([fine(0)])].flatMap((c) => [c.charCodeAt(0), 0]));
    expect(await codeOf(read([named('map.geojson', bytes)]))).toBe('not-utf8');
    expect(await codeOf(read([named('map.geojson', Uint8Array.from([0xff, 0xfe, ...bytes]))]))).toBe('not-utf8');
  });

  it('names the file, the record and the place', async () => {
    const broken = text([fine(0), fine(1)]).replace('"n":1', '"n":,');
    await expect(readText(broken)).rejects.toMatchObject({ detail: { place: { file: 'map.geojson', record: 2 } } });
    await expect(readText(broken)).rejects.toThrow(`byte ${broken.indexOf('"n":,') + 4}`);
  });

  it('limits', async () => {
    expect(await codeOf(readText(text([fine(0), fine(1)]), { limits: { records: 1 } }))).toBe('too-many-records');
    expect(await codeOf(readText(text([fine(0)]), { limits: { fileBytes: 10 } }))).toBe('file-too-big');
    expect(await codeOf(readText(text([0, 1, 2, 3].map(fine)), { limits: { values: 2 } }))).toBe('too-many-values');
  });
});

const ring = JSON.stringify(square(-93.5999, 42));
const setAside: [string, string, string][] = [
  ['no geometry', 'no geometry', '{"type":"Feature","properties":{},"geometry":null}'],
  ['geometry left out', 'no geometry', '{"type":"Feature","properties":{}}'],
  ['null in the list', 'not a feature', 'null'],
  ['a number in the list', 'not a feature', '7'],
  ['a bare geometry in the list', 'not a feature', `{"type":"Polygon","coordinates":[${ring}]}`],
  ['a geometry that is text', 'not a geometry', '{"type":"Feature","properties":{},"geometry":"POLYGON"}'],
  ['a point', 'Point geometry', geometry('Point', '[-93.6,42]')],
  ['a line', 'LineString geometry', geometry('LineString', ring)],
  ['geometry type constructor', 'unknown geometry type', geometry('constructor', `[${ring}]`)],
  [
    'geometry without a type',
    'unknown geometry type',
    `{"type":"Feature","properties":{},"geometry":{"coordinates":[${ring}]}}`,
  ],
  ['no coordinates', 'no coordinates', '{"type":"Feature","properties":{},"geometry":{"type":"Polygon"}}'],
  ['no rings', 'empty Polygon', geometry('Polygon', '[]')],
  ['no parts', 'empty MultiPolygon', geometry('MultiPolygon', '[]')],
  ['an empty ring', 'zero area', geometry('Polygon', '[[]]')],
  ['wrong nesting', 'Polygon with broken coordinates', geometry('Polygon', ring)],
  ['nested too deeply', 'Polygon with broken coordinates', geometry('Polygon', `[[${ring}]]`)],
  [
    'a position of one number',
    'Polygon with broken coordinates',
    geometry('Polygon', '[[[-93.6],[-93.5,42],[-93.5,43],[-93.6]]]'),
  ],
  [
    'text for a number',
    'Polygon with broken coordinates',
    geometry('Polygon', '[[["-93.6",42],[-93.5,42],[-93.5,43],["-93.6",42]]]'),
  ],
  [
    'null for a number',
    'Polygon with broken coordinates',
    geometry('Polygon', '[[[null,42],[-93.5,42],[-93.5,43],[null,42]]]'),
  ],
  ['NaN', 'Polygon with broken coordinates', geometry('Polygon', '[[[NaN,42],[-93.5,42],[-93.5,43],[NaN,42]]]')],
  [
    'Infinity',
    'Polygon with broken coordinates',
    geometry('Polygon', '[[[-Infinity,42],[-93.5,42],[-93.5,43],[-Infinity,42]]]'),
  ],
  [
    '1e400, which is infinite',
    'coordinates that are not numbers',
    geometry('Polygon', '[[[1e400,42],[-93.5,42],[-93.5,43],[1e400,42]]]'),
  ],
  ['a point repeated', 'zero area', geometry('Polygon', '[[[-93.6,42],[-93.6,42],[-93.6,42],[-93.6,42]]]')],
  [
    'a line there and back',
    'zero area',
    geometry('Polygon', '[[[-93.6,42],[-93.59,42.01],[-93.58,42],[-93.59,42.01],[-93.6,42]]]'),
  ],
  ['all points on one line', 'zero area', geometry('Polygon', '[[[-93.6,42],[-93.59,42],[-93.58,42],[-93.6,42]]]')],
  ['a hole that takes everything', 'zero area', geometry('Polygon', `[${ring},${ring}]`)],
  [
    'a position at 0, 0',
    'more than 200 km from the rest of the map',
    geometry('Polygon', '[[[0,0],[-93.5999,42],[-93.5999,42.0001],[0,0]]]'),
  ],
];

describe('features that are set aside, counted and named', () => {
  it.each(setAside)('%s: %s', async (_what, reason, middle) => {
    const set = await readText(around(middle));
    expect(set.setAside).toEqual([{ reason, count: 1, firstRecord: 2 }]);
    expect([set.total, Array.from(set.recordNumber), valuesOf(set, 'n')]).toEqual([3, [1, 3], [0, 2]]);
  });

  it('one record of many that is not in degrees', async () => {
    const many = Array.from({ length: 200 }, (_, i) => fine(i));
    many[120] = feature([square(450309, 4649950, 10)]);
    expect((await readJson(collection(many))).setAside).toEqual([
      { reason: 'coordinates that are not degrees', count: 1, firstRecord: 121 },
    ]);
  });
});

describe('what is assumed or repaired is said', () => {
  const noted: [string, string[], string][] = [
    [
      'a ring that is not closed',
      ['geojson-structure', 'rings-closed'],
      around(geometry('Polygon', JSON.stringify([square(-93.5999, 42).slice(0, 4)]))),
    ],
    [
      'properties that are a list',
      ['properties-not-an-object'],
      around(`{"type":"Feature","properties":[1],"geometry":{"type":"Polygon","coordinates":[${ring}]}}`),
    ],
    [
      'no properties at all',
      ['geojson-structure'],
      around(`{"type":"Feature","geometry":{"type":"Polygon","coordinates":[${ring}]}}`),
    ],
    [
      'a hole outside its ring',
      ['holes-left-out'],
      around(geometry('Polygon', JSON.stringify([square(-93.5999, 42), square(-93.5995, 42)]))),
    ],
    ['a crs that is null', [], text([fine(0)], { crs: null })],
  ];
  it.each(noted)('%s', async (_what, codes, json) => {
    expect(noteCodes(await readText(json))).toEqual(codes);
  });

  it('text from the file is shown without control characters', async () => {
    const json = around('{"type":"Feature","properties":{},"geometry":{"type":"\\u001b[31mPolygon","coordinates":[]}}');
    const set = await readText(json);
    for (const n of set.notes) expect(n.sentence).not.toMatch(/\p{Cc}/u);
    await expect(readText('{"type":"\\u001b[31m\\u202eX"}')).rejects.toThrow(/type " ?\[31m X"/);
  });
});

describe('rings', () => {
  const outer = square(-93.6, 42, 0.01);
  const hole = square(-93.598, 42.002, 0.006);

  it('turn counter-clockwise outside and clockwise inside, whatever their winding', async () => {
    const ways = [outer, [...outer].reverse()].flatMap((o) => [hole, [...hole].reverse()].map((h) => [o, h]));
    for (const rings of ways) {
      const set = await readJson(feature(rings));
      expect(degrees(set, 0).map((r) => Math.round(signedArea(r) * 1e8) / 1e8)).toEqual([1e-4, -3.6e-5]);
    }
  });

  it('leave out a hole in a hole', async () => {
    const set = await readJson(collection([feature([outer, hole, square(-93.596, 42.004, 0.002)])]));
    expect([degrees(set, 0).length, noteCodes(set)]).toEqual([2, ['holes-left-out']]);
  });

  it('lose repeated points and the closing point, and keep bow-ties', async () => {
    const doubled = outer.flatMap((p) => [p, p]);
    const set = await readJson(feature([doubled]));
    expect(degrees(set, 0)).toEqual([outer.slice(0, 4)]);
    const bowTie = await readJson(
      feature([
        [
          [-93.6, 42],
          [-93.59, 42.01],
          [-93.59, 42],
          [-93.6, 42.01],
          [-93.6, 42],
        ],
      ]),
    );
    expect([bowTie.setAside, bowTie.shapes.xy.length]).toEqual([[], 8]);
  });

  it('by the thousand in one record end in good time', async () => {
    const holes = Array.from({ length: 3000 }, (_, i) =>
      square(-93.5999 + (i % 60) * 1e-4, 42.0001 + Math.floor(i / 60) * 1e-4, 5e-5),
    );
    expect(degrees(await readJson(feature([outer, ...holes])), 0).length).toBe(3001);
    const nested = Array.from({ length: 8_000 }, (_, i) => square(-93.6 + i * 1e-7, 42 + i * 1e-7, 0.01 - i * 2e-7));
    const set = await readText(text([feature(nested), fine(1)]));
    expect(set.setAside).toEqual([{ reason: 'too many rings inside one another', count: 1, firstRecord: 1 }]);
  });
});

describe('the antimeridian', () => {
  it('is no edge of a map', async () => {
    // RFC 7946, 3.1.9: a map across it is cut at 180 and -180.
    const west = [0, 1, 2].map((i) => feature([square(Number((179.9997 + i * 1e-4).toFixed(4)), -17, 1e-4)]));
    const east = [0, 1].map((i) => feature([square(Number((-180 + i * 1e-4).toFixed(4)), -17, 1e-4)]));
    for (const features of [
      [...west, ...east],
      [...east, ...west],
      [west[2], ...east],
    ]) {
      const set = await readJson(collection(features));
      const lon = features.map((_, i) => degrees(set, i)[0][0][0]);
      expect(Math.max(...lon) - Math.min(...lon)).toBeLessThan(5e-4);
      features.forEach((f, i) => {
        const given = (f as { geometry: { coordinates: number[][][] } }).geometry.coordinates[0][0][0];
        expect(Math.abs(lon[i] - given) % 360).toBeCloseTo(0, 9);
      });
    }
  });
});

describe('a hostile depth of nesting', () => {
  it('does not end in anything but a sentence', async () => {
    const deep = 200_000;
    const cases = [
      around(`{"type":"Feature","properties":{"n":${'['.repeat(deep)}${']'.repeat(deep)}},"geometry":null}`),
      around(geometry('Polygon', `${'['.repeat(deep)}${']'.repeat(deep)}`)),
      `{"a":${'{"a":'.repeat(deep)}1${'}'.repeat(deep)}}`,
      '['.repeat(deep),
      `{"type":"GeometryCollection","geometries":${'[{"type":"GeometryCollection","geometries":'.repeat(2000)}[]${'}]'.repeat(2000)}}`,
      `{"type":"Feature","geometry":${'{"type":"GeometryCollection","geometries":['.repeat(2000)}${']}'.repeat(2000)}}`,
    ];
    for (const json of cases) expect(typeof (await codeOf(read([named('map.geojson', utf8(json))])))).toBe('string');
  });
});
