import { layoutOf } from '../../planter/index.ts';
import { gapText as gap } from '../../planter/units.ts';
import { anySections, type Hypothesis, hypothesis, strideOf, wholeWidth } from '../hypothesis.ts';
import type { SettingDefinition } from './definition.ts';
import { DIG, rowsText } from './wording.ts';

export const plantedRows: SettingDefinition = {
  setting: 'planted-rows',
  name: 'the choice of planted rows',
  prior: 10,
  explanation: {
    what: 'Which of the frame’s rows run for the crop: every row for narrow spacing, every other row for wide, or a list.',
    goesWrong:
      'The crop changes and the choice of rows stays as it was, so the display draws one planting while the ground gets the other.',
    mapShows:
      'The recorded bands are those of the other planting, section for section. When the passes were steered by the same setting the recorded map closes without a gap, and every guess row on the ground is still too wide or too narrow.',
    lookAt:
      'The crop’s setup: which rows plant. Row numbers are frame rows: the eighth wide row of a fifteen-row frame is row 15.',
  },
  hypotheses: ({ planter, planting }, part) => {
    const others = planter.plantings.filter((p) => p.name !== planting);
    return others.flatMap((p) => {
      const layout = layoutOf(planter, p.name);
      const set = (share: number): Hypothesis =>
        hypothesis('planted-rows', planter, layout, part(share / others.length));
      return [set(0.85), anySections(set(0.1), () => layout), { ...set(0.05), bands: wholeWidth(layout) }];
    });
  },
  words: (f, b) => ({
    says: `Display set to "${b.planting}" (${b.rows} rows at ${gap(b.rowSpacingM, f.planter.unit)}); the planter ran "${f.planting.name}" (${f.layout.rows.length} rows at ${gap(strideOf(f.layout.rows) * f.planter.rowSpacingM, f.planter.unit)}): the choice of rows did not follow the crop.`,
    check: `On the display, open the crop's setup and look at which rows plant; for "${f.planting.name}" it must be ${rowsText(f)}. ${DIG}`,
  }),
};
