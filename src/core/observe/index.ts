/**
 * What is measured before any conclusion: the recorded bands of every bar, the segments of one layout, the seams between
 * passes, and where sections begin and stop.
 *
 * Assumes passes cut in bars, in the order in which they were driven. Guesses nothing that it cannot measure: a seam is measured
 * only where both passes hold their outermost band on the facing side and run parallel; an end that meets no covered ground within
 * reach is left out, not guessed.
 *
 * 1. `bars.ts`: which records lie side by side in the bars, and which kinds of bars may be layouts; `bands.ts`: the bands of a whole bar in
 *    every segment, and which band each record is.
 * 2. `facing.ts`: samples from the outer edge of every bar to the facing edge of the neighbor; `planted-seams.ts`: the same seams on
 *    the ground; `seam-statistics.ts`: the steady part and the part that alternates with the direction of travel;
 *    `sides.ts`: which of two levels a seam is on; `estimate.ts`: how certain those are, given that neighboring seams share a pass;
 *    `stretches.ts`: all of it for each segment of the map; `segment-seams.ts`: the same as evidence for one of them, with the seams to its neighbors.
 * 3. `covered.ts`: is a point on ground that was covered before, in the same job? `ends.ts`: every start and stop of every section,
 *    with the distance to the edge of that ground; `speeds.ts`: how fast the planter was there, and the log interval; `field-ends.ts`: the same against the edge of the field, as the neighboring passes show
 *    it; `corners.ts`: where a lap goes round; `sidesteps.ts`: places where the whole map is drawn aside from one bar to the next; `states.ts`: stretches where sections could have been off over covered ground, and
 *    stretches where one was off over ground that stayed open; `absences.ts`: sections at an end of the planter that are missing from whole passes; `pairs.ts`: two
 *    passes side by side with the same sections off and nothing open beside them.
 */

export { findBands } from './bands.ts';
export { type BarKinds, findKinds, type Match } from './bars.ts';
export { findCovered, findReplants, SAME_JOB_MS } from './covered.ts';
export { findEnds } from './ends.ts';
export { findSeams } from './facing.ts';
export { findFieldEnds } from './field-ends.ts';
export { fillsInPairs } from './pairs.ts';
export { plantedSeams } from './planted-seams.ts';
export { type SeamStatistics, summarizeSeams } from './seam-statistics.ts';
export { segmentSeams } from './segment-seams.ts';
export { findSidesteps, type Sidestep, type Sidesteps } from './sidesteps.ts';
export { type Drop, findStates, ON, type SlotStates, type States, type Visit } from './states.ts';
export { type SeamStretch, seamStretches } from './stretches.ts';
export type { End, Estimate, MeasuredBand, RecordedBands, Seam, SeamEstimates, SeamsBeside, Segment } from './types.ts';
