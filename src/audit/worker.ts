/** What runs in each process of the pool: ordinary functions, by name. */
import workerpool from 'workerpool';
import { line, UserError } from '../core/messages.ts';
import { checkField } from './field.ts';
import { keyOf } from './key.ts';
import { mapsFrom } from './source.ts';
import type { Checked, Job } from './types.ts';

/** Where maps come from, in a shape that goes to another process. */
export interface Place {
  from: string;
  maxBytes: number;
}
export interface Task {
  job: Job;
  place: Place | null;
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

function check(task: Task): Promise<Checked> {
  return checkField(task.job, open(task));
}

workerpool.worker({ key, check });
