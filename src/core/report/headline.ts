import type { Diagnosis, Report } from '../answer.ts';
import type { Unit } from '../planter/types.ts';
import { lowerFirst } from '../shared/messages.ts';
import { effectLines } from './effect.ts';
import { verdictSentence } from './entries.ts';
import { SETTING_TITLE } from './labels.ts';

/** The headline of the answer, in plain words. */
export interface Headline {
  /** What the display was set to, what the planter has, and since when; where no setting is to blame, the verdict's sentence. */
  cause: string;
  /** What it did to the field, one sentence per effect; empty where the map shows none. */
  did: string[];
  /** Titles of further settings that are wrong, as they stand within a sentence. */
  also: string[];
}

/** Sentences on the effect on ground and counts; conditional consequences are left to the details. */
const MOST_LINES = 3;

/** The headline of an answer: its first diagnosis with what it did, or the verdict's own sentence. */
export function headline(report: Report, unit: Unit): Headline {
  const [first, ...others] = report.diagnoses;
  if (report.verdict !== 'differs' || !first) return { cause: verdictSentence(report), did: [], also: [] };
  return {
    cause: first.says,
    did: effectLines(first, report, unit)
      .filter((l) => !l.startsWith('If '))
      .slice(0, MOST_LINES),
    also: [...new Set(others.map((d) => alsoTitle(d, first)))],
  };
}

/** The title of a further diagnosis, as it stands within a sentence. */
function alsoTitle({ setting }: Diagnosis, first: Diagnosis): string {
  const title = SETTING_TITLE[setting].replace(/^A /, 'a ');
  return setting === first.setting ? title.replace(/^a /, 'another ') : lowerFirst(title);
}
