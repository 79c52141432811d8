import type { FindingWords, SettingDefinition } from './definition.ts';

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

/** `late`: rather than early; `tail` is what else is to be said of it. */
export const inlineOffsetWords = (
  distance: string,
  late: boolean,
  between: string,
  why: string,
  tail: string,
): FindingWords => ({
  says: `Every pass starts and stops ${distance} too ${late ? 'late' : 'early'} (${between}), whatever the speed${why === '' ? '' : `; ${why}`}.${tail}`,
  check: `Look at the distance along travel from the antenna or hitch to the row units: it is off by ${distance}. Measure it on the machine, then record a short strip into a headland and look at both ends again.`,
});
