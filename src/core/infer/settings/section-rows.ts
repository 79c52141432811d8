import type { SettingDefinition } from './definition.ts';

export const sectionRows: SettingDefinition = {
  setting: 'section-rows',
  name: 'the rows of the sections',
  prior: 5,
  explanation: {
    what: 'Which rows each section switches.',
    goesWrong: 'A section gets one row too many and its neighbor one too few; often after the frame was entered again.',
    mapShows: 'The width is right, and section edges lie at other rows than declared.',
    lookAt: 'The rows of each section, one after the other, against the frame.',
  },
};
