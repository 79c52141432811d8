import proj4 from 'proj4';
import { FOOT_M } from '../planter/units.ts';
import type { UserErrorCode } from '../shared/codes.ts';
import { type Note, UserError } from '../shared/messages.ts';
import { shown } from './bytes.ts';
import type { Pace } from './pace.ts';
import type { Staging } from './staging.ts';
import type { System } from './types.ts';

/** A coordinate system other than WGS84 degrees, ready to convert to them and back. */
export interface Crs extends System {
  /** The shift of its datum to WGS84 is known (three or seven parameters, or none needed); otherwise the whole map may lie up to about 150 m off. */
  shiftKnown: boolean;
  /** A zone of a transverse Mercator system, in meters. */
  zoneInMeters: boolean;
  toDegrees(xy: [number, number]): [number, number];
  fromDegrees(lonLat: [number, number]): [number, number];
}

/** Slots of the cache of converted points; a power of two. */
const SLOTS = 1 << 15;

/**
 * Converts every point of `staging` into WGS84 degrees, in place. Points that cannot be converted become NaN. Neighboring records share most of their
 * corners, so recently converted points are cached: equal points stay equal, and it is several times faster.
 */
export async function projectStaging(staging: Staging, crs: Crs, pace: Pace): Promise<void> {
  if (crs.plain) return;
  const [cx, cy] = feetTakenForMeters(staging, crs) ?? [0, 0];
  const store = new Float64Array(4 * SLOTS).fill(Number.NaN);
  const xy: [number, number] = [0, 0];
  for (let p = 0; p < staging.points; p++) {
    const x = staging.x(p);
    const y = staging.y(p);
    const hash = Math.imul(Math.floor(x * 64), 0x9e3779b1) ^ Math.imul(Math.floor(y * 64), 0x85ebca6b);
    const slot = 4 * ((hash ^ (hash >>> 15)) & (SLOTS - 1));
    if (store[slot] === x && store[slot + 1] === y) staging.put(p, store[slot + 2], store[slot + 3]);
    else {
      xy[0] = x - FEET_TOO_FAR * cx;
      xy[1] = y - FEET_TOO_FAR * cy;
      let to: [number, number];
      try {
        to = crs.toDegrees(xy);
      } catch {
        to = [Number.NaN, Number.NaN];
      }
      staging.put(p, to[0], to[1]);
      store[slot] = x;
      store[slot + 1] = y;
      store[slot + 2] = to[0];
      store[slot + 3] = to[1];
    }
    if (pace.add(24)) await pace.rest();
  }
}

/** What feet taken for meters add to a distance, as a part of it. */
const FEET_TOO_FAR = 1 - FOOT_M;
/** No transverse Mercator coordinate is larger, meters: the way from the equator to a pole, with the false northing of the south; and no zone is as wide. */
const TO_POLE_M = 10_002_000;
const ACROSS_ZONE_M = 1_000_000;

/**
 * A point of a map whose coordinates are feet in a system of meters: there they lie beyond the pole. The map is read at the place that they are the feet of, and as
 * large as they say, which shows as what it is: every width too large by one factor. Null for all others.
 */
function feetTakenForMeters(staging: Staging, { zoneInMeters }: Pick<Crs, 'zoneInMeters'>): [number, number] | null {
  if (!zoneInMeters) return null;
  if (staging.points === 0) return null;
  const p = staging.points >>> 1;
  const [x, y] = [staging.x(p), staging.y(p)];
  const fits = Math.abs(x) * FOOT_M < ACROSS_ZONE_M && Math.abs(y) * FOOT_M < TO_POLE_M;
  return fits && Math.abs(y) > TO_POLE_M ? [x, y] : null;
}

/** A map in meters or feet that lies within 360 of the origin in both directions would be on the false origin itself, where no field is. */
export function isAllSmall(staging: Staging): boolean {
  for (let p = 0; p < staging.points; p++)
    if (Math.abs(staging.x(p)) > 360 || Math.abs(staging.y(p)) > 90) return false;
  return true;
}

