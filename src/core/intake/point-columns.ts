import { median } from '../geometry/stats.ts';
import { INCH_M } from '../planter/units.ts';
import { type Note, UserError } from '../shared/messages.ts';
import { shown } from './bytes.ts';
import { findSections } from './point-sections.ts';
import type { NumberColumn, PointColumns, PointTrack } from './point-types.ts';
import type { Column } from './types.ts';

const NAMES = {
  width: /width|swath|wid/i,
  heading: /head|course|track|bearing|azimuth|direction/i,
  distance: /dist/i,
  pass: /pass/i,
  notPass: /width|acc|spac|dist|time|target/i,
};

const UNITS: readonly [string, RegExp, number][] = [
  ['ft', /(?:^|[^a-z])(?:ft|feet|foot)[^a-z]*$/i, 0.3048],
  ['in', /(?:^|[^a-z])(?:in|inch|inches)[^a-z]*$/i, INCH_M],
  ['cm', /(?:^|[^a-z])cm[^a-z]*$/i, 0.01],
  ['m', /(?:^|[^a-z])(?:m|meters?|meters?)[^a-z]*$/i, 1],
];
/** Working widths of planters, and of one section, with a margin; and how long an interval of a log is. Common practice. */
const WIDTH_M = [0.3, 40] as const;
const STEP_M = [0.1, 30] as const;

/** The column that the user named for a role; undefined where none was. Throws `UserError` where there is none such, or it holds no numbers. */
function wantedColumn(
  columns: readonly Column[],
  overrides: Partial<Record<string, string>>,
  role: string,
  source: string,
): NumberColumn | undefined {
  const name = overrides[role];
  if (!name) return undefined;
  const found = columns.find((c) => c.name === name);
  if (found?.kind === 'number') return found;
  throw new UserError(
    found ? 'columns-unreadable' : 'columns-name',
    found
      ? `The column "${shown(name)}" cannot be read as the ${role}: it holds no numbers.`
      : `The map has no column "${shown(name)}" to use as ${role}.`,
    { file: source },
    `Its columns are ${
      columns
        .map((c) => shown(c.name, 30))
        .slice(0, 20)
        .join(', ') || 'none'
    }.`,
  );
}

/** Which column of a log of points is which. Throws `UserError` when nothing gives the width of the polygons. */
export function findPointColumns(
  columns: readonly Column[],
  track: PointTrack,
  overrides: Partial<Record<string, string>>,
  source: string,
  notes: Note[],
): PointColumns {
  const numbers = columns.filter((c): c is NumberColumn => c.kind === 'number');
  const wanted = (role: string): NumberColumn | undefined => wantedColumn(columns, overrides, role, source);
  const named = (role: 'width' | 'heading' | 'distance'): (typeof numbers)[number] | undefined => {
    if (overrides[role] !== undefined)
      return role === 'width' ? numbers.find((c) => c.name === overrides.width) : wanted(role);
    return numbers.find(
      (c) => NAMES[role].test(c.name) && !(role !== 'distance' && NAMES.distance.test(c.name)) && varied(c, role),
    );
  };
  const width = named('width');
  if (width === undefined) throw noWidth(columns, overrides.width, source);
  const steps = stepsOf(track);
  const spacingM = spacingOf(track);
  const unit = widthUnit(width, spacingM, source, notes);
  const meters = width.values.map((v) => v * unit[1]);
  const heading = named('heading');
  const distance = named('distance');
  const distanceM = distance && distanceUnit(distance, steps);
  const pass = columns.find(
    (c) => NAMES.pass.test(c.name) && !NAMES.notPass.test(c.name) && c !== width && manyAlike(c),
  );
  return {
    width: { name: width.name, unit: unit[0], meters },
    heading: heading ? { name: heading.name, values: heading.values } : null,
    distance: distance && distanceM ? { name: distance.name, ...distanceM } : null,
    pass: pass ? { name: pass.name, values: pass.kind === 'number' ? pass.values : pass.codes } : null,
    sections: findSections(columns, track, meters, overrides.section, [wanted('first'), wanted('count')]),
  };
}

/** A heading that never changes was not measured; a width may stay the same. */
function varied(c: { values: Float64Array }, role: string): boolean {
  let low = Infinity;
  let high = -Infinity;
  for (const v of c.values) {
    if (v < low) low = v;
    if (v > high) high = v;
  }
  return role === 'heading' ? high - low > 1 && low >= -180 && high <= 360 : high > 0;
}

function manyAlike(c: Column): boolean {
  const v: ArrayLike<number> = c.kind === 'number' ? c.values : c.codes;
  let changes = 0;
  for (let i = 1; i < v.length; i++) if (v[i] !== v[i - 1]) changes++;
  return changes > 0 && changes < v.length / 5;
}

