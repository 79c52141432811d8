import type { SettingDefinition } from './definition.ts';

export const sectionStuckOn: SettingDefinition = {
  setting: 'section-stuck-on',
  name: 'a section that stays on',
  prior: 4,
  explanation: {
    what: 'One section of many, its override, valve, clutch or motor.',
    goesWrong: 'It is overridden by hand, or it cannot shut off.',
    mapShows: 'One section goes on recording over covered ground where the others stop.',
    lookAt: 'Drive into covered ground and watch whether it shuts off with its neighbors.',
  },
};
