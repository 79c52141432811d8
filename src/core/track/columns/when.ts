import type { Column } from '../../intake/types.ts';
import { UserError } from '../../shared/messages.ts';
import { fillTimes } from './fill.ts';
import { count, type TimeFit, timeFit } from './fits.ts';
import { type Misordered, type Moments, overMidnight, readDigits, readMoments, together } from './moments.ts';
import { asked, NAMES, namesOf, type Search, scaled, unreadable } from './roles.ts';
import { spreadTicks } from './spread.ts';

/** Share of the steps along lanes on which a time must rise, and on which it must change at all: a clock without seconds rarely changes, a bare count often. */
const LEAST_SHARE = 0.9;
const LEAST_CHANGES = 0.001;
const LEAST_COUNTED = 0.04;
/** A column that the user named as the time may have a few records out of order. */
const LEAST_NAMED = 0.8;
/** Date columns and clock columns that are tried together. */
const MOST_PAIRED = 3;

/** The time of the records: the column, or the two, whose moments rise along the lanes. */
export function findTime(search: Search): void {
  const { columns, choices, out } = search;
  const named = choices.columns?.time;
  if (named === '') return;
  const wanted = named === undefined ? null : namesOf(columns, named);
  const all = readAll(search, wanted);
  if (wanted) checkNamed(search, wanted, all);
  const open = all.find((m) => m.open !== null && (m.holds !== 'days' || wanted === null || isWanted(m, wanted)));
  const tried = pairsAndAll(all).filter((m) => wanted === null || wanted.every((n) => m.names.includes(n)));
  let best = 0;
  let incomplete: Moments | null = null;
  for (const m of tried) {
    const ms = m.holds === 'clock' ? overMidnight(m.ms) : m.ms;
    const fit = timeFit(ms, search.lanes);
    if (wanted) checkFit(search, m, fit);
    const least = m.holds === 'counts' ? LEAST_COUNTED : LEAST_CHANGES;
    if (!wanted && (fit.share < LEAST_SHARE || fit.scaleMs === 0 || fit.changes < least)) {
      if (fit.share < LEAST_SHARE && fit.knownShare >= LEAST_SHARE && fit.scaleMs > 0) incomplete ??= m;
      continue;
    }
    const score = fit.share + (m.names.some((n) => NAMES.time.test(n)) ? 0.3 : 0) + (m.holds === 'instants' ? 0.2 : 0);
    if (score <= best) continue;
    best = score;
    out.timeMs = m.holds === 'counts' ? scaled(ms, fit.scaleMs || 1) : ms;
    out.timeIsClock = m.holds === 'instants';
    out.timeHolds = m.holds === 'days' ? null : m.holds;
    out.oneDay = m.oneDay || (m.holds === 'clock' && all.some((d) => d.holds === 'days' && d.oneDay));
    out.timeNames = m.names;
    const without = m.holds === 'clock' ? '; a time of day without a date' : '';
    out.roles.time = { name: m.names.join(' + '), evidence: asked(search, 'time') + fit.says + without };
  }
  if (out.timeMs) {
    out.tickMs = tickOf(out.timeMs);
    const { ms, filled } = fillTimes(out.timeMs, search.lanes, out.tickMs);
    out.timeMs = spreadTicks(ms, search.lanes);
    if (filled > 0 && out.roles.time)
      out.roles.time.evidence += `; ${count(filled)} records without a time take that of their place in the pass`;
  } else if (incomplete) noteIncomplete(search, incomplete);
  if (out.timeIsClock) return;
  if (open) noteOpen(search, open);
  const days = all.filter((m) => m.holds === 'days' && m.open === null);
  out.dayMs = (days.find((m) => NAMES.time.test(m.names[0])) ?? days[0])?.ms ?? null;
}

/** Records sampled for the step of the clock. */
const FOR_TICK = 4096;

/** Smallest step between two times among the first records, milliseconds; 0 where there is none. */
function tickOf(ms: Float64Array): number {
  const some = ms
    .slice(0, FOR_TICK)
    .filter((t) => !Number.isNaN(t))
    .sort();
  let tick = Number.POSITIVE_INFINITY;
  for (let i = 1; i < some.length; i++) {
    const step = some[i] - some[i - 1];
    if (step > 0 && step < tick) tick = step;
  }
  return Number.isFinite(tick) ? tick : 0;
}

const isWanted = (m: Moments, wanted: readonly string[]): boolean => m.names.some((n) => wanted.includes(n));

/** Every column that holds moments of any kind. Beside a column of dates, one of digits that are a time of day is a clock, whatever its name. */
function readAll({ columns, choices, numberOf }: Search, wanted: readonly string[] | null): Moments[] {
  const out: Moments[] = [];
  const others: Column[] = [];
  for (const c of columns) {
    const timed = wanted ? wanted.includes(c.name) : NAMES.time.test(c.name) || SECONDS.test(c.name);
    const m = readMoments(c, choices.dates ?? null, timed);
    if (m === null) others.push(c);
    else if ('names' in m) out.push(m);
    else if (timed) throw misordered(m, choices.source ?? '', choices.dates ?? '', numberOf(m.record));
  }
  if (out.some((m) => m.holds === 'days')) out.push(...others.flatMap((c) => readDigits(c) ?? []));
  return out;
}

