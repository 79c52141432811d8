import type { Column } from '../../intake/types.ts';
import { type DateOrder, isDay, midnightMs, readWritten, type Written } from './time.ts';

const DAY_MS = 86_400_000;
/** Share of the values of a column that must be readable before it counts as a time. */
const LEAST_READ = 0.9;

const NUMBER = /^\s*[-+]?(\d+\.?\d*|\.\d+)([eE][-+]?\d+)?\s*$/;

/** Times read from a column. */
export interface Moments {
  /** Columns that it was read from: one, or a date and a clock time. */
  names: string[];
  /**
   * `instants`: date and clock; `days`: dates alone; `clock`: time of day without a date; `counts`: a number that may count seconds,
   * milliseconds or minutes from anywhere.
   */
  holds: 'instants' | 'days' | 'clock' | 'counts';
  /** Of each record: ms since 1970 UTC, ms since midnight, or the count; NaN where it is missing or cannot be read. */
  ms: Float64Array;
  /** A text whose day and month may be swapped; null where the order is known. Then the date is used in neither order. */
  open: string | null;
  /** Every record bears one date, whatever the order of its day and month. */
  oneDay: boolean;
  /** First record (0-based) with a value that cannot be read; -1 for none. */
  firstBad: number;
  /** It is a time of day only together with a date. */
  paired?: boolean;
}

/** A column of dates that the user's own order of day and month does not fit. */
export interface Misordered {
  name: string;
  record: number;
  text: string;
}

/** Words of a text column as numbers, or the numbers themselves; null for a column of other texts. */
export function numbersOf(c: Column): Float64Array | null {
  if (c.kind === 'number') return c.values;
  const number = (w: string): number => (NUMBER.test(w) ? Number(w) : Number.NaN);
  const trial = c.words.slice(1, 60);
  if (trial.filter((w) => !Number.isNaN(number(w))).length < LEAST_READ * trial.length) return null;
  const words = c.words.map(number);
  let good = 0;
  for (const v of words) if (!Number.isNaN(v)) good++;
  if (good === 0 || good < LEAST_READ * (c.words.length - 1)) return null;
  return spelled(c.codes, words);
}

/** The value of each record's word. A loop: `from` of a typed array takes ten times as long. */
function spelled(codes: Uint32Array, values: readonly number[]): Float64Array {
  const out = new Float64Array(codes.length);
  for (let i = 0; i < out.length; i++) out[i] = values[codes[i]];
  return out;
}

/**
 * Reads a column as moments, or null when it holds none. `order` is the user's; `timed` says that its name or the user calls it a
 * time, without which a bare number is none (apart from dates and times since 1970).
 */
export function readMoments(c: Column, order: DateOrder | null, timed: boolean): Moments | Misordered | null {
  const numbers = numbersOf(c);
  if (numbers) return fromNumbers(c.name, numbers, timed);
  return c.kind === 'text' ? fromTexts(c, order) : null;
}

/** Numbers that are a time of day by their digits alone, to go with a date; null for others. */
export function readDigits(c: Column): Moments | null {
  const v = numbersOf(c);
  const m = v && isDigitClock(v) ? fromNumbers(c.name, v, true) : null;
  return m?.holds === 'clock' ? { ...m, paired: true } : null;
}

function fromNumbers(name: string, v: Float64Array, timed: boolean): Moments | null {
  const read = (holds: Moments['holds'], of: (x: number) => number): Moments | null => {
    let known = 0;
    let good = 0;
    let firstBad = -1;
    // Most columns hold no times, and show it in their first values.
    const mostBad = (1 - LEAST_READ) * v.length;
    for (let i = 0; i < v.length && known - good <= mostBad; i++) {
      // A zero is how many programs write a missing time.
      if (Number.isNaN(v[i]) || v[i] === 0) continue;
      known++;
      if (!Number.isNaN(of(v[i]))) good++;
      else if (firstBad < 0) firstBad = i;
    }
    return known > 0 && good >= LEAST_READ * known
      ? { names: [name], holds, ms: v.map(of), open: null, oneDay: false, firstBad }
      : null;
  };
  const written = mostlyBelow(v, FIRST_DAY, (1 - LEAST_READ) * v.length)
    ? null
    : // Counts since 1970 in milliseconds or seconds, for the years 1990 to 2100.
      (read('instants', (x) => (x > 631e9 && x < 4.1e12 ? x : Number.NaN)) ??
      read('instants', (x) => (x > 631e6 && x < 4.1e9 ? x * 1000 : Number.NaN)) ??
      read('days', (x) => midnightOf(x)) ??
      read('instants', (x) => midnightOf(Math.floor(x / 1e6)) + clockOf(x % 1e6)));
  return written ?? (!timed ? null : isDigitClock(v) ? read('clock', clockOf) : read('counts', (x) => x));
}

/** The least of the numbers that are read as instants or days. */
const FIRST_DAY = 19_900_101;

/** Whether more than `most` of the numbers, beside zeros, are below `least`: no reading of them as instants or days could hold. */
function mostlyBelow(v: Float64Array, least: number, most: number): boolean {
  let n = 0;
  for (let i = 0; i < v.length && n <= most; i++) if (v[i] < least && v[i] !== 0) n++;
  return n > most;
}

/** 20260420 as ms since 1970. */
function midnightOf(x: number): number {
  if (!(x >= FIRST_DAY && x <= 21_001_231) || !Number.isInteger(x)) return Number.NaN;
  const [y, m, d] = [Math.floor(x / 10_000), Math.floor(x / 100) % 100, x % 100];
  return isDay(y, m, d) ? Date.UTC(y, m - 1, d) : Number.NaN;
}

