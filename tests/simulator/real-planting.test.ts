/**
 * A real planting, as driven and under settings that are wrong. Source of the log: "Data harvesting for agriculture", an open lesson of the
 * Carpentries Incubator, CC BY 4.0. Its track and the places where its sections switched were not invented here.
 */
import { describe, expect, test } from 'vitest';
import { type Answer, check, named, readPlanter, type Setting } from '../../src/core/index.ts';
import { drawReal, REAL_MAPS, type RealForm, type RealMap, shows } from './real-planting.ts';

const FORMS: readonly RealForm[] = ['bars', 'sections', 'sections without columns'];

const answer = (map: RealMap, form: RealForm): Promise<Answer> =>
  check({
    map: [named('real.geojson', new TextEncoder().encode(drawReal(map, form)))],
    planter: readPlanter(map.planter, 'real.planter.json'),
    planting: map.planting,
  });

/** Drawn in every form: what shows in the width, at the seams, along the passes, and from one on. The others need sections, or take as long to say the same. */
const IN_EVERY_FORM: readonly (Setting | null)[] = [
  null,
  'frame-rows',
  'side-offset',
  'section-stuck-off',
  'changed-midway',
];

describe.each(FORMS)('%s', (form) => {
  const maps = form === 'sections' ? REAL_MAPS : REAL_MAPS.filter((m) => IN_EVERY_FORM.includes(m.setting));
  for (const map of maps) {
    test(map.name, async () => {
      const { verdict, diagnoses } = (await answer(map, form)).report;
      const settings = diagnoses.map((d) => d.setting);
      const seen = shows(map, form);
      const may: Setting[] = map.setting === null ? [] : [map.setting, ...(form === 'bars' ? map.rivalsInBars : [])];
      expect(settings.filter((s) => !may.includes(s))).toEqual([]);
      if (seen === 'the setting') expect(settings[0]).toBe(map.setting);
      if (seen === 'a strip') expect(verdict).not.toBe('agrees');
      // The field has a waterway that was driven around, and no boundary here says so: open ground that no setting explains.
      if (map.setting === null) expect(verdict).toBe('undecided');
    });
  }
});
