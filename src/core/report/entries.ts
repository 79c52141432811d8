/** An answer in words, the same for every written report: facts are a word and what it is. */

import type { AccountLine } from '../account/types.ts';
import type { Diagnosis, LayoutFit, Observation, Report, Role } from '../answer.ts';
import { listWords, runsOf } from '../planter/index.ts';
import type { Unit } from '../planter/types.ts';
import { areaText, distanceText, gapText, grouped, INCH_M, lengthText, TRIFLE_M2, trim } from '../planter/units.ts';
import { upperFirst } from '../shared/messages.ts';
import { clean } from '../shared/safe.ts';
import { confidenceText, FORMAT_WORDS, GRAIN_WORDS, ROLE_WORDS, TRAVEL_WORDS } from './labels.ts';
import { clip } from './plain.ts';
import { shownMachine } from './rulers.ts';

export type Entry = readonly [string, string];

const fact = (word: string, text: string): Entry => [word, text];

/** The sentence where `seamEntries` has no entry. */
export const NO_SEAMS = 'No two neighboring passes lie side by side in this map.';

/** The verdict's sentence without the verdict itself, which precedes it in capitals. */
export function verdictSentence(r: Report): string {
  const rest = r.says.replace(/^undecided:\s*/i, '');
  return rest === '' ? r.says : upperFirst(rest);
}

/** The observations behind a diagnosis, less those that its sentence repeats; of many of one kind the first three. */
export function becauseLines(d: Diagnosis, r: Report): string[] {
  const found = d.because
    .flatMap((id) => r.observations.filter((o) => o.id === id))
    .filter((o) => !d.says.includes(o.says));
  const out: string[] = [];
  for (const kind of new Set(found.map((o) => o.kind))) {
    const like = found.filter((o) => o.kind === kind);
    const shown = like.length > 4 ? like.slice(0, 3) : like;
    out.push(...shown.map(observationText));
    if (shown.length < like.length) out.push(`And ${like.length - shown.length} more of this kind.`);
  }
  return out;
}

/** Head of `machineRows`. */
export const MACHINE_HEAD = [
  'machine',
  'verdict',
  'passes',
  'planter and planting',
  'working width',
  'recorded',
] as const;

/** Each machine in a row, where the map holds several; none otherwise. */
export function machineRows({ machines }: Report, unit: Unit): string[][] {
  if (machines.length < 2) return [];
  return machines.map((m) => [
    clip(clean(m.name), 40),
    m.verdict,
    runsOf(m.passes, 8),
    `${m.planter}, "${m.planting}"${m.why === '' ? '' : ` (${m.why})`}`,
    lengthText(m.declared.workingWidthM, unit),
    m.recorded.workingWidthM === null ? 'not known' : lengthText(m.recorded.workingWidthM, unit),
  ]);
}

