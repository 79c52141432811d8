import type { SettingDefinition } from './definition.ts';

export const sectionAcrossDrives: SettingDefinition = {
  setting: 'section-across-drives',
  name: 'a section across two drives',
  prior: 3,
  explanation: {
    what: 'A drive is a run of neighboring rows turned by one shaft or motor; a section is switched inside one drive.',
    goesWrong: 'Sections are counted off from the left without regard to where the second drive begins.',
    mapShows: 'The band of the section that straddles the drive line is missing, or cut at that line.',
    lookAt:
      'The rows of that section: end one section with the last row of the first drive and begin the next with the first row of the second.',
  },
};
