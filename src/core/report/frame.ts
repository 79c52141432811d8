import {
  evenGapM,
  layoutOf,
  planterNotes,
  proposeSections,
  rowSpanM,
  rowsText,
  ruleBreaks,
  runName,
} from '../planter/index.ts';
import type { Planter, Planting, RowRun } from '../planter/types.ts';
import {
  FOOT_M,
  gapText,
  guessRowM,
  lengthText,
  rowLengthForThousandthAcreM,
  rowLengthForThousandthHectareM,
  trim,
} from '../planter/units.ts';
import { clean } from '../shared/safe.ts';
import { clip, NO_PAINT, type Paint, padEnd, padStart, TEXT_WIDTH, table, wrap } from './plain.ts';

const LABEL = 14;
const ACROSS = 84;
const SHOWN_PLANTINGS = 4;

export interface FrameOptions {
  color?: Paint;
  /** Section limit of the display: also propose sections that keep the rules. */
  propose?: number;
}

/** The frame as a text drawing, at most 100 columns wide: rows, planted rows, sections, drives, then rules and notes. */
export function drawFrame(planter: Planter, options: FrameOptions = {}): string {
  const paint = options.color ?? NO_PAINT;
  const out: string[] = [];
  const spacing = gapText(planter.rowSpacingM, planter.unit);
  out.push(...wrap(planter.name).map(paint.bold));
  out.push(
    `${planter.rows} ${planter.rows === 1 ? 'row' : 'rows'} at ${spacing}. Row 1 is the left end, facing travel.`,
    '',
  );
  for (const block of blocksOf(planter)) out.push(...drawBlock(planter, block), '');
  out.push(...table(plantingCells(planter)), '', ...sectionTable(planter), '');
  out.push(...frameSentences(planter).flatMap((s) => wrap(s)), '');

  const breaks = ruleBreaks(planter);
  out.push(paint.bold('Rules'));
  if (breaks.length === 0) out.push(paint.green('  The layout keeps every rule.'));
  for (const b of breaks)
    out.push(...wrap(b.says, undefined, '  ! ', '    ').map(paint.red), ...wrap(b.todo, undefined, '    '));
  const notes = planterNotes(planter);
  if (notes.length > 0) out.push('', paint.bold('Notes'));
  for (const n of notes) out.push(...wrap(`${n.sentence} ${n.todo}`, undefined, '  - ', '    '));

  if (options.propose !== undefined) out.push('', ...proposalLines(planter, options.propose, paint));
  return `${out.join('\n')}\n`;
}

/** Runs of rows drawn under each other, equal and cut at the end of a section where one is near. */
function blocksOf(planter: Planter): RowRun[] {
  const most = planter.rows >= 100 ? ACROSS / 4 : ACROSS / 3;
  const count = Math.ceil(planter.rows / most);
  const blocks: RowRun[] = [];
  for (let first = 1, i = 1; first <= planter.rows; i++) {
    const even = Math.min(planter.rows, Math.round((planter.rows * i) / count));
    const near = planter.sections
      .map((s) => s.last)
      .filter((r) => Math.abs(r - even) <= 3 && r >= first && r - first < most);
    const cut = i >= count ? planter.rows : (near.sort((a, b) => Math.abs(a - even) - Math.abs(b - even))[0] ?? even);
    const last = Math.min(cut, first + most - 1);
    blocks.push({ first, last });
    first = last + 1;
  }
  return blocks;
}

function drawBlock(planter: Planter, block: RowRun): string[] {
  const many = block.last - block.first + 1;
  // Three columns hold a two-figure row number, four a three-figure one.
  const cell = many * 4 <= ACROSS || planter.rows >= 100 ? 4 : 3;
  const at = (row: number): number => (row - block.first) * cell + cell - 2;
  const out: string[] = [];
  const center = (planter.rows + 1) / 2;
  if (center >= block.first - 0.5 && center <= block.last + 0.5) {
    const left = at(Math.floor(center));
    const place = Number.isInteger(center) ? left : left + cell / 2;
    const mark = Number.isInteger(place) ? '▼' : '\\/';
    const before = LABEL + Math.floor(place);
    const word = 'center line';
    const toLeft = before + mark.length + 1 + word.length > TEXT_WIDTH;
    out.push(toLeft ? `${padStart(word, before - 1)} ${mark}` : `${' '.repeat(before)}${mark} ${word}`);
  }
  const rows = Array.from({ length: many }, (_, i) => block.first + i);
  out.push(
    label('row') +
      rows
        .map((r) => padStart(`${r}`, cell - 1).concat(' '))
        .join('')
        .trimEnd(),
  );
  for (const p of planter.plantings) {
    const runs = new Set(p.rows);
    const marks = rows.map((r) => `${' '.repeat(cell - 2)}${runs.has(r) ? '●' : '·'} `);
    out.push(label(p.name) + marks.join('').trimEnd());
  }
  out.push(...brackets('sections', planter.sections, block, cell), ...brackets('drives', planter.drives, block, cell));
  return out;
}

