import { parseArgs } from 'node:util';
import { DEFAULT_LIMITS, LIMIT_NAMES, type Limits, parseWhere, type Where } from '../core/intake/index.ts';
import { FOOT_M, INCH_M, pricePerHa } from '../core/planter/units.ts';
import { nearest, UserError } from '../core/shared/messages.ts';
import { DEFAULT_ACCURACY_M } from '../core/steps/job.ts';
import type { DateOrder } from '../core/track/columns/index.ts';

/** An option of a command: `value` names what follows it, in the help; without it the option is a switch. */
interface OptionSpec {
  value?: string;
  many?: boolean;
  says: string;
}
export type Spec = Readonly<Record<string, OptionSpec>>;

export interface Parsed {
  positionals: string[];
  /** Last value of each option that was given. */
  values: Record<string, string>;
  /** Every value of options that may be repeated. */
  lists: Record<string, string[]>;
  switches: Set<string>;
}

/** Arguments of a command. Throws `UserError` for an unknown option, naming the nearest right one, and for a missing or extra argument. */
export function parseOptions(args: readonly string[], spec: Spec, names: readonly string[], command: string): Parsed {
  const options = Object.fromEntries(
    Object.entries({ ...spec, help: { says: '' } as OptionSpec }).map(([k, s]) => [
      k,
      s.value ? { type: 'string' as const, multiple: true } : { type: 'boolean' as const },
    ]),
  );
  const { tokens, positionals } = parseArgs({
    args: [...args],
    options,
    strict: false,
    tokens: true,
    allowPositionals: true,
  });
  const out: Parsed = { positionals, values: {}, lists: {}, switches: new Set() };
  for (const t of tokens) {
    if (t.kind !== 'option') continue;
    if (t.rawName === '-h') {
      out.switches.add('help');
      continue;
    }
    if (!Object.hasOwn(options, t.name)) {
      const near = nearest(t.name, Object.keys(options));
      throw new UserError(
        'unknown-option',
        `"guessrow ${command}" has no option "${t.rawName}".`,
        {},
        near ? `Did you mean "--${near}"?` : `See "guessrow ${command} --help".`,
      );
    }
    const { value, many } = spec[t.name] ?? {};
    if (value === undefined) {
      if (t.value !== undefined)
        throw new UserError(
          'option-value',
          `The option "--${t.name}" takes no value.`,
          {},
          `Write "--${t.name}" alone.`,
        );
      out.switches.add(t.name);
      continue;
    }
    if (t.value === undefined || t.value === '' || (!t.inlineValue && t.value.startsWith('--')))
      throw new UserError(
        'option-value',
        `The option "--${t.name}" needs a value.`,
        {},
        `Write "--${t.name} ${value}".`,
      );
    if (t.name in out.values && !many)
      throw new UserError('option-twice', `The option "--${t.name}" is given twice.`, {}, 'Give it once.');
    out.values[t.name] = t.value;
    out.lists[t.name] = [...(out.lists[t.name] ?? []), t.value];
  }
  if (out.switches.has('help')) return out;
  // A name in brackets may be left out; the last one may be given again and again when it ends in dots.
  const needed = names.filter((n) => !n.startsWith('['));
  if (positionals.length < needed.length)
    throw new UserError(
      'missing-argument',
      `"guessrow ${command}" needs ${needed
        .slice(positionals.length)
        .map((n) => n.replace(/\.+$/, ''))
        .join(' and ')}.`,
      {},
      `See "guessrow ${command} --help".`,
    );
  if (positionals.length > names.length && !names.at(-1)?.endsWith('...'))
    throw new UserError(
      'extra-argument',
      `"guessrow ${command}" does not know what to do with "${positionals[names.length]}".`,
      {},
      'Quote names that contain spaces.',
    );
  return out;
}

