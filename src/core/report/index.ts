/**
 * Answers as text, JSON, GeoJSON, CSV and drawings.
 *
 * Assumes a finished answer (or a planter, for `frame.ts`). Guarantees the same bytes for the same answer, lines of at most 100
 * columns in text, and that text out of a map or planter file cannot act on a terminal or a spreadsheet. Reads answers and
 * computes nothing about the field.
 */
export { toCsv } from './csv.ts';
export { effectLines } from './effect.ts';
export { EXPLANATIONS, type Explanation } from './explain.ts';
export { drawFrame, type FrameOptions } from './frame.ts';
export { geoJsonParts, toGeoJson } from './geojson.ts';
export { toJson } from './json.ts';
export { clean, NO_PAINT, type Paint, wrap } from './plain.ts';
export { type Rulers, rulerLines, rulersOf, type Stretch } from './rulers.ts';
export { type TextOptions, toText } from './text.ts';
export { confidenceText, GRAIN_WORDS, SETTING_TITLE, TRAVEL_WORDS, VERDICT_WORDS } from './words.ts';
