import { describe, expect, test } from 'vitest';
import {
  layoutOf,
  planterNotes,
  proposeSections,
  readPlanter,
  ruleBreaks,
  runName,
} from '../../src/core/planter/index.ts';
import { INCH_M } from '../../src/core/planter/units.ts';
import { fifteen, frame } from './frames.ts';

const inches = (m: number): number => m / INCH_M;

// Common practice, arithmetic: width = rows x spacing, half a spacing outside each outer row.
const WIDTHS: [rows: number, narrow: number, odd: [number, number, number], even: [number, number, number]][] = [
  [11, 165, [6, 180, 0], [5, 150, 0]],
  [12, 180, [6, 180, -7.5], [6, 180, 7.5]],
  [15, 225, [8, 240, 0], [7, 210, 0]],
  [16, 240, [8, 240, -7.5], [8, 240, 7.5]],
  [23, 345, [12, 360, 0], [11, 330, 0]],
  [24, 360, [12, 360, -7.5], [12, 360, 7.5]],
  [31, 465, [16, 480, 0], [15, 450, 0]],
  [32, 480, [16, 480, -7.5], [16, 480, 7.5]],
  [47, 705, [24, 720, 0], [23, 690, 0]],
  [48, 720, [24, 720, -7.5], [24, 720, 7.5]],
];

describe('frames at 15 in (common practice)', () => {
  test.each(WIDTHS)('%i rows', (rows, narrow, odd, even) => {
    const p = frame({ rows, plantings: { narrow: 'all', odd: 'odd', even: 'even' } });
    const all = layoutOf(p, 'narrow');
    expect(inches(all.workingWidthM)).toBeCloseTo(narrow, 9);
    expect(inches(all.centerM)).toBeCloseTo(0, 9);
    for (const [name, [n, width, center]] of [
      ['odd', odd],
      ['even', even],
    ] as const) {
      const l = layoutOf(p, name);
      expect(l.rows.length).toBe(n);
      expect(inches(l.workingWidthM)).toBeCloseTo(width, 9);
      expect(inches(l.centerM)).toBeCloseTo(center, 9);
    }
  });
});

describe('proposed sections', () => {
  const names = (p: ReturnType<typeof frame>, limit: number) =>
    proposeSections(p, limit).sections?.map(runName).join(' ');
  test('15 rows, one drive, 8 sections: pairs and row 7 alone', () => {
    expect(names(frame({ rows: 15 }), 8)).toBe('1-2 3-4 5-6 7 8-9 10-11 12-13 14-15');
  });
  test('23 rows, drives 1-11 and 12-23, 12 sections: pairs and row 11 alone', () => {
    expect(names(frame({ rows: 23, drives: ['1-11', '12-23'] }), 12)).toBe(
      '1-2 3-4 5-6 7-8 9-10 11 12-13 14-15 16-17 18-19 20-21 22-23',
    );
  });
  test('24 rows, 12 sections: pairs throughout', () => {
    expect(names(frame({ rows: 24 }), 12)).toBe('1-2 3-4 5-6 7-8 9-10 11-12 13-14 15-16 17-18 19-20 21-22 23-24');
  });
  test('too few sections, and no row that always plants, are said', () => {
    expect(proposeSections(frame({ rows: 23, drives: ['1-11', '12-23'] }), 1)).toEqual({
      sections: null,
      why: 'At least 3 sections are needed to keep the rules on this frame; the limit is 1.',
    });
    expect(proposeSections(frame({ rows: 15, plantings: { a: 'odd', b: 'even' } }), 8).why).toContain(
      'no row plants in every planting',
    );
  });
});

test('a sound frame breaks no rule and has no note', () => {
  expect(ruleBreaks(fifteen())).toEqual([]);
  expect(planterNotes(fifteen())).toEqual([]);
});

test('an even frame planted wide gets a note, not a broken rule', () => {
  const p = frame({ rows: 24, plantings: { narrow: 'all', wide: 'odd' } });
  expect(ruleBreaks(p)).toEqual([]);
  expect(planterNotes(p).map((n) => n.sentence)).toEqual([
    'In planting "wide" the middle of the planted rows lies 7.5 in left of the frame\'s center.',
  ]);
});

test('a section without a planted row has no band; the others close over it', () => {
  const p = frame({ rows: 15, sections: Array.from({ length: 15 }, (_, i) => `${i + 1}`) });
  const l = layoutOf(p, 'wide');
  expect(l.sectionBands.map((b) => b === null)).toEqual(Array.from({ length: 15 }, (_, i) => i % 2 === 1));
  expect(inches(l.sectionBands[2]!.leftM)).toBeCloseTo(-90, 9);
  expect(inches(l.sectionBands[2]!.rightM)).toBeCloseTo(-60, 9);
});

test('with holes the working width is outer edge to outer edge', () => {
  // Arithmetic: rows 1-6 and 10-12 of 12 at 20 in; outer reach 10 in each side of rows 1 and 12: 11 x 20 + 20.
  const p = frame({ rows: 12, rowSpacing: 20, plantings: { tram: '1-6,10-12' } });
  const l = layoutOf(p, 'tram');
  expect(inches(l.workingWidthM)).toBeCloseTo(240, 9);
  expect(inches(l.rowBands[5].rightM)).toBeCloseTo(inches(l.rowBands[6].leftM), 9);
  expect(inches(l.rowBands[5].rightM - l.rowBands[5].leftM)).toBeCloseTo(10 + 40, 9);
});

test('the side offset moves no band: bands count from the frame center', () => {
  const p = readPlanter(JSON.stringify({ ...fifteen().file, offset: { right: 4, back: 60 } }), 'x');
  expect(p.offsetRightM).toBeCloseTo(4 * INCH_M, 12);
  expect(layoutOf(p, 'wide')).toEqual(layoutOf(fifteen(), 'wide'));
});
