/**
 * Facts about the ground, measured from geometry whatever anybody believes: what is open, what is covered twice, and between which passes.
 *
 * Assumes the covered ground and the ground covered twice as valid polygons, and passes cut in bars to name the neighbors. Guarantees that the
 * areas of the lines and of the slivers add up to the area that is reported, and that nothing depends on the declared planter.
 *
 * A gap is ground that no record covers, between covered ground (or between it and the boundary), in a hole into which no circle as wide as
 * one working width fits, or in a strip narrower than that and three times as long as wide. Strips count along their whole length, open ends too.
 *
 * 1. `facts.ts`: the steps in order. Uncovered ground as polygons (`openGround`): narrow holes are gaps whole; wide holes and the land around the field hold strips.
 * 2. `edges.ts`: the edges around them, in meters.
 * 3. `chords.ts` on `edgegrid.ts`: each edge looks square across the open ground for the edge that faces it.
 * 4. `strips.ts`: which chords of wide ground are a strip.
 * 5. `neighbors.ts` on `owners.ts`: the pass behind each of the two edges, and whether the edge is its side or its end; chords with the same neighbors are a line.
 * 6. `lines.ts`: areas and polygons; a whole hole is shared out among the lines that see into it, so that areas add up.
 */
export { findGaps, findOverlaps } from './facts.ts';
export { type LaidQuads, recordedQuads } from './owners.ts';
export type { Between, Ground, GroundFacts, GroundLine, Neighbor } from './types.ts';
