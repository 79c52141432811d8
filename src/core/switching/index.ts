/**
 * Where sections begin and stop recording, against the ground that earlier passes had covered.
 *
 * Assumes passes in the order in which they were driven. Guarantees nothing about ends that meet no covered ground within reach:
 * they are left out, not guessed.
 *
 * 1. `earlier.ts`: is a point on ground that an earlier pass covered?
 * 2. `ends.ts`: every beginning and stop of every section, with the distance to the edge of that ground.
 * 3. `runs.ts`: stretches that record over covered ground, and stretches where a section is off between two that are on.
 */

export { makeEarlier } from './earlier.ts';
export { type End, findEnds } from './ends.ts';
export { findRuns, type SlotRuns } from './runs.ts';