function noWidth(columns: readonly Column[], wanted: string | undefined, source: string): UserError {
  const names = columns.map((c) => `"${shown(c.name, 30)}"`);
  return new UserError(
    'points-without-width',
    wanted === undefined
      ? 'The map holds points, and no column says how wide the ground at each point is.'
      : `The map holds points, and the column "${shown(wanted)}" holds no widths.`,
    { file: source },
    names.length > 0
      ? `Name the column of the width with "--columns width=NAME"; there is ${names.slice(0, 20).join(', ')}${names.length > 20 ? ' and more' : ''}. Or export the map as polygons.`
      : 'Export the map as polygons, or the points with their width.',
  );
}

/** Lengths from each point to the next, meters. */
export function stepsOf({ x, y }: PointTrack): Float64Array {
  const out = new Float64Array(Math.max(0, x.length - 1));
  for (let i = 0; i < out.length; i++) out[i] = Math.hypot(x[i + 1] - x[i], y[i + 1] - y[i]);
  return out;
}

/** Median distance from pass to pass across travel, meters, from some 200 points; NaN where passes do not lie side by side. */
function spacingOf({ x, y }: PointTrack): number {
  const n = x.length;
  const found: number[] = [];
  const every = Math.max(1, Math.floor(n / 200));
  for (let i = 1; i + 1 < n; i += every) {
    const [dx, dy] = [x[i + 1] - x[i - 1], y[i + 1] - y[i - 1]];
    const length = Math.hypot(dx, dy);
    if (!(length > 0.2 && length < 60)) continue;
    let nearest = Infinity;
    for (let k = 0; k < n; k++) {
      const [px, py] = [x[k] - x[i], y[k] - y[i]];
      if (Math.abs(px * dx + py * dy) > length * length) continue;
      const across = Math.abs(px * dy - py * dx) / length;
      if (across > 1 && across < nearest) nearest = across;
    }
    if (nearest < 60) found.push(nearest);
  }
  return found.length >= 20 ? median(found) : Number.NaN;
}

function namedUnit(name: string): [string, number] | null {
  const found = UNITS.find(([, pattern]) => pattern.test(name));
  return found ? [found[0], found[2]] : null;
}

/** The unit of a width column: the one in its name; else the only one in which passes would lie side by side, or that a planter can have. */
function widthUnit(
  width: { name: string; values: Float64Array },
  spacingM: number,
  source: string,
  notes: Note[],
): [string, number] {
  let most = 0;
  for (const v of width.values) if (v > most) most = v;
  const said = namedUnit(width.name);
  const near = (m: number): number => Math.abs(Math.log((most * m) / spacingM));
  const fitting = UNITS.filter(([, , m]) => near(m) < Math.log(1.25)).sort((a, b) => near(a[2]) - near(b[2]));
  if (said !== null && (Number.isNaN(spacingM) || near(said[1]) < Math.log(3) || fitting.length === 0)) return said;
  if (fitting.length > 0) {
    const [unit, , m] = fitting[0];
    if (said !== null)
      notes.push({
        code: 'width-unit',
        sentence: `The column "${shown(width.name)}" is named in ${said[0]}, but passes lie side by side only if it is in ${unit}; it was read in ${unit}.`,
        place: { file: source, key: width.name },
        todo: 'Check the unit of the width in the display.',
      });
    return [unit, m];
  }
  const possible = UNITS.filter(([, , m]) => most * m > WIDTH_M[0] && most * m < WIDTH_M[1]);
  if (possible.length === 1) return [possible[0][0], possible[0][2]];
  throw new UserError(
    'points-width-unit',
    `The column "${shown(width.name)}" does not give the unit of the width, and ${most} could be ${possible.length === 0 ? 'no unit that gives a planter its width' : possible.map(([u]) => u).join(' or ')}.`,
    { file: source, key: width.name },
    'Put the unit at the end of its name, such as "width_ft" or "width_m".',
  );
}

/** A distance column in the unit in which it is the step from point to point, before or after; null where it is neither. */
function distanceUnit(
  c: { name: string; values: Float64Array },
  steps: Float64Array,
): { unit: string; meters: Float64Array } | null {
  const ratios: number[] = [];
  for (let i = 1; i < steps.length; i++)
    if (c.values[i] > 0 && steps[i] > 0.1) ratios.push((steps[i] + steps[i - 1]) / 2 / c.values[i]);
  const mid = median(ratios);
  for (const [unit, , m] of UNITS) {
    if (Math.abs(mid / m - 1) > 0.15) continue;
    const meters = c.values.map((v) => v * m);
    const mean = median(meters.filter((v) => v > 0));
    if (mean > STEP_M[0] && mean < STEP_M[1]) return { unit, meters };
  }
  return null;
}
