import { definitionOf } from '../infer/index.ts';
import { runsOf } from '../planter/index.ts';
import type { Unit } from '../planter/types.ts';
import { distanceText, gapText, lengthText, someAreaText } from '../planter/units.ts';
import type { AccountLine, Cause } from './types.ts';

/** How a sentence ends for each cause. */
const CAUSE_WORDS: Record<Exclude<Cause, 'setting'>, string> = {
  'section-off': 'a section next to it was off',
  'pass-left-out': 'as wide as a pass: one was left out, or is missing from the file',
  'between-machines': 'between two machines that followed different guidance lines',
  'driven-around': 'its width varies, as around a waterway or an obstacle',
  unexplained: 'no setting explains it',
  replant: 'planted again at least a day later',
  'another-machine': 'covered by another machine, whose display records only its own ground',
  'field-edge': 'between the outermost pass and the boundary',
  'planned-overlap': 'a last pass that fills the rest of the field',
  headland: 'headland laps and the passes that run into them',
  'point-rows': 'pass ends, where whole sections switch on and off',
  noise: 'within positioning noise',
};

/** What laps leave open. */
const CORNERS = 'corners, where laps turn';

/** The line as a sentence: how much, what, where, how wide, why. */
export function sentenceOf(l: Omit<AccountLine, 'says'>, unit: Unit): string {
  const where = l.passes.length === 0 ? '' : ` in ${l.passes.length === 1 ? 'pass' : 'passes'} ${runsOf(l.passes, 6)}`;
  const ground = l.picture === 'planted' ? ' on the ground' : '';
  const why =
    l.cause === 'setting'
      ? settingsWords(l)
      : l.cause === 'headland' && l.fact === 'gap'
        ? CORNERS
        : CAUSE_WORDS[l.cause];
  const end = why ? `: ${why}.` : '.';
  if (l.fact === 'width') {
    const [recorded, declared] = l.widthM;
    const more = l.excessM2 >= 0 ? 'more' : 'less';
    return `${someAreaText(l.areaM2, unit)} ${more} recorded than planted${where}: ${lengthText(recorded, unit)} wide instead of ${lengthText(declared, unit)} over ${distanceText(l.lengthM, unit)}${end.replace(/^:/, ';')}`;
  }
  const kind = l.fact === 'gap' ? 'open' : 'covered twice';
  const wide = WITH_WIDTH.has(l.cause) ? `, ${widthText(l.widthM, unit)} wide` : '';
  return `${someAreaText(l.areaM2, unit)} ${kind}${ground}${where}${wide}${end}`;
}

const settingsWords = (l: Pick<AccountLine, 'setting' | 'or'>): string =>
  [l.setting!, ...(l.or ?? [])].map((s) => definitionOf(s).name).join(' or ');

/** Causes of strips, whose width is informative; ends of passes and slivers have no width to report. */
const WITH_WIDTH: ReadonlySet<Cause> = new Set<Cause>([
  'setting',
  'section-off',
  'pass-left-out',
  'between-machines',
  'driven-around',
  'unexplained',
  'planned-overlap',
  'another-machine',
]);

function widthText([low, high]: [number, number], unit: Unit): string {
  if (isNear([low, high])) return gapText((low + high) / 2, unit);
  return `${gapText(low, unit).replace(/ \D+$/, '')} to ${gapText(high, unit)}`;
}

/** Widths that differ by less than a tenth are given as one. */
const isNear = ([a, b]: [number, number]): boolean => b - a < 0.1 * b;
