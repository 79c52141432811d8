import { nearest, UserError, upperFirst } from '../shared/messages.ts';
import { brief, coverFault, parsePlanting, parseRun } from './rows.ts';
import type { Planter, PlanterFile, Planting, RowRun, Unit } from './types.ts';
import { fromMeters, grouped, toMeters } from './units.ts';

const KEYS = ['name', 'unit', 'rows', 'rowSpacing', 'plantings', 'sections', 'drives', 'offset', 'passSpacing'];
const NEEDED = ['name', 'unit', 'rows', 'rowSpacing', 'plantings'];
const UNITS: readonly Unit[] = ['in', 'cm', 'm'];
const MAX_ROWS = 500;
const MAX_NAME = 120;
/** Each planting is tried on the map when the user names none. */
const MAX_PLANTINGS = 50;
/** Objects and lists inside each other; a planter file has two. */
const MAX_DEPTH = 8;
/** Further than any part of a planter lies from another, and than any two passes lie apart, meters. */
const MAX_OFFSET_M = 50;
const MAX_PASS_SPACING_M = 500;
/** Row spacings that a planter or drill can have. A number outside means that the unit is another one. */
const SPACING: Readonly<Record<Unit, readonly [number, number]>> = { in: [2, 120], cm: [5, 300], m: [0.05, 3] };

/**
 * The planter declared in the text of a `*.planter.json`, in meters. `file` is its name, for messages.
 *
 * Throws `UserError` when the text is not JSON, a key is missing, unknown or of the wrong kind, a row lies outside the frame,
 * or the sections (or drives) do not cover every row once, in order. The other layout rules are left to `ruleBreaks`.
 */
export function readPlanter(text: string, file: string): Planter {
  const fail = (key: string, sentence: string, todo: string): never => {
    throw new UserError('planter-file', sentence, key ? { file, key: brief(key) } : { file }, todo);
  };
  const root = parseJson(text, file);
  const twice = keyTwice(text);
  if (twice !== null) fail(twice, `The key "${brief(twice)}" appears twice in one place.`, 'Keep one of the two.');
  if (!isObject(root))
    return fail('', 'The planter file is not a JSON object.', 'It starts with { and holds keys such as "rows".');
  refuseUnknown(root, KEYS, '', fail);
  for (const key of NEEDED)
    if (!Object.hasOwn(root, key))
      fail(key, `The key "${key}" is missing.`, 'Add it; see the planter files among the samples.');

  const name = nameOf(root.name, 'name', fail);
  const unit = UNITS.includes(root.unit as Unit)
    ? (root.unit as Unit)
    : fail(
        'unit',
        `${show(root.unit)} is not a unit of this file.`,
        'Write "in", "cm" or "m"; it governs every length in the file.',
      );
  const rows = root.rows as number;
  if (typeof rows !== 'number' || !Number.isInteger(rows) || rows < 1 || rows > MAX_ROWS)
    fail(
      'rows',
      `${show(root.rows)} is not a number of row units.`,
      `Write a whole number from 1 to ${MAX_ROWS}, counting every row unit on the frame, idle or not.`,
    );
  const spacing = root.rowSpacing as number;
  const [least, most] = SPACING[unit];
  if (!isNumber(spacing) || spacing < least || spacing > most)
    fail(
      'rowSpacing',
      `A row spacing of ${show(root.rowSpacing)} ${unit} fits no planter.`,
      `Write a number from ${least} to ${most}, or correct "unit".`,
    );

  const plantings = readPlantings(root.plantings, rows, fail);
  const spacings = readPassSpacing(root.passSpacing, plantings, unit, fail);
  for (const p of plantings) {
    // A planting may be called "constructor", which every object answers to.
    p.passSpacingM = Object.hasOwn(spacings, p.name) ? toMeters(spacings[p.name], unit) : null;
  }
  const whole: RowRun[] = [{ first: 1, last: rows }];
  const sections = root.sections === undefined ? null : readRuns(root.sections, 'section', rows, fail);
  const drives = root.drives === undefined ? null : readRuns(root.drives, 'drive', rows, fail);
  const offset = readOffset(root.offset, unit, fail);

  return {
    name,
    unit,
    rows,
    rowSpacingM: toMeters(spacing, unit),
    plantings,
    sections: sections ?? whole,
    sectionsDeclared: sections !== null,
    drives: drives ?? whole,
    offsetRightM: toMeters(offset.right, unit),
    offsetBackM: toMeters(offset.back, unit),
    file: root as unknown as PlanterFile,
  };
}

