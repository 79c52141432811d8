import type { Grain, Report, Role, Setting } from '../answer.ts';
import type { MapFormat } from '../intake/types.ts';

/** Headings of diagnoses. */
export const SETTING_TITLE: Readonly<Record<Setting, string>> = {
  'planted-rows': 'Rows planted',
  'frame-rows': 'Number of rows on the frame',
  'row-spacing': 'Row spacing',
  'frame-as-wide': 'Frame entered as its wide rows only',
  'section-rows': 'Rows of the sections',
  'sections-merged': 'Number of sections',
  'section-idle': 'Sections without a planted row',
  'section-across-drives': 'A section across two drives',
  'section-order': 'Order of the sections',
  'pass-spacing': 'Pass spacing',
  'side-offset': 'Side offset',
  'inline-offset': 'Offset along travel',
  'switch-delay': 'Switching delay',
  'section-control-off': 'Section control',
  'section-stuck-on': 'A section that stays on',
  'section-stuck-off': 'A section that drops out',
  'changed-midway': 'A setting that changed midway',
  'map-repeated': 'Records that appear twice in the map',
  'map-units': 'Units of the map',
  'declared-layout': 'The planter file itself',
};

/** Kinds of map files by their names. */
export const FORMAT_WORDS: Readonly<Record<MapFormat, string>> = {
  geojson: 'GeoJSON',
  shapefile: 'shapefile',
  csv: 'CSV',
  flatgeobuf: 'FlatGeobuf',
  geoparquet: 'GeoParquet',
  geopackage: 'GeoPackage',
  kml: 'KML',
};

/** What one record of the map is. */
export const GRAIN_WORDS: Readonly<Record<Grain, string>> = {
  section: 'one section for one log interval',
  bar: 'the whole width for one log interval',
  strip: 'one strip along a pass',
  blob: 'ground joined across passes',
};

export const ROLE_WORDS: Readonly<Record<Role, string>> = {
  section: 'section',
  time: 'time',
  width: 'width',
  heading: 'heading',
  rate: 'rate',
  product: 'product',
  machine: 'machine',
};

/** From where rulers show the planter. */
export const seenFrom = ({ map }: Report): string =>
  map.travelFrom === 'unknown' ? 'from either side (the direction of travel is not known)' : 'facing travel';

export const TRAVEL_WORDS: Readonly<Record<Report['map']['travelFrom'], string>> = {
  time: 'from the times of the records',
  order: 'from the order of the records',
  heading: 'from a heading column',
  unknown: 'not known',
};

export const VERDICT_WORDS: Readonly<Record<Report['verdict'], string>> = {
  agrees: 'AGREES',
  differs: 'DIFFERS',
  undecided: 'UNDECIDED',
};

/** A confidence, 0 to 1, never rounded up to certainty or down to nothing. */
export function confidenceText(c: number): string {
  if (c > 0.99) return 'over 99 %';
  if (c > 0 && c < 0.01) return 'under 1 %';
  return `${Math.round(c * 100)} %`;
}
