import { PLANTERS, rowsOf } from '../generator/planters.ts';
import { FAULTS, type SeededFault } from '../settings/seeded.ts';

const { fifteen, twentyThree, twelveMetric, twentyFour, seventeenMetric } = PLANTERS;
const [asWide] = FAULTS['frame-as-wide'];

/** Invented fields whose reports are kept: a planter, its planting, and what differs from a sound small field. */
export const CASES: Record<string, SeededFault> = {
  'agrees-metric': [twelveMetric, 'maize', {}],
  'agrees-bars': [fifteen, 'narrow', { grain: 'bar' }],
  'agrees-even-frame': [twentyFour, 'narrow', {}],
  'agrees-strips': [fifteen, 'narrow', { grain: 'strip' }],
  'agrees-no-columns': [twentyThree, 'narrow', { columns: {} }],
  'undecided-one-pass': [fifteen, 'narrow', { shape: { kind: 'strip', lengthM: 150, passes: 1 } }],
  'undecided-short': [seventeenMetric, 'beet', { shape: { kind: 'strip', lengthM: 30, passes: 1 } }],
  'undecided-dissolved': [fifteen, 'narrow', { grain: 'blob' }],
  'planted-rows-metric': FAULTS['planted-rows'][3],
  'planted-rows-in-bars': [
    fifteen,
    'narrow',
    { belief: { planted: rowsOf(15, 'odd') }, passSpacingM: 6.096, grain: 'bar' },
  ],
  'frame-rows': FAULTS['frame-rows'][2],
  'frame-as-wide': asWide,
  'frame-as-wide-and-pass-spacing': [asWide[0], asWide[1], { ...asWide[2], passSpacingM: 5.461 }],
  'sections-merged': FAULTS['sections-merged'][0],
  'section-rows': FAULTS['section-rows'][0],
  'section-idle': FAULTS['section-idle'][0],
  'section-across-drives': FAULTS['section-across-drives'][0],
  'row-spacing': FAULTS['row-spacing'][0],
  'pass-spacing': FAULTS['pass-spacing'][1],
  'pass-spacing-metric': FAULTS['pass-spacing'][2],
  'side-offset': FAULTS['side-offset'][0],
  'inline-offset': FAULTS['inline-offset'][0],
  'switch-delay': FAULTS['switch-delay'][0],
  'changed-midway': FAULTS['changed-midway'][0],
  'map-repeated': FAULTS['map-repeated'][0],
  'map-units': FAULTS['map-units'][0],
  'declared-layout': FAULTS['declared-layout'][0],
  'section-stuck-off': FAULTS['section-stuck-off'][0],
  'section-stuck-on': FAULTS['section-stuck-on'][0],
  'section-control-off': FAULTS['section-control-off'][0],
  'section-order': FAULTS['section-order'][2],
};
