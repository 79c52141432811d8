/** What is JSON and what is not, against JSON.parse of the engine (RFC 8259), on sound maps with bytes changed and on every token of the grammar. */
import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { named, read } from '../../src/core/intake/index.ts';
import { UserError } from '../../src/core/shared/messages.ts';
import { collection, feature, seeded, square, utf8 } from '../intake/helpers.ts';
import { bytesOf } from './rounds.ts';

/** Codes of the reader that say: this is not JSON. */
const NOT_JSON = new Set([
  'json-syntax',
  'json-truncated',
  'several-documents',
  'empty-file',
  'not-utf8',
  'not-geojson',
]);
/** What is taken although JSON.parse refuses it, and named. */
const NAMED = /^(no-numbers)$/;

async function verdict(bytes: Uint8Array): Promise<{ code: string; named: boolean }> {
  try {
    const set = await read([named('map.geojson', bytes)]);
    const named_ =
      set.notes.some((n) => NAMED.test(n.code)) || set.skipped.some((s) => /broken coordinates/.test(s.reason));
    return { code: 'read', named: named_ };
  } catch (e) {
    if (e instanceof UserError) return { code: e.detail.code, named: /broken coordinates/.test(e.detail.sentence) };
    throw e;
  }
}

function parses(bytes: Uint8Array): boolean {
  try {
    JSON.parse(new TextDecoder().decode(bytes));
    return true;
  } catch {
    return false;
  }
}

/** Nothing, or how the two differ. */
async function difference(bytes: Uint8Array): Promise<string> {
  const sound = parses(bytes);
  const { code, named: told } = await verdict(bytes);
  // A text that is JSON but no map may be refused as such.
  if (sound)
    return code === 'json-syntax' || code === 'json-truncated' ? `JSON.parse takes it, and it is "${code}"` : '';
  return NOT_JSON.has(code) || told || code === 'key-twice' ? '' : `JSON.parse refuses it, and it is "${code}"`;
}

const map = (properties: string, more = ''): string =>
  `{"type":"FeatureCollection",${more}"features":[${JSON.stringify(feature([square(-93.6, 42)]))},{"type":"Feature","properties":${properties},"geometry":${JSON.stringify((feature([square(-93.5, 42)]) as { geometry: unknown }).geometry)}}]}`;

const VALUES = [
  ...[
    '1',
    '-1',
    '0',
    '-0',
    '0.5',
    '-0.5',
    '1e5',
    '1E+5',
    '1.5e-5',
    '123456789012345678901',
    '1e400',
    '-1e400',
    '1e-400',
  ],
  ...[
    '002.5',
    '00',
    '-01',
    '01',
    '.5',
    '5.',
    '+5',
    '-',
    '1e',
    '1e+',
    '1.e5',
    '0x10',
    '1_000',
    'NaN',
    'Infinity',
    '-Infinity',
    '-NaN',
  ],
  ...['true', 'false', 'null', 'True', 'nul', 'nulll', 'truefalse', 'undefined', 'zero', "'a'"],
  ...[
    '""',
    '"a"',
    '"\\n"',
    '"\\u00e4"',
    '"\\uD83D"',
    '"\\q"',
    '"\\u12"',
    '"\\u12G4"',
    '"\\x41"',
    '"\u0001"',
    '"\t"',
    '"\u007f"',
    '"a',
  ],
  ...[
    '[]',
    '{}',
    '[1,2]',
    '[1,2}',
    '[1 2]',
    '[1,]',
    '[,1]',
    '[',
    '{"a":1}',
    '{"a":1,}',
    '{"a" 1}',
    '{a:1}',
    '{"a":}',
    '{"a":[1,{"b":"]"}]}',
    '[[[]]]',
    '[NaN]',
    '[01]',
  ],
];

