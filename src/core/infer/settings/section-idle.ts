import type { SettingDefinition } from './definition.ts';

export const sectionIdle: SettingDefinition = {
  setting: 'section-idle',
  name: 'sections without a planted row',
  prior: 3,
  explanation: {
    what: 'A section is a run of neighboring rows switched together; in each planting at least one of them must plant.',
    goesWrong:
      'One section per row, or sections of a narrow planting, are kept for a wide one: some sections have nothing to switch.',
    mapShows: 'Regular strips stay empty on every pass, as wide as the idle sections, in every field of that crop.',
    lookAt:
      'The rows of each section. Pairs of rows, and one single row beside the center line of an odd frame, plant in both ways.',
  },
};
