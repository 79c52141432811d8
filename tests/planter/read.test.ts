import { readFileSync } from 'node:fs';
import { Ajv2020 } from 'ajv/dist/2020.js';
import { describe, expect, test } from 'vitest';
import { UserError } from '../../src/core/messages.ts';
import { readPlanter } from '../../src/core/planter/index.ts';
import { fifteen } from './frames.ts';

const schema = JSON.parse(readFileSync(new URL('../../public/planter.schema.json', import.meta.url), 'utf8'));
const valid = new Ajv2020({ strict: true, strictRequired: false, strictTypes: false }).compile(schema);
const sound = fifteen().file as unknown as Record<string, unknown>;
const without = (key: string) => Object.fromEntries(Object.entries(sound).filter(([k]) => k !== key));
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
  ['metres', { name: 'x', unit: 'm', rows: 12, rowSpacing: 0.75, plantings: { all: 'all' } }],
  ['a name of 120 letters outside the basic plane', { ...sound, name: '𝒳'.repeat(120) }],
];

/** Refused by both, with the key that the message names. */
const BAD: [string, unknown, string][] = [
  ['unknown key', { ...sound, rowspacing: 15 }, 'rowspacing'],
  ['unknown key in offset', { ...sound, offset: { left: 3 } }, 'offset.left'],
  ['__proto__ as a key', JSON.parse(`{"__proto__": 1, ${JSON.stringify(sound).slice(1)}`), '__proto__'],
  ['no name', without('name'), 'name'],
  ['no unit', without('unit'), 'unit'],
  ['no rows', without('rows'), 'rows'],
  ['no row spacing', without('rowSpacing'), 'rowSpacing'],
  ['no plantings', without('plantings'), 'plantings'],
  ['blank name', { ...sound, name: '  ' }, 'name'],
  ['name is a number', { ...sound, name: 7 }, 'name'],
  ['a name of 121 letters', { ...sound, name: 'x'.repeat(121) }, 'name'],
  ['unit in feet', { ...sound, unit: 'ft' }, 'unit'],
  ['rows as text', { ...sound, rows: '15' }, 'rows'],
  ['half a row', { ...sound, rows: 15.5 }, 'rows'],
  ['no row at all', { ...sound, rows: 0 }, 'rows'],
  ['too many rows', { ...sound, rows: 501 }, 'rows'],
  ['row spacing as text', { ...sound, rowSpacing: '15' }, 'rowSpacing'],
  ['row spacing of another unit', { ...sound, unit: 'm' }, 'rowSpacing'],
  ['row spacing null', { ...sound, rowSpacing: null }, 'rowSpacing'],
  ['plantings as a list', { ...sound, plantings: ['all'] }, 'plantings'],
  ['no planting', { ...sound, plantings: {} }, 'plantings'],
  ['planting as a number', { ...sound, plantings: { a: 1 } }, 'plantings.a'],
  ['a misspelt word', { ...sound, plantings: { a: 'odds' } }, 'plantings.a'],
  ['an open run', { ...sound, plantings: { a: '1-' } }, 'plantings.a'],
  ['a trailing comma', { ...sound, plantings: { a: '1,2,' } }, 'plantings.a'],
  ['a nameless planting', { ...sound, plantings: { '': 'all' } }, 'plantings.'],
  ['sections as text', { ...sound, sections: '1-15' }, 'sections'],
  ['no section', { ...sound, sections: [] }, 'sections'],
  ['a section as a number', { ...sound, sections: [1, '2-15'] }, 'sections[1]'],
  ['a section of words', { ...sound, sections: ['one', '2-15'] }, 'sections[1]'],
  ['a list as a section', { ...sound, sections: ['1,2', '3-15'] }, 'sections[1]'],
  ['drives as an object', { ...sound, drives: {} }, 'drives'],
  ['offset as a number', { ...sound, offset: 3 }, 'offset'],
  ['offset right as text', { ...sound, offset: { right: '3' } }, 'offset.right'],
  ['pass spacing as a number', { ...sound, passSpacing: 225 }, 'passSpacing'],
  ['pass spacing of zero', { ...sound, passSpacing: { narrow: 0 } }, 'passSpacing.narrow'],
  ['a list', [sound], ''],
  ['null', null, ''],
];

/** Refused on reading though a schema cannot say so. */
const BEYOND_SCHEMA: [string, unknown, RegExp][] = [
  ['a row past the end', { ...sound, plantings: { a: '1-16' } }, /leaves the frame, whose rows are 1 to 15/],
  ['row 0', { ...sound, plantings: { a: '0-3' } }, /leaves the frame/],
  ['a row twice', { ...sound, plantings: { a: '1-6,6' } }, /names row 6 twice/],
  ['a run backwards', { ...sound, plantings: { a: '6-1' } }, /runs backwards/],
  [
    'no even row',
    { ...sound, rows: 1, plantings: { a: 'even' }, sections: ['1'], drives: ['1'] },
    /leaves no row of a frame with 1 row/,
  ],
  ['pass spacing of no planting', { ...sound, passSpacing: { narow: 225 } }, /"narow", which is not a planting/],
  [
    'a row in no section',
    { ...sound, sections: ['1-2', '4-15'] },
    /Row 3 is in no section: section 2 \(rows 4-15\) starts at row 4/,
  ],
  ['rows missing at the end', { ...sound, sections: ['1-2', '3-12'] }, /Rows 13-15 are in no section/],
  ['a row in two sections', { ...sound, sections: ['1-2', '2-15'] }, /Row 2 is in section 1 and again in section 2/],
  ['sections right to left', { ...sound, sections: ['9-15', '1-8'] }, /Rows 1-8 are in no section: section 1/],
  ['a section past the end', { ...sound, sections: ['1-2', '3-16'] }, /In section 2, "3-16" leaves the frame/],
  ['a row on no drive', { ...sound, drives: ['1-7', '9-15'] }, /Row 8 is in no drive/],
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

test('a key that stands twice is refused, not settled in silence', () => {
  const text = JSON.stringify(sound).replace('"wide":"odd"', '"wide":"odd","w\\u0069de":"even"');
  expect(refusal(text).sentence).toBe('The key "wide" stands twice in one place.');
  expect(refusal(`{"name": "x", ${JSON.stringify(sound).slice(1)}`).place.key).toBe('name');
  // The same key in two places, and inside a text, is no fault.
  expect(readPlanter(JSON.stringify({ ...sound, name: '"wide": {"wide": 1' }), 'p').rows).toBe(15);
});

test('what is not JSON is answered with its line', () => {
  const m = refusal('{\n  "name": "x",\n  "rows": 15,,\n}');
  expect(m.sentence).toMatch(/near line 3/);
  expect(refusal('').sentence).toBe('The planter file is empty.');
  expect(readPlanter(`\uFEFF${JSON.stringify(sound)}`, 'p').rows).toBe(15);
});

test('inches, centimetres and metres of one frame are one planter', () => {
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
