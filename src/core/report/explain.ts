import type { Setting } from '../answer.ts';
import { SETTINGS } from '../infer/settings/index.ts';
import { upperFirst } from '../shared/messages.ts';

/** One setting in general words, for `guessrow explain` and the page of the same texts. */
export interface Explanation {
  setting: Setting;
  title: string;
  what: string;
  goesWrong: string;
  mapShows: string;
  lookAt: string;
}

/** The parts of an explanation with their headings. */
export const EXPLANATION_PARTS: readonly (readonly ['what' | 'goesWrong' | 'mapShows' | 'lookAt', string])[] = [
  ['what', 'What it is'],
  ['goesWrong', 'How it goes wrong'],
  ['mapShows', 'What the map shows'],
  ['lookAt', 'What to look at'],
];

/** Every setting that a diagnosis can name, in the order in which they are corrected. */
export const EXPLANATIONS: readonly Explanation[] = SETTINGS.map(({ setting, name, explanation }) => ({
  setting,
  title: upperFirst(name),
  ...explanation,
}));