/** One of `allowed`, or `UserError` with the nearest. */
export function oneOf<T extends string>(value: string, allowed: readonly T[], option: string): T {
  const found = allowed.find((a) => a === value);
  if (found !== undefined) return found;
  const near = nearest(value, allowed);
  throw new UserError(
    'option-value',
    `"${value}" is not a value of "--${option}".`,
    {},
    near ? `Did you mean "${near}"?` : `It may be ${allowed.join(', ')}.`,
  );
}

/** The format: from `--format`, else from the ending of `--out`, else the first. */
export function formatOption<T extends string>(
  args: Parsed,
  formats: readonly [T, ...T[]],
  ends: Readonly<Record<T, string>>,
): T {
  const { format, out } = args.values;
  if (format !== undefined) return oneOf(format, formats, 'format');
  const end = out === undefined ? '' : (/\.[A-Za-z0-9]+$/.exec(out)?.[0].toLowerCase() ?? '');
  return formats.find((f) => ends[f] === end) ?? formats[0];
}

const LENGTHS: Readonly<Record<string, number>> = { mm: 0.001, cm: 0.01, m: 1, in: INCH_M, ft: FOOT_M };

/** "2.5cm", "1 in" as meters. */
export function lengthOption(text: string, option: string): number {
  const m = /^\s*(\d+(?:\.\d+)?|\.\d+)\s*(mm|cm|m|in|ft)\s*$/.exec(text);
  const meters = m ? Number(m[1]) * LENGTHS[m[2]] : Number.NaN;
  if (!(meters > 0 && meters <= 2))
    throw new UserError(
      'option-value',
      `"${text}" is not a length for "--${option}".`,
      {},
      'Write a number and its unit, such as 2.5cm or 1in, up to 2 m.',
    );
  return meters;
}

/** "95/ac", "230 / ha" as a price per hectare. */
export function pricePerHaOption(text: string, option: string): number {
  const perHa = pricePerHa(text);
  if (perHa === null)
    throw new UserError(
      'option-value',
      `"${text}" is not a price for "--${option}".`,
      {},
      'Write what the seed for an acre or a hectare costs, such as 95/ac or 230/ha, without a sign for the money.',
    );
  return perHa;
}

/** A whole number from `least` to `most`. */
export function numberOption(text: string, option: string, least: number, most: number): number {
  const n = /^\d{1,9}$/.test(text) ? Number(text) : Number.NaN;
  if (!(n >= least && n <= most))
    throw new UserError(
      'option-value',
      `"${text}" is not a number for "--${option}".`,
      {},
      `Write a whole number from ${least} to ${most}.`,
    );
  return n;
}

/** The last three apply to a log of points: the distance of an interval, the first section that was on, and how many were. */
const ROLES = [
  'section',
  'time',
  'width',
  'heading',
  'rate',
  'product',
  'machine',
  'distance',
  'first',
  'count',
] as const;

/** `role=name` pairs, also several in one value separated by commas. Names may hold commas and equal signs of their own. */
export function columnOptions(values: readonly string[]): Record<string, string> {
  const out: Record<string, string> = {};
  for (const part of values.flatMap((v) => v.split(/,(?=[a-z]+=)/))) {
    const at = part.indexOf('=');
    if (at < 1 || at === part.length - 1)
      throw new UserError(
        'option-value',
        `"${part}" is not a column for "--columns".`,
        {},
        'Write a role and the name of its column, such as time=Time.',
      );
    out[oneOf(part.slice(0, at), ROLES, 'columns')] = part.slice(at + 1);
  }
  return out;
}

export const PLANTER_OPTION: OptionSpec = {
  value: 'FILE',
  many: true,
  says: 'the planter file (*.planter.json); required. Where several planters worked the field give each, as FILE or MACHINE=FILE',
};

export const WHERE_OPTION: OptionSpec = {
  value: 'COLUMN=VALUE',
  many: true,
  says: 'use only the records that hold this value, such as those of one field or machine; a column given twice may hold either value; if column names contain equals signs, the longest match is used',
};

