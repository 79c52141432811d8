import type { FindingWords, SettingDefinition } from './definition.ts';

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

/** `why` is why it may be a fixed distance as well; empty where it is not. */
export const switchDelayWords = (
  time: string,
  late: boolean,
  between: string,
  why: string,
  tail: string,
): FindingWords => ({
  says: `Sections switch ${time} too ${late ? 'late' : 'early'} (${between})${why === '' ? ': the distance at the ends grows with speed' : `, or it is a fixed distance; ${why}`}.${tail}`,
  check: `Look at the times that the display allows for switching on and off: they are off by about ${time}. Drive into the headland at two speeds and compare the ends.`,
});
