import type { SettingDefinition } from './definition.ts';

export const frameAsWide: SettingDefinition = {
  setting: 'frame-as-wide',
  name: 'the frame, entered as its wide rows only',
  prior: 6,
  explanation: {
    what: 'The frame holds every row unit, idle or not; the rows that plant are chosen per crop.',
    goesWrong:
      'For a wide crop the frame is entered as if it had the wide rows only, at the wide spacing. It works until the narrow crop comes, or until sections and drives are looked up by row number.',
    mapShows:
      'The width of the wide planting, with sections merged or renumbered. A map without sections cannot tell it from the rows that plant.',
    lookAt:
      'The frame in the planter setup: all row units at their real spacing. Then the sections, which must be given in frame rows.',
  },
};
