import type { SettingDefinition } from './definition.ts';

export const sectionControlOff: SettingDefinition = {
  setting: 'section-control-off',
  name: 'section control',
  prior: 4,
  explanation: {
    what: 'Automatic switching of sections over ground that is covered.',
    goesWrong: 'It is off, or it has no record of the headland, which was planted under another job.',
    mapShows:
      'All sections keep recording over covered ground. A wedge at point rows, as wide as one section, is no fault: the geometry asks for it.',
    lookAt: 'Whether section control is on, and which covered ground it knows.',
  },
};
