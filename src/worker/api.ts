/** What the page asks of the core: ordinary functions. Their type is the protocol between the page and its worker. */
import type { Answer } from '../core/answer.ts';
import { checkSource } from '../core/check.ts';
import { type Comparison, compare } from '../core/compare/index.ts';
import { canBear, encodeLayer, inSystem, type LayerFormat } from '../core/formats/index.ts';
import type { Lattice, Shapes } from '../core/geometry/shapes.ts';
import { choicesOf, pickRecords, type Where } from '../core/intake/index.ts';
import type { Column, NamedBytes, RecordSet } from '../core/intake/types.ts';
import type { Planter } from '../core/planter/types.ts';
import { type Rebuilt, rebuild } from '../core/rebuild/index.ts';
import { htmlReport, type Series, timeSeries, toCsv, toGeoJson, toJson } from '../core/report/index.ts';
import { type CheckInput, jobOf } from '../core/steps/job.ts';
import { readSource } from '../core/steps/source.ts';
import type { DateOrder } from '../core/track/columns/index.ts';
import { anyPlanter, type Inspection, inspectMap } from './inspect.ts';
import { type FieldRow, rowOf } from './rows.ts';

/** The records of a map as read, before anything is made of them. */
export interface FirstPicture {
  records: Shapes;
  lattice: Lattice;
}

/** What the worker says while it works. */
export interface Telling {
  progress(stage: string, done: number): void;
  /** Something to look at meanwhile. */
  picture(first: FirstPicture): void;
}

/** From so many records on a check takes long enough for a first picture. */
const PICTURE_FROM = 20_000;

export interface CheckRequest {
  map: File[];
  /** The map from before a fix, to be compared with. */
  before?: File[];
  planter: Planter;
  planting?: string;
  boundary?: File[];
  /** Column names per role, as the user chose them. */
  columns?: Record<string, string>;
  layer?: string;
  /** Coordinate system of a map that names none. */
  crs?: string;
  dates?: DateOrder;
  where?: Where[];
}

/** A map by itself. */
export type LookRequest = Omit<CheckRequest, 'planter' | 'planting' | 'before'>;

/** What the page shows of a map without a planter. */
export interface Look extends Inspection {
  columns: string[];
  attributes: Checked['attributes'];
  choices: Checked['choices'];
  boundary: Checked['boundary'];
}

/** What the page shows: the answer, and beside it what only a page needs. */
export interface Checked {
  answer: Answer;
  /** Names of the attribute columns of the map, in the order of the file. */
  columns: string[];
  /** The attributes themselves, a value for each record of the evidence. */
  attributes: Column[];
  /** Columns that part the map, with their values: what the reader may choose records by. */
  choices: { column: string; values: string[] }[];
  /** Columns of the time line. */
  series: Series;
  /** The field boundary that the check was given. */
  boundary: { shapes: Shapes; lattice: Lattice } | null;
  /** The answer about the map from before a fix, and what came of the fix. */
  fix: { before: Answer; comparison: Comparison } | null;
}

/** The whole check, of one map or of two. Throws `UserError` when the input cannot be used. */
export async function checkMap(request: CheckRequest, tell: Telling): Promise<Checked> {
  const { before } = request;
  if (!before?.length) return { ...(await one(request, tell)), fix: null };
  const words = (map: string): Telling => ({
    ...tell,
    progress: (stage, done) => tell.progress(`${stage} (${map} the fix)`, done),
  });
  // What was chosen for one map says nothing of the other: both are read as `guessrow compare` reads them.
  const { boundary: _, columns: __, ...rest } = request;
  const first = await one({ ...rest, map: before }, { ...words('before'), picture: () => {} });
  const second = await one(rest, words('after'));
  return { ...second, fix: { before: first.answer, comparison: compare(first.answer, second.answer) } };
}

async function one(request: CheckRequest, { progress, picture }: Telling): Promise<Omit<Checked, 'fix'>> {
  const { planter, planting } = request;
  const input = inputOf(request, planter);
  const job = jobOf({ ...input, ...(planting ? { planting } : {}) }, { progress });
  const { records: all, boundary } = await readSource(input, job);
  const records = pickRecords(all, request.where ?? []);
  const { shapes, lattice } = records;
  if (shapes.shapeStart.length > PICTURE_FROM) picture({ records: shapes, lattice });
  const answer = checkSource({ records, boundary }, job);
  return { answer, series: timeSeries(answer.evidence), ...besides(all, records, boundary) };
}