/** One line of brackets `└─3─┘`, each under its rows; open at an end that continues in another block. */
function brackets(word: string, runs: readonly RowRun[], block: RowRun, cell: number): string[] {
  const line: string[] = Array.from({ length: (block.last - block.first + 1) * cell }, () => ' ');
  const below: string[] = [...line];
  let lifted = false;
  runs.forEach((r, i) => {
    if (r.last < block.first || r.first > block.last) return;
    const from = (Math.max(r.first, block.first) - block.first) * cell + (cell === 4 ? 1 : 0);
    const to = (Math.min(r.last, block.last) - block.first) * cell + cell - 1;
    const name = `${i + 1}`;
    const inner = to - from - 1;
    for (let c = from; c <= to; c++) line[c] = '─';
    line[from] = r.first < block.first ? '╌' : '└';
    line[to] = r.last > block.last ? '╌' : '┘';
    if (inner >= name.length) {
      const start = from + 1 + Math.floor((inner - name.length) / 2);
      [...name].forEach((ch, k) => {
        line[start + k] = ch;
      });
    } else {
      // No room between the brackets: the number goes underneath.
      lifted = true;
      const start = Math.min(from, below.length - name.length);
      [...name].forEach((ch, k) => {
        below[start + k] = ch;
      });
    }
  });
  const out = [label(word) + line.join('').trimEnd()];
  if (lifted) out.push(label('') + below.join('').trimEnd());
  return out;
}

function label(word: string): string {
  return padEnd(clip(word, LABEL - 1), LABEL);
}

/** The plantings as rows of cells, a heading first. */
export function plantingCells(planter: Planter): string[][] {
  const u = planter.unit;
  const rows = [['planting', 'rows that run', 'working width', 'its middle', 'pass spacing', 'guess row']];
  for (const p of planter.plantings) {
    const l = layoutOf(planter, p.name);
    const gap = evenGapM(planter, p);
    const spacing = p.passSpacingM ?? l.workingWidthM;
    rows.push([
      clip(p.name, 20),
      `${p.rows.length}${gap === null ? '' : ` at ${gapText(gap, u)}`}`,
      lengthText(l.workingWidthM, u),
      sideText(l.centerM, planter),
      p.passSpacingM === null ? 'not declared' : lengthText(spacing, u),
      gapText(guessRowM(spacing, rowSpanM(planter, p.name)), u),
    ]);
  }
  return rows;
}

function sideText(m: number, planter: Planter): string {
  if (Math.abs(m) < 1e-6) return 'on the center';
  return `${gapText(Math.abs(m), planter.unit)} ${m > 0 ? 'right' : 'left'}`;
}

/** Sections with their rows, and what each has to switch in every planting. */
function sectionTable(planter: Planter): string[] {
  if (!planter.sectionsDeclared) return ['No sections are declared: the whole frame counts as one.'];
  const out: string[] = [];
  for (let k = 0; k < planter.plantings.length; k += SHOWN_PLANTINGS) {
    if (k > 0) out.push('');
    out.push(...table(sectionCells(planter, planter.plantings.slice(k, k + SHOWN_PLANTINGS))));
  }
  return out;
}

