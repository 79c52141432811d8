/** Which sections were on at each point of a log, and where across the frame each lies. */
import { median } from '../geometry/stats.ts';
import type { NumberColumn, PointTrack, Sections } from './point-types.ts';
import type { Column } from './types.ts';

const NAMES = {
  section: /sect|^sec$|boom/i,
  state: /^(?:sec|sect|section|row|boom|s|r)[ _-]?0*(\d{1,3})(?:[ _-]?(?:on|state|status))?$/i,
  first: /first.*(sect|row)|(sect|row).*first/i,
  count: /(sect|row).*(on|count|active)|(on|active|number).*(sect|row)/i,
};

export function findSections(
  columns: readonly Column[],
  track: PointTrack,
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
 * (normal equations, with a pull to the mean of a thousandth of their weight); where it is always that of the frame, they are equal shares.
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
  // The frame with all sections on, weighted as much as everything else, and the pull to equal shares.
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

/** A point for each section: following one section makes a far shorter path than following the file, or all points of an instant lie in one place. */
function pointForEach(
  columns: readonly Column[],
  track: PointTrack,
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
