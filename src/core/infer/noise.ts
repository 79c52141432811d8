/**
 * Every standard deviation and every floor under one, each with its reason. Meters unless noted.
 */

/** A display rounds the edges of a section to some millimeters, and a file rounds them again: no edge is more precise than this. */
export const EDGE_FLOOR_M = 0.004;

/** Steering an inch or so inside the working width is done on purpose (common practice): a correct steady seam may be off by this. */
export const ON_PURPOSE_M = 0.03;

/** Two neighboring sections meet when the strip between them is narrower: rounding opens a few centimeters, and no row is that narrow. */
export const HOLE_M = 0.05;

// Sections off on purpose (`layout-fits.ts`).

/**
 * Probability that sections are off on purpose in a stretch of the map from end to end: a last pass that fills the rest of the field, a tram line, a waterway, a
 * boundary. Common practice: one field in three has such a pass.
 */
export const OFF_ON_PURPOSE = 0.3;
/** Probability that they stay off for one more pass. */
export const ONE_PASS_MORE = 0.4;
/** Probability that the ground stays open in several places, with covered ground on both sides. Common practice: tram lines for spraying, rare in row crops. */
export const LEFT_OPEN = 0.1;
/** Both ends of the planter off at once, relative to one of them. */
export const BOTH_ENDS = 0.1;

/**
 * A display that believes in a wider planter than there is overlaps the neighboring passes, and section control shuts the sections that lie there. Probability that it did so in
 * a stretch of the map where it is known to fitLayouts that; and share of such displays that never record their whole width, because they are steered at the right distance all the same.
 */
export const SHUT_BY_CONTROL = 0.5;
export const NEVER_WHOLE = 0.1;

// Starts and stops of sections (`timingPosterior.ts`).

/** Scales of the noise of one end, meters: receiver and edge of the covered ground at the least, hand and hydraulics at the most. */
export const END_SCALES_M = [0.15, 0.35, 0.8, 1.8];
/** Shares of the ends that are anywhere: an end in a turn, at a corner of two headland runs, of one lifted section. */
export const WILD_ENDS = [0.05, 0.3];
/** Outlying ends are uniform over this, meters: the reach of the search for covered ground, both ways. */
export const WILD_ENDS_OVER_M = 28;
/** A log interval at the ends of a pass where strips do not show it, meters (common practice: a second or two of slow travel, 1 to 3 m). */
export const USUAL_INTERVAL_M = 2;
/** Part of the fields that are driven back and forth, of those driven in straight passes (common practice). */
export const BACK_AND_FORTH = 0.85;
/** Part of the maps without times whose passes stand in another order than they were driven in. */
export const ANY_ORDER = 0.1;
/** Working speed where no time shows it, meters per second (common practice: 5 to 6 miles per hour). */
export const USUAL_SPEED_M_PER_S = 2.4;
/** A display looks ahead for the clutch and the fall of the seed: not at all, or by up to half a second or so, and hardly ever by more than a second (common practice). */
export const USUAL_LOOK_AHEAD_S = 0.6;
export const MOST_LOOK_AHEAD_S = 1.2;
export const NO_LOOK_AHEAD = 0.4;
/** Share of the displays whose look-ahead is shorter than clutch and hydraulics take, and what that leaves at most, seconds (common practice: a tenth or two). */
export const LEFT_LATE = 0.2;
export const MOST_LEFT_LATE_S = 0.45;
/** Parts of a usual length that the first or the last record of a pass has where the planter speeds up or slows down, and their prior. */
export const SPEEDING: [part: number, prior: number][] = [
  [0.5, 0.1],
  [0.6, 0.1],
  [0.7, 0.1],
  [0.8, 0.1],
  [0.9, 0.1],
  [1, 0.5],
];
/**
 * Part of the differences in speed that the bars beside an end show and that were there at the end, and its prior: a planter slows down for a turn within a second or two, to much the same speed however fast
 * it came (common practice).
 */
