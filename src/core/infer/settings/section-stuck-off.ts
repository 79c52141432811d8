import type { SettingDefinition } from './definition.ts';

export const sectionStuckOff: SettingDefinition = {
  setting: 'section-stuck-off',
  name: 'a section that drops out',
  prior: 4,
  explanation: {
    what: 'One section of many, its switch, wiring, clutch or motor.',
    goesWrong: 'It stays off over long runs, or it plants and is only drawn as off.',
    mapShows: 'A strip of one section is empty over open ground while its neighbors record on both sides.',
    lookAt: 'Dig behind its rows first: seed in the ground means that only the record is wrong.',
  },
};