/** 140023 (two digits each for hour, minute and second) as ms since midnight. */
function clockOf(x: number): number {
  const [h, m, s] = [Math.floor(x / 10_000), Math.floor(x / 100) % 100, x % 100];
  return x >= 0 && h < 24 && m < 60 && s < 60 ? Math.round(((h * 60 + m) * 60 + s) * 1000) : Number.NaN;
}

/** Numbers that jump over 60 to 99 in their last two digits, hundreds of times, are clock times written as digits and not counts. */
function isDigitClock(v: Float64Array): boolean {
  let low = Infinity;
  let high = -Infinity;
  for (let i = 0; i < v.length; i++) {
    if (v[i] < low) low = v[i];
    if (v[i] > high) high = v[i];
  }
  if (!(high - low >= 200)) return false;
  // One for each pair of last digits.
  const seconds = new Uint8Array(100);
  for (let i = 0; i < v.length; i++) {
    if (Number.isNaN(v[i])) continue;
    if (Number.isNaN(clockOf(v[i]))) return false;
    seconds[Math.floor(v[i]) % 100] = 1;
  }
  return seconds.reduce((sum, has) => sum + has, 0) >= 20;
}

function fromTexts(c: Column & { kind: 'text' }, order: DateOrder | null): Moments | Misordered | null {
  const { words } = c;
  const trial = words.slice(1, 60);
  if (trial.length === 0 || trial.filter((w) => readWritten(w)).length < LEAST_READ * trial.length) return null;
  const list = words.map((w) => readWritten(w));
  let read = 0;
  let dated = 0;
  let clocked = 0;
  for (const w of list) {
    if (!w) continue;
    read++;
    if (w.date) dated++;
    if (w.clockMs !== null) clocked++;
  }
  if (read < LEAST_READ * (words.length - 1)) return null;
  const hasDate = dated >= LEAST_READ * read;
  const hasClock = clocked >= LEAST_READ * read;
  if (!hasDate && !hasClock) return null;
  const found = orderOf(list, words);
  if (found === 'mixed') return null;
  const firstOf = (code: number): number => c.codes.indexOf(code);
  if (order !== null && found !== null && found.order !== null && found.order !== order)
    return { name: c.name, record: firstOf(found.code), text: words[found.code] };
  const known = found === null ? 'month-first' : (found.order ?? order);
  const open = found !== null && known === null ? words[found.code] : null;
  // One date in either order leaves the time of day as it is.
  const oneDay = hasDate && oneDate(list);
  const clockAlone = open !== null && hasClock && oneDay;
  const holds: Moments['holds'] = !hasDate || clockAlone ? 'clock' : hasClock ? 'instants' : 'days';
  const value = list.map((w) => {
    if (!w || (hasDate && !w.date)) return Number.NaN;
    if (holds === 'clock') return w.clockMs ?? Number.NaN;
    return midnightMs(w.date!, known ?? 'month-first') + (w.clockMs ?? 0) - (w.zoneMs ?? 0);
  });
  const isBad = words.map((w, code) => w !== '' && Number.isNaN(value[code]));
  const firstBad = isBad.includes(true) ? c.codes.findIndex((code) => isBad[code]) : -1;
  return { names: [c.name], holds, ms: spelled(c.codes, value), open, oneDay, firstBad };
}

/** Order of day and month in the dates with the word that shows it; null order where every date fits both; null for dates without the question. */
function orderOf(
  list: readonly (Written | null)[],
  words: readonly string[],
): { order: DateOrder | null; code: number } | 'mixed' | null {
  let asked = -1;
  let day = -1;
  let month = -1;
  for (let i = 1; i < words.length; i++) {
    const d = list[i]?.date;
    if (d?.order !== 'day-or-month') continue;
    if (d.a > 12) day = day < 0 ? i : day;
    else if (d.b > 12) month = month < 0 ? i : month;
    else if (d.a !== d.b && asked < 0) asked = i;
  }
  if (day >= 0 && month >= 0) return 'mixed';
  if (day >= 0) return { order: 'day-first', code: day };
  if (month >= 0) return { order: 'month-first', code: month };
  return asked < 0 ? null : { order: null, code: asked };
}

function oneDate(list: readonly (Written | null)[]): boolean {
  const seen = new Set<number>();
  for (const w of list) if (w?.date) seen.add((w.date.year * 100 + w.date.a) * 100 + w.date.b);
  return seen.size === 1;
}

/** A date column and a clock column together. */
export function together(days: Moments, clock: Moments): Moments {
  return {
    names: [...days.names, ...clock.names],
    holds: 'instants',
    ms: days.ms.map((d, i) => d + clock.ms[i]),
    open: null,
    oneDay: days.oneDay,
    firstBad: Math.max(days.firstBad, clock.firstBad),
  };
}

/** Work that ran past midnight is the only work just before and just after it, with hours of rest elsewhere. */
const NEAR_MIDNIGHT_MS = 30 * 60_000;
const REST_MS = 3 * 3_600_000;

/** Times of day without dates, with those after midnight moved to the next day where the work ran past it. */
export function overMidnight(ms: Float64Array): Float64Array {
  const sorted = ms.filter((v) => !Number.isNaN(v)).sort();
  const n = sorted.length;
  if (n < 2 || sorted[0] > NEAR_MIDNIGHT_MS || sorted[n - 1] < DAY_MS - NEAR_MIDNIGHT_MS) return ms;
  let at = 0;
  for (let i = 1; i < n; i++) if (sorted[i] - sorted[i - 1] > sorted[at + 1] - sorted[at]) at = i - 1;
  if (sorted[at + 1] - sorted[at] < REST_MS) return ms;
  const last = sorted[at];
  return ms.map((v) => (v <= last ? v + DAY_MS : v));
}
