import { expect, test } from 'vitest';
import { type Partner, practice, practiceMap, practiceUntil } from '../../src/worker/practice.ts';

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
