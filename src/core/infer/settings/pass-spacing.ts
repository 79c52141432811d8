import type { SettingDefinition } from './definition.ts';

export const passSpacing: SettingDefinition = {
  setting: 'pass-spacing',
  name: 'the pass spacing',
  prior: 8,
  explanation: {
    what: 'How far apart the passes are steered; it should be the working width of the planting.',
    goesWrong: 'The spacing of the other planting is kept when the crop changes.',
    mapShows: 'All seams share one gap or one overlap that the recorded width does not explain.',
    lookAt: 'The guidance width for this crop. Measure a guess row on the ground: it must be one row gap.',
  },
};
