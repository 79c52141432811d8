import type { SettingDefinition } from './definition.ts';

export const inlineOffset: SettingDefinition = {
  setting: 'inline-offset',
  name: 'the offset along travel',
  prior: 4,
  explanation: {
    what: 'The distance along travel from the point that the display knows to the row units.',
    goesWrong: 'It is measured to the hitch instead of the rows, or with the wrong sign.',
    mapShows: 'Sections start late and stop late by one distance at any speed, or both early.',
    lookAt: 'Measure it on the machine. Where switching and drawing use the same wrong number, the map shows nothing.',
  },
};