/** A column of this name may count seconds. */
const SECONDS = /^(t|s|secs?|seconds)$/i;

function misordered(m: Misordered, file: string, order: string, record: number): UserError {
  return new UserError(
    'dates-order',
    `The dates in the column "${m.name}" are not ${order.replace('-', ' ')}: record ${record} holds "${m.text}".`,
    { file, record },
    `Write "--dates ${order === 'day-first' ? 'month-first' : 'day-first'}", or leave "--dates" out.`,
  );
}

/** Candidates for the time: instants, clocks and counts alone, and dates with clocks. Dates in no known order are left out, and so are clocks beside several of them. */
function pairsAndAll(all: readonly Moments[]): Moments[] {
  const days = all.filter((m) => m.holds === 'days');
  const clocks = all.filter((m) => m.holds === 'clock');
  const pairs = days
    .filter((d) => d.open === null)
    .slice(0, MOST_PAIRED)
    .flatMap((d) => clocks.slice(0, MOST_PAIRED).map((c) => together(d, c)));
  const torn = days.some((d) => d.open !== null && changes(d.ms));
  const alone = all.filter((m) =>
    m.holds === 'counts' ? true : m.holds === 'clock' ? !torn && !m.paired : m.holds === 'instants' && m.open === null,
  );
  return [...pairs, ...alone];
}

function changes(v: Float64Array): boolean {
  const first = v.find((x) => !Number.isNaN(x));
  return v.some((x) => !Number.isNaN(x) && x !== first);
}

/** The columns that the user named must hold times, in a known order of day and month. */
function checkNamed(search: Search, wanted: readonly string[], all: readonly Moments[]): void {
  for (const name of wanted) {
    const c = search.columns.find((k) => k.name === name) as Column;
    const m = all.find((k) => k.names[0] === name);
    if (!m) throw unreadable(search, 'time', c, firstUnread(c), 'which is not a time');
    if (m.firstBad >= 0) throw unreadable(search, 'time', c, m.firstBad, 'which is not a time');
    if (m.open !== null && (m.holds === 'instants' || (m.holds === 'days' && changes(m.ms))))
      throw new UserError(
        'dates-open',
        `The dates in the column "${name}" can be read day first or month first, such as "${m.open}".`,
        { file: search.choices.source ?? '' },
        'Add "--dates day-first" or "--dates month-first".',
      );
    if (m.holds === 'days' && wanted.length === 1 && !all.some((k) => k.holds === 'clock'))
      throw unreadable(search, 'time', c, 0, 'a date without a time of day');
  }
}

/** First record with a text that is no time. */
function firstUnread(c: Column): number {
  if (c.kind === 'number') return c.values.findIndex((v) => !Number.isNaN(v));
  const one = (code: number): Column => ({
    name: c.name,
    kind: 'text',
    codes: Uint32Array.of(1),
    words: ['', c.words[code]],
  });
  const bad = c.words.map((w, code) => code > 0 && w !== '' && readMoments(one(code), null, true) === null);
  const i = c.codes.findIndex((code) => bad[code]);
  return Math.max(i, 0);
}

/** What the user named must rise along the passes. */
function checkFit(search: Search, m: Moments, fit: TimeFit): void {
  if (fit.steps === 0 || (fit.knownShare >= LEAST_NAMED && fit.changes > 0)) return;
  const c = search.columns.find((k) => k.name === m.names[m.names.length - 1]) as Column;
  throw fit.changes === 0
    ? unreadable(search, 'time', c, 0, 'and the value does not change along any pass')
    : unreadable(search, 'time', c, fit.firstBack, 'which runs back within a pass');
}

/** A time column that would be one if all records had a time. */
function noteIncomplete({ choices, out }: Search, m: Moments): void {
  const missing = m.ms.reduce((n, v) => n + (Number.isNaN(v) ? 1 : 0), 0);
  out.notes.push({
    code: 'time-incomplete',
    sentence: `The column "${m.names.join(' + ')}" was not used as the time: ${count(missing)} of ${count(m.ms.length)} records have no time in it.`,
    place: choices.source ? { file: choices.source } : {},
    todo: 'Export the map again with the time of every record, if the display kept it.',
  });
}

function noteOpen({ choices, out }: Search, m: Moments): void {
  const used = out.timeMs ? 'only the time of day is used' : 'they are not used';
  out.notes.push({
    code: 'dates-open',
    sentence: `The dates in the column "${m.names[0]}" can be read day first or month first, such as "${m.open}": ${used}.`,
    place: choices.source ? { file: choices.source } : {},
    todo: 'Say which with "--dates day-first" or "--dates month-first".',
  });
}