/** The declared and the recorded layout, and what fits; of several machines, of the one with the most travel. */
export function layoutEntries(r: Report, unit: Unit): Entry[] {
  const { name, declared: d, recorded: c } = shownMachine(r);
  const found = d.plantingFound ? ' (the planting that fits the map best)' : '';
  const off =
    Math.abs(d.centerM) < 1e-6
      ? ''
      : `, its middle ${gapText(Math.abs(d.centerM), unit)} ${d.centerM > 0 ? 'right' : 'left'} of the frame's center`;
  const rows = (n: number): string => `${grouped(n, 0)} ${n === 1 ? 'row' : 'rows'}`;
  const out: Entry[] = [
    ...(name === '' ? [] : [fact('of', clip(clean(name), 40))]),
    fact('planter', `${d.planter}, ${rows(d.frameRows)} at ${gapText(d.rowSpacingM, unit)} on the frame`),
    fact(
      'declared',
      `planting "${d.planting}"${found}: ${rows(d.plantedRows)} planted, working width ${lengthText(d.workingWidthM, unit)}${off}, pass spacing ${lengthText(d.passSpacingM, unit)}`,
    ),
  ];
  if (c.workingWidthM === null) return [...out, fact('recorded', 'no working width can be read from this map')];
  const ci = c.workingWidthCi95M;
  const sure = ci === null ? '' : `, give or take ${fineText((ci[1] - ci[0]) / 2, unit)} (95 % interval)`;
  const sections =
    c.sections.length === 0 ? '' : `, ${c.sections.length} ${c.sections.length === 1 ? 'section' : 'sections'}`;
  const changes = (c.stretches ?? []).map(
    ({ passes, workingWidthM, sections: n }) =>
      `${lengthText(workingWidthM, unit)}${n > 0 ? ` in ${n} ${n === 1 ? 'section' : 'sections'}` : ''} (${passesText(passes)})`,
  );
  out.push(
    changes.length > 0
      ? fact('recorded', `working width ${changes.join(', then ')}`)
      : fact('recorded', `working width ${lengthText(c.workingWidthM, unit)}${sure}${sections}`),
  );
  if (c.bestFit) out.push(fact('fits', `${c.stretches ? 'most of the way: ' : ''}${fitText(c.bestFit, unit)}`));
  for (const a of c.alternatives.filter((x) => x.confidence >= 0.01)) out.push(fact('or', fitText(a, unit)));
  if (c.sameWidth.length > 1)
    out.push(
      fact(
        'as wide',
        `${listWords(c.sameWidth.map((f) => `${f.rows} rows at ${gapText(f.rowSpacingM, unit)}`))}; the width is all that these records show`,
      ),
    );
  return out;
}

function fitText(f: LayoutFit, unit: Unit): string {
  return `${f.rows} ${f.rows === 1 ? 'row' : 'rows'} at ${gapText(f.rowSpacingM, unit)}, planting "${f.planting}", ${confidenceText(f.confidence)} sure`;
}

/** A small length with enough figures to mean something. */
function fineText(m: number, unit: Unit): string {
  return unit === 'in' ? `${trim(m / INCH_M, 2)} in` : `${trim(m * 1000, 1)} mm`;
}

/** The seams in figures; empty where no two neighboring passes lie side by side. */
export function seamEntries(r: Report, unit: Unit): Entry[] {
  const s = shownMachine(r).seams;
  if (s.count === 0) return [];
  const seam = (m: number): string =>
    gapText(Math.abs(m), unit).startsWith('0 ')
      ? 'closed'
      : `${m > 0 ? 'a gap of' : 'an overlap of'} ${gapText(Math.abs(m), unit)}`;
  const out: Entry[] = [fact('seams', grouped(s.count, 0))];
  const all = { passes: [], recordedM: s.recordedM, plantedM: s.plantedM };
  for (const { passes, recordedM, plantedM } of s.stretches ?? [all]) {
    const where = passes.length > 0 ? ` (${passesText(passes)})` : '';
    if (recordedM !== null) out.push(fact('recorded', `${seam(recordedM)}${where}, as the map shows it`));
    if (plantedM !== null)
      out.push(fact('planted', `${seam(plantedM)}${where}, as the declared planter left it on the ground`));
  }
  if (s.guessRowM !== null) out.push(fact('guess row', guessRow(s.guessRowM, unit)));
  if (s.alternatingM !== null && !gapText(Math.abs(s.alternatingM), unit).startsWith('0 '))
    out.push(
      fact(
        'alternate',
        `in turn ${gapText(Math.abs(s.alternatingM), unit)} wider and narrower, as if each pass sat to the ${s.alternatingM > 0 ? 'right' : 'left'} of its travel`,
      ),
    );
  return out;
}

/** A distance below zero means nothing to a reader: the rows then lie in the pass beside theirs. */
function guessRow(m: number, unit: Unit): string {
  const size = gapText(Math.abs(m), unit);
  return m < 0 && !size.startsWith('0 ')
    ? `none: the rows of one pass lie up to ${size} inside the next`
    : `${size} from the last row of one pass to the first row of the next`;
}

