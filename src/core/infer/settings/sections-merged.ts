import type { SettingDefinition } from './definition.ts';

export const sectionsMerged: SettingDefinition = {
  setting: 'sections-merged',
  name: 'the number of sections',
  prior: 5,
  explanation: {
    what: 'How many sections the display switches and records.',
    goesWrong: 'A reset leaves one section over the whole width, or neighbors are joined to stay within a limit.',
    mapShows:
      'The width is right, with fewer sections; the edges that remain are declared ones. One single section looks like a map without sections, unless it shuts off as a whole at slanted edges.',
    lookAt: 'The number of sections, then the rows of each.',
  },
};
