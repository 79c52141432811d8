import { readPlanter } from '../../src/core/planter/index.ts';
import type { Planter, PlanterFile } from '../../src/core/planter/types.ts';

/** A frame at 15 in with plantings narrow (all) and wide (odd), with `change` applied. */
export function frame(change: Partial<PlanterFile>): Planter {
  const file = {
    name: 'Test frame',
    unit: 'in',
    rows: 15,
    rowSpacing: 15,
    plantings: { narrow: 'all', wide: 'odd' },
    ...change,
  };
  return readPlanter(JSON.stringify(file), 'test.planter.json');
}

/** Fifteen rows at 15 in, eight sections, as it should be declared. */
export function fifteen(change: Partial<PlanterFile> = {}): Planter {
  return frame({
    name: 'Fifteen-row split frame',
    sections: ['1-2', '3-4', '5-6', '7', '8-9', '10-11', '12-13', '14-15'],
    drives: ['1-15'],
    offset: { right: 0, back: 0 },
    passSpacing: { narrow: 225, wide: 240 },
    ...change,
  });
}
