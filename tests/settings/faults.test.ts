import { describe, expect, it } from 'vitest';
import { type InventedPlanter, PLANTERS, rowsOf, runs } from '../generator/planters.ts';
import type { Belief, FieldSpec } from '../generator/spec.ts';
import { checkSpec, field, metersOf, settingsOf } from './help.ts';

type Case = [planter: InventedPlanter, planting: string, rest: Partial<FieldSpec>];
const INCH = 0.0254;

const fifteen = PLANTERS.fifteen;
const twentyThree = PLANTERS.twentyThree;
const twentyFour = PLANTERS.twentyFour;
const seventeen = PLANTERS.seventeenMetric;
const twelve = PLANTERS.twelveMetric;

/** The display believes another planting of the same frame and steers by it. */
const other = (p: InventedPlanter, planting: string): Partial<FieldSpec> => ({
  belief: { planted: rowsOf(p.file.rows, p.file.plantings[planting]) },
  passSpacingM: p.file.passSpacing[planting] * metersOf(p),
});
const pairs = (n: number): Belief['sections'] =>
  runs(Array.from({ length: n / 2 }, (_, i) => `${2 * i + 1}-${2 * i + 2}`).join(' '));
const frame = (rows: number, spacingM: number, sections: Belief['sections']): Partial<FieldSpec> => ({
  belief: { rows, rowSpacingM: spacingM, planted: rowsOf(rows, 'all'), sections, drives: [[1, rows]] },
  passSpacingM: rows * spacingM,
});
const slanted: FieldSpec['shape'] = { kind: 'field', lengthM: 200, widthM: 130, headlandLaps: 2, pointRowsDeg: 26 };

