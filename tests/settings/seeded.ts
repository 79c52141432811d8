import type { Setting } from '../../src/core/answer.ts';
import { type InventedPlanter, PLANTERS, rowsOf, runs } from '../generator/planters.ts';
import type { Belief, FieldSpec, Run } from '../generator/spec.ts';
import { metersOf } from './help.ts';

/** A fault on an invented planter, as the field that it draws differs from a sound one. */
export type SeededFault = [planter: InventedPlanter, planting: string, rest: Partial<FieldSpec>];
const INCH = 0.0254;

const fifteen = PLANTERS.fifteen;
const twentyThree = PLANTERS.twentyThree;
const twentyFour = PLANTERS.twentyFour;
const seventeen = PLANTERS.seventeenMetric;
const twelve = PLANTERS.twelveMetric;

/** The display believes another planting of the same frame and steers by it. */
export const steeredBy = (p: InventedPlanter, planting: string): Partial<FieldSpec> => ({
  belief: { planted: rowsOf(p.file.rows, p.file.plantings[planting]) },
  passSpacingM: p.file.passSpacing[planting] * metersOf(p),
});
/** Sections of two rows each, and one of one row at the end of an odd frame. */
export const pairs = (n: number): Run[] =>
  Array.from({ length: Math.ceil(n / 2) }, (_, i): Run => [2 * i + 1, Math.min(n, 2 * i + 2)]);
/** The frame is entered with other rows, and steered by the width that follows. */
export const entered = (rows: number, spacingM: number, sections: Belief['sections']): Partial<FieldSpec> => ({
  belief: { rows, rowSpacingM: spacingM, planted: rowsOf(rows, 'all'), sections, drives: [[1, rows]] },
  passSpacingM: rows * spacingM,
});
export const SLANTED: FieldSpec['shape'] = {
  kind: 'field',
  lengthM: 200,
  widthM: 130,
  headlandLaps: 2,
  pointRowsDeg: 26,
};

/** The machine is not as the display believes, along travel; the ends of passes show it. */
const alongTravel = (truth: Partial<Belief>, belief: Partial<Belief>): Partial<FieldSpec> => ({
  truth: { ...twelve.as('maize'), ...truth },
  belief,
  runInM: 10,
});

