/** The functions that the page calls in its worker. Their type is the protocol between the two. */
import type { Answer } from '../core/answer.ts';
import { checkSource } from '../core/check.ts';
import { checkParallel } from '../core/check-parallel.ts';
import { type Comparison, compare } from '../core/compare/index.ts';
import { canBear, encodeLayer, inSystem, type Layer, type LayerFormat } from '../core/formats/index.ts';
import type { Lattice, Shapes } from '../core/geometry/shapes.ts';
import { choicesOf, pickRecords, type Where } from '../core/intake/index.ts';
import type { Column, RecordSet } from '../core/intake/types.ts';
import type { Planter } from '../core/planter/types.ts';
import { type Rebuilt, rebuild } from '../core/rebuild/index.ts';
import { changeCsv, changeJson } from '../core/redraw/index.ts';
import {
  aboutRebuilt,
  type Entry,
  htmlReport,
  rebuiltEntries,
  type Series,
  timeSeries,
  toCsv,
  toGeoJson,
  toJson,
} from '../core/report/index.ts';
import { type CheckInput, type DeclaredPlanter, type Job, jobOf } from '../core/steps/job.ts';
import { readSource, type Source } from '../core/steps/source.ts';
import type { DateOrder } from '../core/track/columns/index.ts';
import { namedBytes } from './bytes.ts';
import { type Changes, packChanges, unpackChanges } from './changes.ts';
import { type Drawn, Easel } from './easel.ts';
import { Helper } from './helper-client.ts';
import { anyPlanter, type Inspection, inspectMap } from './inspect.ts';
import { type FieldRow, rowOf } from './rows.ts';

/** A picture of the map as read, before the check: of all of it, or of the part of one of two readers. */
export interface FirstPicture extends Drawn {
  part: 0 | 1;
  /** In how many parts the map is read. */
  parts: 1 | 2;
}

/** Messages of the worker while it works. */
export interface Telling {
  progress(stage: string, done: number): void;
  /** Something to look at meanwhile; left out where nobody looks. */
  picture?: ((first: FirstPicture) => void) | undefined;
}

