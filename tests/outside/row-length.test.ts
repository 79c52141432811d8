import { describe, expect, test } from 'vitest';
import {
  FOOT_M,
  INCH_M,
  rowLengthForThousandthAcreM,
  rowLengthForThousandthHectareM,
} from '../../src/core/planter/units.ts';

/** Length of row for 1/1000 acre, as the extension tables print it. Misprinted entries are left out here and shown below. */
const TABLES: { source: string; toleranceIn: number; rows: [rowIn: number, feet: number, inches: number][] }[] = [
  {
    source: 'University of Tennessee Extension, "Checking corn populations", April 2011',
    toleranceIn: 0.5,
    rows: [
      [15, 34, 10],
      [20, 26, 2],
      [30, 17, 5],
      [36, 14, 6],
      [38, 13, 9],
    ],
  },
  {
    source: 'Manitoba Agriculture, "Assessing soybean plant stands", Table 1',
    toleranceIn: 0.5,
    rows: [
      [15, 34, 10],
      [22, 23, 9],
      [30, 17, 5],
      [36, 14, 6],
    ],
  },
  {
    source: 'University of Wisconsin Extension, "Taking a stand count", May 2010',
    toleranceIn: 0.5,
    rows: [
      [15, 34, 10],
      [22, 23, 9],
      [30, 17, 5],
      [36, 14, 6],
      [38, 13, 9],
    ],
  },
  {
    source: 'Ohio State University Extension, corn replant tips, newsletter 2017-13, Table 1',
    toleranceIn: 0.5,
    rows: [
      [20, 26, 2],
      [28, 18, 8],
      [30, 17, 5],
      [36, 14, 6],
      [38, 13, 9],
      [40, 13, 1],
      [42, 12, 5],
    ],
  },
  {
    source: 'Purdue Corn & Soybean Field Guide as adapted by Penn State Extension, June 2019',
    toleranceIn: 1.5,
    rows: [
      [7.5, 69, 7],
      [10, 52, 3],
      [15, 34, 10],
      [20, 26, 2],
      [30, 17, 5],
    ],
  },
];

const inches = (rowIn: number): number => rowLengthForThousandthAcreM(rowIn * INCH_M) / INCH_M;

describe('row length for 1/1000 acre', () => {
  for (const table of TABLES)
    test.each(table.rows)(`%d in: %d ft %d in (${table.source})`, (rowIn, feet, over) => {
      expect(Math.abs(inches(rowIn) - (12 * feet + over))).toBeLessThanOrEqual(table.toleranceIn);
    });

  // University of Nebraska, "Evaluating corn stands", 2009, Table 1 (its 40-in entry, 13.2 ft, is an error of the table).
  test.each([
    [20, 26.1],
    [28, 18.7],
    [30, 17.4],
    [36, 14.5],
    [38, 13.8],
  ])('%d in: %d ft (University of Nebraska, 2009)', (rowIn, feet) => {
    expect(Math.abs(inches(rowIn) / 12 - feet)).toBeLessThanOrEqual(0.05);
  });

  test('30-in rows: 17,424 ft of row per acre (Penn State Extension, "Replanting corn fields")', () => {
    expect((1000 * inches(30)) / 12).toBeCloseTo(17_424, 6);
  });

  // The misprints are why tables alone are no oracle: each is further from the arithmetic than its own rounding.
  test.each([
    [20, 36 * 12 + 2, 'Wisconsin, 20 in: 36 ft 2 in'],
    [15, 34 * 12 + 8, 'Ohio State, 15 in: 34 ft 8 in'],
    [40, 13.2 * 12, 'Nebraska, 40 in: 13.2 ft'],
  ])('%d in is not %d in of row (misprint: %s)', (rowIn, printedIn) => {
    expect(Math.abs(inches(rowIn) - printedIn)).toBeGreaterThan(1);
  });

  test('a count of 166.5 plants in that length is 166,500 plants per acre (Manitoba Agriculture, worked example)', () => {
    const counts = [180, 169, 163, 175, 150, 162];
    const plotM2 = rowLengthForThousandthAcreM(15 * INCH_M) * 15 * INCH_M;
    const mean = counts.reduce((a, b) => a + b, 0) / counts.length;
    expect((mean / plotM2) * (43_560 * FOOT_M * FOOT_M)).toBeCloseTo(166_500, 6);
  });
});

// Arithmetic: 10 / row width in meters. No extension table of metric rows was found.
test.each([
  [12.5, 80],
  [15, 66.6667],
  [25, 40],
  [37.5, 26.6667],
  [45, 22.2222],
  [50, 20],
  [70, 14.2857],
  [75, 13.3333],
  [76.2, 13.1234],
  [90, 11.1111],
])('row length for 1/1000 hectare, %d cm: %d m (arithmetic)', (cm, meters) => {
  expect(rowLengthForThousandthHectareM(cm / 100)).toBeCloseTo(meters, 4);
});
