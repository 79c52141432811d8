import { describe, expect, test } from 'vitest';
import {
  ACRE_M2,
  FOOT_M,
  fieldCapacityAcPerH,
  fieldCapacityHaPerH,
  fieldCapacityM2PerS,
  INCH_M,
  MILE_M,
} from '../../src/core/planter/units.ts';

describe('field capacity', () => {
  // Farm-equipment journal article "Farm field equipment: efficiency versus capacity": 30 ft at 5 mph.
  test('30 ft at 5 mph: 18.2 ac/h, and 14.5 at 80 %', () => {
    expect(fieldCapacityAcPerH(30, 5)).toBeCloseTo(18.181818, 6);
    expect(Math.abs(fieldCapacityAcPerH(30, 5) - 18.2)).toBeLessThan(0.05);
    expect(Math.abs(fieldCapacityAcPerH(30, 5, 0.8) - 14.5)).toBeLessThan(0.05);
  });

  test('12 rows at 30 in, 5 mph, 60 %: 10.9 ac/h (same article)', () => {
    expect(Math.abs(fieldCapacityAcPerH((12 * 30) / 12, 5, 0.6) - 10.9)).toBeLessThan(0.05);
  });

  // Iowa State University PM 696 (rev. April 2001), now A3-24, table rows; knives at 30 in, the spacing inferred.
  test.each([
    ['spreader 40 ft', 40, 6, 0.7, 20.4],
    ['spreader 50 ft', 50, 6, 0.7, 25.5],
    ['spreader 60 ft', 60, 6, 0.68, 29.7],
    ['spreader 60 ft, fast', 60, 12, 0.68, 59.3],
    ['box spreader 10 ft', 10, 5, 0.63, 3.8],
    ['9 knives', 22.5, 5, 0.65, 8.9],
    ['13 knives', 32.5, 5, 0.65, 12.8],
    ['17 knives', 42.5, 5, 0.63, 16.2],
    ['23 knives', 57.5, 5, 0.63, 22.0],
  ])('%s: %d ft, %d mph, efficiency %d: %d ac/h (Iowa State PM 696)', (_, feet, mph, efficiency, acres) => {
    expect(Math.abs(fieldCapacityAcPerH(feet, mph, efficiency) - acres)).toBeLessThanOrEqual(0.05);
  });

  test('acres, hectares and square meters per hour are one thing (University of Kentucky AEN-73: width x speed / 8.25)', () => {
    const perS = fieldCapacityM2PerS(20 * FOOT_M, (5 * MILE_M) / 3600);
    expect((perS * 3600) / ACRE_M2).toBeCloseTo(fieldCapacityAcPerH(20, 5), 10);
    expect((perS * 3600) / 10_000).toBeCloseTo(4.9053, 4);
    expect(fieldCapacityHaPerH(20 * FOOT_M, (5 * MILE_M) / 1000)).toBeCloseTo(4.9053, 4);
  });

  // Arithmetic on the formula above.
  test.each([
    [23 * 15, 17.424242],
    [24 * 15, 18.181818],
    [16 * 30, 24.242424],
    [24 * 30, 36.363636],
    [8 * 30, 12.121212],
  ])('%d in wide at 5 mph: %d ac/h (arithmetic)', (wideIn, acres) => {
    expect(fieldCapacityAcPerH(wideIn / 12, 5)).toBeCloseTo(acres, 6);
  });

  test('a second at 5 mph under 30 ft is 220 ft2, half a second 110 ft2 (arithmetic)', () => {
    const perS = fieldCapacityM2PerS(30 * FOOT_M, (5 * MILE_M) / 3600) / (FOOT_M * FOOT_M);
    expect(perS).toBeCloseTo(220, 9);
    expect(0.5 * perS).toBeCloseTo(110, 9);
  });

  test('360 in of swath: area of a record is its length x 360 / 6,272,640 ac (manual of the agridat data sets, gartner.corn)', () => {
    expect(fieldCapacityM2PerS(360 * INCH_M, 87 * INCH_M) / ACRE_M2).toBeCloseTo((87 * 360) / 6_272_640, 12);
  });
});
