import { mkdtempSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { drawn, solve } from '../../src/audit/field.ts';
import { findFields } from '../../src/audit/index.ts';
import { check } from '../../src/core/check.ts';
import { named, read } from '../../src/core/intake/index.ts';
import { parseWhere } from '../../src/core/intake/where.ts';
import { UserError } from '../../src/core/shared/messages.ts';
import type { CheckInput } from '../../src/core/steps/job.ts';
import { drawField, toGeoJson, toShapefileZip } from '../generator/index.ts';
import { PLANTERS } from '../generator/planters.ts';
import { Random } from '../generator/random.ts';
import type { DrawnField } from '../generator/spec.ts';
import { field, planterOf } from '../settings/help.ts';

const FIELDS = ['North', 'South', 'Creek'];

/** One file with three fields far apart: the first recorded as declared, the others steered at another pass spacing. */
function three(seed: number): { together: DrawnField; alone: DrawnField[] } {
  const alone = FIELDS.map((name, i) => {
    const drawn = drawField(
      field(PLANTERS.fifteen, 'narrow', {
        seed: seed + i,
        origin: { lat: 47.2 + 0.02 * i, lon: 8.1 },
        shape: { kind: 'strip', lengthM: 90 + 10 * i, passes: 4 },
        ...(i > 0 ? { passSpacingM: (225 + 12 * i) * 0.0254 } : {}),
      }),
    );
    for (const f of drawn.features.features)
      f.properties = { ...f.properties, Field: name, no: i + 1, code: `0${i + 1}` };
    return drawn;
  });
  const features = alone.flatMap((d) => d.features.features);
  new Random(seed).shuffle(features);
  // Shuffled across the fields; the times tell the order within each.
  return { alone, together: { ...alone[0], features: { type: 'FeatureCollection', features } } };
}

const checked = (map: Uint8Array, rest: Partial<CheckInput> = {}, name = 'm.geojson') =>
  check({ map: [named(name, map)], planter: planterOf(PLANTERS.fifteen), planting: 'narrow', ...rest });

describe.each([11, 12])('a file of three fields, seed %i', (seed) => {
  const { together, alone } = three(seed);

  test.each(FIELDS.map((f, i) => [f, i] as const))('%s alone gives the answer of its own file', async (name, i) => {
    const own = (await checked(toGeoJson(alone[i]))).report;
    for (const where of [
      [{ column: 'Field', value: name }],
      [{ column: 'Field', value: name.toUpperCase() }],
      [{ column: 'no', value: String(i + 1) }],
      [{ column: 'code', value: `0${i + 1}` }],
      [{ column: 'code', value: String(i + 1) }],
    ]) {
      const { report } = await checked(toGeoJson(together), { where });
      expect(report.verdict).toBe(own.verdict);
      expect(report.verdict).toBe(i === 0 ? 'agrees' : 'differs');
      expect(report.area.coveredM2).toBeCloseTo(own.area.coveredM2, 3);
      expect(report.seams.plantedM).toBeCloseTo(own.seams.plantedM as number, 4);
      expect(report.map.used).toBe(own.map.used);
      expect(report.map.used + report.map.setAside.reduce((n, s) => n + s.count, 0)).toBe(report.map.records);
    }
  });

  test('whole, each field is checked separately, and the note says how to check one alone', async () => {
    const { report } = await checked(toGeoJson(together));
    expect(report.machines.map((m) => m.name.replace(/^.*, /, '')).sort()).toEqual(['field 1', 'field 2', 'field 3']);
    expect(report.machines.map((m) => m.verdict).sort()).toEqual(['agrees', 'differs', 'differs']);
    expect(report.verdict).toBe('differs');
    expect(report.notes.find((n) => n.code === 'several-fields')?.todo).toMatch(/"--where (Field|no|code)=/);
  });

  test('a shapefile and a GeoJSON of it, and the picked records beside the records read', async () => {
    const where = [{ column: 'Field', value: 'South' }];
    const zip = await read([named('m.zip', toShapefileZip(together, 32632))], { where });
    const json = await read([named('m.geojson', toGeoJson(together))], { where });
    expect([...zip.recordNumber]).toEqual([...json.recordNumber]);
    const everything = await read([named('m.geojson', toGeoJson(together))]);
    const names = everything.columns.find((c) => c.name === 'Field');
    if (names?.kind !== 'text') throw new Error('no column');
    const expected = [...everything.recordNumber].filter((_, i) => names.words[names.codes[i]] === 'South');
    expect([...json.recordNumber]).toEqual(expected);
  });

  test('two values of one column are either, two columns are both', async () => {
    const of = async (...pairs: [string, string][]) =>
      (
        await read([named('m.geojson', toGeoJson(together))], {
          where: pairs.map(([column, value]) => ({ column, value })),
        })
      ).recordNumber.length;
    const [north, south] = alone.map((d) => d.features.features.length);
    expect(await of(['Field', 'North'], ['Field', 'South'])).toBe(north + south);
    expect(await of(['Field', 'North'], ['no', '1'])).toBe(north);
    await expect(of(['Field', 'North'], ['no', '2'])).rejects.toThrow('No record of the map meets');
  });
});

test.each([
  [
    'Feld',
    'North',
    'The map has no column "Feld".',
    'Did you mean "Field"? Its columns are logged_at, sec, Field, no, code.',
  ],
  [
    'Field',
    'Nort',
    'No record holds "Nort" in the column "Field".',
    'Did you mean "North"? It holds Creek, North, South.',
  ],
  ['no', '7', 'No record holds "7" in the column "no".', 'It holds 1, 2, 3.'],
])('%s=%s is refused with what there is', async (column, value, sentence, todo) => {
  const e = await checked(toGeoJson(three(5).together), { where: [{ column, value }] }).then(
    () => null,
    (x: unknown) => x,
  );
  if (!(e instanceof UserError)) throw new Error(String(e));
  expect(e.detail.sentence).toBe(sentence);
  expect(e.detail.todo.endsWith(todo)).toBe(true);
});

test.each([
  ['a=b', 'Field=part=North', 'Field=part'],
  ['spaces around it', 'Field = part = North', 'Field = part'],
  ['the longest name counts', 'Field=part=North', 'Field'],
  ['a value with an equals sign', 'note=Field=part', 'note'],
])('a column with an equals sign in its name: %s', async (_, text, other) => {
  const { together, alone } = three(17);
  for (const f of together.features.features) {
    const { Field, ...rest } = f.properties as { Field: string };
    const column = text.includes(' ') ? 'Field = part' : 'Field=part';
    f.properties = {
      ...rest,
      [column]: Field,
      ...(other === 'Field' ? { Field: 'part=North' } : {}),
      note: Field === 'North' ? 'Field=part' : 'none',
    };
  }
  const set = await read([named('m.geojson', toGeoJson(together))], { where: [parseWhere(text, 'here')] });
  expect(set.recordNumber.length).toBe(alone[0].features.features.length);
});

test('an audit list names the records of each line, and each line is a separate field', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'where-'));
  const { together } = three(31);
  writeFileSync(join(folder, 'm.geojson'), toGeoJson(together));
  writeFileSync(join(folder, 'p.planter.json'), JSON.stringify(PLANTERS.fifteen.file));
  writeFileSync(
    join(folder, 'list.csv'),
    'map,planter,planting,where\nm.geojson,p.planter.json,narrow,Field=North\nm.geojson,p.planter.json,narrow,Field=South; no=2\nm.geojson,p.planter.json,narrow,Field=Est\n',
  );
  const { fields } = findFields({
    paths: [join(folder, 'list.csv')],
    planters: [],
    settings: {},
    seconds: 60,
    from: null,
    out: join(folder, 'out'),
  });
  const rows = [];
  for (const f of fields) {
    if (!('settings' in f)) throw new Error(f.sentence);
    const { row } = drawn(await solve(f, null));
    rows.push([f.name, row.verdict, row.settings.join()]);
  }
  expect(rows).toEqual([
    ['m.geojson (Field=Est)', 'not checked', ''],
    ['m.geojson (Field=North)', 'agrees', ''],
    ['m.geojson (Field=South, no=2)', 'differs', 'pass-spacing'],
  ]);
});
