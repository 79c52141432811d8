/** What runs in each process of the pool: ordinary functions, by name. */
import { Worker } from 'node:worker_threads';
import * as v from 'valibot';
import workerpool from 'workerpool';
import { clean } from '../core/report/index.ts';
import { line, UserError } from '../core/shared/messages.ts';
import { drawn, solve } from './field.ts';
import { keyOf } from './key.ts';
import { shaped } from './schema.ts';
import { mapsFrom } from './source.ts';
import type { Checked, Job } from './types.ts';
import { pack, unpack } from './wire.ts';

/** The source of maps, in a shape that can be sent to another process. */
export interface Place {
  from: string;
  maxBytes: number;
}
export interface Task {
  job: Job;
  place: Place | null;
}
/** A result from the queue, and the job that it claims to answer. */
export interface Handed {
  job: Job;
  text: string;
}

const open = ({ place }: Task) => (place === null ? null : mapsFrom(place.from, place.maxBytes));

/** The field's key, or the sentence that says why its files cannot be read: errors lose their class on the way between processes. */
async function key(task: Task): Promise<{ key: string } | { sentence: string }> {
  try {
    return { key: await keyOf(task.job, open(task)) };
  } catch (e) {
    if (e instanceof UserError) return { sentence: line(e.detail) };
    throw e;
  }
}

/** A field of this machine's own audit, from map to files. */
async function check(task: Task): Promise<Checked> {
  return drawn(await solve(task.job, open(task)));
}

/** A field of an audit elsewhere: the text that it makes its files from. */
async function solveFor(task: Task): Promise<string> {
  const found = await solve(task.job, open(task));
  return JSON.stringify('refused' in found ? found : { answer: pack(found) });
}

const RESULT = v.union([
  v.strictObject({ refused: v.pipe(v.string(), v.maxLength(2000)) }),
  v.strictObject({ answer: v.string() }),
]);

/** The files of a field that a worker elsewhere has checked, or what is wrong with its result. */
function draw({ job, text }: Handed): Checked | { fault: string } {
  let json: unknown;
  try {
    json = JSON.parse(text);
  } catch {
    return { fault: 'it is not JSON' };
  }
  const found = shaped(RESULT, json);
  if ('fault' in found) return found;
  if ('refused' in found.value) return drawn({ refused: clean(found.value.refused) });
  const answer = unpack(found.value.answer, job);
  if ('fault' in answer) return answer;
  try {
    return drawn(answer);
  } catch (e) {
    // Each number was valid alone; together they make no picture.
    return { fault: `no report can be made from it (${e instanceof Error ? e.message.slice(0, 100) : 'unknown'})` };
  }
}

workerpool.worker({ key, check, solveFor, draw });

/**
 * Ends this process when its audit is gone for any reason: a process that is busy with a field notices neither a signal to its parent nor
 * the end of the channel to it. A separate thread watches; it takes 14 MB.
 */
const WATCH = `
  const parent = process.ppid;
  const gone = () => {
    if (process.ppid !== parent) return true;
    try { process.kill(parent, 0); } catch (e) { return e.code === 'ESRCH'; }
    return false;
  };
  setInterval(() => { if (gone()) process.kill(process.pid, 'SIGKILL'); }, 500);
`;
new Worker(WATCH, { eval: true, resourceLimits: { maxOldGenerationSizeMb: 8, maxYoungGenerationSizeMb: 1 } }).unref();
