import { layoutOf } from '../../planter/index.ts';
import type { Planter, RowRun } from '../../planter/types.ts';
import { gapText as gap } from '../../planter/units.ts';
import { anySections, every, type Hypothesis, hypothesis, inPairs, strideOf } from '../hypothesis.ts';
import type { Part, SettingDefinition } from './definition.ts';
import { DIG, frameText } from './wording.ts';

export const frameAsWide: SettingDefinition = {
  setting: 'frame-as-wide',
  name: 'the frame, entered as its wide rows only',
  prior: 6,
  explanation: {
    what: 'The frame holds every row unit, idle or not; the rows that plant are chosen per crop.',
    goesWrong:
      'For a wide crop the frame is entered as if it had the wide rows only, at the wide spacing. It works until the narrow crop comes, or until sections and drives are looked up by row number.',
    mapShows:
      'The width of the wide planting, with sections merged or renumbered. A map without sections cannot distinguish it from the wrong choice of rows.',
    lookAt:
      'The frame in the planter setup: all row units at their real spacing. Then the sections, which must be given in frame rows.',
  },
  hypotheses: ({ planter }, part) =>
    planter.plantings.flatMap(({ name, rows }) => (strideOf(rows) > 1 ? wideFrame(planter, name, rows, part) : [])),
  words: (f, b) => ({
    says: `The frame was entered as its wide rows only: ${b.frameRows} rows at ${gap(b.frameSpacingM, f.planter.unit)} instead of ${frameText(f)} with a choice of rows per crop.`,
    check: `Look at the frame in the planter setup: it must hold all ${f.planter.rows} row units at ${gap(f.planter.rowSpacingM, f.planter.unit)}; the rows that plant are chosen per crop, not by the frame. ${DIG}`,
  }),
};

/** The frame as only those rows that run in a planting, with the sections that may have been entered for it. */
function wideFrame(planter: Planter, name: string, rows: number[], part: Part): Hypothesis[] {
  const n = rows.length;
  const asWide: Planter = {
    ...planter,
    rows: n,
    rowSpacingM: strideOf(rows) * planter.rowSpacingM,
    plantings: [{ name, rows: every(n, 1, 1), passSpacingM: null }],
    sections: [{ first: 1, last: n }],
  };
  const wide = layoutOf(asWide, name);
  const counted = countedIn(planter.sections, rows);
  const set = (sections: RowRun[], share: number): Hypothesis => {
    const cut = { ...asWide, sections };
    return hypothesis('frame-as-wide', cut, layoutOf(cut, name), part(share));
  };
  const singles = every(n, 1, 1).map((r) => ({ first: r, last: r }));
  return [
    ...(counted ? [set(counted, 0.35)] : []),
    set(inPairs(n), counted ? 0.2 : 0.36),
    set(inPairs(n, true), counted ? 0.2 : 0.36),
    // One section per row equals the other planting, section for section.
    set(singles, 0.08),
    anySections(set(asWide.sections, 0.12), () => wide),
    set(asWide.sections, 0.05),
  ];
}

/** The declared sections, each counted in its planted rows only; null where one has none, or where each has one. */
function countedIn(sections: readonly RowRun[], planted: readonly number[]): RowRun[] | null {
  let next = 1;
  const runs = sections.map((s) => {
    const first = next;
    next += planted.filter((r) => r >= s.first && r <= s.last).length;
    return { first, last: next - 1 };
  });
  return runs.every((r) => r.last >= r.first) && runs.some((r) => r.last > r.first) ? runs : null;
}
