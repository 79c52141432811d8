/**
 * Every threshold at which something is said or left unsaid, each with its reason.
 */

/** A pass of fewer bars, or a map of less travel, shows neither a layout nor a seam well enough to blame a setting. */
export const FEWEST_BARS = 30;
export const LEAST_TRAVEL_M = 50;

/** A setting is named when it is more likely than not that it is wrong. */
export const NAMED = 0.5;

/** One that explains the same as a named one, and is not much less likely than it, is named beside it: "A or B". About one in seven. */
export const NAMED_BESIDE = 0.15;