/** Zones of transverse Mercator systems within a few centimeters (or the plate's drift) of WGS84, by EPSG code. */
const UTM_RANGES: readonly { from: number; to: number; zone: number; south: boolean; ellps: string }[] = [
  { from: 32601, to: 32660, zone: 1, south: false, ellps: 'WGS84' },
  { from: 32701, to: 32760, zone: 1, south: true, ellps: 'WGS84' },
  { from: 26901, to: 26923, zone: 1, south: false, ellps: 'GRS80' },
  { from: 25828, to: 25838, zone: 28, south: false, ellps: 'GRS80' },
  { from: 28348, to: 28358, zone: 48, south: true, ellps: 'GRS80' },
  { from: 7846, to: 7859, zone: 46, south: true, ellps: 'GRS80' },
  { from: 31978, to: 31985, zone: 18, south: true, ellps: 'GRS80' },
  // Later realizations of NAD83 in the United States and Canada.
  ...(
    [
      [6330, 6348, 1],
      [3708, 3726, 1],
      [3740, 3749, 10],
      [3154, 3156, 7],
      [3157, 3157, 10],
      [2955, 2957, 11],
      [3158, 3160, 14],
      [2958, 2962, 17],
      [3761, 3761, 22],
      [22207, 22222, 7],
      [22307, 22322, 7],
      [22407, 22422, 7],
      [22607, 22622, 7],
      [22707, 22722, 7],
    ] as const
  ).map(([from, to, zone]) => ({ from, to, zone, south: false, ellps: 'GRS80' })),
];

/** Geographic codes that a field map cannot distinguish from WGS84. */
const DEGREES: Readonly<Record<number, string>> = {
  4326: 'WGS 84',
  4979: 'WGS 84',
  4269: 'NAD83',
  4152: 'NAD83(HARN)',
  4617: 'NAD83(CSRS)',
  6318: 'NAD83(2011)',
  4258: 'ETRS89',
  4283: 'GDA94',
  7844: 'GDA2020',
  4674: 'SIRGAS 2000',
  4167: 'NZGD2000',
};

const OTHERS: Readonly<Record<number, string>> = {
  3857: '+proj=merc +a=6378137 +b=6378137 +lat_ts=0 +lon_0=0 +x_0=0 +y_0=0 +k=1 +units=m +nadgrids=@null +no_defs',
  2154: '+proj=lcc +lat_0=46.5 +lon_0=3 +lat_1=49 +lat_2=44 +x_0=700000 +y_0=6600000 +ellps=GRS80 +units=m +no_defs',
  3035: '+proj=laea +lat_0=52 +lon_0=10 +x_0=4321000 +y_0=3210000 +ellps=GRS80 +units=m +no_defs',
  5070: '+proj=aea +lat_0=23 +lon_0=-96 +lat_1=29.5 +lat_2=45.5 +x_0=0 +y_0=0 +ellps=GRS80 +units=m +no_defs',
  2193: '+proj=tmerc +lat_0=0 +lon_0=173 +k=0.9996 +x_0=1600000 +y_0=10000000 +ellps=GRS80 +units=m +no_defs',
};

/** The proj4 definition of an EPSG code; null when the code is not supported. */
export async function definitionOf(code: number): Promise<string | null> {
  return (
    (code in DEGREES ? '+proj=longlat +datum=WGS84 +no_defs' : utmOf(code)) ?? (await import('./zones.ts')).zoneOf(code)
  );
}

function utmOf(code: number): string | null {
  for (const r of UTM_RANGES) {
    if (code < r.from || code > r.to) continue;
    return `+proj=utm +zone=${r.zone + code - r.from}${r.south ? ' +south' : ''} +ellps=${r.ellps} +units=m +no_defs`;
  }
  return OTHERS[code === 900913 || code === 102100 || code === 102113 ? 3857 : code] ?? null;
}

/** The system with this EPSG code; `null` for WGS84 degrees, undefined when it is not supported. */
export async function crsOfCode(code: number): Promise<Crs | null | undefined> {
  const definition = await definitionOf(code);
  if (definition === null) return undefined;
  if (DEGREES[code] === 'WGS 84') return null;
  const plain = code in DEGREES;
  return crsOf({ name: `EPSG:${code}`, projected: !plain, plain, definition, code, wkt: null, json: null });
}

/** proj4's names for how a datum is tied to WGS84. */
const SHIFT_3 = 1;
const SHIFT_7 = 2;
const IS_WGS84 = 4;

