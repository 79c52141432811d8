import type { Setting } from '../answer.ts';

/** One setting in general words, for `guessrow explain` and the page of the same texts. */
export interface Explanation {
  setting: Setting;
  title: string;
  what: string;
  goesWrong: string;
  mapShows: string;
  lookAt: string;
}

/** The parts of an explanation with their headings. */
export const EXPLANATION_PARTS: readonly (readonly ['what' | 'goesWrong' | 'mapShows' | 'lookAt', string])[] = [
  ['what', 'What it is'],
  ['goesWrong', 'How it goes wrong'],
  ['mapShows', 'What the map shows'],
  ['lookAt', 'What to look at'],
];

const e = (
  setting: Setting,
  title: string,
  what: string,
  goesWrong: string,
  mapShows: string,
  lookAt: string,
): Explanation => ({
  setting,
  title,
  what,
  goesWrong,
  mapShows,
  lookAt,
});

/** Every setting that a diagnosis can name, in the order in which they are put right. */
export const EXPLANATIONS: readonly Explanation[] = [
  e(
    'map-repeated',
    'Records that stand in the map twice',
    'The exported file, not the display.',
    'Two exports of one field are joined, or a file is loaded and saved on top of itself.',
    'Records repeat others point for point. The acre count is too high by as much; seams, widths and sections look sound.',
    'Export the field once more, alone. Nothing on the display needs a change.',
  ),
  e(
    'map-units',
    "The map's units",
    'The unit in which the file writes its coordinates or its width column.',
    'A projected export loses its projection file, or its feet are read as metres.',
    'Every width is off by the ratio of foot and metre, and so is the distance between passes: the picture is right and its scale is wrong.',
    'Export again with the projection, or put the unit in the .prj file right.',
  ),
  e(
    'changed-midway',
    'A layout that changed on the way',
    'The frame, the rows that plant or the sections, as they stood while the field was planted.',
    'Somebody enters a setting in the middle of a field, another crop is loaded, or the display falls back to an older setup after a restart or a service visit.',
    'Up to one bar or pass the recorded bands are those of one layout, and from there on those of another.',
    'Ask what happened at that time. Judge each part of the field on its own; one of the two may be right.',
  ),
  e(
    'planted-rows',
    'The rows that plant',
    'Which of the frame’s rows run for the crop: every row for narrow spacing, every other row for wide, or a list.',
    'The crop changes and the choice of rows stays as it was, so the display draws one planting while the ground gets the other.',
    'The recorded bands are those of the other planting, section for section. When the passes were steered by the same setting the recorded map closes without a gap, and every guess row on the ground is still too wide or too narrow.',
    'The crop’s setup: which rows plant. Row numbers are frame rows: the eighth wide row of a fifteen-row frame is row 15.',
  ),
  e(
    'frame-as-wide',
    'The frame, entered as its wide rows only',
    'The frame holds every row unit, idle or not; the rows that plant are chosen per crop.',
    'For a wide crop the frame is entered as if it had the wide rows only, at the wide spacing. It works until the narrow crop comes, or until sections and drives are looked up by row number.',
    'The width of the wide planting, with sections merged or numbered anew. A map without sections cannot tell it from the rows that plant.',
    'The frame in the planter setup: all row units at their real spacing. Then the sections, which must be given in frame rows.',
  ),
  e(
    'frame-rows',
    "The frame's row count",
    'How many row units the frame carries.',
    'An odd frame is entered as its even neighbour, or the setup of another planter is loaded.',
    'Bands fit a frame of another row count at the right spacing: the width is off by whole rows.',
    'Count the row units on the frame, idle ones included, and enter that number.',
  ),
  e(
    'row-spacing',
    'The row spacing',
    'The distance from one row unit to the next over the whole frame.',
    'The spacing of the planted rows is entered where the spacing of the units is asked, or inches are taken for centimetres.',
    'Every band is wider or narrower by one factor; counts of rows and sections are right.',
    'Measure from one row unit to the next, idle ones included.',
  ),
  e(
    'section-idle',
    'Sections without a planted row',
    'A section is a run of neighbouring rows switched together; in each planting at least one of them must plant.',
    'One section per row, or sections of a narrow planting, are kept for a wide one: some sections have nothing to switch.',
    'Regular strips stay empty on every pass, as wide as the idle sections, in every field of that crop.',
    'The rows of each section. Pairs of rows, and one single row beside the centre line of an odd frame, plant in both ways.',
  ),
  e(
    'section-across-drives',
    'A section across two drives',
    'A drive is a run of neighbouring rows turned by one shaft or motor; a section is switched inside one drive.',
    'Sections are counted off from the left without regard to where the second drive begins.',
    'The band of the section that straddles the drive line is missing, or cut at that line.',
    'The rows of that section: end one section with the last row of the first drive and begin the next with the first row of the second.',
  ),
  e(
    'section-rows',
    'The rows of the sections',
    'Which rows each section switches.',
    'A section gets one row too many and its neighbour one too few; often after the frame was entered again.',
    'The width is right, and section edges lie at other rows than declared.',
    'The rows of each section, one after the other, against the frame.',
  ),
  e(
    'sections-merged',
    'The number of sections',
    'How many sections the display switches and records.',
    'A reset leaves one section over the whole width, or neighbours are joined to stay within a limit.',
    'The width is right, with fewer sections; the edges that remain are declared ones. One single section looks like a map without sections, unless it shuts off as a whole at slanted edges.',
    'The number of sections, then the rows of each.',
  ),
  e(
    'section-order',
    'The order of the sections',
    'Which output switches which section, counted from the left facing travel.',
    'Plugs are swapped, or the numbering runs from the right.',
    'At slanted edges the sections shut off in the wrong order: the far one first.',
    'Switch section 1 alone and see which rows stop.',
  ),
  e(
    'section-stuck-off',
    'A section that drops out',
    'One section of many, its switch, wiring, clutch or motor.',
    'It stays off over long runs, or it plants and is only drawn as off.',
    'A strip of one section is empty over open ground while its neighbours record on both sides.',
    'Dig behind its rows first: seed in the ground means that only the record is wrong.',
  ),
  e(
    'section-stuck-on',
    'A section that stays on',
    'One section of many, its override, valve, clutch or motor.',
    'It is overridden by hand, or it cannot shut off.',
    'One section goes on recording over covered ground where the others stop.',
    'Drive into covered ground and watch whether it shuts off with its neighbours.',
  ),
  e(
    'section-control-off',
    'Section control',
    'Automatic switching of sections over ground that is covered.',
    'It is off, or it does not know the headland because that was planted under another job.',
    'All sections record on over covered ground. A wedge at point rows, as wide as one section, is no fault: the geometry asks for it.',
    'Whether section control is on, and which covered ground it knows.',
  ),
  e(
    'pass-spacing',
    'The pass spacing',
    'How far apart the passes are steered; it should be the working width of the planting.',
    'The spacing of the other planting is kept when the crop changes.',
    'All seams share one gap or one overlap that the recorded width does not explain.',
    'The guidance width for this crop. Measure a guess row on the ground: it must be one row gap.',
  ),
  e(
    'side-offset',
    'The side offset',
    'How far the middle of the frame lies to the left or right of the point that the display steers by.',
    'It is measured to the wrong side or to the wrong point, or the working centre of a wide planting on an even frame is forgotten.',
    'Seams alternate, one wide and one narrow, when neighbours are driven opposite ways; each deviates by twice the error. Passes driven all one way show nothing.',
    'Measure it on the machine. A map without alternating seams does not clear it where all passes run one way.',
  ),
  e(
    'inline-offset',
    'The offset along travel',
    'The distance along travel from the point that the display knows to the row units.',
    'It is entered to the hitch instead of the rows, or with the wrong sign.',
    'Sections start late and stop late by one distance at any speed, or both early.',
    'Measure it on the machine. Where switching and drawing use the same wrong number, the map shows nothing.',
  ),
  e(
    'switch-delay',
    'The switching delay',
    'The time that a section takes from the command until it plants, or stops.',
    'It is left at a value for other hardware.',
    'The distances at the ends grow with speed. A map of what was commanded shows nothing; only one of the true state does.',
    'Drive into the headland at two speeds and compare the ends on the ground.',
  ),
  e(
    'declared-layout',
    'The declared layout itself',
    'The planter file that the map is held against.',
    'A section without a planted row, a section across two drives, an odd frame without a single-row section, or a pass spacing that is not the working width.',
    'Nothing in the map: the declaration breaks a rule, and a display set up like that cannot be right in every crop.',
    'The planter file, and then the display that was set up by it. The command "guessrow layout" draws it.',
  ),
];
