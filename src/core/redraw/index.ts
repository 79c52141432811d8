/**
 * The map as it should have been: the declared bands on the recorded track.
 *
 * Assumes passes cut in bars, the rows that planted in each bar, and the recorded polygons; which ground each polygon adds is measured
 * outside (see `remain` of the coverage) and passed in. Guarantees that no spot is covered twice but by noise (rule 7), that every record is named by an
 * output record or by a line of the log, and that output area less input area is the sum of the log.
 *
 * The rules:
 * 1. A bar whose recorded bands lie within the tolerance of the declared ones keeps its polygons, digit for digit.
 * 2. Any other bar is redrawn as a whole: one polygon for each run of planted rows that ran in a section (in bar grain: in the bar), between the bar's own back and front line.
 * 3. A row ran when its center lies under a recorded band, or the bar is full. A section that is off in the record stays off. A row
 *    that no full bar of that stretch records is closed over where the rows beside it ran (see `findRows` of the planted picture).
 * 4. What no pass holds (corners cut, crumbs of two bars) is kept as recorded: its track is unknown. So is a bar for which nothing shows where the frame
 *    was: neither the sections beside it in its lanes, nor the one place that they fit, nor their numbers.
 * 5. Records that repeat another, and records under which no planted row ran, are removed; the log keeps a line for each.
 * 6. Ground goes to the pass that planted it first on the last day on which it was planted: what a later pass of that day recorded there is cut away, and so is
 *    the earlier stand under a replant, which is logged as replaced. A record with nothing left is removed.
 * 7. An overlap that is positioning noise is left, and its record as it is: cutting it would change records for nothing. In a map that
 *    agrees with the planter that is a strip of up to six times the pass-to-pass accuracy, in one that differs but of which nothing is
 *    redrawn or removed up to twice the accuracy; never less than 5 cm, and never half of a record. Where anything is redrawn in a map that
 *    differs, no spot is covered twice.
 *
 * 8. Corrected rate = rate × recorded area / redrawn area of the bar, before anything is cut: the seeds of the bar stay the same (arithmetic).
 * 9. Areas in the log keep all digits; a record's area is divided over its pieces by width, so that output less input is the sum of the log.
 * 10. `gr_layout` names planting, grain and a digest of the layout. A map that carries it is returned as it is (byte for byte where the format
 *    stays) or, with another planter, refused.
 *
 * Decision: noise is kept record by record, not for the map as a whole. The field of the settings tests, which agrees, had 851 to 1,087 of 11,500
 * records cut, most of them for centimeters; now 160 to 171. Cut corners are written as full doubles; read again they lie on steps of 1e-10 degree (0.01 mm) at most.
 * 11. Area columns are corrected in their own unit where nine in ten values are the records' areas; other amounts are carried over and reported as out of date. Where
 *    rate × area makes a total that the map holds, that column is the rate.
 * 12. The coordinate system of the map comes back where the format can hold it (`formats/system.ts`), GeoJSON only where the map came as such.
 *
 * Steps: `place.ts` (where the frame was, by section numbers), `bars.ts` (rules 1 to 5), `replant.ts` (days, rule 6), `noise.ts` (rule 7), `outputs.ts` (one output
 * record for each piece or each pass), `columns.ts` and `amounts.ts` (columns corrected), `marks.ts` (columns of its own), `degrees.ts` (back to the file's coordinates), `log.ts` (the change log).
 *
 * Known limits: bars with sections off are drawn square to the line through the middle of what was recorded, so on coarse lattices (a centimeter) a lone narrow
 * section turns by up to half a degree against the full bar before it.
 */
export { rateColumns } from './amounts.ts';
export { layShapes, type MachineTrack, NO_FRAME, type PassOf, type Piece, type Redrawn, redraw } from './bars.ts';
export { putColumnsRight } from './columns.ts';
export { geometryOf, inDegrees } from './degrees.ts';
export { type Change, changeCsv, changeJson, changesOf } from './log.ts';
export { MARK, markOf, OWN, ownColumns } from './marks.ts';
export { isNoise, NOTHING_M2, noiseWidthM } from './noise.ts';
export { groupsOf, type Output, outputs, polygonsOf } from './outputs.ts';
export { middlesBySection } from './place.ts';
export { newestFirst, replacedM2 } from './replant.ts';