export interface CheckRequest {
  map: File[];
  /** The map from before a fix, to compare with. */
  before?: File[];
  planter: Planter;
  /** Every planter that worked in the field, `planter` included, where a machine has its own. */
  planters?: DeclaredPlanter[];
  planting?: string;
  /** What single machines planted, by the name of the machine. */
  plantings?: Record<string, string>;
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
export type LookRequest = Omit<CheckRequest, 'planter' | 'planters' | 'planting' | 'plantings' | 'before'>;

/** What the page shows of a map without a planter. */
export interface Look extends Inspection {
  columns: string[];
  attributes: Checked['attributes'];
  choices: Checked['choices'];
  boundary: Checked['boundary'];
}

/** The input of the page: the answer, and additional data for the page only. */
export interface Checked {
  answer: Answer;
  /** Names of the attribute columns of the map, in the order of the file. */
  columns: string[];
  /** The attributes themselves, a value for each record of the evidence. */
  attributes: Column[];
  /** Columns that divide the map, with their values, by which the reader may choose records. */
  choices: { column: string; values: string[] }[];
  /** Columns of the time line. */
  series: Series;
  /** The field boundary that the check was given. */
  boundary: { shapes: Shapes; lattice: Lattice } | null;
  /** The answer about the map from before a fix, and the comparison. */
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
  // Choices for one map do not apply to the other: both are read as `guessrow compare` reads them.
  const { boundary: _, columns: __, ...rest } = request;
  const first = await one({ ...rest, map: before }, { ...words('before'), picture: undefined });
  const second = await one(rest, words('after'));
  return { ...second, fix: { before: first.answer, comparison: compare(first.answer, second.answer) } };
}

async function one(request: CheckRequest, tell: Telling): Promise<Omit<Checked, 'fix'>> {
  const input = checkInput(request);
  const job = jobOf(input, { progress: tell.progress });
  const { all, source } = await readMap(request, input, job, tell.picture);
  const shared = source.records.recordNumber.length >= SHARED_FROM;
  const answer = shared ? await checkParallel(source, job, helper) : checkSource(source, job);
  helper.forget();
  return { answer, series: timeSeries(answer.evidence), ...besides(all, source) };
}

/** From this many records on a second worker saves time. */
const SHARED_FROM = 50_000;

/** The second worker, if any. It has practiced, and stays for the next call. */
export const helper = new Helper();

/** Reads a map, shows it meanwhile, and chooses the records that are wanted. A second worker helps with a large file. */
async function readMap(
  { map, where = [] }: LookRequest,
  input: CheckInput,
  job: Pick<Job, 'progress'>,
  picture: Telling['picture'],
): Promise<{ all: RecordSet; source: Source }> {
  // A picture of chosen records is possible only after they are read.
  const every = where.length === 0;
  const show = (part: 0 | 1) => (drawn: Drawn) => picture?.({ ...drawn, part, parts: every && helper.reads ? 2 : 1 });
  const easel = picture ? new Easel(show(0)) : null;
  const watch = every ? easel?.watch.bind(easel) : undefined;
  const rest = map.length === 1 ? await helper.rest(map[0], picture && every ? show(1) : null) : undefined;
  const { records: all, boundary } = await readSource(input, job, { watch, rest });
  const records = pickRecords(all, where);
  await easel?.finish(records);
  return { all, source: { records, boundary } };
}

/** All records are read and then filtered, because the page offers the others. */
function inputOf({ map, boundary, columns, layer, crs, dates }: LookRequest, planter: Planter): CheckInput {
  return {
    map: map.map((f) => namedBytes(f, f.name)),
    planter,
    ...(boundary?.length ? { boundary: boundary.map((f) => namedBytes(f, f.name)) } : {}),
    ...(columns ? { columns } : {}),
    ...(layer ? { layer } : {}),
    ...(crs ? { crs } : {}),
    ...(dates ? { dates } : {}),
  };
}

function checkInput(request: CheckRequest): CheckInput {
  const { planter, planters, planting, plantings } = request;
  return {
    ...inputOf(request, planter),
    ...(planters ? { planters } : {}),
    ...(planting ? { planting } : {}),
    ...(plantings ? { plantings } : {}),
  };
}

function besides(
  all: RecordSet,
  { records, boundary }: Source,
): Pick<Checked, 'columns' | 'attributes' | 'choices' | 'boundary'> {
  return {
    columns: records.columns.map((c) => c.name),
    attributes: records.columns,
    choices: choicesOf(all),
    boundary: boundary && { shapes: boundary.shapes, lattice: boundary.lattice },
  };
}

/** A map without a planter. Throws as `checkMap` does. */
export async function lookAtMap(request: LookRequest, { progress, picture }: Telling): Promise<Look> {
  const { all, source } = await readMap(request, inputOf(request, anyPlanter()), { progress }, picture);
  return { ...inspectMap(source, request, progress), ...besides(all, source) };
}

/** One field of several: the same check, but only the verdict is returned. */
export async function checkField(request: CheckRequest, tell: Telling): Promise<FieldRow> {
  return rowOf((await one(request, { ...tell, picture: undefined })).answer.report);
}

/** A rebuilt map as the page keeps it: to be looked at, and to be given back for writing. */
export interface RebuiltMap extends Omit<Rebuilt, 'changes'> {
  changes: Changes;
  /** What it changes, in words. */
  entries: Entry[];
  /** Its records as drawn, which of them were redrawn (1) or kept (0), and the change that each comes from. */
  drawn: { lattice: Lattice; records: Shapes; redrawn: Uint8Array; change: Uint32Array };
}

/** The map as it should have been, with its change log. Throws where it is not clear what was planted. */
export async function rebuildMap(
  request: CheckRequest,
  correctRate: boolean,
  { progress }: Telling,
): Promise<RebuiltMap> {
  const { where } = request;
  const { changes, ...built } = await rebuild(
    { ...checkInput(request), correctRate, ...(where ? { where } : {}) },
    { progress },
  );
  const change = Uint32Array.from(changes.flatMap((c, i) => (c.output === null ? [] : [i])));
  return {
    ...built,
    changes: packChanges(changes),
    entries: rebuiltEntries({ ...built, changes }, request.planter.unit),
    drawn: {
      ...drawnLayer(built.layer),
      redrawn: Uint8Array.from(change, (i) => (changes[i].done === 'kept' ? 0 : 1)),
      change,
    },
  };
}

/** Parts of a degree in which a rebuilt map is drawn: a millimeter. */
const DRAWN_STEPS = 1e8;

/** The records of a layer in degrees, on a lattice of their own. */
function drawnLayer({ lonLat, ringStart, polygonStart, recordStart }: Layer): { lattice: Lattice; records: Shapes } {
  const [originX, originY] = [Math.round((lonLat[0] ?? 0) * DRAWN_STEPS), Math.round((lonLat[1] ?? 0) * DRAWN_STEPS)];
  const xy = Int32Array.from(lonLat, (v, i) => Math.round(v * DRAWN_STEPS) - (i % 2 === 0 ? originX : originY));
  const shapeStart = Uint32Array.from(recordStart, (polygon) => polygonStart[polygon]);
  // The layer is handed to the page beside it, and a buffer can be handed over only once.
  return {
    lattice: { originX, originY, stepsPerDegree: DRAWN_STEPS },
    records: { xy, ringStart: ringStart.slice(), shapeStart },
  };
}

/** Its change log, by the ending of the file. */
export type LogFormat = '.changes.csv' | '.changes.json';

/** A rebuilt map as a file, or its log. `name`: without an ending; `source`: the map that it was rebuilt from. */
export async function writeRebuilt(
  { changes, ...built }: RebuiltMap,
  as: LayerFormat | LogFormat,
  name: string,
  source: string,
  { progress }: Telling,
): Promise<{ file: Blob; notes: string[] }> {
  progress('writing the file', 0);
  const notes: string[] = [];
  if (as === '.changes.csv') return { file: new Blob([...changeCsv(unpackChanges(changes))]), notes };
  if (as === '.changes.json') {
    const all = unpackChanges(changes);
    const about = aboutRebuilt({ ...built, changes: all }, source, 'section');
    return { file: new Blob([...changeJson(about, all)]), notes };
  }
  const own = built.system;
  const system = own !== null && canBear(as, own, built.format === 'geojson') ? own : null;
  if (own !== null && system === null)
    notes.push(
      `${as} is not written in the coordinate system "${own.name}" here: the map was written in WGS84 degrees.`,
    );
  const content = await encodeLayer(inSystem(built.layer, system), as, name, (says) => notes.push(says));
  return { file: new Blob(content instanceof Uint8Array ? [content as Uint8Array<ArrayBuffer>] : [...content]), notes };
}

/** Formats of an answer. */
export type Written = 'html' | 'json' | 'geojson' | 'csv';

const WRITERS: Record<Written, (answer: Answer, command: string) => string> = {
  html: (answer, command) => htmlReport(answer, { command }),
  json: toJson,
  geojson: toGeoJson,
  csv: toCsv,
};

/** The answer as a file. Half a million records make one of a hundred megabytes, so the worker writes it. */
export async function write(answer: Answer, as: Written, command: string, { progress }: Telling): Promise<Blob> {
  progress('writing the file', 0);
  return new Blob([WRITERS[as](answer, command)]);
}

export const api = { checkMap, checkField, lookAtMap, rebuildMap, write, writeRebuilt };
export type Api = typeof api;
