import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { check } from '../../src/core/check.ts';
import { named } from '../../src/core/intake/index.ts';
import { drawField, toGeoJson, toShapefileZip } from '../generator/index.ts';
import { PLANTERS, rowsOf } from '../generator/planters.ts';
import type { FieldSpec } from '../generator/spec.ts';
import { checkSpec, field, planterOf, settingsOf } from '../settings/help.ts';

const STRIP: FieldSpec['shape'] = { kind: 'strip', lengthM: 110, passes: 5 };
const p = PLANTERS.seventeenMetric;

/** A clean map, and three faults that small strips show. */
const FAULTS: [string | null, Partial<FieldSpec>][] = [
  [null, {}],
  ['planted-rows', { belief: { planted: rowsOf(17, 'odd') }, passSpacingM: 6.75 }],
  ['pass-spacing', { passSpacingM: 6.75 }],
  ['side-offset', { sideShiftM: 0.09 }],
];

const base = (rest: Partial<FieldSpec>): FieldSpec =>
  field(p, 'beet', { shape: STRIP, noise: { wanderM: 0.01, passBiasM: 0.005 }, ...rest });

describe('a diagnosis does not change with how the map lies or is written', () => {
  it('turned and moved: the same setting, the same widths within rounding, areas within 1e-4', async () => {
    await fc.assert(
      fc.asyncProperty(
        fc.constantFrom(...FAULTS),
        fc.double({ min: 0, max: 360, noNaN: true }),
        fc.double({ min: -60, max: 60, noNaN: true }),
        fc.double({ min: -179, max: 179, noNaN: true }),
        async ([setting, rest], headingDeg, lat, lon) => {
          const a = await checkSpec(base({ ...rest, headingDeg, origin: { lat, lon } }), p, 'beet');
          expect(settingsOf(a)[0] ?? null).toBe(setting);
          expect(Math.abs(a.report.recorded.workingWidthM! - (setting === 'planted-rows' ? 6.75 : 6.375))).toBeLessThan(
            0.004,
          );
          expect(a.report.area.residual).toBeLessThan(1e-11);
        },
      ),
      { numRuns: 24, seed: 20261125 },
    );
  });

  for (const [setting, rest] of FAULTS) {
    it(`${setting ?? 'clean'}: shuffled, section by section, as a shapefile, stripped of its columns`, async () => {
      const planter = planterOf(p);
      const log = await checkSpec(base(rest), p, 'beet');
      const shuffled = await checkSpec(base({ ...rest, order: 'shuffled' }), p, 'beet');
      const bySection = await checkSpec(base({ ...rest, order: 'section-major' }), p, 'beet');
      const drawn = drawField(base(rest));
      const zipped = await check({ map: [named('f.zip', toShapefileZip(drawn, 4326))], planter, planting: 'beet' });
      const bare = await checkSpec(base({ ...rest, columns: {} }), p, 'beet');
      for (const other of [shuffled, bySection, zipped, bare]) {
        expect(settingsOf(other)).toEqual(settingsOf(log));
        expect(Math.abs(other.report.area.coveredM2 / log.report.area.coveredM2 - 1)).toBeLessThan(1e-9);
        expect(Math.abs(other.report.recorded.workingWidthM! - log.report.recorded.workingWidthM!)).toBeLessThan(1e-3);
      }
      // Without columns and out of order the direction of travel is unknown: a side offset cannot be decided, and nothing else is named.
      const blind = await checkSpec(base({ ...rest, columns: {}, order: 'shuffled' }), p, 'beet');
      const list = settingsOf(blind);
      expect(setting === 'side-offset' ? list.every((s) => s === 'side-offset') : (list[0] ?? null)).toBe(
        setting === 'side-offset' ? true : setting,
      );
    });
  }

  it('mirrored with the planter mirrored: the same diagnosis, the side of an offset reversed', async () => {
    const right = await checkSpec(base({ sideShiftM: 0.09 }), p, 'beet');
    const left = await checkSpec(base({ sideShiftM: -0.09 }), p, 'beet');
    expect(settingsOf(right)).toEqual(settingsOf(left));
    expect(right.report.seams.alternatingM! + left.report.seams.alternatingM!).toBeLessThan(0.02);
    expect(right.report.seams.alternatingM!).toBeGreaterThan(0.15);
  });
});

describe('areas', () => {
  it('sum of records = union + area at each further depth; cutting every record in two along travel changes nothing', async () => {
    const drawn = drawField(base({ passSpacingM: 6.2 }));
    const planter = planterOf(p);
    const whole = await check({ map: [named('w.geojson', toGeoJson(drawn))], planter, planting: 'beet' });
    expect(whole.report.area.overlapM2).toBeGreaterThan(50);
    expect(whole.report.area.recordedM2).toBeCloseTo(whole.report.area.coveredM2 + whole.report.area.overlapM2, 5);
    const halves = drawn.features.features.flatMap((f) => {
      const [a, b, c, d] = (f.geometry.coordinates as number[][][])[0];
      // Exact middles on the lattice, so that the cut adds no rounding: doubled digits.
      const mid = (u: number[], v: number[]): number[] =>
        [(u[0] + v[0]) / 2, (u[1] + v[1]) / 2].map((x) => Number(x.toFixed(9)));
      const [e, g] = [mid(b, c), mid(a, d)];
      return [
        { ...f, geometry: { type: 'Polygon' as const, coordinates: [[a, b, e, g, a]] } },
        { ...f, geometry: { type: 'Polygon' as const, coordinates: [[g, e, c, d, g]] } },
      ];
    });
    const bytes = new TextEncoder().encode(JSON.stringify({ type: 'FeatureCollection', features: halves }));
    const cut = await check({ map: [named('c.geojson', bytes)], planter, planting: 'beet' });
    expect(Math.abs(cut.report.area.coveredM2 / whole.report.area.coveredM2 - 1)).toBeLessThan(1e-9);
    expect(Math.abs(cut.report.area.overlapM2 / whole.report.area.overlapM2 - 1)).toBeLessThan(1e-7);
  });
});
