/** Frames with no declared sections, with one, and with two: the width is then most of what a map shows. */
import { describe, expect, test } from 'vitest';
import { check } from '../../src/core/check.ts';
import type { PlanterFile, Report } from '../../src/core/index.ts';
import { named } from '../../src/core/intake/index.ts';
import { field } from '../cli/field.ts';
import { frame } from '../planter/frames.ts';

// Fifteen rows at 15 in are 225 in wide; every other one, 8 rows at 30 in, 240 in (rows times spacing: common practice).
const NARROW_M = 225 * 0.0254;
const WIDE_M = 240 * 0.0254;

const run = (sections: PlanterFile['sections'], widthM: number, parts: number) =>
  check({
    map: [
      named(
        'field.geojson',
        new TextEncoder().encode(
          field({
            edgesM: Array.from({ length: parts + 1 }, (_, i) => widthM * (i / parts - 0.5)),
            passSpacingM: widthM,
          }),
        ),
      ),
    ],
    planter: frame(sections === undefined ? {} : { sections }),
    planting: 'narrow',
  });

/** One section over an odd number of rows is a layout that breaks a rule whatever the map says. */
const ofTheMap = (r: Report): string[] => r.diagnoses.map((d) => d.setting).filter((s) => s !== 'declared-layout');

describe.each<[string, PlanterFile['sections'], number]>([
  ['no declared sections', undefined, 1],
  ['one section', ['1-15'], 1],
])('%s', (_, sections, parts) => {
  test('a map as wide as declared gets no diagnosis', async () => {
    const { report } = await run(sections, NARROW_M, parts);
    expect([report.verdict !== 'undecided', ofTheMap(report)]).toEqual([true, []]);
  });

  test('a map as wide as the other planting differs by the rows that plant, or by the frame entered as only those', async () => {
    const { report } = await run(sections, WIDE_M, parts);
    expect(report.verdict).toBe('differs');
    expect(['planted-rows', 'frame-as-wide']).toContain(ofTheMap(report)[0]);
    expect(report.recorded.workingWidthM).toBeCloseTo(WIDE_M, 2);
  });
});

// A display that records the whole width in one record looks the same with one section and with many: it is no evidence of either.
test('two sections in records of the whole width: sections get no diagnosis, and a note says so', async () => {
  const { report } = await run(['1-7', '8-15'], NARROW_M, 1);
  expect(ofTheMap(report)).toEqual([]);
  expect(report.notes.map((n) => n.code)).toContain('sections-unseen');
});
