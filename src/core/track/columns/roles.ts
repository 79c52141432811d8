import type { ColumnRole, Role } from '../../answer.ts';
import type { Column } from '../../intake/types.ts';
import { type Note, UserError } from '../../shared/messages.ts';
import type { Lanes } from '../types.ts';
import type { HeadingAt } from './fits.ts';
import type { DateOrder } from './time.ts';

export interface Columns {
  roles: Partial<Record<Role, ColumnRole>>;
  /** Rising time of every record, ms (since 1970 UTC when the column holds dates), or null. */
  timeMs: Float64Array | null;
  /** True when `timeMs` can be shown as a date and clock time. */
  timeIsClock: boolean;
  /** Smallest step of the clock as it is written, milliseconds: a minute where there are no seconds; 0 without times. */
  tickMs: number;
  /** What the time column holds: dates with clocks, a clock alone (which comes round every day), or a count. Null without one. */
  timeHolds: 'instants' | 'clock' | 'counts' | null;
  /** Every record bears the same date, so that a clock alone orders them. */
  oneDay: boolean;
  /** Columns that the time was read from: one, or a date and a clock. */
  timeNames: string[];
  /** Midnight of the date of every record, ms since 1970, where a column holds dates and no column the time with them; or null. */
  dayMs: Float64Array | null;
  /** Values of the width column in meters as the column says, or null. */
  widthM: Float64Array | null;
  /** Compass heading of every record, degrees, or null. */
  headingDeg: Float64Array | null;
  /** Where on a lane it was taken. */
  headingAt: HeadingAt;
  section: Column | null;
  /** The machine of every record, or null. */
  machine: MachineOf | null;
  /** The width column is named in one unit and holds another. */
  widthMisnamed: { name: string; named: string; holds: string } | null;
  notes: Note[];
}

type Overrides = Partial<Record<string, string>>;

export const NAMES: Record<Role, RegExp> = {
  time: /time|date|clock|stamp|utc|logged|when/i,
  section: /sect|^sec$|boom|row|unit/i,
  width: /width|swath|wid/i,
  heading: /head|course|track|bearing|dir/i,
  rate: /rate|popul|seeds|target|applied/i,
  product: /product|variet|hybrid|seed|crop/i,
  // A whole name: "planter_speed" and "vehicle_load" are measurements, not names of machines.
  machine: /^(machine|tractor|vehicle|equipment|implement|planter|rig|display)([ _-]?(id|name|no|nr|number|serial))?$/i,
};
export const ROLES = Object.keys(NAMES) as Role[];

export interface ColumnChoices {
  /** Column name per role, or '' for none. A time may be two names joined by "+". */
  columns?: Overrides;
  /** Order of day and month where the dates themselves leave it open. */
  dates?: DateOrder;
  /** The file, for messages. */
  source?: string;
}

/** What finding one role has to work with. */
export interface Search {
  columns: readonly Column[];
  lanes: Lanes;
  choices: ColumnChoices;
  /** Number of the record in the file, from the place in the columns. */
  numberOf: (i: number) => number;
  out: Columns;
}

/** "Date+Clock" as two names, where no column is called so. */
export function namesOf(columns: readonly Column[], name: string): string[] {
  if (columns.some((c) => c.name === name)) return [name];
  const at = name.indexOf('+');
  return at > 0 && at < name.length - 1 ? [name.slice(0, at).trim(), name.slice(at + 1).trim()] : [name];
}

/** Candidates for a role: the column that the user named, or all that have no role yet. */
export function candidates({ columns, choices, out }: Search, role: Role): readonly Column[] {
  const named = choices.columns?.[role];
  if (named === '') return [];
  if (named !== undefined) return columns.filter((c) => c.name === named);
  const taken = new Set([...out.timeNames, ...Object.values(out.roles).map((r) => r.name)]);
  return columns.filter((c) => !taken.has(c.name));
}

export const isNamed = ({ choices }: Search, role: Role): boolean => !!choices.columns?.[role];
export const asked = (search: Search, role: Role): string => (isNamed(search, role) ? 'named by the user; ' : '');

/** The user's column cannot have the role that it was named for. `i`: the first record that shows it. */
export function unreadable(search: Search, role: string, c: Column, i: number, why: string): UserError {
  const text = i < 0 ? '' : c.kind === 'number' ? String(c.values[i]) : c.words[c.codes[i]];
  const holds = i < 0 ? '' : text === '' || text === 'NaN' ? ' holds nothing' : ` holds "${text.slice(0, 40)}"`;
  return new UserError(
    'columns-unreadable',
    `The column "${c.name}" cannot be read as the ${role}: ${holds ? `record ${search.numberOf(i)}${holds}, ` : ''}${why}.`,
    { file: search.choices.source ?? '', ...(i < 0 ? {} : { record: search.numberOf(i) }) },
    `Name another column with "--columns ${role}=NAME", or leave the role out.`,
  );
}

export function scaled(values: Float64Array, factor: number): Float64Array {
  const out = new Float64Array(values.length);
  for (let i = 0; i < out.length; i++) out[i] = values[i] * factor;
  return out;
}

/** Which machine laid down each record. */
export interface MachineOf {
  /** Names as the column has them, in order. */
  names: string[];
  /** Index into `names` per record; -1 where the column has none. */
  of: Int32Array;
}
