/**
 * Schemas that a result, a job and a line of the journal must match before anything in them is used. They come from files and servers that others
 * can write to: an invalid number, a date beyond the calendar or an unknown setting would otherwise crash the audit where it is
 * drawn or sorted, on this run and on every later one.
 *
 * The types at the end check each schema against its type: a new figure in a report must be added here too.
 */
import * as v from 'valibot';
import { CAUSES } from '../core/account/index.ts';
import type { Report, Setting } from '../core/answer.ts';
import { LIMIT_NAMES, type Limits } from '../core/intake/index.ts';
import { SETTING_TITLE } from '../core/report/index.ts';
import { type Entry, type Job, PICTURE, type Picture, type Row, type Settings } from './types.ts';

/** Longest text and list accepted; those of this program stay far below. */
const MOST_LETTERS = 20_000;
const MOST_ITEMS = 100_000;

const text = v.pipe(v.string(), v.maxLength(MOST_LETTERS));
const number = v.pipe(v.number(), v.finite());
const figure = v.nullable(number);
const count = v.pipe(v.number(), v.safeInteger(), v.minValue(0));
const area = v.pipe(v.number(), v.finite(), v.minValue(0));
/** ms since 1970 UTC that a calendar has (ECMA-262, "Time Values and Time Range"). */
const time = v.nullable(v.pipe(v.number(), v.minValue(-8.64e15), v.maxValue(8.64e15)));
const verdict = v.picklist(['agrees', 'differs', 'undecided'] as const);
const unit = v.picklist(['in', 'cm', 'm'] as const);
const setting = v.picklist(Object.keys(SETTING_TITLE) as Setting[]);
const list = <T extends v.GenericSchema>(of: T) => v.pipe(v.array(of), v.maxLength(MOST_ITEMS));
const none = v.exactOptional;

const place = v.strictObject({ file: none(text), record: none(number), key: none(text) });
const note = v.strictObject({ code: text, sentence: text, place, todo: text });
const fit = v.strictObject({ rows: count, rowSpacingM: number, planting: text, confidence: number, says: text });
const column = v.strictObject({ name: text, evidence: text, unit: none(text) });

const map = v.strictObject({
  source: text,
  format: v.picklist(['geojson', 'shapefile', 'csv', 'flatgeobuf', 'geoparquet', 'geopackage', 'kml'] as const),
  grain: v.picklist(['section', 'bar', 'strip', 'blob'] as const),
  records: count,
  used: count,
  setAside: list(v.strictObject({ reason: text, count, firstRecord: count })),
  passes: count,
  bars: count,
  travelM: number,
  columns: v.strictObject({
    section: none(column),
    time: none(column),
    width: none(column),
    heading: none(column),
    rate: none(column),
    product: none(column),
    machine: none(column),
  }),
  travelFrom: v.picklist(['time', 'order', 'heading', 'unknown'] as const),
  unplaced: v.strictObject({
    records: count,
    areaM2: number,
    share: number,
    largest: v.nullable(v.strictObject({ record: count, at: v.strictTuple([number, number]) })),
  }),
});

const declared = v.strictObject({
  planter: text,
  planting: text,
  plantingFound: v.boolean(),
  frameRows: count,
  plantedRows: count,
  rowSpacingM: number,
  workingWidthM: number,
  centerM: number,
  passSpacingM: number,
  seedCostPerHa: figure,
  sections: list(v.strictObject({ rows: text, leftM: number, rightM: number })),
});

const recorded = v.strictObject({
  workingWidthM: figure,
  workingWidthCi95M: v.nullable(v.strictTuple([number, number])),
  sections: list(v.strictObject({ leftM: number, rightM: number })),
  bestFit: v.nullable(fit),
  alternatives: list(fit),
  sameWidth: list(v.strictObject({ rows: count, rowSpacingM: number })),
  stretches: v.exactOptional(list(v.strictObject({ passes: list(count), workingWidthM: number, sections: count }))),
});

const seams = v.strictObject({
  count,
  medianM: figure,
  recordedM: figure,
  plantedM: figure,
  guessRowM: figure,
  alternatingM: figure,
  accuracyM: number,
  toleranceM: number,
  stretches: v.exactOptional(list(v.strictObject({ passes: list(count), count, recordedM: number, plantedM: number }))),
});

const areas = v.strictObject({
  recordedM2: number,
  coveredM2: number,
  overlapM2: number,
  gapM2: number,
  plantedM2: figure,
  residual: number,
});

const observation = v.strictObject({
  id: text,
  kind: v.picklist([
    'width',
    'section-count',
    'section-edges',
    'section-missing',
    'section-dropout',
    'seam',
    'seam-alternating',
    'end-gap',
    'end-overlap',
    'double-coverage',
    'change',
    'repeated-records',
    'column-width',
    'layout-rule',
  ] as const),
  says: text,
  measuredM: figure,
  expectedM: figure,
  n: number,
  share: number,
  passes: list(count),
});

const diagnosis = v.strictObject({
  setting,
  or: none(list(setting)),
  confidence: number,
  machine: none(text),
  says: text,
  check: text,
  because: list(text),
  effect: v.strictObject({
    acreCountPct: figure,
    unplantedM2: figure,
    doubledM2: figure,
    populationFactor: figure,
    seedCost: v.nullable(v.strictObject({ doubledCost: figure, unplantedCost: figure })),
  }),
});

const accountLine = v.strictObject({
  fact: v.picklist(['gap', 'overlap', 'width'] as const),
  picture: v.picklist(['recorded', 'planted'] as const),
  areaM2: number,
  lengthM: number,
  widthM: v.strictTuple([number, number]),
  passes: list(count),
  cause: v.picklist(CAUSES),
  setting: none(setting),
  or: none(list(setting)),
  confidence: number,
  excessM2: number,
  says: text,
});

