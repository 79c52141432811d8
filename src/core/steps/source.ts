/** The files of a check, read: the one way in for command, page, audit and library. */
import { type ParallelReading, type ReadOptions, read } from '../intake/index.ts';
import type { NamedBytes, RecordSet } from '../intake/types.ts';
import { UserError } from '../shared/messages.ts';
import type { CheckInput, Job } from './job.ts';

export interface Source {
  records: RecordSet;
  /** The field boundary, where one was given. */
  boundary: RecordSet | null;
}

/** Throws `UserError` when a file cannot be read. */
export async function readSource(
  input: CheckInput,
  job: Pick<Job, 'progress'>,
  beside: ParallelReading = {},
): Promise<Source> {
  const records = await read(input.map, readOptions(input), (done) => job.progress('reading the map', done), beside);
  const boundary = input.boundary ? await readBoundary(input.boundary, input.limits ?? {}) : null;
  return { records, boundary };
}

/** How the map is read for a check; the boundary is read without these choices. */
function readOptions({
  layer,
  where,
  limits,
  columns,
  crs,
}: Pick<CheckInput, 'layer' | 'where' | 'limits' | 'columns' | 'crs'>): ReadOptions {
  return { limits, layer, where, columns, crs };
}

/** The boundary's layer cannot be chosen: `layer` is that of the map. */
async function readBoundary(files: NamedBytes[], limits: ReadOptions['limits']): Promise<RecordSet> {
  try {
    return await read(files, { limits, boundary: true });
  } catch (e) {
    if (!(e instanceof UserError) || e.detail.code !== 'several-layers') throw e;
    const { code, sentence, place } = e.detail;
    throw new UserError(code, sentence, place, 'Give the boundary as a file with one layer.');
  }
}