/** All records are read, and those that are wanted chosen after: the page offers the others. */
function inputOf({ map, boundary, columns, layer, crs, dates }: LookRequest, planter: Planter): CheckInput {
  return {
    map: map.map(namedBytes),
    planter,
    ...(boundary?.length ? { boundary: boundary.map(namedBytes) } : {}),
    ...(columns ? { columns } : {}),
    ...(layer ? { layer } : {}),
    ...(crs ? { crs } : {}),
    ...(dates ? { dates } : {}),
  };
}

function besides(
  all: RecordSet,
  records: RecordSet,
  boundary: RecordSet | null,
): Pick<Checked, 'columns' | 'attributes' | 'choices' | 'boundary'> {
  return {
    columns: records.columns.map((c) => c.name),
    attributes: records.columns,
    choices: choicesOf(all),
    boundary: boundary && { shapes: boundary.shapes, lattice: boundary.lattice },
  };
}

/** A map without a planter. Throws as `checkMap` does. */
export async function lookAtMap(request: LookRequest, { progress }: Telling): Promise<Look> {
  const { records: all, boundary } = await readSource(inputOf(request, anyPlanter()), { progress });
  const records = pickRecords(all, request.where ?? []);
  const looked = inspectMap({ records, boundary }, request, progress);
  return { ...looked, ...besides(all, records, boundary) };
}

/** One field of several: the same check, of which only the verdict is handed back. */
export async function checkField(request: CheckRequest, tell: Telling): Promise<FieldRow> {
  return rowOf((await one(request, { ...tell, picture: () => {} })).answer.report);
}

/** The map as it should have been, with its change log. Throws where it cannot be told what was planted. */
export function rebuildMap(request: CheckRequest, correctRate: boolean, { progress }: Telling): Promise<Rebuilt> {
  const { planter, planting, where } = request;
  const input = { ...inputOf(request, planter), correctRate };
  return rebuild({ ...input, ...(planting ? { planting } : {}), ...(where ? { where } : {}) }, { progress });
}

/** A rebuilt map as a file. `name`: without an ending. */
export async function writeRebuilt(
  built: Rebuilt,
  as: LayerFormat,
  name: string,
  { progress }: Telling,
): Promise<{ file: Blob; notes: string[] }> {
  progress('writing the file', 0);
  const notes: string[] = [];
  const own = built.system;
  const system = own !== null && canBear(as, own, built.format === 'geojson') ? own : null;
  if (own !== null && system === null)
    notes.push(
      `${as} is not written in the coordinate system "${own.name}" here: the map was written in WGS84 degrees.`,
    );
  const content = await encodeLayer(inSystem(built.layer, system), as, name, (says) => notes.push(says));
  return { file: new Blob(content instanceof Uint8Array ? [content as Uint8Array<ArrayBuffer>] : [...content]), notes };
}

/** What an answer can be written as. */
export type Written = 'html' | 'json' | 'geojson' | 'csv';

const WRITERS: Record<Written, (answer: Answer, command: string) => string> = {
  html: (answer, command) => htmlReport(answer, { command }),
  json: toJson,
  geojson: toGeoJson,
  csv: toCsv,
};

/** The answer as a file. Half a million records make one of a hundred megabytes, so it is not written on the page's own thread. */
export async function write(answer: Answer, as: Written, command: string, { progress }: Telling): Promise<Blob> {
  progress('writing the file', 0);
  return new Blob([WRITERS[as](answer, command)]);
}

export const api = { checkMap, checkField, lookAtMap, rebuildMap, write, writeRebuilt };
export type Api = typeof api;

/** A file of the browser as named bytes. */
function namedBytes(file: File): NamedBytes {
  return {
    name: file.name,
    sizeBytes: file.size,
    async *chunks() {
      const reader = file.stream().getReader();
      try {
        for (let part = await reader.read(); !part.done; part = await reader.read()) yield part.value;
      } finally {
        reader.releaseLock();
      }
    },
  };
}