/** Every seeded fault names its own setting first. Planters are odd and even frames in inches and centimeters; maps are invented. */
const FAULTS: Record<string, Case[]> = {
  'planted-rows': [
    [fifteen, 'narrow', other(fifteen, 'wide')],
    [fifteen, 'wide', other(fifteen, 'narrow')],
    [twentyThree, 'narrow', other(twentyThree, 'wide')],
    [seventeen, 'beet', other(seventeen, 'maize')],
  ],
  'frame-rows': [
    [twentyThree, 'narrow', frame(22, 15 * INCH, runs('1-2 3-4 5-6 7-8 9-10 11-12 13-14 15-16 17-18 19-20 21-22'))],
    [twentyFour, 'narrow', frame(22, 15 * INCH, runs('1-4 5-8 9-12 13-16 17-20 21-22'))],
    [twelve, 'maize', frame(11, 0.75, runs('1-2 3-4 5-6 7-8 9-10 11'))],
  ],
  'row-spacing': [
    [twelve, 'maize', { belief: { rowSpacingM: 0.7 }, passSpacingM: 8.4 }],
    [fifteen, 'narrow', { belief: { rowSpacingM: 14 * INCH }, passSpacingM: 15 * 14 * INCH }],
    [twentyFour, 'narrow', { belief: { rowSpacingM: 0.375 }, passSpacingM: 9 }],
  ],
  'frame-as-wide': [
    [fifteen, 'narrow', frame(8, 30 * INCH, pairs(8))],
    [twentyThree, 'narrow', frame(12, 30 * INCH, pairs(12))],
    [seventeen, 'beet', frame(9, 0.75, runs('1-2 3-4 5 6-7 8-9'))],
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
    [twentyThree, 'narrow', { belief: { stuckOn: 4 }, runInM: 10, shape: slanted }],
    [fifteen, 'narrow', { belief: { stuckOn: 2 }, runInM: 10, shape: slanted }],
    [twelve, 'maize', { belief: { stuckOn: 5 }, runInM: 10, shape: slanted }],
  ],
  'section-control-off': [
    [twentyThree, 'narrow', { sectionControl: false, runInM: 10, shape: slanted }],
    [fifteen, 'narrow', { sectionControl: false, runInM: 10, shape: slanted }],
    [twelve, 'maize', { sectionControl: false, runInM: 10, shape: slanted }],
  ],
  'section-order': [
    [twentyThree, 'narrow', { belief: { mirrored: true }, runInM: 10, shape: slanted }],
    [twentyFour, 'narrow', { belief: { mirrored: true }, runInM: 10, shape: slanted }],
    [twelve, 'maize', { belief: { mirrored: true }, runInM: 10, shape: slanted }],
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

describe('each seeded fault names its own setting first', () => {
  for (const [setting, cases] of Object.entries(FAULTS)) {
    cases.forEach(([p, planting, rest], i) => {
      it(`${setting} ${i + 1}: ${p.file.name}, ${planting}`, async () => {
        const a = await checkSpec(field(p, planting, rest), p, planting);
        expect(a.report.verdict).toBe('differs');
        expect(settingsOf(a)[0]).toBe(setting);
        for (const d of a.report.diagnoses) {
          expect(d.because.length).toBeGreaterThan(0);
          for (const id of d.because) expect(a.report.observations.some((o) => o.id === id)).toBe(true);
        }
      });
    });
  }
});

/** The recorded strips are those of the display; what the planter file says of the sections does not change them. Shares are arithmetic on rows and spacing. */
describe('sections of the display leave strips empty, and the planter file is sound', () => {
  it('a section for each row unit: half of the wide swath is recorded', async () => {
    const spec = field(PLANTERS.fifteenRowByRow, 'wide', { belief: { sectionsBy: 'physical' } });
    const a = await checkSpec(spec, fifteen, 'wide');
    expect(settingsOf(a)).toEqual(['section-idle']);
    // Eight strips of 15 in where 8 rows at 30 in were planted.
    expect(a.report.diagnoses[0].effect.acreCountPct).toBeCloseTo(-50, 0);
    expect(a.report.diagnoses[0].effect.populationFactor).toBeCloseTo(2, 1);
  });
  it('the same while every row was planted: the rows that plant come first', async () => {
    const spec = field(PLANTERS.fifteenRowByRow, 'wide', { belief: { sectionsBy: 'physical' } });
    const a = await checkSpec(spec, fifteen, 'narrow');
    expect(settingsOf(a).slice(0, 2)).toEqual(['planted-rows', 'section-idle']);
    expect(a.report.diagnoses[1].says).toContain('"wide"');
  });
  it('a section across two drives', async () => {
    const spec = field(PLANTERS.twentyThreeStraddling, 'narrow', { belief: { acrossDrives: 'missing' } });
    const a = await checkSpec(spec, twentyThree, 'narrow');
    expect(settingsOf(a)).toEqual(['section-across-drives']);
    // Two rows of 23 are not recorded.
    expect(a.report.diagnoses[0].effect.acreCountPct).toBeCloseTo((-100 * 2) / 23, 0);
  });
});

describe('two faults come as two, in the order in which they are put right', () => {
  it('frame entered as wide only, and the narrow pass spacing kept', async () => {
    const spec = field(fifteen, 'narrow', { ...frame(8, 30 * INCH, pairs(8)), passSpacingM: 215 * INCH });
    const a = await checkSpec(spec, fifteen, 'narrow');
    expect(settingsOf(a)).toEqual(['frame-as-wide', 'pass-spacing']);
  });
  it('a wrong width that the steering followed is one fault', async () => {
    const a = await checkSpec(field(fifteen, 'narrow', other(fifteen, 'wide')), fifteen, 'narrow');
    expect(settingsOf(a)).toEqual(['planted-rows']);
    // 240 in recorded for 225 in planted: the acre count is 6.67 % high (arithmetic), a little less where whole sections end at slanted edges.
    expect(Math.abs(a.report.diagnoses[0].effect.acreCountPct! - 6.67)).toBeLessThan(0.4);
    // Pass spacing 240 in less 210 in from row 1 to row 15: 30 in (arithmetic).
    expect(Math.abs(a.report.seams.guessRowM! - 30 * INCH)).toBeLessThan(0.01);
  });
  it('bar grain names both settings that fit, and each names the other', async () => {
    const a = await checkSpec(field(fifteen, 'narrow', { ...other(fifteen, 'wide'), grain: 'bar' }), fifteen, 'narrow');
    expect(settingsOf(a).sort()).toEqual(['frame-as-wide', 'planted-rows']);
    expect(a.report.diagnoses[0].confidence + a.report.diagnoses[1].confidence).toBeLessThanOrEqual(1);
    for (const d of a.report.diagnoses)
      expect(d.says).toMatch(d.setting === 'planted-rows' ? /entered as its wide rows only/ : /the rows that plant/);
  });
});
