import { describe, expect, it } from 'vitest';
import { PLANTERS } from '../generator/planters.ts';
import type { FieldSpec } from '../generator/spec.ts';
import { checkSpec, field, settingsOf } from './help.ts';
import { FAULTS } from './seeded.ts';

const INCH = 0.0254;
const STRIP: FieldSpec['shape'] = { kind: 'strip', lengthM: 90, passes: 6 };
const p = PLANTERS.fifteen;
const strip = (rest: Partial<FieldSpec>): FieldSpec => field(p, 'narrow', { shape: STRIP, ...rest });
/** The wide rows of the frame: 8 at 30 in, 240 in (arithmetic). */
const [[, , WIDE]] = FAULTS['planted-rows'];

describe('two settings at once are two diagnoses, in the order in which they are put right', () => {
  it('the other planting and a side offset', async () => {
    const a = await checkSpec(strip({ ...WIDE, sideShiftM: 0.12 }), p, 'narrow');
    expect(settingsOf(a)).toEqual(['planted-rows', 'side-offset']);
  });
  it('sections merged and the pass spacing of the other planting', async () => {
    const a = await checkSpec(strip({ ...FAULTS['sections-merged'][0][2], passSpacingM: 240 * INCH }), p, 'narrow');
    expect(settingsOf(a)).toEqual(['sections-merged', 'pass-spacing']);
  });
});

describe('noise as coarse as the stated accuracy raises no false diagnosis', () => {
  for (const passAccuracyM of [0.15, undefined]) {
    it(passAccuracyM ? 'noise 15 cm, said so' : 'noise 15 cm, the default left', async () => {
      for (const seed of [1, 2, 3]) {
        const a = await checkSpec(
          strip({ seed, noise: { wanderM: 0.15, passBiasM: 0.08 } }),
          p,
          'narrow',
          passAccuracyM === undefined ? {} : { passAccuracyM },
        );
        expect(settingsOf(a)).toEqual([]);
      }
    });
  }
});
