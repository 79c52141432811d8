import type { UserErrorCode } from '../shared/codes.ts';
import { type Note, UserError } from '../shared/messages.ts';
import { readAll, shown } from './bytes.ts';
import { type Crs, crsNotUsed, crsOf, crsOfCode, crsOfUnnamed, isAllSmall, looksLikeDegrees } from './crs.ts';
import type { Staging } from './staging.ts';
import type { NamedBytes } from './types.ts';

/** Datums that a field map cannot distinguish from WGS84 (within the drift of the plates, about two meters). */
const LIKE_WGS84 =
  /wgs_?19?84|world_geodetic_system_1984|north_american_(datum_)?1983|nad_?83|nad_1983|csrs|etrs_?19?89|european_terrestrial|gda_?(19)?94|gda_?2020|geocentric_datum_of_australia|sirgas|nzgd_?2000|new_zealand_geodetic_datum_2000|jgd_?20|rgf_?19?93|rgf93|itrf|chtrf|posgar|magna|china_2000|cgcs_?2000|hartebeesthoek|korea_2000|irenet95|swer[ef]f?_?99/i;

/**
 * Step 3 for the coordinate system of a shapefile, from its .prj (WKT). Returns null for WGS84 degrees.
 *
 * Without a .prj, coordinates that look like degrees are read as degrees, with a note. Throws `UserError` when the .prj cannot be read, is of a local
 * system, or contradicts the coordinates. Known limit: datums that need a shift which proj4 does not have (NAD27, DHDN, RD, Pulkovo without
 * TOWGS84) leave the whole map up to about 150 m off; widths and areas stay right. That is a note.
 */
export async function readPrj(
  prj: NamedBytes | undefined,
  staging: Staging,
  source: string,
  notes: Note[],
  wanted?: string,
): Promise<Crs | null> {
  const text = prj === undefined ? '' : wktOf(await readAll(prj, 1 << 20));
  if (text !== '') {
    if (wanted !== undefined) notes.push(crsNotUsed(wanted, 'it has a .prj', source));
    return crsOfWkt(text, 'The .prj', shown((prj as NamedBytes).name), staging, notes);
  }
  const empty = prj ? ' (it is empty)' : '';
  const lead = `There is no .prj${empty} to say`;
  const crs = await crsOfUnnamed(staging, wanted, source, notes, lead, 'prj-missing');
  if (crs === null)
    notes.push({
      code: 'prj-assumed',
      sentence: `There is no .prj${empty}; the coordinates were read as WGS84 degrees.`,
      place: { file: source },
      todo: 'Make sure that the map lies where it should.',
    });
  return crs;
}

/**
 * A system from WKT, version 1 or 2; null for WGS84 degrees. `what` names the text at the beginning of sentences. Throws `UserError` where it cannot be read, is of
 * a local system, or contradicts the coordinates.
 */
