import type { SettingDefinition } from './definition.ts';

export const declaredLayout: SettingDefinition = {
  setting: 'declared-layout',
  name: 'the declared layout itself',
  prior: 3,
  explanation: {
    what: 'The planter file that the map is compared with.',
    goesWrong:
      'A section without a planted row, a section across two drives, an odd frame without a single-row section, or a pass spacing that is not the working width.',
    mapShows: 'Nothing. The planter file breaks a rule, and a display set up like that cannot be right in every crop.',
    lookAt: 'The planter file, and then the display that was set up by it. The command "guessrow layout" draws it.',
  },
};
