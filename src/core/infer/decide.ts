/**
 * Every decision threshold, each with its reason.
 */

/** A pass of fewer bars, or a map of less travel, shows neither a layout nor a seam well enough to blame a setting. */
export const FEWEST_BARS = 30;
export const LEAST_TRAVEL_M = 50;

/** A setting is named when it is more likely than not that it is wrong. */
export const NAMED = 0.5;

/** A setting that explains the same as a named one, and is not much less likely, is named beside it: "A or B". About one in seven. */
export const NAMED_BESIDE = 0.15;

/** A setting that would record exactly the same differs only in its prior, which a check of the machine outweighs: it is named beside down to one in twelve. */
export const NAMED_ALIKE = 0.08;

/** Above this probability a setting that is not named leaves the verdict undecided: one in five. */
export const DOUBTED = 0.2;

/** One seam decides nothing about seams: a last pass fills the rest of the field. */
export const FEWEST_SEAMS = 2;
/** Between strips there may lie others that are no plain strips: two gaps alike are chance. */
export const FEWEST_STRIP_SEAMS = 3;
/** Fewest seams of both kinds together that decide anything about the side offset. */
export const FEWEST_ALTERNATING = 3;
/** A seam below this is steering, not a setting, whatever the accuracy; meters. */
export const LEAST_SEAM_M = 0.05;
/** A pass spacing wrong by less than this is rarely a setting: half of the closest row spacing, meters. */
export const FAR_SEAM_M = 0.15;

/** Seams narrower than this lie partly within noise, and the account of the ground does not show all of them, meters. */
export const SHOWN_M = 0.3;

/** Visits and slanted ends, and passes, that must show a fault of sections; fewer are two corners of one headland. */
export const FEWEST_PLACES = 3;
export const FEWEST_PASSES = 2;
/** The sections that a segment lacks were shut by section control where they lay on covered ground over this part of its way. */
export const MOST_SHUT = 0.7;
/** A distance or a time at the ends below both of these does not justify a visit to the machine, whatever its probability. */
export const LEAST_OFFSET_M = 0.5;
export const LEAST_DELAY_S = 0.3;
/** Starts and stops that come early by less than this many seconds of travel may be a display that looks ahead: that is no fault by itself, however well an offset explains them. */
export const LOOKS_AHEAD_S = 1;
/** Strips do not show their log interval: where it is long, states sampled at its end draw them early by about half of it more, meters (common practice: two seconds at 2.5 m/s). */
export const UNSEEN_EARLY_M = 2.5;
/** A section that was off over open ground for less than this share of its travel did not drop out. */
export const LEAST_DROPPED = 0.01;

/** Strips that a section at the end of the planter left open from end to end lie in at least this many places, and passes; in one place, the operator drove around something. */
export const FEWEST_PLACES_OPEN = 2;
export const FEWEST_PASSES_OPEN = 3;

/** Sections fail one at a time. More than these at once were shut off by hand, or for another reason: the account shows the ground as open. */
export const MOST_DROPPED = 2;

/** Highest confidence reported: no list of faults is complete, and one map in a hundred has another one. */
export const MOST_SURE = 0.99;

/**
 * Two passes that touch within the first, with a spread below the second (meters) and over more than this part of the seams of a strip map, are sections of one pass
 * that could not be joined, where their widths differ, which no display causes.
 */
export const TOUCHES_M = 0.008;
export const MISREAD_SHARE = 0.25;
/** What is wider than this part of the widest passes is no part of one: without its narrowest section a pass lacks a tenth. */
export const PART_WIDTH = 0.93;
/** What is narrower than this part of the declared width may be a section of it (common practice: one section is seldom most of a planter). */
export const SECTION_WIDTH = 0.67;

/** A segment with a smaller share of the map's bars that fits nothing consists of misread bars, not of another layout; and what it shows beside a layout that is right is seldom a setting. */
export const SHORT_SEGMENT = 0.15;
/** Share of the starts, and of the stops, that must lie together: where they lie in two places, neither comes from an offset or a delay. */
export const LEAST_ALIKE = 0.67;
/**
 * Section control is named only where it explains ground that sections could have spared, at least this part of the covered ground: laps and run-ins of an
 * honest map leave less, and are driving.
 */
export const LEAST_SPARED = 0.005;
/** A section that stays on records on covered ground beyond the others: over less than this, meters of travel in all, it only switches late at slanted ends. */
export const LEAST_STUCK_M = 10;

/** Price of a change of the layout, or of the sideways position, on a map: odds of one in twenty-five, as a natural logarithm. Its place costs the logarithm of the number of places. */
export const LOG_CHANGE_COST = Math.log(25);
/** More changes than these are two planters that take turns, or positioning that jumps, not a changed setting. */
export const MOST_CHANGES = 2;
