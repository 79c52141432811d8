import type { Lattice } from '../geometry/shapes.ts';
import { median } from '../geometry/stats.ts';
import { type Note, UserError } from '../shared/messages.ts';
import { crsNeeded } from './crs.ts';
import { findMisfits } from './outliers.ts';
import type { Pace } from './pace.ts';
import { BLOCK, type Staging } from './staging.ts';
import type { Misfit } from './types.ts';

/** Lattice coordinates stay within ±2^30, so that the difference of two of them is still a 32-bit integer. */
const SPAN = 2 ** 31 - 16;
const FINEST = 12;
/**
 * Coordinates that use all digits of a double, or were projected, have no decimals of their own. Beyond a hundredth of a millimeter
 * finer steps add nothing, and the exact predicates of the coverage need big integers twenty times as often.
 */
const ENOUGH = 10;
/** A record further than this from the middle of the map, kilometers, is not of the same field. */
const STRAY_KM = 200;
const WIDE_DEG = 2;
const ABSURD_DEG = 20;
/** Latitude beyond which nothing is planted; a map up there has its axes swapped. */
const POLAR_DEG = 75;
/** One record in a hundred may be off before the whole map is in doubt. */
const FEW = 0.01;

/**
 * Step 4 of the intake: makes sure that `staging` holds degrees, joins the two sides of the antimeridian, skips stray records, and finds the lattice.
 *
 * The lattice keeps every decimal of the file (10^d steps per degree, d decimals) as long as the map fits; otherwise it is the finest power of
 * ten that fits. `projected` coordinates have no decimals of their own and get 1e10 (0.01 mm). A map across the
 * antimeridian runs beyond 180 or -180, whichever side has more of it.
 */
export async function place(
  staging: Staging,
  projected: boolean,
  file: string,
  notes: Note[],
  pace: Pace,
): Promise<{ lattice: Lattice; misfits: Misfit[] }> {
  let box = await survey(staging, pace);
  const [midX, midY] = middle(staging);
  if (!isOrdinary(box, midX, midY)) {
    await checkDegrees(staging, file, pace);
    await unwrap(staging, pace);
    await skipStrays(staging, file, notes, pace);
    box = await survey(staging, pace);
  }
  const misfits = await findMisfits(staging, file, notes, pace);
  if (misfits.some((m) => !m.used)) box = await survey(staging, pace);
  if (box.minX > box.maxX) throw noRecords(staging, file);
  const lat = (box.minY + box.maxY) / 2;
  if (Math.abs(lat) > POLAR_DEG) {
    throw new UserError(
      'polar',
      `The middle of the map is at latitude ${lat.toFixed(1)}, where nothing is planted.`,
      { file },
      'Longitude and latitude may be swapped: GeoJSON wants longitude first.',
    );
  }
  const wide = Math.max(box.maxX - box.minX, box.maxY - box.minY);
  if (wide > ABSURD_DEG) {
    throw new UserError(
      'map-too-wide',
      `The map spreads over ${wide.toFixed(0)} degrees; record ${box.farthest} is the farthest from the middle.`,
      { file, record: box.farthest },
      'Check the coordinates of that record, or export one field at a time.',
    );
  }
  if (wide > WIDE_DEG) {
    notes.push({
      code: 'map-wide',
      sentence: `The map spreads over ${wide.toFixed(1)} degrees, more than one field does.`,
      place: { file },
      todo: 'Export one field at a time: lengths are exact only near the middle of the map.',
    });
  }
  let digits = projected || box.digits > FINEST ? ENOUGH : box.digits;
  while (digits > 0 && wide * 10 ** digits > SPAN) digits--;
  const stepsPerDegree = 10 ** digits;
  const lattice = {
    stepsPerDegree,
    originX: Math.round(((box.minX + box.maxX) / 2) * stepsPerDegree),
    originY: Math.round(((box.minY + box.maxY) / 2) * stepsPerDegree),
  };
  return { lattice, misfits };
}

/** Calls `visit` for every point of every used record; `visit` may return true to leave the record. */
async function eachPoint(
  staging: Staging,
  pace: Pace,
  visit: (x: number, y: number, record: number, point: number) => boolean,
): Promise<void> {
  for (let r = 0; r < staging.records; r++) {
    if (staging.status[r] !== 0) continue;
    const from = staging.ringStart[staging.recordStart[r]];
    const to = staging.ringStart[staging.recordStart[r + 1]];
    for (let p = from; p < to; p++) if (visit(staging.x(p), staging.y(p), r, p)) break;
    if (pace.add(4 * (to - from) + 4)) await pace.rest();
  }
}

