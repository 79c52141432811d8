import type { Note } from '../shared/messages.ts';
import { evenGapM, layoutOf } from './layout.ts';
import { proposeSections } from './propose.ts';
import { listNumbers, listWords, rowsText, runName, runText, span } from './rows.ts';
import type { Planter, RowRun, RuleBreak } from './types.ts';
import { gapText, lengthText } from './units.ts';

/** Pass spacing and working width are the same below this: more than the rounding of a planter file, less than a ruler shows. */
const SAME_M = 0.001;

/**
 * The layout rules that the declared planter breaks (rule 1, cover every row once, is refused on reading):
 *
 * 2. every section has a planted row in every planting;
 * 3. no section crosses from one drive to the next;
 * 4. an odd frame has a one-row section, and that row plants in every planting;
 * 5. the pass spacing of a planting is its working width.
 *
 * Rules 2 to 4 ask nothing of a file that declares no sections. `RuleBreak.sections` counts from 1.
 */
export function ruleBreaks(planter: Planter): RuleBreak[] {
  const out: RuleBreak[] = [];
  if (planter.sectionsDeclared) out.push(...idleSections(planter), ...acrossDrives(planter), ...loneRow(planter));
  out.push(...passSpacings(planter));
  return out;
}

function idleSections(planter: Planter): RuleBreak[] {
  const out: RuleBreak[] = [];
  for (const p of planter.plantings) {
    const idle = indexes(planter.sections, (s) => !p.rows.some((r) => inside(r, s)));
    if (idle.length === 0) continue;
    const rows = idle.flatMap((i) => span(planter.sections[i - 1].first, planter.sections[i - 1].last));
    const one = idle.length === 1;
    out.push({
      rule: 2,
      says: `${named(idle)} (${rowsText(rows)}) ${one ? 'has' : 'have'} no planted row in planting "${p.name}": ${one ? 'it switches' : 'they switch'} nothing there.`,
      todo: `Give every section a row that plants in every planting. ${proposal(planter)}`,
      sections: idle,
      planting: p.name,
    });
  }
  return out;
}

function acrossDrives(planter: Planter): RuleBreak[] {
  const cuts = planter.drives.slice(0, -1).map((d) => d.last);
  return indexes(planter.sections, (s) => cuts.some((c) => s.first <= c && c < s.last)).map((i) => {
    const s = planter.sections[i - 1];
    const on = indexes(planter.drives, (d) => d.first <= s.last && s.first <= d.last);
    const lines = cuts.filter((c) => s.first <= c && c < s.last).map((c) => `between rows ${c} and ${c + 1}`);
    return {
      rule: 3 as const,
      says: `Section ${i} (${runText(s)}) crosses from one drive to the next: drives ${listNumbers(on)} meet ${listWords(lines)}.`,
      todo: `End a section at the drive line. ${proposal(planter)}`,
      sections: [i],
    };
  });
}

function loneRow(planter: Planter): RuleBreak[] {
  if (planter.rows % 2 === 0) return [];
  const singles = indexes(planter.sections, (s) => s.first === s.last);
  if (singles.some((i) => planter.plantings.every((p) => p.rows.includes(planter.sections[i - 1].first)))) return [];
  const todo = `Leave one row that plants in every planting in a section of its own, next to the center line. ${proposal(planter)}`;
  if (singles.length === 0)
    return [
      {
        rule: 4,
        says: `The frame has an odd number of rows (${planter.rows}) and no section of one row.`,
        todo,
        sections: [],
      },
    ];
  const rows = singles.map((i) => planter.sections[i - 1].first);
  const idle = planter.plantings.filter((p) => rows.some((r) => !p.rows.includes(r))).map((p) => `"${p.name}"`);
  return [
    {
      rule: 4,
      says:
        singles.length === 1
          ? `The one-row section of this odd frame, section ${singles[0]} (row ${rows[0]}), does not plant in planting ${listWords(idle)}.`
          : `None of the one-row sections of this odd frame, sections ${listNumbers(singles)} (${rowsText(rows)}), plants in every planting.`,
      todo,
      sections: singles,
    },
  ];
}

function passSpacings(planter: Planter): RuleBreak[] {
  const out: RuleBreak[] = [];
  for (const p of planter.plantings) {
    if (p.passSpacingM === null) continue;
    const { workingWidthM: width, rows } = layoutOf(planter, p.name);
    const seam = p.passSpacingM - width;
    if (Math.abs(seam) <= SAME_M) continue;
    const gap = evenGapM(planter, p);
    const guess = p.passSpacingM - (rows[rows.length - 1] - rows[0]) * planter.rowSpacingM;
    const u = planter.unit;
    const instead =
      gap === null
        ? ''
        : guess > 0
          ? `: guess rows of ${gapText(guess, u)} where ${gapText(gap, u)} is meant`
          : ': each pass would plant over rows of the one before it';
    out.push({
      rule: 5,
      says: `The pass spacing of planting "${p.name}" is ${lengthText(p.passSpacingM, u)}, and its ${rows.length} planted ${rows.length === 1 ? 'row covers' : 'rows cover'} ${lengthText(width, u)}${instead}.`,
      todo: `Enter a pass spacing of ${lengthText(width, u)} for planting "${p.name}".`,
      sections: [],
      planting: p.name,
    });
  }
  return out;
}

/** What is not wrong and should still be known: plantings whose working center is off the frame's own. */
export function planterNotes(planter: Planter, file?: string): Note[] {
  const out: Note[] = [];
  for (const p of planter.plantings) {
    const { centerM } = layoutOf(planter, p.name);
    if (Math.abs(centerM) < 1e-6) continue;
    const side = centerM > 0 ? 'right' : 'left';
    const by = gapText(Math.abs(centerM), planter.unit);
    out.push({
      code: 'working-center',
      sentence: `In planting "${p.name}" the middle of the planted rows lies ${by} ${side} of the frame's center.`,
      place: file === undefined ? {} : { file },
      todo: `Driven back and forth, guess rows alternate by ${gapText(2 * Math.abs(centerM), planter.unit)} more and less unless the display accounts for these ${by}.`,
    });
  }
  return out;
}

function proposal(planter: Planter): string {
  const { sections } = proposeSections(planter, planter.sections.length);
  const more = sections ?? proposeSections(planter, planter.rows).sections;
  if (!more) return '';
  return sections
    ? `These keep the rules: ${more.map(runName).join(' ')}.`
    : `It takes ${more.length} sections to keep the rules: ${more.map(runName).join(' ')}.`;
}

function inside(row: number, s: RowRun): boolean {
  return row >= s.first && row <= s.last;
}

function indexes<T>(list: readonly T[], yes: (t: T) => boolean): number[] {
  return list.flatMap((t, i) => (yes(t) ? [i + 1] : []));
}

function named(sections: readonly number[]): string {
  return `${sections.length === 1 ? 'Section' : 'Sections'} ${listNumbers(sections)}`;
}