export const SPEEDS_SHOWN: [shown: number, prior: number][] = [
  [1, 0.7],
  [0.5, 0.3],
];
/** A correct offset along travel, measured with a tape, is right within this; meters. */
export const CORRECT_OFFSET_SD_M = 0.1;
/** An operator who switches by hand is habitually late or early, by this many meters (standard deviation) and this share of the noise (common practice: a row length or so). */
export const HABIT_M = 0.8;
export const HABIT = 0.35;
/** How a hand scatters: share of those who switch by hand at each of END_SCALES_M. Nobody stops within a hand's breadth of a line at working speed (reaction times differ by two tenths of a second or so). */
export const HAND_SCALES = [0.005, 0.395, 0.4, 0.2];
/** Share of maps switched by hand: of those with sections that switch one by one, and of those that show only the whole width. */
export const SWITCHED_BY_HAND = 0.03;
export const SWITCHED_BY_HAND_WHOLE = 0.5;
/** Wrong offsets lie between these, meters, and wrong delays between those, seconds: uniform on a log scale. */
export const WRONG_OFFSET_M = [0.3, 9];
export const WRONG_DELAY_S = [0.25, 4.05];
/** A planned overlap at both ends, or a gap: scale of its Cauchy density, meters (common practice: a foot or two, rarely more). */
export const PLANNED_OVERLAP_M = 0.6;
/** Prior probability that ends lie anywhere at all, whatever the display does. */
export const ENDS_ANYWHERE = 0.02;
/** The same of starts alone, or of stops alone, at one place: a lap that all passes run across, a turn. */
export const ONE_SIDED = 0.02;
/** No offset or delay that is tried moves an end further than this, meters, and a log interval: those beyond are of something else. */
export const FARTHEST_END_M = 10;
/** Ends lie together within a log interval and this, meters. */
export const ENDS_TOGETHER_M = 0.8;

// Sections at covered ground (`sections.ts`).

/** Beta densities of the rate at which a section records unnecessarily. Right: rarely. Control off: nearly always. */
export const RIGHT_RATE: [number, number] = [0.6, 5];
export const OFF_RATE: [number, number] = [30, 1];
/** A section beside others that shut off in the same visit: it does so too, but for a slip now and then. */
export const SLIP_RATE: [number, number] = [1, 9];
export const ANY_RATE: [number, number] = [0.5, 0.5];
/** Scale of residuals at ends where states are sampled: at least this many meters, or this share of a log interval. */
export const SLANT_SCALE_M = 0.3;
export const SLANT_SCALE_SHARE = 0.4;
/** Where records are cut at the instant of a switch, ends are more precise: factors of the scale that are tried. */
export const SLANT_SCALES = [1, 0.5, 0.25];
/**
 * What starts and stops both reach onto covered ground: planned, with a Laplace density about zero (common practice: a foot or two, rarely
 * more), or whatever the driver leaves where nothing shuts off.
 */
export const PLANNED_THROUGH_M = 0.4;
/** Share of maps with any other overlap, and of those without section control whose driver leaves one. */
export const PLANNED_WILD = 0.01;
export const UNPLANNED = 0.9;
/** Share of the ends that are anywhere: in a turn, or at a corner of two headland runs. */
export const WILD_SLANTS = 0.05;
/** An unknown residual is uniform within the reach of an end, meters. */
export const END_REACH_M = 14;
/** Neighboring passes meet the same edge and share its errors: this share of the likelihood of ends counts. */
export const SLANT_TEMPER = 0.6;
/** An edge is slanted where its two ends lie further apart than this many scales: less is within a log interval and the error of the line. */
export const SLANTED_SCALES = 2;
/** Share of the ends at which the driver lowers or lifts the whole frame before section control has switched every section: a habit, and its prior. */
export const LIFTED_WHOLE: [rate: number, prior: number][] = [
  [0.05, 0.3],
  [0.25, 0.4],
  [0.6, 0.2],
  [0.9, 0.1],
];
/** The same where one end is looked at by itself. */
export const USUALLY_LIFTED = 0.25;
/** A section that switches one record after the others differs by a log interval, give or take: that shows nothing. */
export const ONE_RECORD = 1.3;
/** What all sections of an end share, a delay or an offset, differs by this much from end to end, meters, or by a log interval. */
export const SHARED_LATE_M = 1;
/**
 * Ends follow a slanted edge a little more or less steeply than it runs where recorded and true widths differ, or speed changes on the
 * way: factors of the slope, and their prior.
 */
export const SLANT_SLOPES: [factor: number, prior: number][] = [
  [0.7, 0.05],
  [0.85, 0.15],
  [1, 0.6],
  [1.15, 0.15],
  [1.3, 0.05],
];

// Sidesteps (`sidesteps.ts`).

/** Degrees of freedom of a step by chance: a mean over a dozen bars, with heavier tails from hand steering. */
export const SIDESTEP_DOF = 20;
/** A step of another offset is of any size up to this, meters (common practice: a hitch pin to the next, a row). */
export const SIDESTEP_M = 1;
