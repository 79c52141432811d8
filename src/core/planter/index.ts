/**
 * The declared planter: what a `*.planter.json` says, in meters.
 *
 * Assumes the text of one planter file. Guarantees a frame whose sections and drives hold every row once, in order, whose
 * plantings name rows of the frame, and bands that tile the working width of each planting. Knows no map.
 *
 * 1. `read.ts`: text to `Planter`, or one clear sentence.
 * 2. `layout.ts`: bands, working width and center of a planting.
 * 3. `rules.ts`: the layout rules that the planter breaks, and notes.
 * 4. `propose.ts`: sections that keep the rules.
 * 5. `observed.ts`: planters that would record what a map shows; a planter in another unit.
 * 6. `units.ts`: units and the arithmetic of row gaps.
 */
export { bandsOfSections, evenGapM, layoutOf, plantingOf, rowSpanM, rowXM } from './layout.ts';
export { convertUnit, type ObservedLayout, type ProposedPlanter, proposePlanters } from './observed.ts';
export { type Proposal, proposeSections } from './propose.ts';
export { readPlanter } from './read.ts';
export { listNumbers, listWords, rowsText, runName, runsOf, runText } from './rows.ts';
export { planterNotes, ruleBreaks } from './rules.ts';
export type * from './types.ts';
export { pricePerHa } from './units.ts';
