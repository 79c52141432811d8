import { describe, expect, it } from 'vitest';
import { PLANTERS } from '../generator/planters.ts';
import { checkSpec, field, settingsOf } from './help.ts';
import { entered, FAULTS, pairs, steeredBy } from './seeded.ts';

const INCH = 0.0254;
const { fifteen, twentyThree } = PLANTERS;

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
    const spec = field(fifteen, 'narrow', { ...entered(8, 30 * INCH, pairs(8)), passSpacingM: 215 * INCH });
    const a = await checkSpec(spec, fifteen, 'narrow');
    expect(settingsOf(a)).toEqual(['frame-as-wide', 'pass-spacing']);
  });
  it('a wrong width that the steering followed is one fault', async () => {
    const a = await checkSpec(field(fifteen, 'narrow', steeredBy(fifteen, 'wide')), fifteen, 'narrow');
    expect(settingsOf(a)).toEqual(['planted-rows']);
    // 240 in recorded for 225 in planted: the acre count is 6.67 % high (arithmetic), a little less where whole sections end at slanted edges.
    expect(Math.abs(a.report.diagnoses[0].effect.acreCountPct! - 6.67)).toBeLessThan(0.4);
    // Pass spacing 240 in less 210 in from row 1 to row 15: 30 in (arithmetic).
    expect(Math.abs(a.report.seams.guessRowM! - 30 * INCH)).toBeLessThan(0.01);
  });
  it('bar grain names both settings that fit, and each names the other', async () => {
    const a = await checkSpec(
      field(fifteen, 'narrow', { ...steeredBy(fifteen, 'wide'), grain: 'bar' }),
      fifteen,
      'narrow',
    );
    expect(settingsOf(a).sort()).toEqual(['frame-as-wide', 'planted-rows']);
    expect(a.report.diagnoses[0].confidence + a.report.diagnoses[1].confidence).toBeLessThanOrEqual(1);
    for (const d of a.report.diagnoses)
      expect(d.says).toMatch(
        d.setting === 'planted-rows' ? /entered as its wide rows only/ : /the choice of planted rows/,
      );
  });
});