export function crsOfWkt(text: string, what: string, file: string, staging: Staging, notes: Note[]): Crs | null {
  const degrees = looksLikeDegrees(staging);
  const refuse = (
    code: UserErrorCode,
    sentence: string,
    todo = 'Export the map in WGS84 degrees (EPSG:4326) or UTM.',
  ): UserError => new UserError(code, sentence, { file }, todo);
  const wkt = inner(text, /^(COMPD_CS|COMPOUNDCRS)\s*[[(]/i.test(text));
  const kind = /^\s*([A-Z_]+)\s*[[(]/i.exec(wkt)?.[1].toUpperCase() ?? '';
  const name = shown(/^\s*[A-Z_]+\s*[[(]\s*"([^"]*)"/i.exec(wkt)?.[1] ?? '');
  if (/^(LOCAL_CS|ENGCRS|ENGINEERINGCRS)$/.test(kind)) {
    throw refuse('prj-local', `${what} names a local system ("${name}") that is not tied to the earth.`);
  }
  const geographic = /^(GEOGCS|GEOGCRS|GEOGRAPHICCRS|GEODCRS|GEODETICCRS)$/.test(kind);
  if (!geographic && !/^(PROJCS|PROJCRS|PROJECTEDCRS)$/.test(kind)) {
    throw refuse(
      'prj-unreadable',
      kind ? `${what} holds a system of a kind that is not supported (${shown(kind, 20)}).` : `${what} cannot be read.`,
    );
  }
  if (!isBalanced(wkt)) throw refuse('prj-unreadable', `${what} is cut off.`);
  const unit = angularUnit(wkt);
  if (unit !== null && Math.abs(unit - Math.PI / 180) > 1e-9) {
    throw refuse('prj-unit', `${what} measures angles in another unit than degrees.`);
  }
  if (!geographic && degrees && isAllSmall(staging)) {
    throw refuse(
      'prj-contradicts',
      `${what} says "${name}" in meters or feet, but the coordinates look like degrees.`,
      'Export the map again with the system that belongs to it.',
    );
  }
  // Latitude before longitude is recognized by the check of degrees, with better advice.
  if (geographic && !degrees && !looksSwapped(staging)) {
    throw refuse(
      'prj-contradicts',
      `${what} says degrees ("${name}"), but the coordinates are not degrees.`,
      'Export the map again with the system that belongs to it.',
    );
  }

  const datum = /\b(?:DATUM|TRF|ENSEMBLE)\s*[[(]\s*"([^"]*)"/i.exec(wkt)?.[1] ?? '';
  const near = LIKE_WGS84.test(datum || name);
  const meridian = Number(/\bPRIMEM\s*[[(]\s*"[^"]*"\s*,\s*([-+\d.eE]+)/i.exec(wkt)?.[1] ?? 0);
  const plain = geographic && near && meridian === 0;
  if (plain && /^(WGS|world)/i.test(datum || name)) return null;
  let crs: Crs;
  try {
    crs = crsOf({ name, projected: !geographic, plain, definition: wkt, code: codeIn(wkt), wkt: text, json: null });
    const [x, y] = firstPoint(staging);
    const to = crs.toDegrees([x, y]);
    if (!plain && !(Number.isFinite(to[0]) && Number.isFinite(to[1]))) throw new Error('no position');
  } catch {
    throw refuse('prj-unreadable', `The coordinate system "${name}" cannot be used.`);
  }
  if (!near && !crs.shiftKnown) {
    notes.push({
      code: 'datum-shift',
      sentence: `The map is on the datum "${shown(datum) || name}", whose exact shift is not known: its position may be off by up to about 150 m, widths and areas are right.`,
      place: { file },
      todo: 'Export the map in WGS84 if the position matters.',
    });
  }
  return crs;
}

function wktOf(bytes: Uint8Array): string {
  const utf16 = bytes[0] === 0xff && bytes[1] === 0xfe;
  return new TextDecoder(utf16 ? 'utf-16le' : 'utf-8')
    .decode(bytes)
    .replace(/^\ufeff/, '')
    .replaceAll('\0', '')
    .trim();
}

/** The horizontal system within a compound one. */
function inner(text: string, compound: boolean): string {
  if (!compound) return text;
  const at = text.search(/\b(PROJCS|PROJCRS|GEOGCS|GEOGCRS)\s*[[(]/i);
  if (at < 0) return text;
  let depth = 0;
  let quoted = false;
  for (let i = at; i < text.length; i++) {
    const c = text[i];
    if (c === '"') quoted = !quoted;
    else if (!quoted && (c === '[' || c === '(')) depth++;
    else if (!quoted && (c === ']' || c === ')') && --depth === 0) return text.slice(at, i + 1);
  }
  return text.slice(at);
}

function isBalanced(text: string): boolean {
  let depth = 0;
  let quoted = false;
  for (const c of text) {
    if (c === '"') quoted = !quoted;
    else if (!quoted && (c === '[' || c === '(')) depth++;
    else if (!quoted && (c === ']' || c === ')') && --depth < 0) return false;
  }
  return depth === 0 && !quoted;
}

/** EPSG code of the system itself, which comes last in its WKT; null when it names none. */
function codeIn(wkt: string): number | null {
  const code = /(?:AUTHORITY|ID)\s*[[(]\s*"EPSG"\s*,\s*"?(\d{4,6})"?\s*[\])]\s*[\])]\s*$/i.exec(wkt)?.[1];
  return code === undefined ? null : Number(code);
}

/** Radians in the unit of the geographic part, or null when it names none. */
function angularUnit(wkt: string): number | null {
  const geog = wkt.search(/\b(GEOGCS|GEOGCRS|BASEGEOGCRS|GEODCRS)\s*[[(]/i);
  if (geog < 0) return null;
  const part = inner(wkt.slice(geog), true);
  const units = [...part.matchAll(/\b(?:ANGLEUNIT|UNIT)\s*[[(]\s*"[^"]*"\s*,\s*([-+\d.eE]+)/gi)];
  return units.length === 0 ? null : Number(units[units.length - 1][1]);
}

function looksSwapped(staging: Staging): boolean {
  const step = Math.max(1, Math.floor(staging.points / 1000));
  for (let p = 0; p < staging.points; p += step) {
    if (Math.abs(staging.x(p)) > 90 || Math.abs(staging.y(p)) > 180) return false;
  }
  return staging.points > 0;
}

function firstPoint(staging: Staging): [number, number] {
  return [staging.x(staging.points >>> 1), staging.y(staging.points >>> 1)];
}

/** A file's description of its coordinate system: an EPSG code, WKT, PROJJSON, a name; any of them may be missing. */
interface SystemOfFile {
  code?: number | undefined;
  wkt?: string | null | undefined;
  /** A system as PROJJSON, which proj4 accepts unchanged. */
  json?: object | null | undefined;
  name?: string | null | undefined;
}

/** The system of a file that names it within itself, or, where it does not, the one that the user named (`wanted`); null for WGS84 degrees. */
export async function crsOfFile(
  system: SystemOfFile,
  staging: Staging,
  wanted: string | undefined,
  file: string,
  notes: Note[],
): Promise<Crs | null> {
  const { code = 0, wkt, json, name } = system;
  if (code <= 0 && !wkt && !json) return crsOfUnnamed(staging, wanted, file, notes);
  if (wanted !== undefined) notes.push(crsNotUsed(wanted, 'the map names its own', file));
  const known = code > 0 ? await crsOfCode(code) : undefined;
  if (known === null) return null;
  if (known !== undefined) {
    if (known.projected && isAllSmall(staging))
      throw new UserError(
        'crs-contradicts',
        `The map says that it is in "EPSG:${code}", but its coordinates look like degrees.`,
        { file },
        'Export it again with the system that belongs to it, or name that with "--crs".',
      );
    return { ...known, wkt: wkt ?? null, json: json ?? null };
  }
  if (wkt) return crsOfWkt(wkt.trim(), 'The coordinate system of the map', file, staging, notes);
  try {
    if (json)
      return crsOf({
        name: shown(name ?? ''),
        projected: !looksLikeDegrees(staging),
        plain: false,
        definition: json,
        code: code > 0 ? code : null,
        wkt: null,
        json,
      });
  } catch {
    // Said below.
  }
  throw new UserError(
    'crs-unknown',
    `The map is in the coordinate system "${shown(name || `EPSG:${code}`)}", which is not supported.`,
    { file },
    'Export it in WGS84 degrees (EPSG:4326) or UTM.',
  );
}
