/** Order of day and month in dates written as numbers, as the user says it. */
export type DateOrder = 'day-first' | 'month-first';

/** A text parsed as a date, a clock time or both. The order of day and month is decided elsewhere. */
export interface Written {
  /** The date as three numbers; `order` says in which order they were written. Null without a date. */
  date: { order: 'year-month-day' | 'day-or-month'; year: number; a: number; b: number } | null;
  /** Milliseconds since midnight, null without a clock time. */
  clockMs: number | null;
  /** Offset of the written zone from UTC, ms east; null without one. */
  zoneMs: number | null;
}

const CLOCK = String.raw`(\d{1,2}):(\d\d)(?::(\d\d)(?:[.,](\d+))?)?\s*(AM|PM|A\.M\.|P\.M\.)?`;
const ZONE = String.raw`\s*(Z|UTC|GMT|[+-]\d\d(?::?\d\d)?)?`;
const AFTER = String.raw`(?:(?:T|,?\s+)${CLOCK}${ZONE})?`;
const YEAR_FIRST = new RegExp(String.raw`^(\d{4})([-/.])(\d{1,2})\2(\d{1,2})${AFTER}$`, 'i');
const YEAR_LAST = new RegExp(String.raw`^(\d{1,2})([-/.])(\d{1,2})\2(\d{4}|\d\d)${AFTER}$`, 'i');
const DAY_NAMED = new RegExp(String.raw`^(\d{1,2})[-\s.]+([a-z]{3,9})\.?[-\s,]+(\d{4}|\d\d)${AFTER}$`, 'i');
const MONTH_NAMED = new RegExp(String.raw`^([a-z]{3,9})\.?\s+(\d{1,2}),?\s+(\d{4})${AFTER}$`, 'i');
const COMPACT = new RegExp(
  String.raw`^(\d{4})(\d\d)(\d\d)(?:[T\s_-]?(\d\d)(\d\d)(?:(\d\d)(?:[.,](\d+))?)?${ZONE})?$`,
  'i',
);
const CLOCK_ONLY = new RegExp(`^T?${CLOCK}${ZONE}$`, 'i');
const MONTHS = 'january february march april may june july august september october november december'.split(' ');

/**
 * Reads a date, a clock time or both as people and displays write them: ISO 8601 (extended and basic), year first or last with
 * `-`, `/` or `.`, months by name, 12 and 24 hours, seconds and their fractions or none. Null for anything else. A year of two
 * digits is taken as 20xx and as the last number.
 */
export function readWritten(text: string): Written | null {
  const t = text.trim();
  // Most words of other columns are ruled out by their first character or their length.
  if (t.length < 4 || t.length > 40) return null;
  if (isUsual(t)) return readUsual(t);
  let m = YEAR_FIRST.exec(t);
  if (m) return written(yearFirst(+m[1], +m[3], +m[4]), m.slice(5));
  m = YEAR_LAST.exec(t);
  if (m) return written(yearLast(m[4], +m[1], +m[3]), m.slice(5));
  m = CLOCK_ONLY.exec(t);
  if (m) return written(null, m.slice(1));
  m = COMPACT.exec(t);
  if (m) return written(yearFirst(+m[1], +m[2], +m[3]), [m[4], m[5], m[6], m[7], undefined, m[8]]);
  m = DAY_NAMED.exec(t);
  if (m) return written(named(m[3], m[2], +m[1]), m.slice(4));
  m = MONTH_NAMED.exec(t);
  if (m) return written(named(m[3], m[1], +m[2]), m.slice(4));
  return null;
}

const digitAt = (t: string, i: number): boolean => {
  const c = t.charCodeAt(i);
  return c >= 48 && c <= 57;
};
const twoAt = (t: string, i: number): number => 10 * (t.charCodeAt(i) - 48) + t.charCodeAt(i + 1) - 48;

/** Where the usual form of ISO 8601 has its digits. */
const USUAL = [0, 1, 2, 3, 5, 6, 8, 9, 11, 12, 14, 15, 17, 18];

