import type { FindingWords, SettingDefinition } from './definition.ts';

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

/** `found` is what the map shows, and `where`. */
export const controlOffWords = (found: string, where: string): FindingWords => ({
  says: `${found} (${where}): section control was off, or it did not include the headland.`,
  check:
    'Check whether automatic section control is on and includes the headland; then drive one pass into covered ground and watch the sections shut off one after the other.',
});
