import { expect, test } from 'vitest';
import type { Answer } from '../../src/core/answer.ts';
import { check } from '../../src/core/check.ts';
import { named } from '../../src/core/intake/index.ts';
import { readPlanter } from '../../src/core/planter/index.ts';
import { buffersOf } from '../../src/core/shared/buffers.ts';
import { type Partner, practice, practiceMap, practiceUntil } from '../../src/worker/practice.ts';
import { fieldGeoJson, TWELVE } from '../e2e/field.ts';

const map = (): File => new File([practiceMap()], 'practice.geojson');
const never = (): boolean => false;
/** As where a browser has no second worker. */
const nobody: Partner = { readAlong: async () => null, cover: async () => null, measure: async () => null };

test('the field that a worker practices on goes through the whole check: it has passes, gaps and overlaps', async () => {
  const answer = await practice(map(), never, null);
  const { verdict, map: read, area, account } = answer!.report;
  expect(verdict).toBe('agrees');
  // Two headland passes and ten between them.
  expect([read.passes, read.setAside, read.columns.section?.name]).toEqual([12, [], 'section']);
  expect(area.gapM2).toBeGreaterThan(0);
  expect(area.overlapM2).toBeGreaterThan(0);
  expect(new Set(account.map((l) => l.fact))).toEqual(new Set(['gap', 'overlap']));
  expect((await practice(map(), never, nobody))!.report).toEqual(answer!.report);
});

test('a call ends the practice', async () => {
  let asked = 0;
  await practiceUntil(() => ++asked > 2, nobody);
  // Before the first round, within it, and before the second.
  expect(asked).toBe(3);
  expect(await practice(map(), () => true, null)).toBeNull();
});

test('a worker that gave its answer away answers the next call as before', async () => {
  // Sections of another planter's: lines of the account without a place, pieces that no pass has.
  const strips = fieldGeoJson({ passes: 6, bars: 50, sectionsM: [1.016, 1.016, 1.016, 1.016], spacingM: 4.064 });
  const answered = (): Promise<Answer> =>
    check({
      map: [named('strips.geojson', new TextEncoder().encode(strips))],
      planter: readPlanter(JSON.stringify(TWELVE), 'twelve.planter.json'),
    });
  const first = await answered();
  // What the answer shares with the modules that made it, such as the empty set of shapes, is still theirs.
  const given = structuredClone(first, { transfer: buffersOf(first) });
  const second = await answered();
  expect(second).toEqual(given);
  expect(() => structuredClone(second, { transfer: buffersOf(second) })).not.toThrow();
});
