import { bandsOfSections, layoutOf } from '../../planter/index.ts';
import type { PlantedLayout, Planter, RowRun } from '../../planter/types.ts';
import { gapText as gap } from '../../planter/units.ts';
import { CLOSEST_ROWS_M, isUsual, TRADE_SPACINGS_M } from '../frames.ts';
import { anySections, bandsOf, every, type Hypothesis, inPairs, SECOND_FAULT_PRIOR, strideOf } from '../hypothesis.ts';
import type { About, Part, SettingDefinition } from './definition.ts';
import { DIG, frameText } from './wording.ts';

export const frameRows: SettingDefinition = {
  setting: 'frame-rows',
  name: "the frame's row count",
  prior: 5,
  explanation: {
    what: 'How many row units the frame carries.',
    goesWrong: 'An odd frame is entered as its even neighbor, or the setup of another planter is loaded.',
    mapShows: 'Bands fit a frame of another row count at the right spacing: the width is off by whole rows.',
    lookAt: 'Count the row units on the frame, idle ones included, and enter that number.',
  },
  hypotheses: (about, part) => [...otherRowCounts(about, part), ...otherFrames(about, part)],
  words: (f, b) => ({
    says: `Display set to ${b.frameRows} rows at ${gap(b.frameSpacingM, f.planter.unit)}; planter has ${frameText(f)}.`,
    check: `Look at the frame's row count in the planter setup: it must be ${f.planter.rows}. Count the row units on the frame, planted or not. ${DIG}`,
  }),
};

/** A frame of `n` rows `spacingM` apart in which every `stride`-th row from `first` on runs; the caller cuts the declared sections to it. */
function evenFrame(
  planter: Planter,
  planting: string,
  n: number,
  spacingM: number,
  first: number,
  stride: number,
): { hypothesis: Omit<Hypothesis, 'logPrior'>; layout: () => PlantedLayout } {
  const rows = Math.floor((n - first) / stride) + 1;
  const layout = (): PlantedLayout =>
    layoutOf(
      {
        ...planter,
        rows: n,
        rowSpacingM: spacingM,
        plantings: [{ name: planting, rows: every(n, first, stride), passSpacingM: null }],
        sections: [{ first: 1, last: n }],
      },
      planting,
    );
  const hypothesis = {
    setting: 'frame-rows' as const,
    rows,
    rowSpacingM: stride * spacingM,
    planting,
    frameRows: n,
    frameSpacingM: spacingM,
    widthM: rows * stride * spacingM,
    centerM: (first + ((rows - 1) * stride) / 2 - (n + 1) / 2) * spacingM,
    asideM: 0,
    steersM: rows * stride * spacingM,
    bands: null,
    edges: null,
    sections: [],
  };
  return { hypothesis, layout };
}

/** Usual row counts of planters: a display may hold the setup of another planter. Common practice. */
const USUAL_ROWS = new Set([4, 6, 8, 12, 16, 18, 24, 32, 36, 48]);

/** Prior weight of `n` rows where there are `rows`: neighboring counts are confused most, and counts of other planters more than the others. */
function weightOfRows(n: number, rows: number): number {
  const far = Math.abs(n - rows);
  return (far <= 2 ? 0.18 : 0.25 / far ** 2) + (USUAL_ROWS.has(n) ? 0.02 : 0);
}

/** Other row counts at the declared spacing. */
function otherRowCounts({ planter, planting, inReach }: About, part: Part): Hypothesis[] {
  const out: Hypothesis[] = [];
  const strides = [...new Set(planter.plantings.map((p) => strideOf(p.rows)))];
  const most = Math.max(64, planter.rows + 8);
  for (const stride of strides) {
    const here = planter.plantings.some((p) => p.name === planting && strideOf(p.rows) === stride)
      ? 1
      : SECOND_FAULT_PRIOR;
    const like = planter.plantings.find((p) => strideOf(p.rows) === stride)!;
    for (let n = 2; n <= most; n++) {
      if (n === planter.rows) continue;
      const near = weightOfRows(n, planter.rows);
      for (const first of stride === 1 ? [1] : [1, 2]) {
        const { hypothesis, layout } = evenFrame(planter, like.name, n, planter.rowSpacingM, first, stride);
        if (hypothesis.rows < 2 || !inReach(hypothesis.widthM)) continue;
        const way = near * here * (stride === 1 ? 1 : first === 1 ? 0.7 : 0.3);
        const set = (sections: () => RowRun[], share: number): Hypothesis => ({
          ...hypothesis,
          bands: () => bandsOf(bandsOfSections(sections(), layout().rows, layout().rowBands)),
          logPrior: part(share * way),
        });
        const all = (): RowRun[] => [{ first: 1, last: n }];
        out.push(
          set(() => fitted(planter.sections, n), 0.15),
          set(() => fittedLeft(planter.sections, planter.rows, n), 0.15),
          set(() => inPairs(n), 0.2),
          set(() => inPairs(n, true), 0.2),
          anySections(set(all, 0.25), layout),
          set(all, 0.05),
        );
      }
    }
  }
  return out;
}

/** Weight of a spacing or a row count that few planters have: nobody loads the setup of a planter that is not in the yard. */
const SPECIAL = 0.25;

/** Frames of another row count and another spacing of the trade: what else a width alone may be. */
function otherFrames({ planter, planting, inReach }: About, part: Part): Hypothesis[] {
  const near = layoutOf(planter, planting).workingWidthM;
  const out: Hypothesis[] = [];
  for (const s of TRADE_SPACINGS_M) {
    if (Math.abs(s - planter.rowSpacingM) < 1e-4) continue;
    const declared = planter.plantings.filter((p) => Math.abs(strideOf(p.rows) * planter.rowSpacingM - s) < 1e-4);
    const usual = (s < CLOSEST_ROWS_M ? 0.0002 : 0.002) * (isUsual(s) ? 1 : SPECIAL);
    for (let n = 2; n * s < 2 * near + 1; n++) {
      if (!inReach(n * s) || n === planter.rows || declared.some((p) => p.rows.length === n)) continue;
      const { hypothesis, layout } = evenFrame(planter, 'every row', n, s, 1, 1);
      const logPrior = part(usual * (USUAL_ROWS.has(n) ? 1 : SPECIAL));
      out.push(anySections({ ...hypothesis, logPrior }, layout));
    }
  }
  return out;
}

/** The declared sections on a frame of `n` rows: rows beyond it are cut off, missing rows go to the last section. */
function fitted(sections: RowRun[], n: number): RowRun[] {
  const out = sections.filter((s) => s.first <= n).map((s) => ({ first: s.first, last: Math.min(s.last, n) }));
  out[out.length - 1].last = n;
  return out;
}

/** The same, cut off or filled up at the left end. */
function fittedLeft(sections: RowRun[], rows: number, n: number): RowRun[] {
  const turned = sections.map((s) => ({ first: rows + 1 - s.last, last: rows + 1 - s.first })).reverse();
  return fitted(turned, n)
    .map((s) => ({ first: n + 1 - s.last, last: n + 1 - s.first }))
    .reverse();
}
