import { type InventedPlanter, PLANTERS, rowsOf, runs } from '../generator/planters.ts';
import type { FieldSpec } from '../generator/spec.ts';

const { fifteen, twentyThree, twelveMetric, twentyFour, seventeenMetric, fifteenRowByRow, twentyThreeStraddling } =
  PLANTERS;
const slanted: FieldSpec['shape'] = { kind: 'field', lengthM: 200, widthM: 130, headlandLaps: 2, pointRowsDeg: 26 };
const asWide: Partial<FieldSpec> = {
  belief: {
    rows: 8,
    rowSpacingM: 0.762,
    planted: rowsOf(8, 'all'),
    sections: runs('1-2 3-4 5-6 7-8'),
    drives: [[1, 8]],
  },
  passSpacingM: 6.096,
};

/** Invented fields whose reports are kept: a planter, its planting, and what differs from a sound small field. */
export const CASES: Record<string, [InventedPlanter, string, Partial<FieldSpec>]> = {
  'agrees-metric': [twelveMetric, 'maize', {}],
  'agrees-bars': [fifteen, 'narrow', { grain: 'bar' }],
  'agrees-even-frame': [twentyFour, 'narrow', {}],
  'agrees-strips': [fifteen, 'narrow', { grain: 'strip' }],
  'agrees-no-columns': [twentyThree, 'narrow', { columns: {} }],
  'undecided-one-pass': [fifteen, 'narrow', { shape: { kind: 'strip', lengthM: 150, passes: 1 } }],
  'undecided-short': [seventeenMetric, 'beet', { shape: { kind: 'strip', lengthM: 30, passes: 1 } }],
  'undecided-dissolved': [fifteen, 'narrow', { grain: 'blob' }],
  'planted-rows-metric': [seventeenMetric, 'beet', { belief: { planted: rowsOf(17, 'odd') }, passSpacingM: 6.75 }],
  'planted-rows-in-bars': [
    fifteen,
    'narrow',
    { belief: { planted: rowsOf(15, 'odd') }, passSpacingM: 6.096, grain: 'bar' },
  ],
  'frame-rows': [
    twelveMetric,
    'maize',
    {
      belief: {
        rows: 11,
        rowSpacingM: 0.75,
        planted: rowsOf(11, 'all'),
        sections: runs('1-2 3-4 5-6 7-8 9-10 11'),
        drives: [[1, 11]],
      },
      passSpacingM: 8.25,
    },
  ],
  'frame-as-wide': [fifteen, 'narrow', asWide],
  'frame-as-wide-and-pass-spacing': [fifteen, 'narrow', { ...asWide, passSpacingM: 5.461 }],
  'sections-merged': [fifteen, 'narrow', { belief: { sections: runs('1-4 5-7 8-11 12-15') } }],
  'section-rows': [fifteen, 'narrow', { belief: { sections: runs('1-2 3-4 5-6 7-8 9 10-11 12-13 14-15') } }],
  'section-idle': [fifteenRowByRow, 'wide', { belief: { sectionsBy: 'physical' } }],
  'section-across-drives': [twentyThreeStraddling, 'narrow', { belief: { acrossDrives: 'missing' } }],
  'row-spacing': [twelveMetric, 'maize', { belief: { rowSpacingM: 0.7 }, passSpacingM: 8.4 }],
  'pass-spacing': [twentyThree, 'wide', { passSpacingM: 8.763 }],
  'pass-spacing-metric': [twelveMetric, 'maize', { passSpacingM: 9.15 }],
  'side-offset': [fifteen, 'narrow', { sideShiftM: 0.08 }],
  'inline-offset': [twelveMetric, 'maize', { truth: { ...twelveMetric.as('maize'), offsetBackM: 4 }, belief: { offsetBackM: 0 }, runInM: 10, shape: slanted }],
  'switch-delay': [twelveMetric, 'maize', { truth: { ...twelveMetric.as('maize'), onDelayS: 2, offDelayS: 2 }, belief: { onDelayS: 0, offDelayS: 0 }, runInM: 10, speedMPerS: 2, speedSpread: 0.3 }],
  'changed-midway': [fifteen, 'narrow', { change: { pass: 12, belief: { planted: rowsOf(15, 'odd') } } }],
  'map-repeated': [fifteen, 'narrow', { repeat: 'all' }],
  'map-units': [fifteen, 'narrow', { columns: { width: { name: 'width_ft', unit: 'm' } } }],
  'declared-layout': [twentyThreeStraddling, 'narrow', {}],
  'section-stuck-off': [fifteen, 'narrow', { belief: { stuckOff: { section: 3, from: 7, to: 10 } } }],
  'section-stuck-on': [twentyThree, 'narrow', { belief: { stuckOn: 4 }, runInM: 10, shape: slanted }],
  'section-control-off': [twentyThree, 'narrow', { sectionControl: false, runInM: 10, shape: slanted }],
  'section-order': [twelveMetric, 'maize', { belief: { mirrored: true }, runInM: 10, shape: slanted }],
};
