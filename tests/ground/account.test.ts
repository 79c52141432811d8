import { describe, expect, test } from 'vitest';
import { check, named, readPlanter, toText } from '../../src/core/index.ts';
import { drawField, toGeoJson } from '../generator/index.ts';
import { PLANTERS, rowsOf, runs } from '../generator/planters.ts';
import type { Belief, FieldSpec, Run } from '../generator/spec.ts';
import { field, planterOf } from '../settings/help.ts';

// Maps on which any viewer shows what is wrong. Areas by arithmetic: width of a strip times its length.
const SPACING_M = 22 * 0.0254;

const all = (n: number): number[] => Array.from({ length: n }, (_, i) => i + 1);
const pairs = (n: number): Run[] => all(n / 2).map((i) => [2 * i - 1, 2 * i]);
const twelve = readPlanter(
  JSON.stringify({
    name: 'Twelve rows',
    unit: 'in',
    rows: 12,
    rowSpacing: 22,
    plantings: { beet: 'all' },
    sections: pairs(12).map((r) => r.join('-')),
  }),
  'twelve.planter.json',
);

/** Ten passes back and forth. */
function tenPasses(lengthM: number, rest: Partial<FieldSpec>): Uint8Array {
  return toGeoJson(
    drawField({
      seed: 12,
      origin: { lat: 44.1, lon: -95.2 },
      headingDeg: 31,
      shape: { kind: 'strip', lengthM, passes: 10 },
      truth: { rows: 12, rowSpacingM: SPACING_M, planted: all(12), sections: pairs(12) },
      passSpacingM: 12 * SPACING_M,
      noise: { wanderM: 0.015, passBiasM: 0.01 },
      columns: { time: { name: 'logged', as: 'iso' } },
      ...rest,
    }),
  );
}

const reportOf = async (map: Uint8Array) => {
  const answer = await check({
    map: [named('map.geojson', map)],
    planter: twelve,
    planting: 'beet',
  });
  return { report: answer.report, head: toText(answer).split('\n').slice(0, 10).join(' ') };
};

describe('the account of maps that show their fault at a glance', () => {
  test('a frame that is two rows narrower for the last three of ten passes', async () => {
    const ten: Partial<Belief> = { rows: 10, planted: all(10), sections: pairs(10) };
    const lengthM = 476;
    const { report, head } = await reportOf(tenPasses(lengthM, { change: { pass: 8, belief: ten } }));
    // One row open on the side of pass 7, two between passes 8 and 9, and 9 and 10.
    const openM2 = 5 * SPACING_M * lengthM;
    const open = report.account.filter((l) => l.fact === 'gap' && l.picture === 'recorded' && l.cause === 'setting');
    expect(Math.abs(open.reduce((s, l) => s + l.areaM2, 0) / openM2 - 1)).toBeLessThan(0.05);
    expect(new Set(open.map((l) => l.setting))).toEqual(new Set(['changed-midway']));
    expect(open.flatMap((l) => l.passes).sort((a, b) => a - b)).toEqual([7, 8, 9, 10]);
    expect(report.verdict).toBe('differs');
    // Three of ten passes count two rows of twelve too few: 5 %.
    expect(report.diagnoses[0].effect.acreCountPct).toBeCloseTo(-5, 1);
    // What is off, how much, why, since when: in the first ten lines.
    expect(head).toMatch(/Acre count 5 % too low.*changed midway.*10 rows.*\(pass\s+8\)/s);
  });

  test.each([1, 6])('an outer section, number %d, off for three passes', async (section) => {
    const lengthM = 272;
    const { report, head } = await reportOf(tenPasses(lengthM, { belief: { stuckOff: { section, from: 4, to: 6 } } }));
    // Two passes leave their strips side by side, one its own.
    const openM2 = 3 * 2 * SPACING_M * lengthM;
    const open = report.account.filter((l) => l.fact === 'gap' && l.picture === 'recorded' && l.cause === 'setting');
    expect(Math.abs(open.reduce((s, l) => s + l.areaM2, 0) / openM2 - 1)).toBeLessThan(0.05);
    expect(open.map((l) => [l.setting, l.passes])).toEqual([
      ['section-stuck-off', section === 6 ? [3, 4, 5, 6] : [4, 5, 6, 7]],
    ]);
    expect(report.verdict).toBe('differs');
    expect(report.diagnoses.map((d) => d.setting)).toEqual(['section-stuck-off']);
    // A sixth of three passes of ten: 5 %.
    expect(report.diagnoses[0].effect.acreCountPct).toBeCloseTo(-5, 1);
    expect(head).toMatch(
      /section that drops out.*Acre count 5 % too low.*rows (1-2|11-12)\) was off.*passes 4-6, since 14:\d\d/s,
    );
  });

  test('an outer section off in two passes that face one another is ground driven around as well: nothing is blamed, and it is named', async () => {
    // Passes 5 and 6 run opposite ways: section 6 of both lies on the line between them, as beside a waterway.
    const { report, head } = await reportOf(tenPasses(272, { belief: { stuckOff: { section: 6, from: 5, to: 6 } } }));
    expect(report.verdict).toBe('undecided');
    // Four rows along 272 m are 0.150 ac, less what passes wander.
    expect(head).toMatch(/0\.1[45]\d* ac open in passes 5-6/);
  });

  test('fifteen rows recorded as eight wide ones: no planting that may be meant agrees', async () => {
    const { fifteen } = PLANTERS;
    const map = toGeoJson(
      drawField(
        field(fifteen, 'narrow', {
          belief: {
            rows: 8,
            rowSpacingM: 0.762,
            planted: rowsOf(8, 'all'),
            sections: runs('1-2 3-4 5-6 7-8'),
            drives: [[1, 8]],
          },
          passSpacingM: 6.096,
        }),
      ),
    );
    const input = {
      map: [named('map.geojson', map)],
      planter: planterOf(fifteen),
    };
    const { report } = await check(input);
    expect(report.verdict).toBe('differs');
    expect(report.ifPlanted.map((p) => [p.planting, p.verdict])).toEqual([
      ['narrow', 'differs'],
      ['wide', 'differs'],
    ]);
    const narrow = (await check({ ...input, planting: 'narrow' })).report;
    expect(narrow.verdict).toBe('differs');
    // 240 in recorded for 225 in planted: 6.7 % too high.
    expect(narrow.diagnoses[0].effect.acreCountPct).toBeCloseTo(6.7, 0);
  });
});
