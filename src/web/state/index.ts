/**
 * The state of the sheet, and its actions.
 *
 * 1. `types.ts`: the state and the actions. 2. `reduce.ts`: what an action does to the state. 3. `effects.ts`: what a new state makes happen.
 * 4. `storage.ts`: what the browser keeps. 5. `progress.ts`: one bar for a whole check. 6. `audit.ts`: the tables of an audit, read.
 * 7. `sheet.ts`: the state as the parts see it.
 */
export { readReport } from './audit.ts';

export { isGuess, readState } from './planter.ts';
export { overallRebuild } from './progress.ts';
export { isOld, lacks, needsPlanting, reduce, requestOf, severalMaps, shown } from './reduce.ts';
export { planterFileName, type Sheet, useSheet } from './sheet.ts';
export type { KeptPlanter } from './storage.ts';
export {
  type Action,
  type Done,
  type Field,
  type Inputs,
  type Looked,
  type MachinePlanter,
  type Own,
  type PlanterState,
  type Run,
  type Season,
  START,
  type State,
} from './types.ts';
