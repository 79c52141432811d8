import { expect, test } from 'vitest';
import {
  ACRE_M2,
  areaText,
  FOOT_M,
  fromMeters,
  HECTARE_M2,
  INCH_M,
  lengthText,
  MILE_M,
  toMeters,
} from '../../src/core/planter/units.ts';

// NIST SP 811 and Handbook 44, Appendix C: the international inch is 0.0254 m exactly, the foot 12 of them, the mile 5,280 ft.
test('inch, foot and mile', () => {
  expect(INCH_M).toBe(0.0254);
  expect(FOOT_M).toBe(0.3048);
  expect(MILE_M).toBeCloseTo(5280 * 0.3048, 9);
});

// Same source: 43,560 square (international) feet; 316160658/78125 m2 exactly. The US survey acre is 4e-6 larger.
test('acre: 4,046.8564224 m2, not the survey acre', () => {
  expect(ACRE_M2).toBe(316_160_658 / 78_125);
  expect(62_726_400_000 / 15_499_969 / ACRE_M2 - 1).toBeCloseTo(4.000012e-6, 11);
});

test('hectares in an acre 0.40468564224, acres in a hectare 2.4710538146716536, acres in a square mile 640 (arithmetic)', () => {
  expect(ACRE_M2 / HECTARE_M2).toBeCloseTo(0.40468564224, 14);
  expect(HECTARE_M2 / ACRE_M2).toBeCloseTo(2.4710538146716536, 12);
  expect(MILE_M ** 2 / ACRE_M2).toBeCloseTo(640, 9);
});

// Manual of the agridat data sets, gartner.corn: under 360 in of swath a record's area is its length in inches x 360 / 6,272,640 ac.
test('an acre holds 6,272,640 square inches', () => {
  expect(ACRE_M2 / INCH_M ** 2).toBeCloseTo(6_272_640, 6);
});

// Agridat manual, kiesselbach.oats: a plot of 16 rods (16.5 ft each) by 5.5 ft is 1/30 acre.
test('16 rods by 5.5 ft: 1/30 acre', () => {
  expect((16 * 16.5 * 5.5 * FOOT_M * FOOT_M) / ACRE_M2).toBeCloseTo(1 / 30, 12);
});

test('a quarter mile by 30 ft is said as 0.909 ac, and as 0.37 ha (arithmetic: 39,600 ft2 = 3,678.960384 m2)', () => {
  const m2 = toMeters(1320 * 12, 'in') * toMeters(360, 'in');
  expect(m2).toBeCloseTo(3678.960384, 6);
  expect(areaText(m2, 'in')).toBe('0.909 ac');
  expect(areaText(m2, 'm')).toBe('0.368 ha');
});

test('76.2 cm and 30 in are one number; 240 in is said as 20 ft', () => {
  expect(toMeters(76.2, 'cm')).toBe(toMeters(30, 'in'));
  expect(fromMeters(toMeters(225, 'in'), 'cm')).toBeCloseTo(571.5, 9);
  expect(lengthText(toMeters(240, 'in'), 'in')).toBe('20 ft (240 in)');
});