type Fail = (key: string, sentence: string, todo: string) => never;
type Obj = Record<string, unknown>;

function parseJson(text: string, file: string): unknown {
  const clean = text.replace(/^\uFEFF/, '');
  const broken = (sentence: string, todo: string): UserError => new UserError('planter-file', sentence, { file }, todo);
  // UTF-16 read as UTF-8: every other byte is zero.
  if (/^.{0,3}\0/s.test(clean))
    throw broken('The planter file is not UTF-8 text.', 'Save it as UTF-8 text, as every editor can.');
  if (isDeep(clean))
    throw broken(
      `The planter file holds more than ${MAX_DEPTH} levels of lists in lists.`,
      'Choose a planter file, such as one of the samples.',
    );
  if (clean.trim() === '')
    throw new UserError(
      'planter-file',
      'The planter file is empty.',
      { file },
      'Choose a planter file, such as one of the samples.',
    );
  try {
    return JSON.parse(clean);
  } catch (e) {
    const at = /position (\d+)/.exec((e as Error).message);
    const before = clean.slice(0, at ? Number(at[1]) : 0).split('\n');
    const place = at ? ` near line ${before.length}, column ${before[before.length - 1].length + 1}` : '';
    throw new UserError(
      'planter-file',
      `The planter file is not JSON: it cannot be read${place}.`,
      { file },
      'Look there for a missing quote, comma or bracket, or one comma too many.',
    );
  }
}

/** True when brackets outside of texts go deeper than any planter file; what comes after would run out of stack on them. */
function isDeep(text: string): boolean {
  let depth = 0;
  for (const m of text.matchAll(/"(?:[^"\\]|\\.)*"|[{[]|[\]}]/gs)) {
    if (m[0] === '{' || m[0] === '[') depth++;
    else if (m[0] === '}' || m[0] === ']') depth--;
    if (depth > MAX_DEPTH) return true;
  }
  return false;
}

/** A key that one object of a sound JSON text holds twice, or null. The parser itself would keep the last one and say nothing. */
function keyTwice(text: string): string | null {
  const open: Set<string>[] = [];
  for (const m of text.matchAll(/"(?:[^"\\]|\\.)*"(\s*:)?|[{}]/g)) {
    if (m[0] === '{') open.push(new Set());
    else if (m[0] === '}') open.pop();
    else if (m[1] !== undefined) {
      const key: string = JSON.parse(m[0].slice(0, m[0].length - m[1].length));
      const keys = open[open.length - 1];
      if (keys.has(key)) return key;
      keys.add(key);
    }
  }
  return null;
}

function refuseUnknown(o: Obj, keys: readonly string[], inside: string, fail: Fail): void {
  for (const key of Object.keys(o)) {
    if (keys.includes(key)) continue;
    const near =
      nearest(
        key,
        keys.filter((k) => !Object.hasOwn(o, k)),
      ) ?? nearest(key, keys);
    fail(
      `${inside}${key}`,
      `The planter file has no key "${inside}${brief(key)}".`,
      near ? `Did you mean "${inside}${near}"?` : `It may have: ${keys.join(', ')}.`,
    );
  }
}

function nameOf(v: unknown, key: string, fail: Fail): string {
  // The page shows the same sentence under a field, where quotes would be wrong.
  if (typeof v === 'string' && v.trim() === '')
    return fail(key, 'The name is empty.', 'Write one of at least one letter or digit.');
  if (typeof v !== 'string') return fail(key, `${show(v)} is not a name.`, 'Write some text in quotes.');
  if ([...v].length > MAX_NAME) return fail(key, 'The name is too long.', `Use at most ${MAX_NAME} characters.`);
  return v;
}