/** Pass-to-pass accuracy, of every command that checks. */
export const ACCURACY_OPTION: OptionSpec = {
  value: 'LENGTH',
  says: `pass-to-pass accuracy of the positioning; ${100 * DEFAULT_ACCURACY_M}cm when left out`,
};
/** Column names by role. */
export const COLUMNS_OPTION: OptionSpec = {
  value: 'ROLE=NAME',
  many: true,
  says: 'name a column: section, time, width, heading, rate, product or machine',
};
export const DATES_OPTION: OptionSpec = {
  value: 'ORDER',
  says: 'day-first or month-first: how to read dates such as 04/05/2026, which are not used without it',
};

/** `--where` and `--dates` as the check takes them. */
export function recordOptions(args: Parsed): { where?: Where[]; dates?: DateOrder } {
  const { dates } = args.values;
  return {
    ...(args.lists.where === undefined ? {} : { where: args.lists.where.map((w) => parseWhere(w, 'for "--where"')) }),
    ...(dates === undefined ? {} : { dates: oneOf(dates, ['day-first', 'month-first'], 'dates') }),
  };
}

const SIZES: Readonly<Record<string, number>> = { kB: 1024, MB: 1024 ** 2, GB: 1024 ** 3 };

export const LIMIT_OPTION: OptionSpec = {
  value: 'NAME=VALUE',
  many: true,
  says: `raise or lower a read limit: ${Object.values(LIMIT_NAMES).join(', ')}; sizes as 8GB`,
};

export const CRS_OPTION: OptionSpec = {
  value: 'EPSG:NUMBER',
  says: 'the coordinate system of a map that does not name its own, such as EPSG:32615',
};

/** `name=value` pairs such as `records=20000000` or `file-size=12GB`. */
export function limitOptions(values: readonly string[]): Partial<Limits> {
  const keys = Object.keys(LIMIT_NAMES) as (keyof Limits)[];
  const out: Partial<Limits> = {};
  for (const text of values) {
    const at = text.indexOf('=');
    const name = oneOf(at < 0 ? text : text.slice(0, at), Object.values(LIMIT_NAMES), 'limit');
    const key = keys.find((k) => LIMIT_NAMES[k] === name) as keyof Limits;
    const isSize = key.endsWith('Bytes');
    const m = /^\s*(\d{1,12})\s*(kB|MB|GB)?\s*$/.exec(at < 0 ? '' : text.slice(at + 1));
    const value = m && (m[2] === undefined) !== isSize ? Number(m[1]) * (SIZES[m[2]] ?? 1) : 0;
    if (!(value >= 1 && value <= Number.MAX_SAFE_INTEGER))
      throw new UserError(
        'option-value',
        `"${text}" is not a limit for "--limit".`,
        {},
        isSize
          ? `Write a size, such as ${name}=${DEFAULT_LIMITS[key] / 1024 ** 3 >= 1 ? '16GB' : '900MB'}.`
          : `Write a whole number, such as ${name}=${2 * DEFAULT_LIMITS[key]}.`,
      );
    out[key] = value;
  }
  return out;
}

/** `seconds=N` among limits, which bounds the time of a field in an audit, and the limits that are left. */
export function secondsOption(values: readonly string[], most: number): { seconds: number | null; others: string[] } {
  const mine = values.filter((v) => /^\s*seconds\s*(=|$)/.test(v));
  if (mine.length > 1) throw new UserError('option-twice', 'The limit "seconds" is given twice.', {}, 'Give it once.');
  const [text] = mine;
  const seconds =
    text === undefined ? null : numberOption(text.replace(/^\s*seconds\s*=?/, '').trim(), 'limit seconds', 1, most);
  return { seconds, others: values.filter((v) => !mine.includes(v)) };
}

/** Options as help lines. */
export function optionHelp(spec: Spec): string {
  const rows = Object.entries(spec).map(([k, s]) => [`  --${k}${s.value ? ` ${s.value}` : ''}`, s.says]);
  const width = Math.max(...rows.map(([left]) => left.length));
  return rows.map(([left, right]) => `${left.padEnd(width)}  ${right}`).join('\n');
}
