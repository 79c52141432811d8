import { bandsOfSections, layoutOf } from '../planter/index.ts';
import type { PlantedLayout, Planter, RowRun } from '../planter/types.ts';
import { INCH_M } from '../planter/units.ts';
import { anySections, bandsOf, every, type Hypothesis, inPairs, part, strideOf, TWICE } from './hypothesis.ts';

/** Row spacings in use. Common practice. */
export const TRADE_SPACINGS_M = [
  ...[6, 7, 7.5, 8, 10, 12, 14, 15, 18, 19, 20, 21, 22, 24, 28, 30, 32, 34, 36, 38, 40].map((v) => v * INCH_M),
  ...[12.5, 15, 19, 25, 37.5, 40, 45, 50, 55, 56, 60, 70, 75, 76, 80, 90, 96.5, 100].map((v) => v / 100),
];

/** The spacings that most planters are built for: the others are those of drills, of special crops, or of a few machines. Common practice. */
const USUAL_SPACINGS_M = [...[15, 20, 22, 30, 36, 38, 40].map((v) => v * INCH_M), 0.375, 0.45, 0.5, 0.7, 0.75, 0.8];

/** Whether a spacing, meters, is one that most planters are built for. */
export const isUsual = (spacingM: number): boolean => USUAL_SPACINGS_M.some((s) => Math.abs(s - spacingM) < 1e-4);

/** Rows closer than this are drilled, and seldom planted (common practice). */
const CLOSEST_ROWS_M = 0.25;

/**
 * Frames at spacings of the trade that are `widthM` wide, meters, within `toleranceM`: what a width alone may be. Rows planted, and the
 * gap between them; two spacings that give the same number of rows are told apart by the closer one.
 */
export function framesOfWidth(widthM: number, toleranceM: number): { rows: number; rowSpacingM: number }[] {
  const best = new Map<number, { rows: number; rowSpacingM: number; off: number }>();
  for (const s of TRADE_SPACINGS_M) {
    const rows = Math.round(widthM / s);
    const off = Math.abs(rows * s - widthM);
    if (s < CLOSEST_ROWS_M || rows < 2 || off > toleranceM) continue;
    const known = best.get(rows);
    if (!known || off < known.off) best.set(rows, { rows, rowSpacingM: s, off });
  }
  return [...best.values()].sort((a, b) => a.rows - b.rows).map(({ rows, rowSpacingM }) => ({ rows, rowSpacingM }));
}

/** A frame of `n` rows `spacingM` apart of which every `stride`-th from `first` on runs; the declared sections are cut to it by the caller. */
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

/** Row counts that planters are built with: a display may be set to another planter's. Common practice. */
const USUAL_ROWS = new Set([4, 6, 8, 12, 16, 18, 24, 32, 36, 48]);

/** Prior weight of `n` rows where there are `rows`: neighboring counts are mixed up most, and counts of other planters more than the rest. */
function weightOfRows(n: number, rows: number): number {
  const far = Math.abs(n - rows);
  return (far <= 2 ? 0.18 : 0.25 / far ** 2) + (USUAL_ROWS.has(n) ? 0.02 : 0);
}

/** Other row counts at the declared spacing. */
export function otherRowCounts(planter: Planter, planting: string, inReach: (widthM: number) => boolean): Hypothesis[] {
  const out: Hypothesis[] = [];
  const strides = [...new Set(planter.plantings.map((p) => strideOf(p.rows)))];
  const most = Math.max(64, planter.rows + 8);
  for (const stride of strides) {
    const here = planter.plantings.some((p) => p.name === planting && strideOf(p.rows) === stride) ? 1 : TWICE;
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
          logPrior: part('frame-rows', share * way),
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

/** Frames of another row count and another spacing of the trade: what else a width alone may be. `near`: the declared working width, meters. */
export function otherFrames(planter: Planter, near: number, inReach: (widthM: number) => boolean): Hypothesis[] {
  const out: Hypothesis[] = [];
  for (const s of TRADE_SPACINGS_M) {
    if (Math.abs(s - planter.rowSpacingM) < 1e-4) continue;
    const declared = planter.plantings.filter((p) => Math.abs(strideOf(p.rows) * planter.rowSpacingM - s) < 1e-4);
    const logPrior = part('frame-rows', s < CLOSEST_ROWS_M ? 0.0002 : 0.002);
    for (let n = 2; n * s < 2 * near + 1; n++) {
      if (!inReach(n * s) || n === planter.rows || declared.some((p) => p.rows.length === n)) continue;
      const { hypothesis, layout } = evenFrame(planter, 'every row', n, s, 1, 1);
      out.push(anySections({ ...hypothesis, logPrior }, layout));
    }
  }
  return out;
}

/** The declared sections on a frame of `n` rows: what lies beyond is cut off, what is missing falls to the last one. */
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
