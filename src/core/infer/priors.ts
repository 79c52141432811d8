import type { Setting } from '../answer.ts';

/**
 * How often each setting is the one that is wrong, against the others: what goes wrong most when crops and frames change comes first.
 * A judgement from common practice, not a count. Only the ratios matter, and only where two settings record the same map:
 * everywhere else the map outweighs them. Confidences are right to the degree that these are; `npm run calibrate` draws by them.
 */
export const PRIOR: Record<Setting, number> = {
  'planted-rows': 10,
  'frame-as-wide': 6,
  'frame-rows': 5,
  'row-spacing': 4,
  'section-rows': 5,
  'sections-merged': 5,
  'section-idle': 3,
  'section-across-drives': 3,
  'section-order': 3,
  'pass-spacing': 8,
  'side-offset': 6,
  'inline-offset': 4,
  'switch-delay': 4,
  'section-control-off': 4,
  'section-stuck-on': 4,
  'section-stuck-off': 4,
  'changed-midway': 5,
  'map-repeated': 3,
  'map-units': 3,
  'declared-layout': 3,
};

/** Part of the maps that something is wrong with, of those that anybody cares to check. */
const WRONG = 0.75;
const ALL = Object.values(PRIOR).reduce((a, b) => a + b, 0);

/** Probability, before the map is looked at, that this setting is wrong on it. */
export const priorOf = (setting: Setting): number => (WRONG * PRIOR[setting]) / ALL;
