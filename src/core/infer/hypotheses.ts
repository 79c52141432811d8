import { layoutOf } from '../planter/index.ts';
import type { Planter } from '../planter/types.ts';
import { SAME_SPACING_M, TRADE_SPACINGS_M } from './frames.ts';
import { type Hypothesis, hypothesis } from './hypothesis.ts';
import type { About } from './settings/definition.ts';
import { priorOf, SETTINGS } from './settings/index.ts';

/** Part of the right displays on which the spacing was entered in the other unit, rounded. */
const OTHER_UNIT = 0.1;

/** All hypotheses: the declaration of the planter file first, then the ways in which each setting that changes the recorded bands can be wrong. */
export function hypothesesAbout(about: About): Hypothesis[] {
  const wrong = SETTINGS.filter((d) => d.hypotheses);
  const right = 1 - wrong.reduce((a, { setting }) => a + priorOf(setting), 0);
  const others = wrong.flatMap((d) => d.hypotheses!(about, (share) => Math.log(priorOf(d.setting) * share)));
  return [...declaredOnes(about, right), ...others];
}

/** The declared layout, and the same at a spacing that was rounded in the other unit. */
function declaredOnes({ planter, planting }: About, right: number): Hypothesis[] {
  const rounded = TRADE_SPACINGS_M.map((s) => s - planter.rowSpacingM).filter(
    (d) => Math.abs(d) > 1e-4 && Math.abs(d) <= SAME_SPACING_M,
  );
  return [
    hypothesis(null, planter, layoutOf(planter, planting), Math.log(right)),
    ...rounded.map((d) => {
      const other: Planter = { ...planter, rowSpacingM: planter.rowSpacingM + d };
      return hypothesis(null, other, layoutOf(other, planting), Math.log((right * OTHER_UNIT) / rounded.length));
    }),
  ];
}
