import type { FindingWords, SettingDefinition } from './definition.ts';

export const passSpacing: SettingDefinition = {
  setting: 'pass-spacing',
  name: 'the pass spacing',
  prior: 8,
  explanation: {
    what: 'How far apart the passes are steered; it should be the working width of the planting.',
    goesWrong: 'The spacing of the other planting is kept when the crop changes.',
    mapShows: 'All seams share one gap or one overlap that the recorded width does not explain.',
    lookAt: 'The guidance width for this crop. Measure a guess row on the ground: it must be one row gap.',
  },
};

/** Lengths as text. `where`: the passes, empty for all; `asDeclared`: the planter file itself declares the spacing; `other`: the planting whose spacing it is, empty for none. */
export function passSpacingWords(p: {
  planting: string;
  spacing: string;
  expected: string;
  where: string;
  asDeclared: boolean;
  other: string;
  seam: string;
  area: string;
  guessRow: string;
}): FindingWords {
  const meant = p.asDeclared ? `the planted rows work ${p.expected}` : `${p.expected} was meant`;
  const other = p.other === '' ? '' : `: that is the pass spacing of the "${p.other}" planting`;
  return {
    says: `Passes lie ${p.spacing} apart${p.where}${p.asDeclared ? ', as the planter file declares,' : ''} where ${meant}${other}. On the ground every seam ${p.where === '' ? '' : 'there '}is a ${p.seam}, ${p.area} in all.`,
    check: `Look at the pass spacing (the guidance width) for "${p.planting}": it must be ${p.expected}. Then drive three passes and measure the guess row on the ground: from outer row to outer row it must be ${p.guessRow}.`,
  };
}
