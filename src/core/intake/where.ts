import type { Shapes } from '../geometry/shapes.ts';
import { nearest, UserError } from '../shared/messages.ts';
import type { Column, RecordSet } from './types.ts';

/** Keeps the records that hold `value` in `column`. Where a column of the map has equals signs in its name, the longest name that fits counts (`pickRecords`). */
export interface Where {
  column: string;
  value: string;
}

/** "COLUMN=VALUE" taken apart at its first equals sign. `what` names the place in the message: 'for "--where"'. */
export function parseWhere(text: string, what: string): Where {
  const at = text.indexOf('=');
  const [column, value] = [text.slice(0, Math.max(at, 0)).trim(), text.slice(at + 1).trim()];
  if (column !== '' && value !== '') return { column, value };
  throw new UserError(
    'option-value',
    `"${text}" does not choose records ${what}.`,
    {},
    'Write a column and one of its values, such as Field=North.',
  );
}

/** Most values of a column that a message lists. */
const MOST_LISTED = 12;

/**
 * The records for which every condition holds; several values of one column are alternatives. A value is compared as text, then without
 * regard to case, then as a number. The others are counted in `skipped`. Throws `UserError` where the map has no such column or value.
 */
export function pickRecords(set: RecordSet, conditions: readonly Where[]): RecordSet {
  if (conditions.length === 0) return set;
  const where = conditions.map((w) => divided(set, w));
  const n = set.recordNumber.length;
  const keeps = new Uint8Array(n).fill(1);
  for (const name of new Set(where.map((w) => w.column))) {
    const wanted = where.filter((w) => w.column === name).map((w) => w.value);
    const column = columnOf(set, name);
    const here = new Uint8Array(n);
    for (const value of wanted) mark(set, column, value, here);
    for (let i = 0; i < n; i++) keeps[i] &= here[i];
  }
  const kept = indices(keeps, 1);
  const gone = indices(keeps, 0);
  const words = where.map((w) => `${w.column}=${w.value}`).join(', ');
  if (kept.length === 0)
    throw new UserError(
      'where-nothing',
      `No record of the map meets ${words}.`,
      { file: set.source },
      'Leave one of the conditions out.',
    );
  if (gone.length === 0) return set;
  return {
    ...set,
    shapes: shapesOf(set.shapes, kept),
    recordNumber: kept.map((i) => set.recordNumber[i]),
    columns: set.columns.map((c) => columnAt(c, kept)),
    skipped: [
      ...set.skipped,
      { reason: `left out by the condition ${words}`, count: gone.length, firstRecord: set.recordNumber[gone[0]] },
    ],
  };
}

/** Columns with a few values that divide the map, and these values in order: the choices for a reader. */
export function choicesOf(set: RecordSet): { column: string; values: string[] }[] {
  return set.columns.flatMap((c) => {
    const values = valuesOf(c, 2 * MOST_LISTED);
    return values !== null && values.length > 1 ? [{ column: c.name, values }] : [];
  });
}

/** The condition divided after the longest name of a column; as it is where none fits. Spaces around equals signs do not count. */
function divided(set: RecordSet, w: Where): Where {
  const pieces = `${w.column}=${w.value}`.split('=');
  const tight = (list: readonly string[]): string => list.map((t) => t.trim()).join('=');
  for (let k = pieces.length - 1; k > 1; k--) {
    const column = set.columns.find((c) => tight(c.name.split('=')) === tight(pieces.slice(0, k)));
    const value = pieces.slice(k).join('=').trim();
    if (column && value !== '') return { column: column.name, value };
  }
  return w;
}

function columnOf(set: RecordSet, name: string): Column {
  const names = set.columns.map((c) => c.name);
  const found = set.columns.find((c) => c.name === name);
  if (found) return found;
  const near = nearest(name, names);
  throw new UserError(
    'where-column',
    `The map has no column "${name}".`,
    { file: set.source },
    near
      ? `Did you mean "${near}"? Its columns are ${names.join(', ')}.`
      : `Its columns are ${names.join(', ') || 'none'}.`,
  );
}

