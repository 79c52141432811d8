/** Whatever frame, sections and plantings a planter file declares, a check of whatever map ends in an answer and in reports, never in a fault. */
import { expect, test } from 'vitest';
import { check } from '../../src/core/check.ts';
import { htmlReport, named, type PlanterFile, toJson, toText } from '../../src/core/index.ts';
import { field } from '../cli/field.ts';
import { frame } from '../planter/frames.ts';

const SPACING_M = 15 * 0.0254;
const SECTIONS: Record<string, (rows: number) => PlanterFile['sections']> = {
  none: () => undefined,
  one: (rows) => [`1-${rows}`],
  two: (rows) => (rows < 2 ? undefined : [`1-${rows >> 1}`, `${(rows >> 1) + 1}-${rows}`]),
  'one a row': (rows) => Array.from({ length: rows }, (_, i) => `${i + 1}`),
  pairs: (rows) =>
    Array.from({ length: Math.ceil(rows / 2) }, (_, i) => `${2 * i + 1}-${Math.min(rows, 2 * i + 2)}`).map((s) =>
      s.replace(/^(\d+)-\1$/, '$1'),
    ),
};

test.each(Object.keys(SECTIONS))('sections: %s', async (kind) => {
  const says: string[] = [];
  for (const rows of [1, 2, 3, 8, 15, 16])
    for (const plantings of [{ narrow: 'all' as const }, { narrow: 'all' as const, wide: 'odd' as const }]) {
      const sections = SECTIONS[kind](rows);
      const planter = frame({ rows, rowSpacing: 15, plantings, ...(sections ? { sections } : {}) });
      const widthM = rows * SPACING_M;
      for (const [recordedM, parts] of [
        [widthM, Math.min(rows, 8)],
        [1.1 * widthM, 1],
        [widthM / 2, 2],
      ]) {
        const edgesM = Array.from({ length: parts + 1 }, (_, i) => recordedM * (i / parts - 0.5));
        const n = says.length;
        const text = field({ edgesM, passSpacingM: 1.02 * widthM, passes: 1 + (n % 4), bars: 8 + (n % 7) });
        const map = [named('field.geojson', new TextEncoder().encode(text))];
        const answer = await check({ map, planter, ...(n % 2 ? { planting: 'narrow' } : {}) });
        says.push(answer.report.verdict);
        expect(htmlReport(answer).length * toText(answer).length * toJson(answer).length).toBeGreaterThan(0);
      }
    }
  expect(says).toHaveLength(36);
  expect(new Set(says).size).toBeGreaterThan(1);
});