function usedCount(staging: Staging): number {
  let used = 0;
  for (let r = 0; r < staging.records; r++) if (staging.status[r] === 0) used++;
  return used;
}

async function checkDegrees(staging: Staging, file: string, pace: Pace): Promise<void> {
  const used = usedCount(staging);
  const outside: number[] = [];
  let [badX, badY] = [0, 0];
  await eachPoint(staging, pace, (x, y, r) => {
    if (Math.abs(x) <= 360 && Math.abs(y) <= 90) return false;
    if (!Number.isFinite(x) || !Number.isFinite(y)) staging.skip(r, 'coordinates that are not numbers');
    else {
      if (outside.length === 0) [badX, badY] = [x, y];
      outside.push(r);
    }
    return true;
  });
  if (outside.length === 0) return;
  if (outside.length > FEW * used) {
    const swapped = Math.abs(badX) <= 90 && Math.abs(badY) <= 180;
    // Meters and feet of a system lie far from 0 and not beyond the globe.
    const metric = Math.hypot(badX, badY) > 5000 && Math.hypot(badX, badY) < 1e8;
    if (!swapped && metric) throw crsNeeded(staging, file, 'The map does not say', 'not-degrees', outside[0] + 1);
    throw new UserError(
      swapped ? 'swapped-axes' : 'not-degrees',
      `Record ${outside[0] + 1} lies at (${badX}, ${badY}), which is not a longitude and a latitude.`,
      { file, record: outside[0] + 1 },
      swapped
        ? 'Longitude and latitude seem to be swapped: export the map with longitude first.'
        : 'Export the map in WGS84 degrees (EPSG:4326), or with its coordinate system (.prj or crs).',
    );
  }
  for (const r of outside) staging.skip(r, 'coordinates that are not degrees');
}

/** A longitude and a latitude in the middle of the map, from some 4,000 records, the longitude from -180 to 180. */
function middle(staging: Staging): [number, number] {
  const lon: number[] = [];
  const turned: number[] = [];
  const lat: number[] = [];
  const step = Math.max(1, Math.floor(staging.records / 4000));
  for (let r = 0; r < staging.records; r += step) {
    if (staging.status[r] !== 0) continue;
    const p = staging.ringStart[staging.recordStart[r]];
    const x = staging.x(p);
    const x180 = x - 360 * Math.round(x / 360);
    lon.push(x180);
    turned.push(x180 < 0 ? x180 + 360 : x180);
    lat.push(staging.y(p));
  }
  if (lon.length === 0) return [0, 0];
  const spread = (v: number[]): number => {
    const m = median(v);
    return median(v.map((x) => Math.abs(x - m)));
  };
  const x = spread(turned) < spread(lon) - 1 ? median(turned) : median(lon);
  return [x > 180 ? x - 360 : x, median(lat)];
}

/** Puts every longitude within 180 degrees of the middle of the map. */
async function unwrap(staging: Staging, pace: Pace): Promise<void> {
  const [midX] = middle(staging);
  await eachPoint(staging, pace, (x, y, _r, p) => {
    if (Math.abs(x - midX) > 180) staging.put(p, x - 360 * Math.round((x - midX) / 360), y);
    return false;
  });
}

async function skipStrays(staging: Staging, file: string, notes: Note[], pace: Pace): Promise<void> {
  const [midX, midY] = middle(staging);
  const strays: number[] = [];
  const kmX = 111.32 * Math.cos((midY * Math.PI) / 180);
  let firstKm = 0;
  await eachPoint(staging, pace, (x, y, r) => {
    const km = Math.hypot((x - midX) * kmX, (y - midY) * 111.2);
    if (km <= STRAY_KM) return false;
    if (strays.push(r) === 1) firstKm = km;
    return true;
  });
  const used = usedCount(staging);
  // With two records it is not clear which one is the stray.
  if (strays.length === 0 || used < 3 || strays.length > Math.max(1, FEW * used)) return;
  for (const r of strays) staging.skip(r, `more than ${STRAY_KM} km from the rest of the map`);
  notes.push({
    code: 'stray-records',
    sentence: `${strays.length === 1 ? '1 record lies' : `${strays.length} records lie`} far from the rest of the map (the first one ${Math.round(firstKm)} km) and ${strays.length === 1 ? 'was' : 'were'} skipped.`,
    place: { file, record: strays[0] + 1 },
    todo: 'Look at the record in a map viewer; positions lost during recording often read as 0, 0.',
  });
}

