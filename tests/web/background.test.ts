import { expect, test } from 'vitest';
import { readBackground } from '../../src/web/background.ts';

const file = (text: string, name = 'roads.geojson'): File => new File([text], name);
const polygon = (at: unknown): string =>
  JSON.stringify({
    type: 'FeatureCollection',
    features: [{ type: 'Feature', properties: {}, geometry: { type: 'Polygon', coordinates: [at] } }],
  });
const square = [
  [8, 47],
  [8.1, 47],
  [8.1, 47.1],
  [8, 47],
];

test('a GeoJSON in degrees is a background', async () => {
  expect(await readBackground(file(polygon(square)))).toMatchObject({ name: 'roads.geojson' });
});

test.each([
  ['no JSON', '{', /cannot be read as JSON/],
  ['a number', '7', /its "type" is none of GeoJSON/],
  ['nothing', 'null', /its "type" is none of GeoJSON/],
  ['another kind of JSON', '{"type":"Topology","objects":{}}', /its "type" is none of GeoJSON/],
  ['no shape', '{"type":"FeatureCollection","features":[]}', /no shape that could be drawn/],
  ['features that are no list', '{"type":"FeatureCollection","features":{"a":1}}', /no shape that could be drawn/],
  [
    'lists in lists, a hundred thousand deep',
    `{"type":"Polygon","coordinates":${'['.repeat(100_000)}${']'.repeat(100_000)}}`,
    /nested deeper than GeoJSON is/,
  ],
  [
    'collections in collections',
    `${'{"type":"GeometryCollection","geometries":['.repeat(5000)}${']}'.repeat(5000)}`,
    /nested deeper/,
  ],
  ['a place of texts, the last of many', polygon([...square, ['8', '47']]), /no longitude and latitude/],
  ['a place of nothing', polygon([...square, [null, 47]]), /no longitude and latitude/],
  [
    'meters',
    polygon([
      [500_000, 5_200_000],
      [500_100, 5_200_000],
      [500_100, 5_200_100],
      [500_000, 5_200_000],
    ]),
    /not in degrees/,
  ],
  ['meters in the last place only', polygon([...square, [500_000, 5_200_000]]), /not in degrees/],
])('%s gets a sentence', async (_what, text, says) => {
  expect(await readBackground(file(text))).toMatch(says);
});

test('a name that reverses the direction of writing is marked', async () => {
  expect(await readBackground(file('{', 'a\u202Egnp.geojson'))).toMatch(/^a\uFFFDgnp\.geojson is not GeoJSON/);
  expect(await readBackground(file(polygon(square), 'a\u202Eb'))).toMatchObject({ name: 'a\uFFFDb' });
});
