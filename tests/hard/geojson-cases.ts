import { collection, feature, square } from '../intake/helpers.ts';

export const fine = (i: number): unknown => feature([square(-93.6 + i * 1e-4, 42)], { n: i });
export const text = (features: unknown[], more: object = {}): string => JSON.stringify(collection(features, more));
/** A map whose second feature is `middle`, as text. */
export const around = (middle: string): string => text([fine(0), 'MIDDLE', fine(2)]).replace('"MIDDLE"', middle);
export const geometry = (type: string, coordinates: string): string =>
  `{"type":"Feature","properties":{"n":1},"geometry":{"type":"${type}","coordinates":${coordinates}}}`;

/** What it is, the code of the refusal, the text. */
export const geojsonRefused: [string, string, string][] = [
  ['nothing', 'empty-file', ''],
  ['blanks', 'json-truncated', '  \n '],
  ['an array', 'not-geojson', '[1,2]'],
  ['plain text', 'not-geojson', 'hello'],
  ['other JSON', 'not-geojson', '{"a":1}'],
  ['a topology', 'not-geojson', '{"type":"Topology","objects":{}}'],
  ['type constructor', 'not-geojson', '{"type":"constructor"}'],
  ['no features', 'no-records', '{"type":"FeatureCollection"}'],
  ['an empty list', 'no-records', '{"type":"FeatureCollection","features":[]}'],
  ['points without columns', 'points-without-width', text([feature([-93.6, 42], {}, 'Point')])],
  ['cut in a feature', 'json-truncated', text([fine(0), fine(1)]).slice(0, -60)],
  ['cut after a feature', 'json-truncated', text([fine(0), fine(1)]).slice(0, -2)],
  ['cut in a key', 'json-truncated', text([fine(0)]).slice(0, 12)],
  ['a missing comma', 'json-syntax', text([fine(0), fine(1)]).replace('},{"type":"Feature"', '}{"type":"Feature"')],
  ['a missing colon', 'json-syntax', text([fine(0)]).replace('"n":', '"n"')],
  ['a bare word', 'json-syntax', text([fine(0)]).replace('"n":0', '"n":zero')],
  ['a zero byte', 'json-syntax', text([fine(0)]).replace('"n":0', '"n":\u00000')],
  ['text after the end', 'json-syntax', `${text([fine(0)])} x`],
  ['UTM meters', 'not-degrees', text([feature([square(450309, 4649950, 10)])])],
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
    'degrees that the crs calls meters',
    'crs-contradicts',
    text([fine(0)], { crs: { type: 'name', properties: { name: 'EPSG:32615' } } }),
  ],
  ['a crs of nonsense', 'crs-unknown', text([fine(0)], { crs: 7 })],
];

const ring = JSON.stringify(square(-93.5999, 42));
/** What it is, the reason, the feature among two sound ones. */
export const geojsonSetAside: [string, string, string][] = [
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
  [
    'a position at 0, 0',
    'more than 200 km from the rest of the map',
    geometry('Polygon', '[[[0,0],[-93.5999,42],[-93.5999,42.0001],[0,0]]]'),
  ],
];

/** What it is, the codes of the notes, the text. */
export const geojsonNoted: [string, string[], string][] = [
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
    ['ring-hole-outside'],
    around(geometry('Polygon', JSON.stringify([square(-93.5999, 42), square(-93.5995, 42)]))),
  ],
  ['a hole that is its ring', ['ring-repeated'], around(geometry('Polygon', `[${ring},${ring}]`))],
  ['a crs that is null', [], text([fine(0)], { crs: null })],
];
