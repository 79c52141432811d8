import { UserError } from '../shared/messages.ts';
import { shown } from './bytes.ts';

const AS_COLLECTION = 'Export the map as a GeoJSON FeatureCollection of polygons.';

export const notUtf8 = (file: string): UserError =>
  new UserError('not-utf8', 'The file is not UTF-8 text.', { file }, 'Save it as UTF-8.');

export const emptyFile = (file: string): UserError =>
  new UserError('empty-file', 'The file is empty.', { file }, 'Export the map again.');

export const notAnObject = (file: string): UserError =>
  new UserError(
    'not-geojson',
    'The file does not hold a GeoJSON object.',
    { file },
    'Export the map as GeoJSON or as a shapefile.',
  );

export const memberTwice = (file: string, key: string): UserError =>
  new UserError(
    'key-twice',
    `The GeoJSON holds the member "${key}" twice.`,
    { file, key },
    'Export the map again; nothing shows which of the two is meant.',
  );

/** `lines`: what follows is another object. */
export const trailingText = (file: string, lines: boolean): UserError =>
  new UserError(
    lines ? 'several-documents' : 'json-syntax',
    lines
      ? 'The file holds several GeoJSON objects that are not features, one after another.'
      : 'Something follows the end of the GeoJSON object.',
    { file },
    'Export the map as one FeatureCollection, or as one feature per line.',
  );

/** `record` counts from 1; null outside the records. */
export const truncated = (file: string, record: number | null): UserError =>
  new UserError(
    'json-truncated',
    `The file ends in the middle${record === null ? '' : ` of record ${record}`}.`,
    placeOf(file, record),
    'It was not written or copied completely: export it again.',
  );

export const badSyntax = (file: string, record: number | null, byte: number, near: string, why: string): UserError =>
  new UserError(
    'json-syntax',
    `The file is not valid JSON at byte ${byte}, near "${shown(near, 40)}": ${why}.`,
    placeOf(file, record),
    'Export the map again.',
  );

/** `type` is the type of the whole; '' where it has none. */
export function nothingToRead(file: string, type: string): UserError {
  if (type === 'FeatureCollection' || type === 'Feature')
    return new UserError('no-records', 'The GeoJSON has no features.', { file }, AS_COLLECTION);
  const named = type ? ` (type "${shown(type, 30)}")` : '';
  return new UserError('not-geojson', `The file is JSON but not GeoJSON${named}.`, { file }, AS_COLLECTION);
}

const placeOf = (file: string, record: number | null) => (record === null ? { file } : { file, record });