describe('valid and invalid JSON values', () => {
  it.each(VALUES)(
    '%j as a property, in a nested value, as a member that is not looked at, and beside coordinates',
    async (value) => {
      const texts = [
        map(`{"a":${value}}`),
        map(`{"a":1,"b":${value},"c":"x"}`),
        map(`{"a":[${value}]}`),
        map(`{"a":{"b":${value}}}`),
        map('{}', `"name":${value},`),
        map('{}', `"crs2":[0,${value}],`),
        map(value),
        map('{}').replace(/\[-93\.5,42\]/, `[-93.5,42,${value}]`),
        map('{}').replace(/\[-93\.5,42\]/, `[${value},42]`),
      ];
      for (const text of texts) expect(await difference(utf8(text)), text).toBe('');
    },
  );

  it('keys that come twice are named or refused', async () => {
    const twice = await read([named('m.geojson', utf8(map('{"a":1,"a":2}')))]);
    expect(twice.notes.map((n) => n.code)).toContain('keys-twice');
    expect((twice.columns[0] as { values: Float64Array }).values[1]).toBe(2);
    const ring = JSON.stringify([square(-93.5, 42)]);
    const one = JSON.stringify(feature([square(-93.6, 42)]));
    const two = `{"type":"Feature","properties":{},"geometry":{"type":"Polygon","coordinates":${ring}},"geometry":{"type":"Polygon","coordinates":${ring}}}`;
    const set = await read([named('m.geojson', utf8(`{"type":"FeatureCollection","features":[${one},${two}]}`))]);
    expect(set.skipped).toEqual([{ reason: 'two geometries', count: 1, firstRecord: 2 }]);
    const inner = two.replace(
      /,"geometry":.*$/,
      `,"geometry":{"type":"Polygon","coordinates":${ring},"coordinates":${ring}}}`,
    );
    const third = await read([named('m.geojson', utf8(`{"type":"FeatureCollection","features":[${one},${inner}]}`))]);
    expect(third.skipped.map((s) => s.reason)).toEqual(['a geometry with a key twice']);
    expect(await verdict(utf8(`{"type":"FeatureCollection","features":[${one}],"features":[${one}]}`))).toMatchObject({
      code: 'key-twice',
    });
  });
});

describe('sound maps with bytes changed', () => {
  const rounds = Number(process.env.JSON_ROUNDS ?? 400);
  const small = JSON.stringify(
    collection(
      Array.from({ length: 4 }, (_, i) =>
        feature([square(-93.6 + i * 1e-4, 42)], { n: i, t: 'a\n"b', l: [1, { k: null }], b: true }),
      ),
    ),
  );
  const sample = JSON.stringify({
    type: 'FeatureCollection',
    features: JSON.parse(readFileSync('sample-data/test-strips/after.geojson', 'utf8')).features.slice(0, 6),
  });
  it.each([
    ['a map of four records', small],
    ['records of a sample', sample],
  ])('%s', async (_, text) => {
    const next = seeded(20261129);
    const bytes = utf8(text);
    const odd = utf8('{}[]",:\\0123456789.eE+-truefalsnNaIiy \n\t/bu').filter(() => true);
    for (let round = 0; round < rounds; round++) {
      let changed = Uint8Array.from(bytes);
      for (let k = 0; k < 1 + Math.floor(3 * next()); k++) {
        const at = Math.floor(next() * changed.length);
        const way = next();
        if (way < 0.5) changed[at] = odd[Math.floor(next() * odd.length)];
        else if (way < 0.75) changed = Uint8Array.from([...changed.subarray(0, at), ...changed.subarray(at + 1)]);
        else
          changed = Uint8Array.from([
            ...changed.subarray(0, at),
            odd[Math.floor(next() * odd.length)],
            ...changed.subarray(at),
          ]);
      }
      expect(await difference(changed), `round ${round}: ${new TextDecoder().decode(changed)}`).toBe('');
    }
  });
});

describe('every case that the fuzz of GeoJSON makes in a test run', () => {
  it.each([0, 1, 2, 3])('seeds %d00 and on', async (hundred) => {
    for (let seed = 100 * hundred + 1; seed <= 100 * hundred + 100; seed++)
      expect(await difference(bytesOf('geojson', seed)), `seed ${seed}`).toBe('');
  });
});
