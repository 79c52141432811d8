import type { SettingDefinition } from './definition.ts';

export const rowSpacing: SettingDefinition = {
  setting: 'row-spacing',
  name: 'the row spacing',
  prior: 4,
  explanation: {
    what: 'The distance from one row unit to the next over the whole frame.',
    goesWrong:
      'The spacing of the planted rows is entered where the spacing of the units is asked, or inches are taken for centimeters.',
    mapShows: 'Every band is wider or narrower by one factor; counts of rows and sections are right.',
    lookAt: 'Measure from one row unit to the next, idle ones included.',
  },
};
