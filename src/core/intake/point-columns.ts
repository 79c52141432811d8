import { median } from '../geometry/stats.ts';
import { type Note, UserError } from '../shared/messages.ts';
import { shown } from './bytes.ts';
import type { Column } from './types.ts';

/** Points of a log in file order: meters from the first of them, and unit vectors of travel. */
export interface Track {
  x: Float64Array;
  y: Float64Array;
}

/** What the columns of a log of points say of each point. */
export interface PointColumns {
  width: { name: string; unit: string; meters: Float64Array };
  /** Degrees clockwise from north. */
  heading: { name: string; values: Float64Array } | null;
  distance: { name: string; unit: string; meters: Float64Array } | null;
  /** A value that changes from pass to pass. */
  pass: { name: string; values: ArrayLike<number> } | null;
  sections: Sections;
}

/**
 * How sections are recorded: not at all; as states of all sections in every point; or a point for each section, at its own place
 * (`own`) or at that of the frame (`shared`).
 */
export type Sections =
  | { kind: 'none' }
  | { kind: 'states'; says: string; edgesM: Float64Array; on(point: number, section: number): boolean }
  | { kind: 'own' | 'shared'; name: string; says: string; of: Int32Array; labels: number[]; edgesM: Float64Array };

const NAMES = {
  width: /width|swath|wid/i,
  heading: /head|course|track|bearing|azimuth|direction/i,
  distance: /dist/i,
  pass: /pass/i,
  notPass: /width|acc|spac|dist|time|target/i,
  section: /sect|^sec$|boom/i,
  state: /^(?:sec|sect|section|row|boom|s|r)[ _-]?0*(\d{1,3})(?:[ _-]?(?:on|state|status))?$/i,
  first: /first.*(sect|row)|(sect|row).*first/i,
  count: /(sect|row).*(on|count|active)|(on|active|number).*(sect|row)/i,
};

const UNITS: readonly [string, RegExp, number][] = [
  ['ft', /(?:^|[^a-z])(?:ft|feet|foot)[^a-z]*$/i, 0.3048],
  ['in', /(?:^|[^a-z])(?:in|inch|inches)[^a-z]*$/i, 0.0254],
  ['cm', /(?:^|[^a-z])cm[^a-z]*$/i, 0.01],
  ['m', /(?:^|[^a-z])(?:m|meters?|meters?)[^a-z]*$/i, 1],
];
/** Working widths of planters, and of one section, with a margin; and how long an interval of a log is. Common practice. */
const WIDTH_M = [0.3, 40] as const;
const STEP_M = [0.1, 30] as const;

type NumberColumn = Extract<Column, { kind: 'number' }>;

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

