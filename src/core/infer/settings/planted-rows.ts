import type { SettingDefinition } from './definition.ts';

export const plantedRows: SettingDefinition = {
  setting: 'planted-rows',
  name: 'the rows that plant',
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
};
