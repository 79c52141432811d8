import { layoutOf, runName } from '../../planter/index.ts';
import type { Band, PlantedLayout, Planter } from '../../planter/types.ts';
import { centered, type Hypothesis, hypothesis, middleOf } from '../hypothesis.ts';
import type { Part, SettingDefinition } from './definition.ts';
import { CHECK_SECTION, runsText } from './wording.ts';

/** Part of the sections that drop out that are off over the whole map; the others are off here and there. */
const FROM_THE_START = 0.5;

export const sectionStuckOff: SettingDefinition = {
  setting: 'section-stuck-off',
  name: 'a section that drops out',
  prior: 4,
  namesSections: true,
  explanation: {
    what: 'One section of many, its switch, wiring, clutch or motor.',
    goesWrong: 'It stays off over long runs, or it plants and is only drawn as off.',
    mapShows: 'A strip of one section is empty over open ground while its neighbors record on both sides.',
    lookAt: 'Dig behind its rows first: seed in the ground means that only the record is wrong.',
  },
  hypotheses: ({ planter, planting }, part) => stuckOff(planter, layoutOf(planter, planting), part),
  words: (_f, b) => ({
    says: `The section of ${runsText(b.sections)} records nothing; its strip stays empty.`,
    check: CHECK_SECTION,
  }),
};

/** One declared section that never records. */
function stuckOff(planter: Planter, layout: PlantedLayout, part: Part): Hypothesis[] {
  if (planter.sections.length < 2) return [];
  return planter.sections.flatMap((run, i) => {
    if (!layout.sectionBands[i]) return [];
    const bands = layout.sectionBands.filter((b, k) => b !== null && k !== i) as Band[];
    if (bands.length === 0) return [];
    const c = centered(bands);
    return [
      {
        ...hypothesis('section-stuck-off', planter, layout, part(FROM_THE_START / planter.sections.length)),
        bands: () => c,
        widthM: c[c.length - 1].rightM - c[0].leftM,
        ...middleOf(bands, layout),
        sections: [runName(run)],
      },
    ];
  });
}