/** A system made ready. Throws proj4's error when it cannot be used. */
export function crsOf(system: System): Crs {
  if (system.plain)
    return { ...system, shiftKnown: true, zoneInMeters: false, toDegrees: (xy) => xy, fromDegrees: (xy) => xy };
  const from = new proj4.Proj(system.definition as string);
  const converter = proj4(from, new proj4.Proj('+proj=longlat +datum=WGS84 +no_defs'));
  const { projName, to_meter, datum } = from as {
    projName?: string;
    to_meter?: number;
    datum?: { datum_type?: number };
  };
  const tie = datum?.datum_type;
  return {
    ...system,
    shiftKnown: tie === SHIFT_3 || tie === SHIFT_7 || tie === IS_WGS84,
    zoneInMeters: /tmerc|utm|transverse/i.test(projName ?? '') && (to_meter ?? 1) === 1,
    toDegrees: (xy) => converter.forward(xy),
    fromDegrees: (xy) => converter.inverse(xy),
  };
}

/** A system as plain data, without its functions. */
export function systemOf({ name, projected, plain, definition, code, wkt, json }: Crs): System {
  return { name, projected, plain, definition, code, wkt, json };
}

/** EPSG code of a system by its name: UTM and state plane zones as the registry and .prj files write them; null for others. */
async function codeNamed(name: string): Promise<number | null> {
  const utm =
    /^(WGS[ _]?(?:19)?84|NAD[ _]?(?:19)?83|ETRS[ _]?(?:19)?89)(?:\([^)]*\))?(?: \/ |_)UTM[ _]zone[ _](\d{1,2})([NS])$/i.exec(
      name,
    );
  if (!utm) return (await import('./zones.ts')).zoneNamed(name);
  const zone = Number(utm[2]);
  const south = /s/i.test(utm[3]);
  if (zone < 1 || zone > 60) return null;
  if (/^w/i.test(utm[1])) return (south ? 32700 : 32600) + zone;
  const code = (/^n/i.test(utm[1]) ? 26900 : 25800) + zone;
  return south || utmOf(code) === null ? null : code;
}

/**
 * The legacy `crs` member of GeoJSON (2008 text, section 3), as its raw JSON: an EPSG code, the name of a UTM or state plane zone, or WKT and other proj4 input, as
 * some programs write it. Returns null for WGS84 degrees, which need nothing.
 * Throws `UserError` 'crs-unknown' naming a system that is not supported; it is never ignored. Coordinates are x, y (or longitude, latitude) whatever the
 * system says about its axes, as that text asks.
 */