interface Survey {
  minX: number;
  minY: number;
  maxX: number;
  maxY: number;
  /** Record (from 1) that holds the extreme farthest from the middle. */
  farthest: number;
  /** Decimals that the coordinates were written with; beyond `FINEST` when they use all digits of a double. */
  digits: number;
  /** Every coordinate is a number. */
  finite: boolean;
}

/** One scan of every point of every used record. */
async function survey(staging: Staging, pace: Pace): Promise<Survey> {
  const box: Survey = {
    minX: Infinity,
    minY: Infinity,
    maxX: -Infinity,
    maxY: -Infinity,
    farthest: 0,
    digits: 0,
    finite: true,
  };
  const holders = new Uint32Array(4);
  for (let r = 0; r < staging.records; await pace.rest()) r = lookOn(staging, r, box, holders, pace);
  const [midX, midY] = middle(staging);
  const far = [midX - box.minX, midY - box.minY, box.maxX - midX, box.maxY - midY];
  box.farthest = (holders[far.indexOf(Math.max(...far))] ?? 0) + 1;
  return box;
}

/** Reads records from `r` on until it is time to rest; returns the next one. A loop with an `await` inside would be recompiled after each. */
function lookOn(staging: Staging, r: number, box: Survey, holders: Uint32Array, pace: Pace): number {
  while (r < staging.records) {
    const from = staging.ringStart[staging.recordStart[r]];
    const to = staging.ringStart[staging.recordStart[r + 1]];
    if (staging.status[r] === 0) look(staging, from, to, r, box, holders);
    r++;
    if (pace.add(4 * (to - from) + 4)) break;
  }
  return r;
}

/** Widens `box` by the points of record `r`; `holders` are the records of the four extremes: west, south, east, north. */
function look(staging: Staging, from: number, to: number, r: number, box: Survey, holders: Uint32Array): void {
  let { minX, minY, maxX, maxY, digits } = box;
  let scale = 10 ** digits;
  const block = staging.blockOf(from, to);
  const at = 2 * (from & (BLOCK - 1));
  for (let p = from; p < to; p++) {
    const x = block === null ? staging.x(p) : block[at + 2 * (p - from)];
    const y = block === null ? staging.y(p) : block[at + 2 * (p - from) + 1];
    if (x < minX) {
      minX = x;
      holders[0] = r;
    }
    if (y < minY) {
      minY = y;
      holders[1] = r;
    }
    if (x > maxX) {
      maxX = x;
      holders[2] = r;
    }
    if (y > maxY) {
      maxY = y;
      holders[3] = r;
    }
    if (!(x - x === 0 && y - y === 0)) box.finite = false;
    while (digits <= FINEST && !(isWhole(x * scale) && isWhole(y * scale))) scale = 10 ** ++digits;
  }
  if (minX !== box.minX) box.minX = minX;
  if (minY !== box.minY) box.minY = minY;
  if (maxX !== box.maxX) box.maxX = maxX;
  if (maxY !== box.maxY) box.maxY = maxY;
  box.digits = digits;
}

/** A double next to a decimal number is off by half its last place; four of them leave room for another program's rounding. */
function isWhole(v: number): boolean {
  return Math.abs(v - Math.floor(v + 0.5)) <= Math.abs(v) * 9e-16;
}

/** True when every point is a plain longitude and latitude not far from the middle, so that nothing needs correction. */
function isOrdinary(box: Survey, midX: number, midY: number): boolean {
  const kmX = 111.32 * Math.cos((midY * Math.PI) / 180);
  return (
    box.finite &&
    box.minX >= -180 &&
    box.maxX <= 180 &&
    box.minY >= -90 &&
    box.maxY <= 90 &&
    Math.max(midX - box.minX, box.maxX - midX) * kmX < STRAY_KM / 2 &&
    Math.max(midY - box.minY, box.maxY - midY) * 111.2 < STRAY_KM / 2
  );
}

/** The error when no record is left: why, and what to export instead. */
export function noRecords(staging: Staging, file: string): UserError {
  const none = 'The map holds no polygon that can be used';
  if (staging.records === 0) return new UserError('no-records', `${none}.`, { file }, 'It is empty: export it again.');
  const flat = staging.summary().some((s) => /^(Multi)?(Point|LineString) geometry$/.test(s.reason));
  return new UserError(
    'no-records',
    `${none}; skipped: ${listReasons(staging)}.`,
    { file },
    flat
      ? 'Export polygons instead: the coverage layer of a map, the outline of a boundary. Points and lines cover no ground.'
      : 'Export it again, as polygons that cover ground.',
  );
}

function listReasons(staging: Staging): string {
  return staging
    .summary()
    .map((s) => `${s.reason} (${s.count})`)
    .join(', ');
}
