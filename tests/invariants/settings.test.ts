import { describe, expect, it } from 'vitest';
import type { Answer, Setting } from '../../src/core/answer.ts';
import { check } from '../../src/core/check.ts';
import { settingsInWords } from '../../src/core/infer/index.ts';
import { named } from '../../src/core/intake/index.ts';
import { toShapefileZip } from '../generator/index.ts';
import { answer, settingsOf } from '../settings/help.ts';
import { drawTable, type Fault, frameOf, moved, planterOfTable, TABLE } from '../settings/table.ts';

/**
 * However a map lies or is written, it names the same settings; with less to go by it may name fewer or none, and never another one.
 */
const frames = [frameOf('odd', 'in', 2), frameOf('even', 'cm', 2)];
/** These need the direction of travel, or the order in which passes covered ground: a map without both names nothing. */
const BY_TRAVEL = new Set<Setting>([
  'side-offset',
  'inline-offset',
  'switch-delay',
  'section-order',
  'section-control-off',
  'section-stuck-on',
  'changed-midway',
]);

/** Nothing is named that the whole map does not name, except rivals of a named setting: less evidence distinguishes less. */
function expectNoOther(less: Answer, whole: Answer): void {
  const all = set(whole);
  for (const d of less.report.diagnoses)
    if (!all.includes(d.setting)) expect(all.some((s) => d.says.includes(settingsInWords([s])))).toBe(true);
}

const set = (a: Answer): Setting[] => settingsOf(a).sort();

for (const [setting, make] of Object.entries(TABLE) as [Setting, (typeof TABLE)[Setting]][]) {
  const f = frames.find((x) => make(x))!;
  const fault = make(f) as Fault;
  const planting = fault.planting ?? 'narrow';
  const planter = planterOfTable(f, fault);
  describe(`${setting} on ${f.rows} rows`, () => {
    const original = answer(drawTable(f, fault), planter, planting);

    it('turned, and moved to the other side of the world', async () => {
      for (const over of [{ headingDeg: 241 }, { origin: { lat: -33.9, lon: -179.9999 } }])
        expect(set(await answer(drawTable(f, fault, over), planter, planting))).toEqual(set(await original));
    });
    it('shuffled, with its times', async () => {
      expect(set(await answer(drawTable(f, fault, { order: 'shuffled' }), planter, planting))).toEqual(
        set(await original),
      );
    });
    it('as a zipped shapefile', async () => {
      const zip = toShapefileZip(drawTable(f, fault), 4326);
      expect(set(await check({ map: [named('table.zip', zip)], planter, planting }))).toEqual(set(await original));
    });
    it('mirrored, with the planter counted from its other end', async () => {
      const mirrored = moved(drawTable(f, fault), ([x, y]) => [2 * 12.7 - x, y]);
      expect(set(await answer(mirrored, planterOfTable(f, fault, true), planting))).toEqual(set(await original));
    });
    it('stripped of its columns: the same, or fewer', async () => {
      const bare = await answer(drawTable(f, fault, { columns: {} }), planter, planting);
      expectNoOther(bare, await original);
      if (!BY_TRAVEL.has(setting)) expect(set(bare)).toContain(setting);
    });
    it('stripped and shuffled: the same, or fewer', async () => {
      expectNoOther(
        await answer(drawTable(f, fault, { columns: {}, order: 'shuffled' }), planter, planting),
        await original,
      );
    });
  });
}