const ifPlanted = list(v.strictObject({ planting: text, verdict, says: text, settings: list(setting) }));

const machine = v.strictObject({
  name: text,
  passes: list(count),
  travelM: number,
  verdict,
  says: text,
  wouldDecide: list(text),
  settings: list(setting),
  ifPlanted,
  planter: text,
  planting: text,
  plantingFound: v.boolean(),
  why: text,
  declared,
  recorded,
  seams,
});

export const REPORT = v.strictObject({
  report: v.literal('guessrow/1'),
  verdict,
  says: text,
  wouldDecide: list(text),
  map,
  machines: list(machine),
  declared,
  recorded,
  seams,
  area: areas,
  account: list(accountLine),
  ifPlanted,
  observations: list(observation),
  diagnoses: list(diagnosis),
  notes: list(note),
  cautions: list(text),
});

const names = v.record(v.pipe(v.string(), v.maxLength(100)), text);
const limit = none(count);
const limits = v.strictObject(
  Object.fromEntries(Object.keys(LIMIT_NAMES).map((k) => [k, limit])) as Record<keyof Limits, typeof limit>,
);

export const SETTINGS = v.strictObject({
  planting: none(text),
  layer: none(text),
  crs: none(text),
  where: none(v.pipe(v.array(v.strictObject({ column: text, value: text })), v.maxLength(100))),
  plantings: none(names),
  planters: none(
    v.pipe(
      v.array(v.strictObject({ text: v.pipe(v.string(), v.maxLength(5_000_000)), file: text, machine: none(text) })),
      v.maxLength(20),
    ),
  ),
  dates: none(v.picklist(['day-first', 'month-first'] as const)),
  columns: none(names),
  passAccuracyM: none(v.pipe(v.number(), v.gtValue(0), v.maxValue(2))),
  seedCostPerHa: none(v.pipe(v.number(), v.finite(), v.gtValue(0))),
  machineColumn: none(text),
  limits: none(limits),
});

const files = (least: number) =>
  v.pipe(v.array(v.pipe(v.string(), v.maxLength(1000))), v.minLength(least), v.maxLength(10));

export const JOB = v.strictObject({
  map: files(1),
  boundary: files(0),
  planter: v.pipe(v.string(), v.maxLength(5_000_000)),
  planterFile: text,
  settings: SETTINGS,
  seconds: v.pipe(v.number(), v.integer(), v.minValue(1), v.maxValue(1_000_000)),
});

const steps = v.pipe(v.number(), v.minValue(-PICTURE), v.maxValue(2 * PICTURE));
const lines = list(list(steps));

const PICTURE_LINES = v.strictObject({ covered: lines, tracks: lines, setting: lines, open: lines, harmless: lines });

export const ROW = v.strictObject({
  verdict: v.picklist(['agrees', 'differs', 'undecided', 'not checked'] as const),
  says: text,
  settings: v.pipe(v.array(setting), v.maxLength(100)),
  planter: text,
  planting: text,
  waits: v.pipe(v.array(text), v.maxLength(1000)),
  recordedPlanting: v.nullable(text),
  next: text,
  redraw: v.boolean(),
  machine: v.nullable(text),
  firstMs: time,
  lastMs: time,
  unit,
  affectedM2: area,
  cost: figure,
  acreCountPct: figure,
  declaredWidthM: figure,
  recordedWidthM: figure,
  recordedM2: number,
  coveredM2: number,
  gapM2: number,
  overlapM2: number,
  records: count,
  used: count,
  passes: count,
});

/** A line of the journal. Report names lead to files: only those that this program can have made are followed. */
export const ENTRY = v.pipe(
  v.strictObject({
    key: v.pipe(v.string(), v.regex(/^[0-9a-f]{64}$/)),
    row: ROW,
    picture: v.nullable(PICTURE_LINES),
    reports: v.pipe(v.array(v.pipe(v.string(), v.regex(/^fields\/[0-9a-f]{20}\.(html|json|txt)$/))), v.maxLength(3)),
  }),
  v.check(
    ({ key, reports }) => reports.every((r) => r.startsWith(`fields/${key.slice(0, 20)}.`)),
    'a report belongs to another field',
  ),
  v.check(({ row }) => (row.firstMs === null) === (row.lastMs === null), 'one of two times is missing'),
);

/** `value` as the schema's type, or where it first leaves it, in words: "row.unit: Invalid type ...". */
export function shaped<T>(schema: v.GenericSchema<unknown, T>, value: unknown): { value: T } | { fault: string } {
  const found = v.safeParse(schema, value, { abortEarly: true });
  if (found.success) return { value: found.output };
  const [issue] = found.issues;
  const at = v.getDotPath(issue) ?? '';
  return { fault: `${at === '' ? '' : `${at.slice(0, 80)}: `}${issue.message.slice(0, 120)}` };
}

type Same<A, B> = [A] extends [B] ? ([B] extends [A] ? true : false) : false;
const same = <_T extends true>(): void => {};
same<Same<v.InferOutput<typeof REPORT>, Report>>();
same<Same<v.InferOutput<typeof ROW>, Row>>();
same<Same<v.InferOutput<typeof PICTURE_LINES>, Picture>>();
same<Same<v.InferOutput<typeof ENTRY>, Entry>>();
same<Same<v.InferOutput<typeof JOB>, Job>>();
same<Same<v.InferOutput<typeof SETTINGS>, Settings>>();
