import type { SettingDefinition } from './definition.ts';

export const changedMidway: SettingDefinition = {
  setting: 'changed-midway',
  name: 'a layout that changed on the way',
  prior: 5,
  explanation: {
    what: 'The frame, the rows that plant or the sections, as they stood while the field was planted.',
    goesWrong:
      'Somebody enters a setting in the middle of a field, another crop is loaded, or the display falls back to an older setup after a restart or a service visit.',
    mapShows: 'Up to one bar or pass the recorded bands are those of one layout, and from there on those of another.',
    lookAt: 'Ask what happened at that time. Judge each part of the field on its own; one of the two may be right.',
  },
};
