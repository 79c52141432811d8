/**
 * Every standard deviation and every floor under one, each with its reason. Metres unless it says otherwise.
 */

/** A display rounds the edges of a section to some millimetres, and a file rounds them again: no edge is known better than this. */
export const EDGE_FLOOR_M = 0.004;

/** Steering an inch or so inside the working width is done on purpose (common practice): what an honest steady seam may be off by. */
export const ON_PURPOSE_M = 0.03;

/** Two widths within this are one: corners of a map of 1e-7 degree (1.1 cm) are seldom further off, and no two layouts of rows are so close. */
export const SAME_WIDTH_M = 0.045;

/** Two neighbouring sections meet when the strip between them is narrower: rounding opens a few centimetres, and no row is so narrow. */
export const HOLE_M = 0.05;