/** 2026-04-20T14:00:05, perhaps with Z or .5Z: the patterns read it too, in ten times the time, and a map has one for each of its log instants. */
function isUsual(t: string): boolean {
  if (t.length < 19 || t[4] !== '-' || t[7] !== '-' || t[10] !== 'T' || t[13] !== ':' || t[16] !== ':') return false;
  for (const i of USUAL) if (!digitAt(t, i)) return false;
  const end = t.endsWith('Z') ? t.length - 1 : t.length;
  if (end === 19) return true;
  if (end === 20 || t[19] !== '.') return false;
  for (let i = 20; i < end; i++) if (!digitAt(t, i)) return false;
  return true;
}

function readUsual(t: string): Written | null {
  const date = yearFirst(100 * twoAt(t, 0) + twoAt(t, 2), twoAt(t, 5), twoAt(t, 8));
  const [h, mi, s] = [twoAt(t, 11), twoAt(t, 14), twoAt(t, 17)];
  if (date === 'no date' || h > 23 || mi > 59 || s > 60) return null;
  const hasZone = t.endsWith('Z');
  const part = t.length > 20 ? Number(`0${t.slice(19, hasZone ? -1 : undefined)}`) : 0;
  return { date, clockMs: ((h * 60 + mi) * 60 + s) * 1000 + Math.round(part * 1000), zoneMs: hasZone ? 0 : null };
}

type Parsed = Written['date'] | 'no date';

function yearFirst(year: number, month: number, day: number): Parsed {
  return isDay(year, month, day) ? { order: 'year-month-day', year, a: month, b: day } : 'no date';
}

function yearLast(year: string, a: number, b: number): Parsed {
  const y = fullYear(year);
  return isDay(y, a, b) || isDay(y, b, a) ? { order: 'day-or-month', year: y, a, b } : 'no date';
}

function named(year: string, name: string, day: number): Parsed {
  const lower = name.toLowerCase();
  const month = MONTHS.findIndex((full) => full === lower || full.slice(0, 3) === lower || full.slice(0, 4) === lower);
  return month < 0 ? 'no date' : yearFirst(fullYear(year), month + 1, day);
}

const fullYear = (year: string): number => (year.length === 2 ? 2000 + Number(year) : Number(year));

/** `rest`: hour, minute, second, fraction, half of the day, zone, as the patterns give them. */
function written(date: Parsed, rest: (string | undefined)[]): Written | null {
  if (date === 'no date') return null;
  const [h, mi, s = '0', f = '0', half, zone] = rest;
  if (h === undefined || mi === undefined) return { date, clockMs: null, zoneMs: null };
  let hour = Number(h);
  if (half) {
    if (hour < 1 || hour > 12) return null;
    hour = (hour % 12) + (half[0].toUpperCase() === 'P' ? 12 : 0);
  }
  // A leap second is read as the second after it.
  if (hour > 23 || Number(mi) > 59 || Number(s) > 60) return null;
  const clockMs = ((hour * 60 + Number(mi)) * 60 + Number(s)) * 1000 + Math.round(Number(`0.${f}`) * 1000);
  return { date, clockMs, zoneMs: zone === undefined ? null : zoneOf(zone) };
}

function zoneOf(zone: string): number {
  if (/^[a-z]/i.test(zone)) return 0;
  const sign = zone[0] === '-' ? -1 : 1;
  return sign * (Number(zone.slice(1, 3)) * 60 + Number(zone.slice(3).replace(':', '') || 0)) * 60_000;
}

const DAYS = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];

/** A day of the Gregorian calendar. */
export function isDay(year: number, month: number, day: number): boolean {
  if (!(month >= 1 && month <= 12 && day >= 1)) return false;
  // February, and years that `Date` takes for others, are left to it.
  return day <= (month === 2 || year < 1900 ? new Date(Date.UTC(year, month, 0)).getUTCDate() : DAYS[month - 1]);
}

/** Midnight of the date, ms since 1970 as if in UTC; NaN where it is no date in that order. */
export function midnightMs(date: NonNullable<Written['date']>, order: DateOrder): number {
  const [month, day] = date.order === 'year-month-day' || order === 'month-first' ? [date.a, date.b] : [date.b, date.a];
  return isDay(date.year, month, day) ? Date.UTC(date.year, month - 1, day) : Number.NaN;
}
