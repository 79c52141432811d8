import { layoutOf } from '../../planter/index.ts';
import type { Planter } from '../../planter/types.ts';
import { gapText as gap, INCH_M } from '../../planter/units.ts';
import { isUsual, SAME_SPACING_M, TRADE_SPACINGS_M } from '../frames.ts';
import { hypothesis, SECOND_FAULT_PRIOR } from '../hypothesis.ts';
import type { SettingDefinition } from './definition.ts';
import { DIG } from './wording.ts';

/** A spacing that no planter has is typed by mistake: how likely, relative to one that most have. */
const TYPED = 0.05;

/** Whole inches, or centimeters, from half to twice the spacing. */
function mistyped({ unit, rowSpacingM }: Planter): number[] {
  const oneM = unit === 'in' ? INCH_M : 0.01;
  const out: number[] = [];
  for (let n = Math.ceil(rowSpacingM / 2 / oneM); n * oneM <= 2 * rowSpacingM; n++)
    if (Math.abs(n * oneM - rowSpacingM) > SAME_SPACING_M) out.push(n * oneM);
  return out;
}

export const rowSpacing: SettingDefinition = {
  setting: 'row-spacing',
  name: 'the row spacing',
  prior: 4,
  explanation: {
    what: 'The distance from one row unit to the next over the whole frame.',
    goesWrong:
      'The spacing of the planted rows is entered where the spacing of the units is asked, or inches are taken for centimeters.',
    mapShows: 'Every band is wider or narrower by one factor; counts of rows and sections are right.',
    lookAt: 'Measure from one row unit to the next, idle ones included.',
  },
  hypotheses: ({ planter, planting }, part) => {
    const trade = TRADE_SPACINGS_M.filter((s) => Math.abs(s - planter.rowSpacingM) > SAME_SPACING_M);
    const others = [...trade, ...mistyped(planter).filter((s) => trade.every((t) => Math.abs(s - t) > SAME_SPACING_M))];
    // A spacing is seldom mistaken for one that is half as wide or twice, or for one that few planters have.
    const weight = (s: number): number =>
      (Math.abs(Math.log(s / planter.rowSpacingM)) < 0.5 ? 1 : 0.1) *
      (isUsual(s) ? 1 : trade.includes(s) ? 0.25 : TYPED);
    const all = others.reduce((a, s) => a + weight(s), 0);
    return planter.plantings.flatMap(({ name }) =>
      others.map((rowSpacingM) => {
        const display = { ...planter, rowSpacingM };
        const share = ((name === planting ? 1 : SECOND_FAULT_PRIOR) * weight(rowSpacingM)) / all;
        const own = hypothesis('row-spacing', display, layoutOf(display, name), part(share));
        return trade.includes(rowSpacingM) ? own : { ...own, mistyped: true as const };
      }),
    );
  },
  words: (f, b) => ({
    says: `Display set to rows ${gap(b.frameSpacingM, f.planter.unit)} apart; planter has them ${gap(f.planter.rowSpacingM, f.planter.unit)} apart.`,
    check: `Look at the row spacing in the planter setup: it must be ${gap(f.planter.rowSpacingM, f.planter.unit)}, measured from one row unit to the next, idle ones included. ${DIG}`,
  }),
};
