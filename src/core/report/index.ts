/**
 * Answers as text, JSON, GeoJSON, CSV and drawings.
 *
 * Assumes a finished answer (or a planter, for `frame.ts`). Guarantees the same bytes for the same answer, lines of at most 100
 * columns in text, and that text out of a map or planter file cannot act on a terminal or a spreadsheet. Reads answers and
 * computes nothing about the field.
 */

export { clockText } from '../shared/dates.ts';
export { clean } from '../shared/safe.ts';
export { type CommandInput, commandLine } from './command.ts';
export { toCsv } from './csv.ts';
export { effectLines, NO_EFFECT } from './effect.ts';
export {
  ACCOUNT_TITLE,
  accountRows,
  areaCheck,
  areaRows,
  becauseLines,
  type Entry,
  MACHINE_HEAD,
  machineRows,
  NO_SEAMS,
  noteText,
  seamEntries,
  verdictSentence,
} from './entries.ts';
export { EXPLANATION_PARTS, EXPLANATIONS, type Explanation } from './explain.ts';
export { explainHtml } from './explain-html.ts';
export { drawFrame, type FrameOptions } from './frame.ts';
export { geoJsonParts, toGeoJson } from './geojson.ts';
export { type Headline, headline } from './headline.ts';
export { type HtmlOptions, htmlReport } from './html.ts';
export { HTML_STYLE } from './html-style.ts';
export { insideOf, twiceArea } from './inside.ts';
export { joinEdges } from './joins.ts';
export { toJson } from './json.ts';
export { confidenceText, FORMAT_WORDS, GRAIN_WORDS, SETTING_TITLE, TRAVEL_WORDS, VERDICT_WORDS } from './labels.ts';
export {
  areaText,
  countText,
  distanceText,
  gapNumber,
  gapOr,
  gapText,
  grouped,
  lengthOr,
  lengthText,
  shareText,
  signedGap,
  someAreaText,
} from './numbers.ts';
export { jsonText, NO_PAINT, type Paint, wrap } from './plain.ts';
export { aboutRebuilt, rebuiltEntries } from './rebuilt.ts';
export { type Rulers, rulerLines, rulersOf, shownMachine } from './rulers.ts';
export { seamLines } from './seamlines.ts';
export { type SeamState, seamStates } from './seamstates.ts';
export { type Series, timeSeries } from './series.ts';
export {
  hiddenAtFirst,
  mainSigns,
  type Picture,
  pictureAtFirst,
  type Sign,
  signsOf,
  signText,
  type Weight,
} from './signs.ts';
export { type TextOptions, toText } from './text.ts';
