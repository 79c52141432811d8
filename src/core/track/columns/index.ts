/**
 * Which column means what, from what its values do on the ground.
 *
 * Assumes lanes made from geometry alone. Guarantees that no role is given on a name alone, except rate and product (which the
 * geometry cannot show), and that every role comes with its evidence in words. A role that the user named is taken as given
 * and reported so.
 *
 * 1. `time`: rises (or falls) along lanes and is one value within a bar.
 * 2. `section`: one value along a lane, another in the lane beside it.
 * 3. `width`: the width across travel of the record, or of the whole bar, in some unit.
 * 4. `heading`: the direction of the lane.
 * 5. `rate`, `product`: by name.
 */
import type { ColumnRole, Role } from '../../answer.ts';
import type { Column } from '../../intake/types.ts';
import type { Note } from '../../messages.ts';
import { UserError } from '../../messages.ts';
import type { Lanes } from '../types.ts';
import { count, judgeHeading, judgeSection, judgeTime, judgeWidth, widthsOf } from './judge.ts';
import { parseTimeMs } from './time.ts';

export interface Columns {
  roles: Partial<Record<Role, ColumnRole>>;
  /** Rising time of every record, ms (since 1970 UTC when the column holds dates), or null. */
  timeMs: Float64Array | null;
  /** True when `timeMs` can be shown as a date and clock time. */
  timeIsClock: boolean;
  /** Values of the width column in metres as the column says, or null. */
  widthM: Float64Array | null;
  /** Compass heading of every record, degrees, or null. */
  headingDeg: Float64Array | null;
  section: Column | null;
  /** The width column is named in one unit and holds another. */
  widthMisnamed: { name: string; named: string; holds: string } | null;
  notes: Note[];
}

/** True when a column that is named like a section holds one value throughout. */
export function oneSectionNamed(columns: readonly Column[]): boolean {
  return columns.some((c) => {
    if (!/sect|^sec$/i.test(c.name)) return false;
    const v: ArrayLike<number> = c.kind === 'number' ? c.values : c.codes;
    for (let i = 1; i < v.length; i++) if (v[i] !== v[0]) return false;
    // A 0 throughout is how a whole bar is marked, not a section.
    return v.length > 0 && (c.kind === 'text' || v[0] !== 0);
  });
}

/** Unit that a column's name ends in, such as "swath_ft"; null when it names none. */
function unitInName(name: string): string | null {
  const m = /(?:^|[^a-z])(ft|feet|in|inch|inches|cm|mm|m|metres|meters)$/i.exec(name);
  if (!m) return null;
  const u = m[1].toLowerCase();
  return u.startsWith('f') ? 'ft' : u.startsWith('in') ? 'in' : u.startsWith('me') ? 'm' : u;
}

export type Overrides = Partial<Record<string, string>>;

const NAMES: Record<Role, RegExp> = {
  time: /time|date|clock|stamp|utc|logged|when/i,
  section: /sect|^sec$|boom|row|unit/i,
  width: /width|swath|wid/i,
  heading: /head|course|track|bearing|dir/i,
  rate: /rate|popul|seeds|target|applied/i,
  product: /product|variet|hybrid|seed|crop/i,
};
const ROLES = Object.keys(NAMES) as Role[];

