/**
 * The role of each column, from how its values behave on the ground.
 *
 * Assumes lanes made from geometry alone. Guarantees that no role is given on a name alone, except rate and product (which the
 * geometry cannot show), and that every role comes with its evidence in words. A role that the user named is accepted
 * and reported as the user's; when its values cannot be read in that role, the check stops with the first such value.
 *
 * 1. `time`: rises (or falls) along lanes and is one value within a bar (`when.ts`; `moments.ts` and `time.ts` read texts and numbers,
 *    `spread.ts` orders records within one tick of the clock).
 * 2. `section`: one value along a lane, another in the lane beside it.
 * 3. `width`: the width across travel of the record, or of the whole bar, in some unit.
 * 4. `heading`: the direction of the lane.
 * 5. `machine`: few values that stay along lanes, and a name or turns in time (`machine.ts`).
 * 6. `rate`, `product`: by name.
 */
import type { Role } from '../../answer.ts';
import { POINT_ROLES } from '../../intake/point-types.ts';
import type { Column } from '../../intake/types.ts';
import { UserError } from '../../shared/messages.ts';
import type { Lanes } from '../types.ts';
import { headingFit, sectionFit, widthFit, widthsOf } from './fits.ts';
import { findMachine } from './machine.ts';
import { numbersOf } from './moments.ts';
import {
  asked,
  type ColumnChoices,
  type Columns,
  candidates,
  isNamed,
  NAMES,
  namesOf,
  ROLES,
  type Search,
  scaled,
  unreadable,
} from './roles.ts';
import { findTime } from './when.ts';

export type { ColumnChoices, Columns } from './roles.ts';
export type { DateOrder } from './time.ts';

/** Unit that a column's name ends in, such as "swath_ft"; null when it names none. */
function unitInName(name: string): string | null {
  const m = /(?:^|[^a-z])(ft|feet|in|inch|inches|cm|mm|m|meters|meters)$/i.exec(name);
  if (!m) return null;
  const u = m[1].toLowerCase();
  return u.startsWith('f') ? 'ft' : u.startsWith('in') ? 'in' : u.startsWith('me') ? 'm' : u;
}

/** Gives each role to the column that fits it best. `recordNumber`: the records' numbers in the file, for messages. */
export function findColumns(
  columns: readonly Column[],
  lanes: Lanes,
  choices: ColumnChoices = {},
  recordNumber: Uint32Array | null = null,
): Columns {
  checkNames(columns, choices);
  const out: Columns = {
    roles: {},
    timeMs: null,
    timeIsClock: false,
    tickMs: 0,
    timeHolds: null,
    oneDay: false,
    timeNames: [],
    dayMs: null,
    widthM: null,
    headingDeg: null,
    headingAt: 'along',
    section: null,
    machine: null,
    widthMisnamed: null,
    notes: [],
  };
  const search: Search = { columns, lanes, choices, numberOf: (i) => recordNumber?.[i] ?? i + 1, out };
  findTime(search);
  findSection(search);
  findWidth(search);
  findHeading(search);
  findMachine(search);
  findByName(search);
  return out;
}

function checkNames(columns: readonly Column[], { columns: named = {}, source = '' }: ColumnChoices): void {
  for (const [role, name] of Object.entries(named)) {
    // Used when polygons were laid from points.
    if (POINT_ROLES.includes(role)) continue;
    if (!ROLES.includes(role as Role))
      throw new UserError(
        'columns-role',
        `There is no column role "${role}".`,
        { file: source },
        `Use one of ${ROLES.join(', ')}.`,
      );
    if (!name) continue;
    for (const one of role === 'time' ? namesOf(columns, name) : [name])
      if (!columns.some((c) => c.name === one))
        throw new UserError(
          'columns-name',
          `The map has no column "${one}" to use as ${role}.`,
          { file: source },
          `Its columns are ${columns.map((c) => c.name).join(', ') || 'none'}.`,
        );
  }
}

const lengthOfColumn = (c: Column): number => (c.kind === 'number' ? c.values.length : c.codes.length);

/** First record whose value is there and fails `good`; -1 for none. A column without any value fails at its first record. */
function firstFailing(c: Column, good: (v: number) => boolean): number {
  const v = numbersOf(c);
  const n = lengthOfColumn(c);
  let known = 0;
  for (let i = 0; i < n; i++) {
    const missing = c.kind === 'number' ? Number.isNaN(c.values[i]) : c.codes[i] === 0;
    if (missing) continue;
    known++;
    const x = v ? v[i] : c.kind === 'text' ? Number(c.words[c.codes[i]]) : Number.NaN;
    if (!good(x)) return i;
  }
  return known === 0 && n > 0 ? 0 : -1;
}

