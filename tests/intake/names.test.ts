/** Names out of a map, in every output that a terminal, a spreadsheet or a reader takes. */
import { describe, expect, it } from 'vitest';
import { check } from '../../src/core/check.ts';
import { named, read } from '../../src/core/intake/index.ts';
import { jsonText, toCsv, toGeoJson, toJson } from '../../src/core/report/index.ts';
import { cell } from '../../src/core/shared/safe.ts';
import { field } from '../cli/field.ts';
import { fifteen } from '../planter/frames.ts';

const bands = [-2.8575, -1.905, 0, 1.905, 2.8575];
const mapOf = (rename: (text: string) => string, name = 'map.geojson') =>
  named(name, new TextEncoder().encode(rename(field({ edgesM: bands, passSpacingM: 5.715, passes: 3, bars: 12 }))));
const RAW = /[\u007F-\u009F\u061C\u200E\u200F\u202A-\u202E\u2066-\u2069]/;

describe('a name of megabytes', () => {
  it('is cut to a name of its own, with a note', async () => {
    const long = 'x'.repeat(2_000_000);
    const set = await read([mapOf((t) => t.replace('"Section":', `"${long}":1,"${long}y":2,"Section":`))], {});
    const names = set.columns.map((c) => c.name);
    expect(names.filter((n) => n.length > 205)).toEqual([]);
    expect(new Set(names).size).toBe(names.length);
    const [note] = set.notes.filter((n) => n.code === 'column-name-long');
    expect(note.sentence).toBe(
      '2 columns have names of more than 200 characters (the first: 2000000); the rest was cut off.',
    );
  });
});

describe('marks that turn the direction of writing, and controls beyond ASCII', () => {
  it('come out of every JSON as escapes, and are read back as they were', async () => {
    const odd = 'a\u202Eb\u009Bc\u200Fd\u2066e';
    const answer = await check({
      map: [mapOf((t) => t.replaceAll('"Section":', `"${odd}":1,"Section":`), `${odd}.geojson`)],
      planter: fifteen(),
      planting: 'narrow',
      columns: { section: 'Section' },
    });
    for (const text of [toJson(answer), toGeoJson(answer), toCsv(answer)]) expect(RAW.test(text)).toBe(false);
    expect(jsonText({ [odd]: odd })).toMatch(/^[\x20-\x7E]*$/);
    expect(JSON.parse(jsonText({ [odd]: odd }))).toEqual({ [odd]: odd });
  });
});

describe('a cell of a table', () => {
  it.each([
    ['=1+2', "'=1+2"],
    ['a;=1+2', `"a;'=1+2"`],
    ['a; @SUM(A1)', `"a;' @SUM(A1)"`],
    ['a;b', '"a;b"'],
    ['-3.5', '-3.5'],
    ['a,b', '"a,b"'],
  ])('%s begins no formula, whatever parts cells', (text, out) => {
    expect(cell(text)).toBe(out);
  });
});