/** Gives each role to the column that fits it best. `overrides` maps a role to a column name, or to '' for none. */
export function findColumns(columns: Column[], lanes: Lanes, overrides: Overrides = {}, source = ''): Columns {
  for (const [role, name] of Object.entries(overrides)) {
    if (!ROLES.includes(role as Role))
      throw new UserError(
        'columns-role',
        `There is no column role "${role}".`,
        { file: source },
        `Use one of ${ROLES.join(', ')}.`,
      );
    if (name && !columns.some((c) => c.name === name))
      throw new UserError(
        'columns-name',
        `The map has no column "${name}" to use as ${role}.`,
        { file: source },
        `Its columns are ${columns.map((c) => c.name).join(', ') || 'none'}.`,
      );
  }
  const out: Columns = {
    roles: {},
    timeMs: null,
    timeIsClock: false,
    widthM: null,
    headingDeg: null,
    section: null,
    widthMisnamed: null,
    notes: [],
  };
  const choices = (role: Role): Column[] => {
    const named = overrides[role];
    if (named === '') return [];
    if (named !== undefined) return columns.filter((c) => c.name === named);
    return columns;
  };
  const asked = (role: Role): string => (overrides[role] ? 'named by the user; ' : '');

  let bestTime = 0;
  let incomplete: { name: string; ms: Float64Array } | null = null;
  for (const c of choices('time')) {
    const parsed = timesOf(c);
    if (!parsed) continue;
    if (!parsed.clock && !NAMES.time.test(c.name) && !overrides.time) continue;
    const fit = judgeTime(parsed.ms, lanes);
    const score = fit.share + (NAMES.time.test(c.name) ? 0.3 : 0) + (parsed.clock ? 0.2 : 0);
    if ((fit.share < 0.9 || fit.scaleMs === 0) && !overrides.time) {
      if (fit.share < 0.9 && fit.knownShare >= 0.9 && fit.scaleMs > 0) incomplete ??= { name: c.name, ms: parsed.ms };
      continue;
    }
    if (score > bestTime) {
      bestTime = score;
      out.timeMs = parsed.clock ? parsed.ms : scaled(parsed.ms, fit.scaleMs || 1);
      out.timeIsClock = parsed.clock;
      out.roles.time = { name: c.name, evidence: asked('time') + fit.says };
    }
  }
  if (incomplete && !out.timeMs) out.notes.push(withoutTimes(incomplete.name, incomplete.ms, source));
  const taken = (): string[] => Object.values(out.roles).map((r) => r.name);
  let bestSection = 0;
  for (const c of choices('section')) {
    if (taken().includes(c.name)) continue;
    const least = overrides.section ? 0 : 0.9;
    const fit = judgeSection(c, lanes, least);
    const score = fit.share + (NAMES.section.test(c.name) ? 0.2 : 0);
    if (fit.share < least) continue;
    if (score > bestSection) {
      bestSection = score;
      out.section = c;
      out.roles.section = { name: c.name, evidence: asked('section') + fit.says };
    }
  }
  let bestWidth = 0;
  const widths = widthsOf(lanes);
  for (const c of choices('width')) {
    if (c.kind !== 'number' || taken().includes(c.name)) continue;
    const fit = judgeWidth(c.values, widths, NAMES.width.test(c.name) || overrides.width !== undefined);
    if (!fit) continue;
    const score = fit.share + (NAMES.width.test(c.name) ? 0.5 : 0);
    if (score > bestWidth) {
      bestWidth = score;
      out.widthM = scaled(c.values, fit.metresPerUnit);
      const named = unitInName(c.name);
      out.widthMisnamed = named !== null && named !== fit.unit ? { name: c.name, named, holds: fit.unit } : null;
      out.roles.width = { name: c.name, evidence: asked('width') + fit.says, unit: fit.unit };
    }
  }
  let bestHeading = 0;
  for (const c of choices('heading')) {
    if (c.kind !== 'number' || taken().includes(c.name)) continue;
    const least = overrides.heading ? 0 : 0.9;
    const fit = judgeHeading(c.values, lanes, least);
    if (fit.share < least) continue;
    if (fit.share > bestHeading) {
      bestHeading = fit.share;
      out.headingDeg = c.values;
      out.roles.heading = { name: c.name, evidence: asked('heading') + fit.says };
    }
  }
  for (const role of ['rate', 'product'] as const) {
    const c = choices(role).find(
      (k) =>
        !taken().includes(k.name) &&
        (overrides[role] || (NAMES[role].test(k.name) && (role === 'rate') === (k.kind === 'number'))),
    );
    if (c) out.roles[role] = { name: c.name, evidence: overrides[role] ? 'named by the user' : 'by its name only' };
  }
  return out;
}

/** A time column that would be one if all records had a time. */
function withoutTimes(name: string, ms: Float64Array, source: string): Note {
  const missing = ms.reduce((n, v) => n + (Number.isNaN(v) ? 1 : 0), 0);
  return {
    code: 'time-incomplete',
    sentence: `The column "${name}" was not used as the time: ${count(missing)} of ${count(ms.length)} records have no time in it.`,
    place: source ? { file: source } : {},
    todo: 'Export the map again with the time of every record, if the display kept it.',
  };
}

function timesOf(c: Column): { ms: Float64Array; clock: boolean } | null {
  if (c.kind === 'number') {
    const v = c.values;
    const first = v.find((x) => !Number.isNaN(x)) ?? Number.NaN;
    // Counts since 1970 in milliseconds or seconds, for the years 1990 to 2100.
    if (first > 631e9 && first < 4.1e12) return { ms: v, clock: true };
    if (first > 631e6 && first < 4.1e9) return { ms: scaled(v, 1000), clock: true };
    return { ms: v, clock: false };
  }
  const parsed = c.words.map(parseTimeMs);
  const good = parsed.reduce((a, v) => a + (Number.isNaN(v) ? 0 : 1), 0);
  if (good < 0.9 * Math.max(1, c.words.length - 1)) return null;
  const ms = new Float64Array(c.codes.length);
  for (let i = 0; i < ms.length; i++) ms[i] = parsed[c.codes[i]];
  return { ms, clock: true };
}

function scaled(values: Float64Array, factor: number): Float64Array {
  const out = new Float64Array(values.length);
  for (let i = 0; i < out.length; i++) out[i] = values[i] * factor;
  return out;
}