/** Areas with their sizes and what each of them is. */
export function areaRows(r: Report, unit: Unit): [string, string, string][] {
  const a = r.area;
  return [
    ['recorded', areaText(a.recordedM2, unit), 'all records added up'],
    ['covered', areaText(a.coveredM2, unit), 'ground under at least one record'],
    ['overlap', areaText(a.overlapM2, unit), 'ground under two records or more, each area counted once'],
    ['gaps', areaText(a.gapM2, unit), 'narrow ground that the map leaves open'],
    [
      'planted',
      a.plantedM2 === null ? 'not known' : areaText(a.plantedM2, unit),
      'what the declared planter covered along the same track',
    ],
  ];
}

export const ACCOUNT_TITLE = 'Account: every gap, overlap and wrong width, with its cause';

/** The `most` largest lines of the account, and a sentence about the others; positioning noise is among these unless nothing else is there, and so is a trifle that no setting causes. */
export function accountRows(r: Report, most: number): { shown: AccountLine[]; rest: string } {
  const told = r.account.filter((l) => l.areaM2 >= TRIFLE_M2 || l.cause === 'setting');
  const shown = (told.length > 0 ? told : r.account).slice(0, most);
  const left = r.account.length - shown.length;
  return { shown, rest: left > 0 ? `and ${left} more, in the JSON, CSV and GeoJSON reports.` : '' };
}

/** The areas are exact but for the last figures of a number: more than this, parts of the whole, is a fault of this program. */
const AREAS_AGREE = 1e-6;

/** A sentence where the areas, found in several ways, do not add up; empty where they do. The JSON report has the figure. */
export function areaCheck({ area }: Report): string {
  if (area.residual < AREAS_AGREE) return '';
  return `The areas, found in several ways, differ by ${trim(100 * area.residual, 4)} % of the whole. Do not use them, and report this map.`;
}

/** The file, what was used of it, and which column is what. */
export function mapEntries(r: Report, unit: Unit): Entry[] {
  const m = r.map;
  const kind = FORMAT_WORDS[m.format];
  const out: Entry[] = [
    fact('file', `${m.source} (${kind})`),
    fact(
      'records',
      `${grouped(m.records, 0)}, ${m.used === m.records ? 'all of them' : `of which ${grouped(m.used, 0)}`} used; a record is ${GRAIN_WORDS[m.grain]}`,
    ),
  ];
  for (const s of m.setAside)
    out.push(fact('skipped', `${grouped(s.count, 0)}: ${s.reason} (first: record ${grouped(s.firstRecord, 0)})`));
  if (m.passes > 0)
    out.push(
      fact(
        'travel',
        `${grouped(m.passes, 0)} ${m.passes === 1 ? 'pass' : 'passes'}, ${distanceText(m.travelM, unit)}; direction ${TRAVEL_WORDS[m.travelFrom]}`,
      ),
    );
  for (const role of Object.keys(ROLE_WORDS) as Role[]) {
    const c = m.columns[role];
    if (c)
      out.push(
        fact(
          'column',
          `"${clip(c.name, 30)}": ${ROLE_WORDS[role]}${c.unit && !c.evidence.includes(` in ${c.unit} `) ? ` in ${clip(c.unit, 20)}` : ''} (${c.evidence})`,
        ),
      );
  }
  if (Object.keys(m.columns).length === 0) out.push(fact('columns', 'none was needed or recognized'));
  return out;
}

/** Observations that no diagnosis rests on. */
export function otherObservations(r: Report): string[] {
  const used = new Set(r.diagnoses.flatMap((d) => d.because));
  return r.observations.filter((o) => !used.has(o.id)).map(observationText);
}

/** A note with its place and what to do about it. */
export function noteText(n: Report['notes'][number]): string {
  const at = [
    n.place.file,
    n.place.record === undefined ? '' : `record ${grouped(n.place.record, 0)}`,
    n.place.key ?? '',
  ].filter((s) => s);
  return clean(`${at.length > 0 ? `${at.join(', ')}: ` : ''}${n.sentence} ${n.todo}`.trim());
}

function observationText(o: Observation): string {
  const passes = o.passes.length === 0 ? '' : ` (${passesText(o.passes)})`;
  return `${o.says.replace(/\.$/, '')}${passes}.`;
}

/** "pass 7", "passes 8-12". */
function passesText(passes: readonly number[]): string {
  return `${passes.length === 1 ? 'pass' : 'passes'} ${runsOf(passes)}`;
}