/** Every setting, on odd and even frames in inches and centimeters. The tests of settings, of goldens and of two faults at once take theirs from here. */
export const FAULTS: Record<Setting, SeededFault[]> = {
  'planted-rows': [
    [fifteen, 'narrow', steeredBy(fifteen, 'wide')],
    [fifteen, 'wide', steeredBy(fifteen, 'narrow')],
    [twentyThree, 'narrow', steeredBy(twentyThree, 'wide')],
    [seventeen, 'beet', steeredBy(seventeen, 'maize')],
  ],
  'frame-rows': [
    [twentyThree, 'narrow', entered(22, 15 * INCH, runs('1-2 3-4 5-6 7-8 9-10 11-12 13-14 15-16 17-18 19-20 21-22'))],
    [twentyFour, 'narrow', entered(22, 15 * INCH, runs('1-4 5-8 9-12 13-16 17-20 21-22'))],
    [twelve, 'maize', entered(11, 0.75, runs('1-2 3-4 5-6 7-8 9-10 11'))],
  ],
  'row-spacing': [
    [twelve, 'maize', { belief: { rowSpacingM: 0.7 }, passSpacingM: 8.4 }],
    [fifteen, 'narrow', { belief: { rowSpacingM: 14 * INCH }, passSpacingM: 15 * 14 * INCH }],
    [twentyFour, 'narrow', { belief: { rowSpacingM: 0.375 }, passSpacingM: 9 }],
  ],
  'frame-as-wide': [
    [fifteen, 'narrow', entered(8, 30 * INCH, pairs(8))],
    [twentyThree, 'narrow', entered(12, 30 * INCH, pairs(12))],
    [seventeen, 'beet', entered(9, 0.75, runs('1-2 3-4 5 6-7 8-9'))],
  ],
  'section-rows': [
    [fifteen, 'narrow', { belief: { sections: runs('1-2 3-4 5-6 7-8 9 10-11 12-13 14-15') } }],
    [
      twentyFour,
      'narrow',
      { belief: { sections: runs('1-3 4-5 6-7 8-9 10-11 12-13 14-15 16-17 18-19 20-21 22-23 24') } },
    ],
    [twelve, 'maize', { belief: { sections: runs('1-3 4-5 6-7 8-9 10 11-12') } }],
  ],
  'sections-merged': [
    [fifteen, 'narrow', { belief: { sections: runs('1-4 5-7 8-11 12-15') } }],
    [twentyThree, 'narrow', { belief: { sections: runs('1-4 5-8 9-11 12-15 16-19 20-23') } }],
    [twelve, 'maize', { belief: { sections: runs('1-6 7-12') } }],
  ],
  'section-idle': [
    [PLANTERS.fifteenRowByRow, 'wide', { belief: { sectionsBy: 'physical' } }],
    [rowByRow(seventeen), 'maize', { belief: { sectionsBy: 'physical' } }],
    [rowByRow(twentyThree), 'wide', { belief: { sectionsBy: 'physical' } }],
  ],
  'section-across-drives': [
    [PLANTERS.twentyThreeStraddling, 'narrow', { belief: { acrossDrives: 'missing' } }],
    [PLANTERS.twentyThreeStraddling, 'narrow', { belief: { acrossDrives: 'left-only' } }],
    [
      straddling(twentyFour, '1-2 3-4 5-6 7-8 9-10 11-14 15-16 17-18 19-20 21-22 23-24'),
      'narrow',
      { belief: { acrossDrives: 'missing' } },
    ],
    [straddling(twelve, '1-2 3-5 6-7 8-9 10-11 12'), 'maize', { belief: { acrossDrives: 'right-only' } }],
  ],
  'pass-spacing': [
    [fifteen, 'narrow', { passSpacingM: 240 * INCH }],
    [twentyThree, 'wide', { passSpacingM: 345 * INCH }],
    [twelve, 'maize', { passSpacingM: 9.15 }],
  ],
  'side-offset': [
    [fifteen, 'narrow', { sideShiftM: 0.08 }],
    [twentyFour, 'narrow', { sideShiftM: -0.07 }],
    [twelve, 'maize', { sideShiftM: 0.1 }],
  ],
  'changed-midway': [
    [fifteen, 'narrow', { change: { pass: 12, belief: { planted: rowsOf(15, 'odd') } } }],
    [twentyThree, 'narrow', { change: { pass: 9, bar: 40, belief: { planted: rowsOf(23, 'odd') } } }],
    [twelve, 'maize', { change: { pass: 9, belief: { sections: runs('1-4 5-8 9-12') } } }],
  ],
  'inline-offset': [[twelve, 'maize', { ...alongTravel({ offsetBackM: 4 }, { offsetBackM: 0 }), shape: SLANTED }]],
  'switch-delay': [
    [
      twelve,
      'maize',
      { ...alongTravel({ onDelayS: 2, offDelayS: 2 }, { onDelayS: 0, offDelayS: 0 }), speedMPerS: 2, speedSpread: 0.3 },
    ],
  ],
  'map-units': [[fifteen, 'narrow', { columns: { width: { name: 'width_ft', unit: 'm' } } }]],
  'declared-layout': [[PLANTERS.twentyThreeStraddling, 'narrow', {}]],
  'map-repeated': [
    [fifteen, 'narrow', { repeat: 'all' }],
    [twentyFour, 'narrow', { repeat: { first: 100, count: 900 } }],
    [twelve, 'maize', { repeat: 'all', order: 'shuffled' }],
  ],
  'section-stuck-off': [
    [fifteen, 'narrow', { belief: { stuckOff: { section: 3, from: 7, to: 10 } } }],
    [twentyThree, 'narrow', { belief: { stuckOff: { section: 6 } } }],
    [twelve, 'maize', { belief: { stuckOff: { section: 4, from: 7, to: 9 } } }],
  ],
  'section-stuck-on': [
    [twentyThree, 'narrow', { belief: { stuckOn: 4 }, runInM: 10, shape: SLANTED }],
    [fifteen, 'narrow', { belief: { stuckOn: 2 }, runInM: 10, shape: SLANTED }],
    [twelve, 'maize', { belief: { stuckOn: 5 }, runInM: 10, shape: SLANTED }],
  ],
  'section-control-off': [
    [twentyThree, 'narrow', { sectionControl: false, runInM: 10, shape: SLANTED }],
    [fifteen, 'narrow', { sectionControl: false, runInM: 10, shape: SLANTED }],
    [twelve, 'maize', { sectionControl: false, runInM: 10, shape: SLANTED }],
  ],
  'section-order': [
    [twentyThree, 'narrow', { belief: { mirrored: true }, runInM: 10, shape: SLANTED }],
    [twentyFour, 'narrow', { belief: { mirrored: true }, runInM: 10, shape: SLANTED }],
    [twelve, 'maize', { belief: { mirrored: true }, runInM: 10, shape: SLANTED }],
  ],
};

function rowByRow(p: InventedPlanter): InventedPlanter {
  return straddling(p, Array.from({ length: p.file.rows }, (_, i) => i + 1).join(' '));
}

function straddling(p: InventedPlanter, sections: string): InventedPlanter {
  return {
    file: { ...p.file, sections: sections.split(' ') },
    as: (planting) => ({ ...p.as(planting), sections: runs(sections) }),
  };
}
