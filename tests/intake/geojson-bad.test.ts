import { describe, expect, it } from 'vitest';
import { named, read } from '../../src/core/intake/index.ts';
import {
  around,
  fine,
  geometry,
  geojsonNoted as noted,
  geojsonSetAside as setAside,
  text,
} from '../hard/geojson-cases.ts';
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

describe('GeoJSON that is refused', () => {
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

  it('points without a width say what is missing, and which columns there are', async () => {
    const points = collection([feature([-93.6, 42], { speed: 5, "row's": 2 }, 'Point')]);
    await expect(readJson(points)).rejects.toMatchObject({
      detail: {
        code: 'points-without-width',
        sentence: 'The map holds points, and no column says how wide the ground at each point is.',
        todo: expect.stringMatching(
          /^Name the column of the width with "--columns width=NAME"; there is "speed", "row's"\./,
        ),
      },
    });
  });

  it('limits', async () => {
    expect(await codeOf(readText(text([fine(0), fine(1)]), { limits: { records: 1 } }))).toBe('too-many-records');
    expect(await codeOf(readText(text([fine(0)]), { limits: { fileBytes: 10 } }))).toBe('file-too-big');
    expect(await codeOf(readText(text([0, 1, 2, 3].map(fine)), { limits: { values: 2 } }))).toBe('too-many-values');
  });
});

describe('features that are skipped, counted and named', () => {
  it.each(setAside)('%s: %s', async (_what, reason, middle) => {
    const set = await readText(around(middle));
    expect(set.skipped).toEqual([{ reason, count: 1, firstRecord: 2 }]);
    expect([set.total, Array.from(set.recordNumber), valuesOf(set, 'n')]).toEqual([3, [1, 3], [0, 2]]);
  });

  it('one record of many that is not in degrees', async () => {
    const many = Array.from({ length: 200 }, (_, i) => fine(i));
    many[120] = feature([square(450309, 4649950, 10)]);
    expect((await readJson(collection(many))).skipped).toEqual([
      { reason: 'coordinates that are not degrees', count: 1, firstRecord: 121 },
    ]);
  });
});

describe('assumptions and repairs are reported', () => {
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

  it('make ground of a hole in a hole', async () => {
    const set = await readJson(collection([feature([outer, hole, square(-93.596, 42.004, 0.002)])]));
    expect([degrees(set, 0).length, noteCodes(set)]).toEqual([3, ['ring-hole-in-hole']]);
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
    expect([bowTie.skipped, bowTie.shapes.xy.length]).toEqual([[], 8]);
  });

  it('by the thousand in one record end in good time', async () => {
    const holes = Array.from({ length: 3000 }, (_, i) =>
      square(-93.5999 + (i % 60) * 1e-4, 42.0001 + Math.floor(i / 60) * 1e-4, 5e-5),
    );
    expect(degrees(await readJson(feature([outer, ...holes])), 0).length).toBe(3001);
    const nested = Array.from({ length: 20_000 }, (_, i) => square(-93.6 + i * 1e-7, 42 + i * 1e-7, 0.01 - i * 2e-7));
    const set = await readText(text([feature(nested), fine(1)]));
    expect(set.skipped).toEqual([{ reason: 'too many rings across or inside each other', count: 1, firstRecord: 1 }]);
  });
});

describe('the antimeridian', () => {
  it('is not an edge of a map', async () => {
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
