import type { SettingDefinition } from './definition.ts';

export const switchDelay: SettingDefinition = {
  setting: 'switch-delay',
  name: 'the switching delay',
  prior: 4,
  explanation: {
    what: 'The time that a section takes from the command until it plants, or stops.',
    goesWrong: 'It is left at a value for other hardware.',
    mapShows:
      'The distances at the ends grow with speed. A map of what was commanded shows nothing; only one of the true state does.',
    lookAt: 'Drive into the headland at two speeds and compare the ends on the ground.',
  },
};
