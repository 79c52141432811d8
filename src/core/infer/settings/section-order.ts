import type { FindingWords, SettingDefinition } from './definition.ts';

export const sectionOrder: SettingDefinition = {
  setting: 'section-order',
  name: 'the order of the sections',
  prior: 3,
  explanation: {
    what: 'Which output switches which section, counted from the left facing travel.',
    goesWrong: 'Plugs are swapped, or the numbering runs from the right.',
    mapShows: 'At slanted edges the sections shut off in the wrong order: the far one first.',
    lookAt: 'Switch section 1 alone and see which rows stop.',
  },
};

/** `pair` are the names of two sections that are swapped; null where both halves are. */
export function orderWords(mirrored: boolean, pair: readonly [string, string] | null, where: string): FindingWords {
  const says = mirrored
    ? 'The sections shut off in mirrored order: section 1 acts as the last one.'
    : pair
      ? `${pair[0]} and ${pair[1]} are swapped.`
      : 'The left and the right half of the sections are swapped.';
  return {
    says: `${says} This shows at ${where}.`,
    check:
      'Look at the order of the sections in the section setup and at the plugs of the section wiring: section 1 must be the leftmost facing travel. Switch section 1 alone and see which rows stop.',
  };
}
