import type { SettingDefinition } from './definition.ts';

export const frameRows: SettingDefinition = {
  setting: 'frame-rows',
  name: "the frame's row count",
  prior: 5,
  explanation: {
    what: 'How many row units the frame carries.',
    goesWrong: 'An odd frame is entered as its even neighbor, or the setup of another planter is loaded.',
    mapShows: 'Bands fit a frame of another row count at the right spacing: the width is off by whole rows.',
    lookAt: 'Count the row units on the frame, idle ones included, and enter that number.',
  },
};
