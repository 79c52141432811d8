import { listNumbers, listWords, runText } from '../../planter/index.ts';
import { gapText as gap } from '../../planter/units.ts';
import type { Declared } from './definition.ts';

/** Words that several settings share. */

export const frameText = ({ planter }: Declared): string =>
  `${planter.rows} rows at ${gap(planter.rowSpacingM, planter.unit)}`;

/** Where to look when one section does not plant or record. */
export const CHECK_SECTION =
  "Look at that section's wiring, switch, clutch or motor, and at its override on the display. Dig behind its rows: if seed lies there, only the map is wrong.";

export const DIG =
  'Then record a short strip with every section on, check it again, and dig behind at least one row of each section.';

export function rowsText({ layout, planter }: Declared): string {
  const r = layout.rows;
  if (r.length === planter.rows) return 'every row';
  const step = r.length > 1 ? r[1] - r[0] : 1;
  if (step === 2 && r.every((v, i) => v === r[0] + 2 * i)) return `every other row, beginning with row ${r[0]}`;
  return `row ${listNumbers(r)}`;
}

/** Sections by their rows: "row 2", "rows 1-2 and 5". */
export const runsText = (names: readonly string[]): string =>
  `${names.length === 1 && !names[0].includes('-') ? 'row' : 'rows'} ${listWords(names)}`;

/** Added to a finding that names sections, where the map shows them from one side or the other; nothing where they lie alike from both. */
export function sideText({ planter }: Declared, names: readonly string[]): string {
  const turned = names.map((name) =>
    name
      .split('-')
      .map((row) => planter.rows + 1 - Number(row))
      .reverse()
      .join('-'),
  );
  if (turned.every((name) => names.includes(name))) return '';
  return ` Nothing in the map shows which way the passes were driven: it may be the other way around, ${runsText(turned.reverse())}.`;
}

export function sectionRowsText({ planter }: Declared): string {
  return planter.sections.map((s, i) => `${i + 1} = ${runText(s)}`).join(', ');
}

export function proposalText({ planter }: Declared): string {
  return planter.rows % 2 ? 'pairs of rows with the one single row beside the center line' : 'pairs of rows throughout';
}
