/**
 * What the sheet holds, and what can be done with it.
 *
 * 1. `types.ts`: the state and the actions. 2. `reduce.ts`: what an action does to the state. 3. `effects.ts`: what a new state makes happen.
 * 4. `storage.ts`: what the browser keeps. 5. `progress.ts`: one bar for a whole check. 6. `sheet.ts`: the state as the parts see it.
 */
export { readState } from './planter.ts';
export { isOld, reduce, severalMaps, shown } from './reduce.ts';
export { type Sheet, useSheet } from './sheet.ts';
export { forgetPlanter, keepPlanter, keptPlanters } from './storage.ts';
export { type Action, type Done, type Inputs, type Run, START, type State } from './types.ts';
