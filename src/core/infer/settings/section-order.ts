import type { SettingDefinition } from './definition.ts';

export const sectionOrder: SettingDefinition = {
  setting: 'section-order',
  name: 'the order of the sections',
  prior: 3,
  explanation: {
    what: 'Which output switches which section, counted from the left facing travel.',
    goesWrong: 'Plugs are swapped, or the numbering runs from the right.',
    mapShows: 'At slanted edges the sections shut off in the wrong order: the far one first.',
    lookAt: 'Switch section 1 alone and see which rows stop.',
  },
};
