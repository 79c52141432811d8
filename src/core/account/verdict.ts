import type { Finding, Report } from '../answer.ts';
import type { Conclusions } from '../infer/index.ts';
import { causesInWords } from '../infer/index.ts';
import type { PlantedLayout, Unit } from '../planter/types.ts';
import { areaText, lengthText, trim } from '../planter/units.ts';
import { lowerFirst, upperFirst } from '../shared/messages.ts';
import type { Doubt } from './doubt.ts';
import { effectOf } from './effects.ts';
import type { Account, AccountLine } from './types.ts';
import { HARMLESS } from './types.ts';

export interface Verdict {
  verdict: Report['verdict'];
  says: string;
  wouldDecide: string[];
}

/** Unexplained open ground is more than steering and stray records above this share of the covered ground, and above this area. */
const OPEN_SHARE = 0.001;
const OPEN_M2 = 20;

/** Recorded ground in no pass beyond this share of the covered ground leaves the verdict undecided. */
const UNPLACED_SHARE = 0.01;
/** The same of strips, whose pieces at tight corners and slanted ends are too short to be joined to the pass that they were cut from. */
const UNPLACED_OF_STRIPS = 0.02;

/** A line below this share of the open ground decides nothing. */
const WORTH_NAMING = 0.1;

/** Lines of the account that no setting and no usual practice explains, when they are more than noise; largest first. */
function openLines(account: Account, coveredM2: number): AccountLine[] {
  const open = account.lines
    .map((p) => p.line)
    .filter((l) => l.picture === 'recorded' && l.cause !== 'setting' && !HARMLESS.has(l.cause))
    .sort((a, b) => b.areaM2 - a.areaM2);
  const sum = open.reduce((s, l) => s + l.areaM2, 0);
  return sum > Math.max(OPEN_M2, OPEN_SHARE * coveredM2) ? open.filter((l) => l.areaM2 >= WORTH_NAMING * sum) : [];
}

/** The verdict as the account gives it, with the size of what is wrong. */
export function verdictOf(
  j: Conclusions,
  account: Account,
  about: {
    planting: string;
    layout: PlantedLayout;
    coveredM2: number;
    /** Recorded ground that lies in no pass: only its area is known. */
    unplacedM2: number;
    /** What the records themselves leave open. */
    doubts: readonly Doubt[];
    unit: Unit;
    grain: Report['map']['grain'];
  },
): Verdict {
  const { unit, layout, planting, doubts } = about;
  const whole = `"${planting}", ${layout.rows.length} rows, ${lengthText(layout.workingWidthM, unit)}`;
  const open = openLines(account, about.coveredM2);
  if (j.diagnoses.length > 0) {
    const size = sizeOf(j.diagnoses, account, unit);
    const rest = open.length > 0 ? ` Also: ${lowerFirst(open[0].says)}` : '';
    return {
      verdict: 'differs',
      says: `The map differs from the planter as declared (${whole}): look at ${causesInWords(j.diagnoses)}.${size}${rest}`,
      wouldDecide: [],
    };
  }
  const unplaced =
    about.grain !== 'blob' &&
    about.unplacedM2 > (about.grain === 'strip' ? UNPLACED_OF_STRIPS : UNPLACED_SHARE) * about.coveredM2;
  if (j.undecided.length > 0 || open.length > 0 || unplaced || doubts.length > 0) {
    const agrees = j.layoutAgrees
      ? ` The recorded width${about.grain === 'section' ? ' and sections agree' : ' agrees'} with the planter as declared (${whole}).`
      : '';
    // A dissolved map shows only where ground is open.
    const known = about.grain === 'blob' ? [] : open.slice(0, 3).map((l) => l.says);
    const rest =
      known.length > 0 || doubts.length > 0
        ? []
        : [
            j.undecided[0]?.what ??
              (unplaced
                ? `${areaText(about.unplacedM2, unit)} of recorded ground could not be assigned to a pass.`
                : open[0].says),
          ];
    const first = [...doubts.map((d) => d.what), ...known, ...rest];
    return {
      verdict: 'undecided',
      says: `Undecided: ${first.map((s, i) => (i === 0 ? lowerFirst(s) : s)).join(' ')}${agrees}`,
      wouldDecide: [
        ...new Set([
          ...(open.length > 0 ? [TO_EXPLAIN] : []),
          ...j.undecided.map((w) => w.wouldDecide),
          ...(unplaced ? [TO_PLACE] : []),
          ...doubts.map((d) => d.wouldDecide),
        ]),
      ],
    };
  }
  return { verdict: 'agrees', says: `The map agrees with the planter as declared (${whole}).`, wouldDecide: [] };
}

const TO_EXPLAIN =
  'Ask what happened in those passes: a section or row unit shut off, another planter at work, ground left on purpose. Give the boundary (with its waterways) if there is one, and dig there: seed in the ground means that only the map is wrong.';

const TO_PLACE =
  'Check the records that belong to no pass. An export with times, or with one polygon for each section and log interval, would assign them.';

/** "0.40 ac without rows, acre count 6.7 % too high." of the findings together, each piece of ground once. */
function sizeOf(findings: readonly Finding[], account: Account, unit: Unit): string {
  const settings = new Set(findings.map((f) => f.setting));
  // A line is counted for the setting that it names first, so that shared ground counts once.
  const own = { ...account, lines: account.lines.filter((p) => p.line.setting && settings.has(p.line.setting)) };
  const each = [...new Set(own.lines.map((p) => p.line.setting!))].map((setting) =>
    effectOf({ setting }, { ...own, lines: own.lines.filter((p) => p.line.setting === setting) }),
  );
  const sum = (key: 'acreCountPct' | 'unplantedM2' | 'doubledM2'): number =>
    each.reduce((s, e) => s + (e[key] ?? 0), 0);
  const parts: string[] = [];
  const areaOf = (m2: number, words: string): void => {
    const text = areaText(m2, unit);
    if (!text.startsWith('0 ')) parts.push(`${text} ${words}`);
  };
  areaOf(sum('unplantedM2'), 'without rows');
  areaOf(sum('doubledM2'), 'planted twice');
  const pct = sum('acreCountPct');
  if (Math.abs(pct) >= 0.05)
    parts.push(
      `${unit === 'in' ? 'acre' : 'hectare'} count ${trim(Math.abs(pct), 1)} % too ${pct > 0 ? 'high' : 'low'}`,
    );
  return parts.length === 0 ? '' : ` ${upperFirst(parts.join(', '))}.`;
}

/** The verdict on several machines: each its own, and one for the field. */
export function verdictOfAll(machines: readonly (Verdict & { name: string })[]): Verdict {
  if (machines.length === 1) {
    const { verdict, says, wouldDecide } = machines[0];
    return { verdict, says, wouldDecide };
  }
  const is = (v: Verdict['verdict']): boolean => machines.some((m) => m.verdict === v);
  const verdict = is('differs') ? 'differs' : is('undecided') ? 'undecided' : 'agrees';
  return {
    verdict,
    says: machines.map((m) => `${upperFirst(m.name)}: ${lowerFirst(m.says)}`).join(' '),
    wouldDecide: verdict === 'differs' ? [] : [...new Set(machines.flatMap((m) => m.wouldDecide))],
  };
}
