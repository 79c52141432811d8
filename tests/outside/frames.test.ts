import { describe, expect, test } from 'vitest';
import { layoutOf, readPlanter, rowSpanM } from '../../src/core/planter/index.ts';
import { ACRE_M2, FOOT_M, fromMeters, guessRowM, INCH_M } from '../../src/core/planter/units.ts';

const frame = (rows: number, rowSpacing = 15) =>
  readPlanter(
    JSON.stringify({
      name: 'frame',
      unit: 'in',
      rows,
      rowSpacing,
      plantings: { all: 'all', odd: 'odd', even: 'even' },
    }),
    'frame.planter.json',
  );
const inches = (m: number): number => fromMeters(m, 'in');

// Common practice; no standard or extension sheet with these widths was found. Width = rows x gap, half a gap outside each outer row.
const WIDTHS: [
  rows: number,
  narrow: number,
  oddRows: number,
  odd: number,
  oddCenter: number,
  evenRows: number,
  even: number,
  evenCenter: number,
][] = [
  [11, 165, 6, 180, 0, 5, 150, 0],
  [12, 180, 6, 180, -7.5, 6, 180, 7.5],
  [15, 225, 8, 240, 0, 7, 210, 0],
  [16, 240, 8, 240, -7.5, 8, 240, 7.5],
  [23, 345, 12, 360, 0, 11, 330, 0],
  [24, 360, 12, 360, -7.5, 12, 360, 7.5],
  [31, 465, 16, 480, 0, 15, 450, 0],
  [32, 480, 16, 480, -7.5, 16, 480, 7.5],
  [47, 705, 24, 720, 0, 23, 690, 0],
  [48, 720, 24, 720, -7.5, 24, 720, 7.5],
];

test.each(WIDTHS)(
  '%d rows at 15 in: %d in narrow; %d odd rows %d in at %d; %d even rows %d in at %d (common practice)',
  (rows, narrow, oddRows, odd, oddCenter, evenRows, even, evenCenter) => {
    const p = frame(rows);
    const all = layoutOf(p, 'all');
    const o = layoutOf(p, 'odd');
    const e = layoutOf(p, 'even');
    expect(inches(all.workingWidthM)).toBeCloseTo(narrow, 9);
    expect(all.centerM).toBeCloseTo(0, 12);
    expect([o.rows.length, e.rows.length]).toEqual([oddRows, evenRows]);
    expect(inches(o.workingWidthM)).toBeCloseTo(odd, 9);
    expect(inches(e.workingWidthM)).toBeCloseTo(even, 9);
    expect(inches(o.centerM)).toBeCloseTo(oddCenter, 9);
    expect(inches(e.centerM)).toBeCloseTo(evenCenter, 9);
  },
);

// Iowa State PM 696: its rows for odd numbers of knives reproduce only with width = number x spacing (30 in, inferred).
test.each([
  [9, 22.5],
  [13, 32.5],
  [15, 37.5],
  [17, 42.5],
  [23, 57.5],
])('%d knives at 30 in: %d ft (Iowa State PM 696)', (knives, feet) => {
  expect(layoutOf(frame(knives, 30), 'all').workingWidthM / FOOT_M).toBeCloseTo(feet, 9);
});

describe('guess rows (common practice, arithmetic)', () => {
  test.each([
    [23, 'odd', 360, 30],
    [23, 'odd', 345, 15],
    [23, 'all', 345, 15],
    [23, 'all', 360, 30],
    [23, 'even', 330, 30],
    [23, 'even', 360, 60],
    [24, 'all', 360, 15],
    [15, 'all', 240, 30],
    [15, 'odd', 240, 30],
  ])('%d rows at 15 in, %s rows, steered %d in: %d in', (rows, planting, spacingIn, expected) => {
    const p = frame(rows);
    expect(inches(guessRowM(spacingIn * INCH_M, rowSpanM(p, planting)))).toBeCloseTo(expected, 9);
  });

  // Back and forth, an off-center planting turns its two ends in turn to each seam.
  test.each([
    ['odd', 45, 15],
    ['even', 15, 45],
  ])('24 rows, %s rows, steered 360 in on the frame center: %d in and %d in in turn', (planting, first, second) => {
    const p = frame(24);
    const shift = 2 * layoutOf(p, planting).centerM;
    const middle = guessRowM(360 * INCH_M, rowSpanM(p, planting));
    expect(inches(middle - shift)).toBeCloseTo(first, 9);
    expect(inches(middle + shift)).toBeCloseTo(second, 9);
  });
});

// Recorded over true area when the display holds the other planting (arithmetic on the widths above).
test.each([
  [23, 1.0434783],
  [47, 1.0212766],
  [31, 1.032258],
  [15, 1.0666667],
  [11, 1.0909091],
  [24, 1],
])('%d rows planted narrow and recorded wide: acre count x %d (arithmetic)', (rows, factor) => {
  const p = frame(rows);
  expect(layoutOf(p, 'odd').workingWidthM / layoutOf(p, 'all').workingWidthM).toBeCloseTo(factor, 6);
});

// Travel for one acre (arithmetic): 43,560 ft2 / width.
test.each([
  [23, 1515.1304],
  [31, 1124.129],
  [47, 741.4468],
])('%d rows at 15 in: %d ft of travel to the acre (arithmetic)', (rows, feet) => {
  expect(ACRE_M2 / layoutOf(frame(rows), 'all').workingWidthM / FOOT_M).toBeCloseTo(feet, 4);
});

// Purdue ("Wandering swath width"): 17.5 ft recorded where 20 ft were worked reads area at 0.875.
test('17.5 ft recorded for 20 ft: area 0.875, yield 1.142857 (Nielsen, Purdue)', () => {
  const ratio = layoutOf(frame(7, 30), 'all').workingWidthM / layoutOf(frame(8, 30), 'all').workingWidthM;
  expect(ratio).toBeCloseTo(0.875, 12);
  expect(1 / ratio).toBeCloseTo(1.142857, 6);
});