function findSection(search: Search): void {
  const { lanes, out } = search;
  const own = isNamed(search, 'section');
  let best = 0;
  for (const c of candidates(search, 'section')) {
    // Widths of sections are constant along them too.
    if (!own && NAMES.width.test(c.name) && !NAMES.section.test(c.name)) continue;
    if (own) {
      const texts = c.kind === 'text' && !numbersOf(c) && c.words.length > 1;
      const bad = texts ? -1 : firstFailing(c, Number.isInteger);
      if (bad >= 0) throw unreadable(search, 'section', c, bad, 'which is not a section number');
    } else if (numbersOf(c) && firstFailing(c, Number.isInteger) >= 0) continue;
    const least = own ? 0 : 0.9;
    const fit = sectionFit(c, lanes, least);
    const score = fit.share + (NAMES.section.test(c.name) ? 0.2 : 0);
    if (fit.share < least) continue;
    if (score > best) {
      best = score;
      out.section = c;
      out.roles.section = { name: c.name, evidence: asked(search, 'section') + fit.says };
    }
  }
}

function findWidth(search: Search): void {
  const { lanes, out } = search;
  const own = isNamed(search, 'width');
  let best = 0;
  const widths = widthsOf(lanes);
  for (const c of candidates(search, 'width')) {
    const values = numbersOf(c);
    if (own) {
      const bad = values ? firstFailing(c, (v) => v >= 0) : firstFailing(c, () => false);
      if (bad >= 0) throw unreadable(search, 'width', c, bad, 'which is not a width');
    }
    if (!values) continue;
    const fit = widthFit(values, widths, NAMES.width.test(c.name) || own, unitInName(c.name));
    if (!fit && own && widths.record.length >= 10) {
      const i = widths.record[0];
      throw unreadable(
        search,
        'width',
        c,
        i,
        `and is ${widths.ofRecordM[0].toFixed(2)} m wide, which do not match in any unit`,
      );
    }
    if (!fit) continue;
    const score = fit.share + (NAMES.width.test(c.name) ? 0.5 : 0);
    if (score > best) {
      best = score;
      out.widthM = scaled(values, fit.metersPerUnit);
      const named = unitInName(c.name);
      out.widthMisnamed = named !== null && named !== fit.unit ? { name: c.name, named, holds: fit.unit } : null;
      out.roles.width = { name: c.name, evidence: asked(search, 'width') + fit.says, unit: fit.unit };
    }
  }
}

/** A heading follows the passes on this part of their way; that of a strip, which has one for all of its way, where it does not turn. One direction in eight does by chance. */
const HEADED = 0.9;
const HEADED_STRIPS = 0.7;
/** More quads than this to a record are cut from strips. */
const CUT_FROM_STRIPS = 3;

function findHeading(search: Search): void {
  const { lanes, out } = search;
  const own = isNamed(search, 'heading');
  const records = search.columns.reduce((n, c) => Math.max(n, lengthOfColumn(c)), 0);
  const strips = lanes.quads.count > CUT_FROM_STRIPS * records;
  const needed = own ? 0.5 : strips ? HEADED_STRIPS : HEADED;
  let best = 0;
  for (const c of candidates(search, 'heading')) {
    const values = numbersOf(c);
    if (own) {
      const bad = values ? firstFailing(c, (v) => v >= -180 && v <= 360) : firstFailing(c, () => false);
      if (bad >= 0) throw unreadable(search, 'heading', c, bad, 'which is not a direction in degrees');
    }
    if (!values) continue;
    const fit = headingFit(values, lanes, own ? 0 : needed, strips);
    if (own && fit.share < 0.5 && lanes.quads.count > 0)
      throw unreadable(search, 'heading', c, lanes.quads.record[0], 'which does not follow the passes');
    if (fit.share < needed) continue;
    if (fit.share > best) {
      best = fit.share;
      out.headingDeg = values;
      out.headingAt = fit.at;
      out.roles.heading = { name: c.name, evidence: asked(search, 'heading') + fit.says };
    }
  }
}

/** Rate and product, which the geometry cannot show. */
function findByName(search: Search): void {
  for (const role of ['rate', 'product'] as const) {
    const own = isNamed(search, role);
    const c = candidates(search, role).find(
      (k) => own || (NAMES[role].test(k.name) && (role === 'rate') === (k.kind === 'number')),
    );
    if (!c) continue;
    const bad = !own ? -1 : role === 'rate' ? firstFailing(c, (v) => v >= 0) : firstFailing(c, () => true);
    if (bad >= 0)
      throw unreadable(search, role, c, bad, role === 'rate' ? 'which is not a rate' : 'and no other record more');
    search.out.roles[role] = { name: c.name, evidence: own ? 'named by the user' : 'by its name only' };
  }
}
