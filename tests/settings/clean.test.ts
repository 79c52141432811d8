import { describe, expect, it } from 'vitest';
import { PLANTERS } from '../generator/planters.ts';
import { checkSpec, field, settingsOf } from './help.ts';

/** A map that was recorded right raises nothing. The recorded width is known to the millimeter from the frame alone (common practice: rows times spacing). */
describe('a clean map raises no diagnosis', () => {
  const cases = [
    ['fifteen', 'narrow', 5.715],
    ['fifteen', 'wide', 6.096],
    ['twentyThree', 'narrow', 8.763],
    ['twentyThree', 'wide', 9.144],
    ['twentyFour', 'narrow', 9.144],
    ['seventeenMetric', 'beet', 6.375],
    ['seventeenMetric', 'maize', 6.75],
    ['twelveMetric', 'maize', 9],
  ] as const;
  for (const [name, planting, widthM] of cases) {
    it(`${name}, ${planting}`, async () => {
      const a = await checkSpec(field(PLANTERS[name], planting), PLANTERS[name], planting);
      expect(settingsOf(a)).toEqual([]);
      expect(a.report.verdict).toBe('agrees');
      expect(Math.abs(a.report.recorded.workingWidthM! - widthM)).toBeLessThan(0.002);
      expect(a.report.area.residual).toBeLessThan(1e-12);
      expect(Math.abs(a.report.seams.plantedM!)).toBeLessThan(0.05);
    });
  }

  const variants: [string, Parameters<typeof field>[2]][] = [
    ['independent rectangles', { corners: 'independent' }],
    ['point rows', { shape: { kind: 'field', lengthM: 190, widthM: 95, headlandLaps: 1, pointRowsDeg: 24 } }],
    ['five records a second', { hz: 5, shape: { kind: 'field', lengthM: 90, widthM: 80, headlandLaps: 1 } }],
    ['no column at all, shuffled', { columns: {}, order: 'shuffled' }],
    ['written section by section', { columns: {}, order: 'section-major' }],
    ['rectangles, no column, shuffled', { corners: 'independent', columns: {}, order: 'shuffled' }],
    ['whole bars', { grain: 'bar' }],
    ['one strip a pass', { grain: 'strip' }],
    ['one strip a section and pass', { grain: 'strip-section' }],
    ['across the antimeridian', { origin: { lat: -17.5, lon: 179.9996 } }],
    ['all passes one way', { shape: { kind: 'strip', lengthM: 150, passes: 6, sameWay: true } }],
  ];
  for (const [what, rest] of variants) {
    it(`fifteen, narrow: ${what}`, async () => {
      const a = await checkSpec(field(PLANTERS.fifteen, 'narrow', rest), PLANTERS.fifteen, 'narrow');
      expect(settingsOf(a)).toEqual([]);
      expect(a.report.verdict).toBe('agrees');
      expect(Math.abs(a.report.recorded.workingWidthM! - 5.715)).toBeLessThan(0.003);
    });
  }
});

/** A clean map records what was planted, so the two areas are one (arithmetic). Before strips were cut from both sides, a tenth of such maps and more was lost. */
describe('records of whole passes: nearly all of the ground lies in passes', () => {
  const variants: [string, Parameters<typeof field>[2], number | null][] = [
    ['straight, 60 m', { shape: { kind: 'strip', lengthM: 60, passes: 6 } }, 6],
    ['straight, 300 m', { shape: { kind: 'strip', lengthM: 300, passes: 4 } }, 4],
    [
      'a wandering receiver',
      { shape: { kind: 'strip', lengthM: 150, passes: 5 }, noise: { wanderM: 0.12, passBiasM: 0.02 } },
      5,
    ],
    [
      'point rows and headlands',
      { shape: { kind: 'field', lengthM: 190, widthM: 95, headlandLaps: 1, pointRowsDeg: 24 } },
      null,
    ],
    [
      'curves',
      {
        shape: { kind: 'field', lengthM: 160, widthM: 80, headlandLaps: 1, curve: { amplitudeM: 6, wavelengthM: 200 } },
      },
      null,
    ],
  ];
  for (const [what, rest, passes] of variants) {
    it(what, async () => {
      const spec = field(PLANTERS.fifteen, 'narrow', { ...rest, grain: 'strip', columns: {} });
      const a = await checkSpec(spec, PLANTERS.fifteen, 'narrow');
      expect(a.report.map.grain).toBe('strip');
      expect(a.report.verdict).not.toBe('differs');
      // A strip that bends and steps at once may come apart.
      expect(a.report.map.passes).toBeLessThan(1.4 * a.report.map.records);
      if (passes !== null) expect(a.report.map.passes).toBe(passes);
      const share = a.report.area.plantedM2! / a.report.area.coveredM2;
      expect(share).toBeGreaterThan(0.96);
      expect(share).toBeLessThan(1.01);
    });
  }
});

describe('what the data do not show is undecided', () => {
  it('a blob: covered ground only', async () => {
    const a = await checkSpec(field(PLANTERS.fifteen, 'narrow', { grain: 'blob' }), PLANTERS.fifteen, 'narrow');
    expect(a.report.map.grain).toBe('blob');
    expect(a.report.verdict).toBe('undecided');
    expect(a.report.recorded.bestFit).toBeNull();
    expect(a.report.area.coveredM2).toBeGreaterThan(10_000);
  });
  it('twenty bars', async () => {
    const spec = field(PLANTERS.fifteen, 'narrow', { shape: { kind: 'strip', lengthM: 40, passes: 1 } });
    const a = await checkSpec(spec, PLANTERS.fifteen, 'narrow');
    expect(a.report.verdict).toBe('undecided');
    expect(a.report.wouldDecide.join(' ')).toMatch(/20[45] ft/);
  });
  it('one pass says nothing about pass spacing', async () => {
    const spec = field(PLANTERS.fifteen, 'narrow', { shape: { kind: 'strip', lengthM: 150, passes: 1 } });
    const a = await checkSpec(spec, PLANTERS.fifteen, 'narrow');
    expect(a.report.verdict).toBe('undecided');
    expect(a.report.says).toMatch(/pass spacing/);
  });
  it('an even frame: both plantings record alike, and the report says so', async () => {
    const a = await checkSpec(field(PLANTERS.twentyFour, 'narrow'), PLANTERS.twentyFour, 'narrow');
    expect(a.report.notes.map((n) => n.code)).toContain('plantings-alike');
  });
});

describe('the planting left out is found', () => {
  for (const planting of ['narrow', 'wide']) {
    it(`fifteen rows, ${planting}`, async () => {
      const a = await checkSpec(field(PLANTERS.fifteen, planting), PLANTERS.fifteen);
      expect(a.report.declared.planting).toBe(planting);
      expect(a.report.declared.plantingFound).toBe(true);
      // Another planting would make it another answer, so the verdict is open until somebody says what was planted.
      expect(a.report.verdict).toBe('undecided');
      expect(a.report.ifPlanted.filter((p) => p.verdict === 'agrees').map((p) => p.planting)).toEqual([planting]);
    });
  }
  it('also where no planting fits as declared: the one with the fewest faults', async () => {
    const rows = PLANTERS.fifteenRowByRow;
    const a = await checkSpec(field(rows, 'wide', { belief: { sectionsBy: 'physical' } }), rows);
    expect(a.report.declared.planting).toBe('wide');
    expect(settingsOf(a)).toEqual(['section-idle', 'declared-layout']);
  });
});
