/** Texts that several parts of the sheet share. */

import type { Grain, MapSummary, Report, Role } from '../../core/answer.ts';
import type { Comparison } from '../../core/compare/index.ts';

export const VERDICT_WORD: Record<Report['verdict'], string> = {
  agrees: 'Agrees',
  differs: 'Differs',
  undecided: 'Undecided',
};

export const FIX_WORD: Record<Comparison['verdict'], string> = {
  fixed: 'Fixed',
  'not fixed': 'Not fixed',
  'not enough data': 'Cannot tell yet',
  'nothing to fix': 'Nothing to fix',
};

/** Shown with every answer that no longer matches the inputs on the sheet. */
export const CHANGED = 'The planter was changed after this verdict, which applies to the planter as it was before.';

export const GRAIN_WORDS: Record<Grain, string> = {
  section: 'Section: a record is one section for one log interval. Everything can be read from it.',
  bar: 'Bar: a record is the whole width for one log interval. Width, seams and coverage can be read from it; sections cannot.',
  strip: 'Strip: a record is one pass, or one section along a pass. Width, seams and coverage can be read from it.',
  blob: 'Blob: records are dissolved across passes. Only coverage can be read from it; the rest stays undecided.',
};

export const TRAVEL_WORDS: Record<MapSummary['travelFrom'], string> = {
  time: 'from the times in the map',
  order: 'from the order of the records',
  heading: 'from a heading column',
  unknown: 'not known: the map does not show which way a pass was driven',
};

export const ROLES: readonly Role[] = ['section', 'time', 'width', 'heading', 'rate', 'product', 'machine'];

export const ROLE_WORDS: Record<Role, string> = {
  section: 'Section number',
  time: 'Time',
  width: 'Width',
  heading: 'Heading',
  rate: 'Rate',
  product: 'Product',
  machine: 'Machine',
};

/** A confidence as a word, beside its number. */
export function sureWord(confidence: number): string {
  if (confidence >= 0.95) return 'almost certain';
  if (confidence >= 0.8) return 'very likely';
  if (confidence >= 0.6) return 'likely';
  if (confidence >= 0.4) return 'one of several explanations';
  return 'possible';
}

/** Phrases of the core that name a command-line option, and the page's replacements. */
const INSTEAD: readonly (readonly [RegExp, string])[] = [
  [/ \(--planting NAME\)/g, ' above'],
  [/^Add "--planter FILE"\.$/, 'Open the planter file.'],
  [
    /Add "--planter [^"]*=FILE", or leave its records out with "--where"\./,
    'Choose the records of one machine under the map.',
  ],
  [
    /give both with "--planter": each is then compared with its own passes\./,
    'check the map on the command line with both, "--planter" given twice: each is then compared with its own passes.',
  ],
  [/ \("--columns \w+=NAME"\)/g, ''],
  [/ with "--columns \w+=NAME"/g, ' under the map'],
  [/Leave "--columns \w+=NAME" out/, 'Leave the column out'],
  [/Check one alone with "--where ([^"]*)"/, 'Choose $1 under the map to check one alone'],
  [/: add "--where ([^"]*)"/, ', under the map'],
  [/Say which with "--dates day-first" or "--dates month-first"\./, 'Say which under the map.'],
  [/Add "--dates day-first" or "--dates month-first"\./, 'Say which below.'],
  [/Write "--dates [\w-]+", or leave "--dates" out\./, 'Choose the other order below.'],
  [/, or raise the limit \(--limit [^)]*\)/, '. The command line can raise the limit'],
  [/Name the system with "--crs EPSG:NUMBER"/, 'Name the system below, as EPSG and its number'],
  [/, or name that with "--crs"/, ''],
  [/Choose the map with "--layer NAME" if that is wrong\./, 'If that is wrong, open a file that holds the map alone.'],
  [/ with "--boundary" too; "--layer NAME" reads it instead\./, ' as the boundary too.'],
  [/"--layer NAME" reads another\./, 'To check another layer, open a file that holds it alone.'],
  [/ \(--layer NAME\)/, ''],
  [
    /Name it with "--columns rate=NAME", or leave "--correct-rate" out\./,
    'Name it under the map, or leave the rates as they are.',
  ],
];

/** The same sentence for the page. */
export function onPageWords(says: string): string {
  return INSTEAD.reduce((s, [words, page]) => s.replace(words, page), says);
}