export async function readCrsMember(
  raw: string | null,
  file: string,
  ofWkt: (wkt: string) => Crs | null,
): Promise<Crs | null> {
  if (raw === null) return null;
  let member: unknown;
  try {
    member = JSON.parse(raw);
  } catch {
    member = undefined;
  }
  if (member === null) return null;
  const { type, properties } = (member ?? {}) as {
    type?: unknown;
    properties?: { name?: unknown; code?: unknown } | null;
  };
  let name = '';
  if (type === 'name' && typeof properties?.name === 'string') name = properties.name.trim();
  // An older way of writing it: {"type": "EPSG", "properties": {"code": 32615}}.
  else if (type === 'EPSG' && properties?.code !== undefined) name = `EPSG:${String(properties.code)}`;
  const code =
    /^(?:urn:(?:x-)?ogc:def:crs:)?EPSG:(?:[\d.]*:)?(\d{1,7})$/i.exec(name)?.[1] ??
    /\/def\/crs\/EPSG\/[\d.]+\/(\d{1,7})$/i.exec(name)?.[1];
  if (/(^|[:/])(?:CRS84h?|WGS84|WGS 84)$/i.test(name)) return null;
  if (/^\s*(PROJ|GEOG|GEOD|COMP)[A-Z_]*\s*[[(]/i.test(name)) return ofWkt(name);
  const known = code === undefined ? await codeNamed(name) : Number(code);
  const crs = known === null ? undefined : await crsOfCode(known);
  if (crs !== undefined) return crs;
  throw new UserError(
    'crs-unknown',
    type === 'link'
      ? 'The map names its coordinate system by a link, which is not followed.'
      : name
        ? `The map is in the coordinate system "${shown(name)}", which is not supported.`
        : 'The map names its coordinate system in a way that cannot be read.',
    { file, key: 'crs' },
    'Export it in WGS84 degrees (EPSG:4326) or UTM, or as a shapefile with its .prj.',
  );
}

/** The system that the user named with "EPSG:code"; null for WGS84 degrees, or where none was named. Throws `UserError` 'crs-option' for one that is not supported. */
export async function wantedCrs(text: string | undefined, file: string): Promise<Crs | null> {
  if (text === undefined) return null;
  const code = /^\s*(?:EPSG:)?(\d{4,6})\s*$/i.exec(text)?.[1];
  const crs = code === undefined ? undefined : await crsOfCode(Number(code));
  if (crs !== undefined) return crs;
  throw new UserError(
    'crs-option',
    code === undefined
      ? `"${shown(text)}" is not a coordinate system.`
      : `The coordinate system EPSG:${code} is not supported.`,
    { file },
    'Write EPSG: and its number, such as EPSG:32615 for UTM zone 15 north; or export the map in WGS84 degrees.',
  );
}

/** The error for a map in meters or feet that does not name its system, with the likely ones. `lead` begins the sentence. */
export function crsNeeded(
  staging: Staging,
  file: string,
  lead: string,
  code: UserErrorCode = 'crs-needed',
  record?: number,
): UserError {
  const p = record === undefined ? staging.points >>> 1 : staging.ringStart[staging.recordStart[record - 1]];
  const [x, y] = [staging.x(p), staging.y(p)];
  const place = (definition: string): string => {
    const [lon, lat] = proj4(definition, '+proj=longlat +datum=WGS84 +no_defs').forward([x, y]);
    const side = (v: number, plus: string, minus: string): string =>
      `${Math.abs(v).toFixed(1)} ${v < 0 ? minus : plus}`;
    return definition.includes('utm')
      ? `latitude ${side(lat, 'north', 'south')}`
      : `${side(lat, 'north', 'south')}, ${side(lon, 'east', 'west')}`;
  };
  const likely: string[] = [];
  if (x > 100_000 && x < 900_000 && y > 0 && y < 10_000_000) {
    const north = utmOf(32631) as string;
    const south = utmOf(32731) as string;
    if (y < 8_000_000)
      likely.push(
        `EPSG:326ZZ, UTM zone ZZ north (there it is at ${place(north)}; zone 15 is from 96 to 90 degrees west)`,
      );
    if (y > 4_000_000) likely.push(`EPSG:327ZZ, UTM zone ZZ south (${place(south)})`);
  }
  if (Math.abs(x) > 900_000 && Math.max(Math.abs(x), Math.abs(y)) < 20_037_509)
    likely.push(`EPSG:3857, Web Mercator (there it is at ${place(utmOf(3857) as string)})`);
  return new UserError(
    code,
    `${lead} in which coordinate system it is, and positions such as (${Math.round(x)}, ${Math.round(y)}) are not degrees.`,
    record === undefined ? { file } : { file, record },
    `Name the system with "--crs EPSG:NUMBER"${likely.length > 0 ? `; likely ${likely.join(', or ')}` : ''}. Or export the map again with it.`,
  );
}

/** The note where the user names a system and the map has its own. */
export function crsNotUsed(wanted: string, why: string, file: string): Note {
  return {
    code: 'crs-not-used',
    sentence: `The system that you named, ${shown(wanted, 20)}, was not used to read the map: ${why}.`,
    place: { file },
    todo: 'Make sure that the map lies where it should.',
  };
}

/**
 * The system of a map that names none: WGS84 degrees (null) where its coordinates are such, else the one that the user named. Throws `UserError` with the
 * likely ones where nothing names one. `lead` begins its sentence.
 */
export async function crsOfUnnamed(
  staging: Staging,
  wanted: string | undefined,
  file: string,
  notes: Note[],
  lead = 'The map does not say',
  code: UserErrorCode = 'crs-needed',
): Promise<Crs | null> {
  const asked = await wantedCrs(wanted, file);
  if (looksLikeDegrees(staging)) {
    if (wanted !== undefined && asked !== null && !asked.plain)
      notes.push(crsNotUsed(wanted, 'its coordinates are degrees', file));
    return null;
  }
  if (wanted === undefined || staging.points === 0) {
    if (staging.points === 0) return null;
    throw crsNeeded(staging, file, lead, code);
  }
  return asked;
}

export function looksLikeDegrees(staging: Staging): boolean {
  const step = Math.max(1, Math.floor(staging.points / 20_000));
  let seen = 0;
  let inside = 0;
  for (let p = 0; p < staging.points; p += step) {
    seen++;
    if (Math.abs(staging.x(p)) <= 360 && Math.abs(staging.y(p)) <= 90) inside++;
  }
  return seen > 0 && inside >= 0.9 * seen;
}
