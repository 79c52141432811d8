import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { convertUnit, proposePlanters, readPlanter } from '../../src/core/planter/index.ts';
import type { Unit } from '../../src/core/planter/types.ts';

const IN = 0.0254;
const observed = (sections: number[], unit = IN, toleranceM = 0.01) => ({
  workingWidthM: sections.reduce((a, b) => a + b, 0) * unit,
  sectionsM: sections.map((s) => s * unit),
  toleranceM,
});
const first = (...args: Parameters<typeof observed>) => proposePlanters(observed(...args))[0];

describe('a planter proposed from what a map shows', () => {
  // Arithmetic on layouts of the trade (common practice): rows = width / spacing.
  test('8 sections of 60 in over 40 ft are 16 rows at 30 in, two in each section', () => {
    const { file, rows, sectionsFit } = first(Array(8).fill(60));
    expect([rows, file.rowSpacing, file.unit, sectionsFit]).toEqual([16, 30, 'in', true]);
    expect(file.sections).toEqual(['1-2', '3-4', '5-6', '7-8', '9-10', '11-12', '13-14', '15-16']);
  });

  test('a section of 15 in leaves only 15 in as the spacing', () => {
    const { file } = first([30, 30, 30, 15, 30, 30, 30, 30]);
    expect([file.rows, file.rowSpacing]).toEqual([15, 15]);
    expect(file.sections).toEqual(['1-2', '3-4', '5-6', '7', '8-9', '10-11', '12-13', '14-15']);
  });

  test('75 cm and 30 in are distinguished', () => {
    expect(first(Array(8).fill(150), 0.01).file).toMatchObject({ unit: 'cm', rows: 16, rowSpacing: 75 });
    expect(first(Array(8).fill(60)).file).toMatchObject({ unit: 'in', rows: 16, rowSpacing: 30 });
  });

  test('without sections the width alone is proposed from, and no section is made up', () => {
    const [best, ...others] = proposePlanters({ workingWidthM: 240 * IN, sectionsM: [], toleranceM: 0.01 });
    expect(best.file).toMatchObject({ rows: 8, rowSpacing: 30 });
    expect(best.file.sections).toBeUndefined();
    expect(others.map((o) => o.file.rowSpacing)).toContain(15);
  });

  test('sections that are no whole rows are left out', () => {
    const [best] = proposePlanters({
      workingWidthM: 480 * IN,
      sectionsM: [103, 137, 103, 137].map((v) => v * IN),
      toleranceM: 0.005,
    });
    expect(best).toMatchObject({ sectionsFit: false, rows: 16 });
  });

  test('a width that no planter has gives nothing', () => {
    expect(proposePlanters({ workingWidthM: 0.3, sectionsM: [], toleranceM: 0.01 })).toEqual([]);
  });

  test('every proposal is a planter file that can be read, as wide as the map within a row spacing', () => {
    fc.assert(
      fc.property(
        fc.array(fc.integer({ min: 1, max: 6 }), { minLength: 2, maxLength: 16 }),
        fc.constantFrom(15, 20, 30),
        (rows, spacing) => {
          fc.pre(rows.reduce((a, b) => a + b, 0) <= 96);
          const o = observed(rows.map((r) => r * spacing));
          const all = proposePlanters(o);
          expect(all.length).toBeGreaterThan(0);
          for (const { file, rowSpacingM } of all) {
            const planter = readPlanter(JSON.stringify(file), 'p.planter.json');
            expect(Math.abs(planter.rows * rowSpacingM - o.workingWidthM)).toBeLessThan(rowSpacingM);
          }
        },
      ),
      { numRuns: 200, seed: 5 },
    );
  });
});

describe('a planter in another unit', () => {
  const file = {
    unit: 'in',
    rows: 16,
    rowSpacing: 30,
    offset: { right: 7.5 },
    passSpacing: { every: 480 },
    sections: ['1-16'],
  };

  test('30 in are 76.2 cm and 0.762 m (the inch is 2.54 cm exactly); rows and sections stay', () => {
    expect(convertUnit(file, 'in', 'cm')).toEqual({
      ...file,
      unit: 'cm',
      rowSpacing: 76.2,
      offset: { right: 19.05 },
      passSpacing: { every: 1219.2 },
    });
    expect(convertUnit(file, 'in', 'm')).toMatchObject({ rowSpacing: 0.762, passSpacing: { every: 12.192 } });
  });

  test('there and back is where it began, for lengths of a tape', () => {
    fc.assert(
      fc.property(fc.integer({ min: 10, max: 400 }), fc.constantFrom<Unit>('cm', 'm'), (quarters, unit) => {
        const one = { ...file, rowSpacing: quarters / 4 };
        expect(convertUnit(convertUnit(one, 'in', unit), unit, 'in').rowSpacing).toBeCloseTo(one.rowSpacing, 2);
      }),
      { numRuns: 100, seed: 6 },
    );
  });

  test('what is half typed stays as it is', () => {
    expect(convertUnit({ ...file, rowSpacing: 'x' }, 'in', 'cm').rowSpacing).toBe('x');
  });
});