function readPlantings(v: unknown, rows: number, fail: Fail): Planting[] {
  const like = 'Write for instance { "narrow": "all", "wide": "odd" }.';
  if (!isObject(v) || Object.keys(v).length === 0)
    return fail('plantings', 'The plantings are not a list of names with their rows.', like);
  if (Object.keys(v).length > MAX_PLANTINGS)
    return fail('plantings', `There are more than ${MAX_PLANTINGS} plantings.`, 'Keep those that this planter plants.');
  return Object.entries(v).map(([name, list]) => {
    const key = `plantings.${name}`;
    nameOf(name, key, fail);
    if (typeof list !== 'string') return fail(key, `${show(list)} does not say which rows run.`, like);
    const got = parsePlanting(list, rows);
    if (typeof got === 'string') {
      const near = nearest(list.trim(), ['all', 'odd', 'even']);
      return fail(
        key,
        `In planting "${brief(name)}", ${got}.`,
        near && !/\d/.test(list) ? `Did you mean "${near}"?` : 'Correct the rows that run.',
      );
    }
    return { name, rows: got, passSpacingM: null };
  });
}

function readPassSpacing(v: unknown, plantings: readonly Planting[], unit: Unit, fail: Fail): Record<string, number> {
  if (v === undefined) return {};
  if (!isObject(v))
    return fail(
      'passSpacing',
      'The pass spacings are not given per planting.',
      'Write for instance { "narrow": 225, "wide": 240 }.',
    );
  const names = plantings.map((p) => p.name);
  for (const [name, d] of Object.entries(v)) {
    if (!names.includes(name)) {
      const near = nearest(name, names);
      fail(
        `passSpacing.${name}`,
        `A pass spacing is given for "${brief(name)}", which is not a planting of this file.`,
        near ? `Did you mean "${near}"?` : `The plantings are ${brief(names.join(', '), 300)}.`,
      );
    }
    if (!isNumber(d) || d <= 0 || toMeters(d, unit) > MAX_PASS_SPACING_M)
      fail(
        `passSpacing.${name}`,
        `${show(d)} is not a pass spacing.`,
        `Write the distance from pass to pass, above 0 and at most ${most(MAX_PASS_SPACING_M, unit)}.`,
      );
  }
  return v as Record<string, number>;
}

function readRuns(v: unknown, word: 'section' | 'drive', rows: number, fail: Fail): RowRun[] {
  const key = `${word}s`;
  if (!Array.isArray(v) || v.length === 0)
    return fail(
      key,
      `The ${key} are not a list of row runs.`,
      `Write for instance ["1-2", "3-4"], or leave "${key}" out.`,
    );
  const runs = v.map((text: unknown, i): RowRun => {
    if (typeof text !== 'string')
      return fail(
        `${key}[${i + 1}]`,
        `${show(text)} is not a run of rows.`,
        'Write a run of rows as text: "1-2", or "7" for one row.',
      );
    const run = parseRun(text, rows);
    return typeof run === 'string'
      ? fail(`${key}[${i + 1}]`, `In ${word} ${i + 1}, ${run}.`, 'Correct its rows.')
      : run;
  });
  const fault = coverFault(runs, rows, word);
  return fault
    ? fail(key, `${upperFirst(fault)}.`, `Let the ${key} hold every row from 1 to ${rows} once, from left to right.`)
    : runs;
}

function readOffset(v: unknown, unit: Unit, fail: Fail): { right: number; back: number } {
  if (v === undefined) return { right: 0, back: 0 };
  if (!isObject(v))
    return fail('offset', 'The offset is not given as distances.', 'Write for instance { "right": 0, "back": 0 }.');
  refuseUnknown(v, ['right', 'back'], 'offset.', fail);
  for (const [k, d] of Object.entries(v))
    if (!isNumber(d) || Math.abs(toMeters(d, unit)) > MAX_OFFSET_M)
      fail(
        `offset.${k}`,
        `${show(d)} is not a distance on a planter.`,
        `Write a number of at most ${most(MAX_OFFSET_M, unit)}; left and forward are negative.`,
      );
  return { right: (v.right as number | undefined) ?? 0, back: (v.back as number | undefined) ?? 0 };
}

/** A limit in the unit of the file, which is that of the field where it was broken. */
function most(limitM: number, unit: Unit): string {
  return `${grouped(Math.floor(fromMeters(limitM, unit)), 0)} ${unit}`;
}

function isObject(v: unknown): v is Obj {
  return typeof v === 'object' && v !== null && !Array.isArray(v);
}

function isNumber(v: unknown): v is number {
  return typeof v === 'number' && Number.isFinite(v);
}

/** A value of the file as written there, cut short. */
function show(v: unknown): string {
  const s = v === undefined ? 'nothing' : typeof v === 'number' ? String(v) : (JSON.stringify(v) ?? String(v));
  return s.length > 40 ? `${s.slice(0, 37)}...` : s;
}