/** Which column of a log of points is which. Throws `UserError` when nothing says how wide the polygons are to be. */
export function findPointColumns(
  columns: readonly Column[],
  track: Track,
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

/** A heading that never changes was not measured; a width may well stay. */
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
export function stepsOf({ x, y }: Track): Float64Array {
  const out = new Float64Array(Math.max(0, x.length - 1));
  for (let i = 0; i < out.length; i++) out[i] = Math.hypot(x[i + 1] - x[i], y[i + 1] - y[i]);
  return out;
}

/** Median distance from pass to pass across travel, meters, from some 200 points; NaN where passes do not lie side by side. */
function spacingOf({ x, y }: Track): number {
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

/** The unit that a width column is in: the one that its name says; else the only one in which passes would lie side by side, or that a planter can have. */
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
        sentence: `The column "${shown(width.name)}" is named in ${said[0]}, but passes lie side by side only if it is in ${unit}; it was read so.`,
        place: { file: source, key: width.name },
        todo: 'Check the unit of the width in the display.',
      });
    return [unit, m];
  }
  const possible = UNITS.filter(([, , m]) => most * m > WIDTH_M[0] && most * m < WIDTH_M[1]);
  if (possible.length === 1) return [possible[0][0], possible[0][2]];
  throw new UserError(
    'points-width-unit',
    `The column "${shown(width.name)}" does not say in which unit the width is, and ${most} could be ${possible.length === 0 ? 'none that a planter has' : possible.map(([u]) => u).join(' or ')}.`,
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

function findSections(
  columns: readonly Column[],
  track: Track,
  widthM: Float64Array,
  wanted: string | undefined,
  [first, count]: readonly [NumberColumn | undefined, NumberColumn | undefined],
): Sections {
  if (first !== undefined || count !== undefined) {
    const found = firstAndCount(columns, widthM, first, count);
    if (found) return found;
  }
  return (
    (wanted === undefined ? (stateColumns(columns, widthM) ?? firstAndCount(columns, widthM)) : null) ??
    pointForEach(columns, track, widthM, wanted) ?? { kind: 'none' }
  );
}

/** A value of a state column: 1 on, 0 off, NaN neither. */
function stateOf(c: Column, i: number): number {
  if (c.kind === 'number') return c.values[i] === 0 || c.values[i] === 1 ? c.values[i] : Number.NaN;
  const word = c.words[c.codes[i]].toLowerCase();
  return /^(1|true|on|yes)$/.test(word) ? 1 : /^(0|false|off|no|)$/.test(word) ? 0 : Number.NaN;
}

/** A column for each section, numbered from 1 without a hole, or one of digits such as 1100. */
function stateColumns(columns: readonly Column[], widthM: Float64Array): Sections | null {
  const n = widthM.length;
  const byStem = new Map<string, Map<number, Column>>();
  for (const c of columns) {
    const m = NAMES.state.exec(c.name);
    if (!m) continue;
    const stem = c.name.slice(0, c.name.search(/\d/)).toLowerCase();
    const list = byStem.get(stem) ?? new Map<number, Column>();
    list.set(Number(m[1]), c);
    byStem.set(stem, list);
  }
  for (const list of byStem.values()) {
    const count = list.size;
    if (count < 2 || count > 128) continue;
    const inOrder = Array.from({ length: count }, (_, k) => list.get(k + 1));
    if (!inOrder.every((c): c is Column => c !== undefined)) continue;
    const on = new Uint8Array(n * count);
    let good = true;
    for (let i = 0; i < n && good; i++)
      for (let k = 0; k < count; k++) {
        const s = stateOf(inOrder[k], i);
        if (Number.isNaN(s)) good = false;
        else on[i * count + k] = s;
      }
    if (!good) continue;
    return states(on, count, widthM, `columns "${inOrder[0].name}" to "${inOrder[count - 1].name}"`);
  }
  for (const c of columns) {
    if (c.kind !== 'text' || !NAMES.section.test(c.name)) continue;
    const words = c.words.slice(1);
    const count = words[0]?.length ?? 0;
    if (count < 2 || !words.every((w) => w.length === count && /^[01]+$/.test(w))) continue;
    const on = new Uint8Array(n * count);
    for (let i = 0; i < n; i++)
      for (let k = 0; k < count; k++) if (c.words[c.codes[i]][k] === '1') on[i * count + k] = 1;
    return states(on, count, widthM, `column "${c.name}"`);
  }
  return null;
}

/** The first section that is on, and how many are. */
function firstAndCount(
  columns: readonly Column[],
  widthM: Float64Array,
  wantedFirst?: NumberColumn,
  wantedCount?: NumberColumn,
): Sections | null {
  const isCount = (c: Column): c is Extract<Column, { kind: 'number' }> =>
    c.kind === 'number' && c.values.every((v) => Number.isNaN(v) || (Number.isInteger(v) && v >= 0 && v <= 128));
  const first = wantedFirst ?? columns.find((c) => NAMES.first.test(c.name) && isCount(c));
  const many = wantedCount ?? columns.find((c) => c !== first && NAMES.count.test(c.name) && isCount(c));
  if (first?.kind !== 'number' || many?.kind !== 'number') return null;
  const n = widthM.length;
  let count = 0;
  for (let i = 0; i < n; i++)
    if (many.values[i] > 0 && first.values[i] >= 1) count = Math.max(count, first.values[i] + many.values[i] - 1);
  if (count < 2) return null;
  const on = new Uint8Array(n * count);
  for (let i = 0; i < n; i++)
    if (first.values[i] >= 1) for (let k = 0; k < many.values[i]; k++) on[i * count + first.values[i] - 1 + k] = 1;
  return states(on, count, widthM, `columns "${first.name}" and "${many.name}"`);
}

function states(on: Uint8Array, count: number, widthM: Float64Array, from: string): Sections {
  const found = sectionWidths(on, count, widthM);
  const edgesM = new Float64Array(count + 1);
  let total = 0;
  for (let k = 0; k < count; k++) total += found.widths[k];
  edgesM[0] = -total / 2;
  for (let k = 0; k < count; k++) edgesM[k + 1] = edgesM[k] + found.widths[k];
  return {
    kind: 'states',
    says: `${from}, ${count} sections, ${found.equal ? 'taken as equally wide' : 'each as wide as the width of the points says'}`,
    edgesM,
    on: (i, k) => on[i * count + k] === 1,
  };
}

/**
 * Widths of the sections, meters. Where the width of a point is that of the sections that are on, least squares over all points give each of them
 * (normal equations, held to the mean by a thousandth of their weight); where it is always that of the frame, they are equal shares.
 */
function sectionWidths(on: Uint8Array, count: number, widthM: Float64Array): { widths: Float64Array; equal: boolean } {
  let most = 0;
  for (const w of widthM) if (w > most) most = w;
  const equal = { widths: new Float64Array(count).fill(most / count), equal: true };
  const a = Array.from({ length: count }, () => new Float64Array(count + 1));
  let partly = 0;
  let whole = 0;
  for (let i = 0; i < widthM.length; i++) {
    if (!(widthM[i] > 0)) continue;
    let sum = 0;
    for (let k = 0; k < count; k++) sum += on[i * count + k];
    if (sum === 0 || sum === count) continue;
    partly++;
    if (Math.abs(widthM[i] / most - 1) < 0.01) whole++;
    for (let k = 0; k < count; k++) {
      if (on[i * count + k] === 0) continue;
      for (let j = 0; j < count; j++) a[k][j] += on[i * count + j];
      a[k][count] += widthM[i];
    }
  }
  if (partly === 0 || whole > 0.5 * partly) return equal;
  // The frame with all sections on, as often as the rest together, and the pull to equal shares.
  for (let k = 0; k < count; k++) {
    for (let j = 0; j < count; j++) a[k][j] += partly;
    a[k][count] += partly * most;
    a[k][k] += 1e-3 * partly;
    a[k][count] += 1e-3 * partly * (most / count);
  }
  const widths = solve(a);
  const sound = widths.every((w) => w > 0.1 * (most / count) && w < 4 * (most / count));
  if (!sound) return equal;
  const same = widths.every((w) => Math.abs(w / (most / count) - 1) < 0.02);
  return same ? equal : { widths, equal: false };
}

/** Gaussian elimination with partial pivots; `a` is square with the right side as its last column. */
function solve(a: Float64Array[]): Float64Array {
  const n = a.length;
  for (let c = 0; c < n; c++) {
    let best = c;
    for (let r = c + 1; r < n; r++) if (Math.abs(a[r][c]) > Math.abs(a[best][c])) best = r;
    [a[c], a[best]] = [a[best], a[c]];
    for (let r = c + 1; r < n; r++) {
      const f = a[r][c] / a[c][c];
      for (let k = c; k <= n; k++) a[r][k] -= f * a[c][k];
    }
  }
  const out = new Float64Array(n);
  for (let r = n - 1; r >= 0; r--) {
    let v = a[r][n];
    for (let k = r + 1; k < n; k++) v -= a[r][k] * out[k];
    out[r] = v / a[r][r];
  }
  return out;
}

/** A point for each section: following one section makes a far shorter way than following the file, or all of an instant lie in one place. */
function pointForEach(
  columns: readonly Column[],
  track: Track,
  widthM: Float64Array,
  wanted: string | undefined,
): Sections | null {
  const { x, y } = track;
  const n = x.length;
  for (const c of columns) {
    if (wanted === undefined ? !NAMES.section.test(c.name) : c.name !== wanted) continue;
    const values: ArrayLike<number> = c.kind === 'number' ? c.values : c.codes;
    const labels = [...new Set(Array.from(values))].filter((v) => !Number.isNaN(v)).sort((p, q) => p - q);
    if (labels.length < 2 || labels.length > 128) continue;
    const place = new Map(labels.map((v, k) => [v, k]));
    const of = Int32Array.from(values, (v) => place.get(v) ?? -1);
    const last = new Int32Array(labels.length).fill(-1);
    let changes = 0;
    let together = 0;
    let along = 0;
    let across = 0;
    for (let i = 1; i < n; i++) {
      const step = Math.hypot(x[i] - x[i - 1], y[i] - y[i - 1]);
      if (of[i] !== of[i - 1]) {
        changes++;
        if (step < 0.01) together++;
      }
      across += Math.min(step, 60);
      if (of[i] < 0) continue;
      const b = last[of[i]];
      if (b >= 0) along += Math.min(60, Math.hypot(x[i] - x[b], y[i] - y[b]));
      last[of[i]] = i;
    }
    if (changes < n / 2) continue;
    const shared = together > 0.5 * changes;
    if (!shared && along > across) continue;
    const says = `column "${c.name}", a point for each of ${labels.length} sections${shared ? ', all in the place of the frame' : ', each in its own place'}`;
    const edgesM = new Float64Array(labels.length + 1);
    const widths = labels.map((_, k) => median(widthM.filter((w, i) => of[i] === k && w > 0)) || 0);
    edgesM[0] = -widths.reduce((s, w) => s + w, 0) / 2;
    widths.forEach((w, k) => {
      edgesM[k + 1] = edgesM[k] + w;
    });
    return { kind: shared ? 'shared' : 'own', name: c.name, says, of, labels, edgesM };
  }
  return null;
}
