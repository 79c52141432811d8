/** Lines of the account as signs on the map: each belongs to one picture, and lines of one cause share a sign. */
import { type Cause, HARMLESS } from '../account/index.ts';
import type { Answer, Setting } from '../answer.ts';
import type { Unit } from '../planter/types.ts';
import { someAreaText, TRIFLE_M2 } from '../planter/units.ts';
import { SETTING_TITLE } from './labels.ts';

export type Picture = 'recorded' | 'planted';

/** The importance of a sign for the reader: a wrong setting, unexplained ground, or usual causes. */
export type Weight = 'setting' | 'open' | 'usual';

export interface Sign {
  /** Names it in the legend and on the map, where color alone would not: the same for the same cause in both pictures. */
  letter: string;
  /** Stays the same for the same fact and cause, so that what the reader has hidden stays hidden. */
  key: string;
  picture: Picture;
  fact: 'gap' | 'overlap';
  weight: Weight;
  cause: Cause;
  setting: Setting | null;
  areaM2: number;
  /** Width of its narrowest strips, meters. */
  leastM: number;
  /** Indices into the report's account. */
  lines: number[];
}

/** The signs of both pictures, most important first, in the order of their letters. Where the map records what was planted, both pictures have the same ones. */
export function signsOf({ report, evidence }: Pick<Answer, 'report' | 'evidence'>): Sign[] {
  const found = new Map<string, Omit<Sign, 'letter'>>();
  const pictures = (of: Picture): Picture[] => (evidence.plantedApart ? [of] : ['recorded', 'planted']);
  report.account.forEach((line, i) => {
    const { fact, cause, setting = null, areaM2 } = line;
    const [leastM] = line.widthM;
    if (fact === 'width' || evidence.account[i].xy.length === 0) return;
    for (const picture of pictures(line.picture)) {
      const key = `${picture} ${fact} ${cause} ${setting ?? ''}`;
      const sign = found.get(key);
      if (sign) {
        sign.lines.push(i);
        sign.areaM2 += areaM2;
        sign.leastM = Math.min(sign.leastM, leastM);
      } else {
        const weight = cause === 'setting' ? 'setting' : HARMLESS.has(cause) ? 'usual' : 'open';
        found.set(key, { key, picture, fact, weight, cause, setting, areaM2, leastM, lines: [i] });
      }
    }
  });
  // Nobody acts on a trifle.
  for (const sign of found.values()) if (sign.weight === 'open' && sign.areaM2 < TRIFLE_M2) sign.weight = 'usual';
  const rank = ({ weight, cause }: Omit<Sign, 'letter'>): number =>
    cause === 'noise' ? 3 : ['setting', 'open', 'usual'].indexOf(weight);
  const ranked = [...found.values()].sort((a, b) => rank(a) - rank(b) || b.areaM2 - a.areaM2);
  const causeOf = ({ fact, cause, setting }: Omit<Sign, 'letter'>): string => `${fact} ${cause} ${setting ?? ''}`;
  const causes = [...new Set(ranked.map(causeOf))];
  return causes.flatMap((its, at) =>
    ranked.filter((s) => causeOf(s) === its).map((sign) => ({ ...sign, letter: letterOf(at) })),
  );
}

/** A, B, ... Z, A1, B1, ... */
function letterOf(at: number): string {
  return String.fromCharCode(65 + (at % 26)) + (at < 26 ? '' : String(Math.floor(at / 26)));
}

/** The picture that shows the most important sign: strips that only the ground has are not on the recorded map. */
export function pictureAtFirst(signs: readonly Sign[]): Picture {
  const [first] = signs;
  return first?.weight === 'setting' && !signs.some((s) => s.weight === 'setting' && s.picture === 'recorded')
    ? 'planted'
    : 'recorded';
}

/** Positioning noise is everywhere and means nothing: it is shown only on request. */
export function hiddenAtFirst(sign: Sign): boolean {
  return sign.cause === 'noise';
}

/** Signs of each picture in a folded legend. */
const MAIN = 2;

/** The signs that say most in these pictures: of settings and open questions, or else the first that is drawn. */
export function mainSigns(signs: readonly Sign[], pictures: readonly Picture[]): Sign[] {
  return pictures.flatMap((picture) => {
    const its = signs.filter((s) => s.picture === picture);
    const main = its.filter((s) => s.weight !== 'usual').slice(0, MAIN);
    return main.length > 0 ? main : its.filter((s) => !hiddenAtFirst(s)).slice(0, 1);
  });
}

const CAUSE_WORDS: Record<Exclude<Cause, 'setting'>, string> = {
  'section-off': 'a section was off',
  'pass-left-out': 'a pass left out',
  'between-machines': 'between two machines',
  'driven-around': 'driven around',
  unexplained: 'unexplained',
  replant: 'replanted',
  'another-machine': 'another machine',
  'field-edge': 'edge of the field',
  'planned-overlap': 'last pass',
  headland: 'headland',
  'point-rows': 'ends of passes',
  noise: 'positioning noise',
};

/** "Open: setting “pass spacing”, 0.071 ac", the area on one line. */
export function signText(sign: Sign, unit: Unit): string {
  const area = someAreaText(sign.areaM2, unit).replaceAll(' ', '\u00a0');
  return `${sign.fact === 'gap' ? 'Open' : 'Covered twice'}: ${causeWords(sign)}, ${area}`;
}

function causeWords({ cause, setting }: Sign): string {
  if (!setting) return cause === 'setting' ? 'a setting' : CAUSE_WORDS[cause];
  const title = SETTING_TITLE[setting];
  // "A setting that changed midway" says itself that it is one.
  return title.startsWith('A ') ? `a ${title.slice(2)}` : `setting “${title.toLowerCase()}”`;
}
