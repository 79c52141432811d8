import type { Answer, Diagnosis, Report } from '../answer.ts';
import type { Unit } from '../planter/types.ts';
import { effectLines } from './effect.ts';
import {
  ACCOUNT_TITLE,
  accountRows,
  areaCheck,
  areaRows,
  becauseLines,
  type Entry,
  layoutEntries,
  machineRows,
  mapEntries,
  NO_SEAMS,
  noteText,
  otherObservations,
  seamEntries,
  verdictSentence,
} from './entries.ts';
import { confidenceText, SETTING_TITLE, seenFrom, VERDICT_WORDS } from './labels.ts';
import { NO_PAINT, type Paint, table, wrap } from './plain.ts';
import { rulerLines, rulersOf } from './rulers.ts';

export interface TextOptions {
  /** Marks for a terminal; plain text when left out. */
  color?: Paint;
}

/** The answer to read, at most 100 columns wide: the verdict first, then what to look at, the bands, seams, areas and the map itself. */
export function toText(answer: Answer, options: TextOptions = {}): string {
  const paint = options.color ?? NO_PAINT;
  const { report } = answer;
  const unit = answer.planter.unit;
  const seams = seamEntries(report, unit);
  const blocks = [
    verdictLines(report, paint),
    headed('Machines', machineRows(report, unit).flatMap(machineLines), paint),
    ...report.diagnoses.map((d, i) => diagnosisLines(d, i + 1, report, unit, paint)),
    headed(ACCOUNT_TITLE, accountLines(report), paint),
    headed(
      `Across the planter, ${seenFrom(report)}; each ruler is centered`,
      rulerLines(rulersOf(report, unit)),
      paint,
    ),
    headed('Layout', layoutEntries(report, unit).flatMap(entry), paint),
    headed('Seams between passes', seams.length > 0 ? seams.flatMap(entry) : [`  ${NO_SEAMS}`], paint),
    headed(
      'Areas',
      [...table(areaRows(report, unit), '  ', [1]), ...(areaCheck(report) ? entry(['check', areaCheck(report)]) : [])],
      paint,
    ),
    headed('The map', mapEntries(report, unit).flatMap(entry), paint),
    headed(
      'Also measured',
      otherObservations(report).flatMap((o) => wrap(o, undefined, '  - ', '    ')),
      paint,
    ),
    headed(
      'Notes',
      report.notes.flatMap((n) => wrap(noteText(n), undefined, '  - ', '    ')),
      paint,
    ),
    headed(
      'Before you act on this',
      report.cautions.flatMap((c) => wrap(c, undefined, '  - ', '    ')),
      paint,
    ),
  ];
  return `${blocks
    .filter((b) => b.length > 0)
    .map((b) => b.join('\n'))
    .join('\n\n')}\n`;
}

function headed(title: string, lines: string[], paint: Paint): string[] {
  return lines.length === 0 ? [] : [paint.bold(title), ...lines];
}

function verdictLines(r: Report, paint: Paint): string[] {
  const mark = { agrees: paint.green, differs: paint.red, undecided: paint.yellow }[r.verdict];
  const word = VERDICT_WORDS[r.verdict];
  const lines = wrap(`${word} ${verdictSentence(r)}`).map((l, i) =>
    i === 0 ? paint.bold(mark(word)) + l.slice(word.length) : l,
  );
  const more = r.wouldDecide.flatMap((w) => wrap(w, undefined, '  - ', '    '));
  return more.length === 0 ? lines : [...lines, 'What would decide it:', ...more];
}

function diagnosisLines(d: Diagnosis, n: number, r: Report, unit: Unit, paint: Paint): string[] {
  const out = [paint.bold(`${n}. ${SETTING_TITLE[d.setting]}`) + paint.dim(` (${confidenceText(d.confidence)} sure)`)];
  const part = (word: string, text: string): void => {
    out.push(...wrap(text, undefined, `   ${word.padEnd(9)}`, ' '.repeat(12)));
  };
  part('Found', d.says);
  part('Confirm', d.check);
  const effect = effectLines(d, r, unit);
  if (effect.length > 0) part('Effect', effect.join(' '));
  becauseLines(d, r).forEach((text, i) => {
    part(i === 0 ? 'Because' : '', text);
  });
  return out;
}

function machineLines([name, verdict, passes, planter, declared, recorded]: string[]): string[] {
  const text = `${name}: ${verdict}. ${planter}; ${declared} declared, ${recorded} recorded, passes ${passes}.`;
  return wrap(text, undefined, '  - ', '    ');
}

/** The largest lines of the account, and how many are left out. */
function accountLines(r: Report): string[] {
  const { shown, rest } = accountRows(r, ACCOUNT_SHOWN);
  const lines = shown.flatMap((l) => wrap(l.says, undefined, '  - ', '    '));
  return rest === '' ? lines : [...lines, ...wrap(rest, undefined, '    ')];
}

/** Lines of the account in a text. */
const ACCOUNT_SHOWN = 5;

function entry([word, text]: Entry): string[] {
  return wrap(text, undefined, `  ${word.padEnd(10)}`, ' '.repeat(12));
}
