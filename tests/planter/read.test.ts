import { readFileSync } from 'node:fs';
import { Ajv2020 } from 'ajv/dist/2020.js';
import { describe, expect, test } from 'vitest';
import { readPlanter } from '../../src/core/planter/index.ts';
import { UserError } from '../../src/core/shared/messages.ts';
import { BAD, BEYOND_SCHEMA, sound, without } from '../hard/planter-cases.ts';

const schema = JSON.parse(readFileSync(new URL('../../public/planter.schema.json', import.meta.url), 'utf8'));
const valid = new Ajv2020({ strict: true, strictRequired: false, strictTypes: false }).compile(schema);
const refusal = (v: unknown): UserError['detail'] => {
  try {
    readPlanter(typeof v === 'string' ? v : JSON.stringify(v), 'p.planter.json');
  } catch (e) {
    if (e instanceof UserError) return e.detail;
    throw e;
  }
  throw new Error(`accepted ${JSON.stringify(v)}`);
};

/** Accepted by the reader and by the schema. */
const GOOD: [string, unknown][] = [
  ['everything declared', sound],
  ['the least', { name: 'x', unit: 'cm', rows: 1, rowSpacing: 50, plantings: { only: 'all' } }],
  ['without sections', without('sections')],
  ['without drives', without('drives')],
  ['without offset', without('offset')],
  ['without pass spacing', without('passSpacing')],
  ['half an offset', { ...sound, offset: { back: 2.5 } }],
  ['a row list', { ...sound, plantings: { a: '1-6,10,12' }, passSpacing: {} }],
  ['spaces in row lists', { ...sound, plantings: { a: ' 1 - 6, 10 , 12 ' }, passSpacing: { a: 200 } }],
  ['meters', { name: 'x', unit: 'm', rows: 12, rowSpacing: 0.75, plantings: { all: 'all' } }],
  ['a name of 120 letters outside the basic plane', { ...sound, name: '𝒳'.repeat(120) }],
];

describe('reader and schema give the same verdict', () => {
  test.each(GOOD)('accept: %s', (_, v) => {
    expect(readPlanter(JSON.stringify(v), 'p').rows).toBe((v as { rows: number }).rows);
    expect(valid(v), JSON.stringify(valid.errors)).toBe(true);
  });
  test.each(BAD)('refuse: %s', (_, v, key) => {
    const m = refusal(v);
    expect(m.place).toEqual(key ? { file: 'p.planter.json', key } : { file: 'p.planter.json' });
    expect(valid(v)).toBe(false);
  });
});

test.each(BEYOND_SCHEMA)('refused by the reader alone: %s', (_, v, sentence) => {
  expect(refusal(v).sentence).toMatch(sentence);
  expect(valid(v)).toBe(true);
});

test('an unknown key is answered with the nearest right one', () => {
  expect(refusal({ ...without('rowSpacing'), rowspacing: 15 }).todo).toBe('Did you mean "rowSpacing"?');
  expect(refusal({ ...without('sections'), section: [] }).todo).toBe('Did you mean "sections"?');
  expect(refusal({ ...sound, offset: { rigth: 1 } }).todo).toBe('Did you mean "offset.right"?');
  expect(refusal({ ...sound, plantings: { a: 'odds' } }).todo).toBe('Did you mean "odd"?');
});

test('an empty name is told in words that fit a file and a form', () => {
  for (const v of [
    { ...sound, name: '' },
    { ...sound, plantings: { ' ': 'all' } },
  ])
    expect([refusal(v).sentence, refusal(v).todo]).toEqual([
      'The name is empty.',
      'Write one of at least one letter or digit.',
    ]);
  expect(refusal({ ...sound, sections: [1] }).todo).toBe('Write a run of rows as text: "1-2", or "7" for one row.');
});

test('a key that appears twice is refused, not silently resolved', () => {
  const text = JSON.stringify(sound).replace('"wide":"odd"', '"wide":"odd","w\\u0069de":"even"');
  expect(refusal(text).sentence).toBe('The key "wide" appears twice in one place.');
  expect(refusal(`{"name": "x", ${JSON.stringify(sound).slice(1)}`).place.key).toBe('name');
  // The same key in two places, and inside a text, is no fault.
  expect(readPlanter(JSON.stringify({ ...sound, name: '"wide": {"wide": 1' }), 'p').rows).toBe(15);
});

test('plantings may be called what every object answers to', () => {
  for (const name of ['constructor', '__proto__', 'toString', 'hasOwnProperty']) {
    const text = JSON.stringify({ ...sound, plantings: { NAME: 'all' }, passSpacing: undefined }).replace(
      '"NAME"',
      `"${name}"`,
    );
    const p = readPlanter(text, 'p').plantings[0];
    expect([p.name, p.passSpacingM]).toEqual([name, null]);
    const spaced = text.replace('"rows":', `"passSpacing":{"${name}":225},"rows":`);
    expect(readPlanter(spaced, 'p').plantings[0].passSpacingM).toBeCloseTo(5.715, 9);
  }
  expect(
    refusal('{"unit":"in","rows":15,"rowSpacing":15,"plantings":{"a":"all"},"__proto__":{"name":"x"}}').sentence,
  ).not.toBe('');
});

test('what is not JSON is answered with its line', () => {
  const m = refusal('{\n  "name": "x",\n  "rows": 15,,\n}');
  expect(m.sentence).toMatch(/near line 3/);
  expect(refusal('').sentence).toBe('The planter file is empty.');
  expect(readPlanter(`\uFEFF${JSON.stringify(sound)}`, 'p').rows).toBe(15);
});

test('inches, centimeters and meters of one frame are one planter', () => {
  const same = (unit: string, k: number) =>
    readPlanter(
      JSON.stringify({
        name: 'x',
        unit,
        rows: 15,
        rowSpacing: 38.1 * k,
        plantings: { a: 'all' },
        passSpacing: { a: 571.5 * k },
      }),
      'p',
    );
  const [i, c, m] = [same('in', 1 / 2.54), same('cm', 1), same('m', 0.01)];
  expect(i.rowSpacingM).toBeCloseTo(0.381, 14);
  expect(c.rowSpacingM).toBeCloseTo(0.381, 14);
  expect(m.rowSpacingM).toBeCloseTo(0.381, 14);
  expect([i, c, m].map((p) => p.plantings[0].passSpacingM)).toEqual(
    [5.715, 5.715, 5.715].map((v) => expect.closeTo(v, 12)),
  );
});