/** The sections as rows of cells, a heading first. */
export function sectionCells(planter: Planter, plantings: readonly Planting[]): string[][] {
  const layouts = plantings.map((p) => layoutOf(planter, p.name));
  const rows = [['section', 'rows', ...plantings.map((p) => clip(p.name, 17))]];
  planter.sections.forEach((s, i) => {
    const cells = layouts.map((l) => {
      const n = l.rows.filter((r) => r >= s.first && r <= s.last).length;
      const b = l.sectionBands[i];
      return b === null ? 'none' : `${n} ${n === 1 ? 'row' : 'rows'}, ${gapText(b.rightM - b.leftM, planter.unit)}`;
    });
    rows.push([`${i + 1}`, runName(s), ...cells]);
  });
  return rows;
}

/** Which frame row the n-th planted row is, where rows are idle; how much row to dig for a count; where the frame hangs. */
export function frameSentences(planter: Planter): string[] {
  const out: string[] = [];
  for (const p of planter.plantings) {
    if (p.rows.length === planter.rows) continue;
    out.push(
      `In planting "${p.name}" the planted rows, from the left, are frame ${rowsText(p.rows)}: the ${ordinal(p.rows.length)} planted row is row ${p.rows[p.rows.length - 1]}.`,
    );
  }
  for (const p of planter.plantings) {
    const gap = evenGapM(planter, p);
    if (gap === null) continue;
    const much =
      planter.unit === 'in'
        ? `${feetAndInches(rowLengthForThousandthAcreM(gap))} of one row is 1/1000 acre`
        : `${trim(rowLengthForThousandthHectareM(gap), 2)} m of one row is 1/1000 hectare`;
    out.push(`To count a stand in planting "${p.name}": ${much}.`);
  }
  return [...out, ...offsetSentence(planter)];
}

function offsetSentence(planter: Planter): string[] {
  const { offsetRightM: r, offsetBackM: b, unit: u } = planter;
  if (r === 0 && b === 0) return [];
  const parts = [
    r === 0 ? '' : `${gapText(Math.abs(r), u)} to the ${r > 0 ? 'right' : 'left'}`,
    b === 0 ? '' : `${lengthText(Math.abs(b), u)} ${b > 0 ? 'behind' : 'ahead'}`,
  ].filter((s) => s !== '');
  return [`The center of the frame lies ${parts.join(' and ')} of the tow point.`];
}

function proposalLines(planter: Planter, limit: number, paint: Paint): string[] {
  const { sections, why } = proposeSections(planter, limit);
  const head = paint.bold(`Sections for a display with at most ${limit}`);
  if (sections === null) return [head, ...wrap(why, undefined, '  ')];
  const list = sections.map(runName);
  const out = [head, ...wrap(`${sections.length}: ${list.join('  ')}`.replace(/ {2}/g, ' '), undefined, '  ', '     ')];
  if (why !== '') out.push(...wrap(why, undefined, '  '));
  out.push(
    ...wrap(`In the planter file: "sections": [${list.map((s) => `"${s}"`).join(', ')}]`, undefined, '  ', '    '),
  );
  const lone = sections.filter((s) => s.first === s.last).map((s) => s.first);
  if (planter.rows % 2 === 1 && lone.length > 0 && lone.length < sections.length)
    out.push(
      ...wrap(
        lone.length === 1
          ? `The section of one row, row ${lone[0]}, ${placeText(lone[0], planter.rows)} and plants in every planting.`
          : `The sections of one row, ${rowsText(lone)}, plant in every planting.`,
        undefined,
        '  ',
      ),
    );
  return out;
}

/** Where a row of an odd frame is: at an end, or so far from the center line, on which the middle row runs. */
function placeText(row: number, rows: number): string {
  const off = row - (rows + 1) / 2;
  if (off === 0) return 'is on the center line';
  if (Math.abs(off) === 1) return 'is next to the center line';
  const side = off < 0 ? 'left' : 'right';
  if (row === 1 || row === rows) return `is the ${side} end of the frame`;
  return `is ${Math.abs(off)} rows ${side} of the center line`;
}

/** A length in feet and whole inches, as a tape shows it: "34 ft 10 in". */
function feetAndInches(m: number): string {
  const inches = Math.round((m / FOOT_M) * 12);
  return `${Math.floor(inches / 12)} ft ${inches % 12} in`;
}

function ordinal(n: number): string {
  const tail = n % 100 >= 11 && n % 100 <= 13 ? 'th' : (['th', 'st', 'nd', 'rd'][n % 10] ?? 'th');
  return clean(`${n}${tail}`);
}
