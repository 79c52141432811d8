/**
 * Facts about the ground, measured from geometry alone: what is open, what is covered twice, and between which passes.
 *
 * Assumes the covered ground and the ground covered twice as valid polygons, and passes cut in bars to name the neighbors. Guarantees that the
 * areas of the lines and of the slivers add up to the area that is reported, and that nothing depends on the declared planter.
 *
 * A gap is ground that no record covers, between covered ground (or between it and the boundary), where no circle as wide as one working width fits: in a
 * hole, or in a strip of whose outline at most 0.28 is open. Strips count along their whole length, open ends too, and so does what opens into them and what they
 * enclose. One working width is that of the widest pass, plus or minus what two passes wander, so that a pass that was left out is a gap. A spot in two lines
 * counts for the narrower one.
 *
 * Known limits: the notch of a pass that ended early is a gap where it is about one and a half times as deep as wide, or opens into a gap. In a web of slits,
 * strips are searched for from a tenth of a square meter of web on, and what their chords miss of them is counted with the slits.
 *
 * 1. `partition.ts`: the steps in order. Uncovered ground as polygons (`openGround`): narrow holes are gaps whole; wide holes and the land around the field hold strips.
 * 2. `edges.ts`: the edges around them, in meters.
 * 3. `chords.ts`: from each edge, straight across the open ground, the edge that faces it.
 * 4. `discs.ts`: drops chords over ground that a circle of one working width reaches.
 * 5. `strips.ts` on `pieces.ts`: which chords of wide ground are a strip, by the outline of the piece that they draw together.
 * 6. `neighbors.ts` on `owners.ts`: the pass behind each of the two edges, and whether the edge is its side or its end; chords with the same neighbors are a line.
 * 7. `lines.ts`: areas and polygons, with `draw.ts` (each spot to one line), `between.ts` (ground without a chord that strips enclose) and `borders.ts` (the line
 *    along most of its outline); a whole hole is divided among the lines with chords in it, so that areas add up and polygons have the area of their line.
 */

export { type LaidQuads, Owners, type PassGround, recordedQuads } from './owners.ts';
export { findGaps, findOverlaps } from './partition.ts';
export type { Between, Ground, GroundFacts, GroundLine, Neighbor } from './types.ts';