function mark(set: RecordSet, c: Column, value: string, here: Uint8Array): void {
  const tests: ((i: number) => boolean)[] = [];
  if (c.kind === 'text') {
    const codes = (same: (word: string) => boolean): ((i: number) => boolean) => {
      const hit = c.words.map((w) => w !== '' && same(w.trim()));
      return (i) => hit[c.codes[i]];
    };
    tests.push(
      codes((w) => w === value.trim()),
      codes((w) => w.toLowerCase() === value.trim().toLowerCase()),
    );
    if (value.trim() !== '' && !Number.isNaN(Number(value))) tests.push(codes((w) => Number(w) === Number(value)));
  } else if (value.trim() !== '') tests.push((i) => c.values[i] === Number(value));
  for (const test of tests) {
    let found = false;
    for (let i = 0; i < here.length; i++)
      if (test(i)) {
        here[i] = 1;
        found = true;
      }
    if (found) return;
  }
  throw unknownValue(set, c, value);
}

function unknownValue(set: RecordSet, c: Column, value: string): UserError {
  const values = valuesOf(c, Number.POSITIVE_INFINITY) ?? [];
  const near = nearest(value, values);
  const listed = values.slice(0, MOST_LISTED).map((v) => v.slice(0, 40));
  const more = values.length > listed.length ? ` and ${values.length - listed.length} more` : '';
  return new UserError(
    'where-value',
    `No record holds "${value}" in the column "${c.name}".`,
    { file: set.source },
    `${near ? `Did you mean "${near}"? ` : ''}It holds ${listed.length > 0 ? listed.join(', ') + more : 'nothing'}.`,
  );
}

/** Distinct values of a column in order, numbers by size; null when there are more than `most`. */
function valuesOf(c: Column, most: number): string[] | null {
  if (c.kind === 'text') {
    const used = new Uint8Array(c.words.length);
    let n = 0;
    for (let i = 0; i < c.codes.length && n <= most; i++) {
      const code = c.codes[i];
      if (c.words[code] === '' || used[code]) continue;
      used[code] = 1;
      n++;
    }
    return n > most ? null : c.words.filter((_, code) => used[code]).sort();
  }
  const found = new Set<number>();
  for (let i = 0; i < c.values.length && found.size <= most; i++)
    if (!Number.isNaN(c.values[i])) found.add(c.values[i]);
  return found.size > most ? null : [...found].sort((a, b) => a - b).map(String);
}

function indices(flags: Uint8Array, value: number): Uint32Array {
  const out: number[] = [];
  for (let i = 0; i < flags.length; i++) if (flags[i] === value) out.push(i);
  return Uint32Array.from(out);
}

function columnAt(c: Column, kept: Uint32Array): Column {
  return c.kind === 'number'
    ? { ...c, values: Float64Array.from(kept, (i) => c.values[i]) }
    : { ...c, codes: kept.map((i) => c.codes[i]) };
}

function shapesOf({ xy, ringStart, shapeStart }: Shapes, kept: Uint32Array): Shapes {
  let rings = 0;
  let points = 0;
  for (const s of kept) {
    rings += shapeStart[s + 1] - shapeStart[s];
    points += ringStart[shapeStart[s + 1]] - ringStart[shapeStart[s]];
  }
  const out: Shapes = {
    xy: new Int32Array(2 * points),
    ringStart: new Uint32Array(rings + 1),
    shapeStart: new Uint32Array(kept.length + 1),
  };
  let ring = 0;
  let point = 0;
  kept.forEach((s, k) => {
    for (let r = shapeStart[s]; r < shapeStart[s + 1]; r++) {
      out.xy.set(xy.subarray(2 * ringStart[r], 2 * ringStart[r + 1]), 2 * point);
      point += ringStart[r + 1] - ringStart[r];
      out.ringStart[++ring] = point;
    }
    out.shapeStart[k + 1] = ring;
  });
  return out;
}
