import { fileURLToPath } from 'node:url';
import type { Pool as Processes } from 'workerpool';
import { UserError } from '../core/messages.ts';
import type { Checked } from './types.ts';
import type { Task } from './worker.ts';

/** Processes that check fields, one field each at a time. */
export interface Pool {
  key(task: Task): Promise<{ key: string } | { sentence: string }>;
  /** Throws an `Error` where a field ends two processes, mostly for want of memory. */
  check(task: Task): Promise<Checked>;
  /** Never fulfilled; rejected with `UserError` when processes cannot start any more. What was asked of the pool ends so too. */
  broken: Promise<never>;
  close(): Promise<void>;
}

/**
 * Processes, not threads: memory that one runs out of ends it alone, and only a process can be told, as it starts, to do without the engine's
 * helper threads. They run what is built, as from source there is none of it beside this file, and start as they are needed. One that ends in
 * the middle of a field is replaced and its field tried once more: what lay in the old one besides is gone then.
 */
export async function openPool(processes: number): Promise<Pool> {
  const { default: workerpool } = await import('workerpool');
  const pool: Processes = workerpool.pool(fileURLToPath(new URL('./audit-worker.js', import.meta.url)), {
    workerType: 'process',
    maxWorkers: processes,
    // Processes that fill the cores leave none for the engine's helpers (compiler, collector): without them a field took a fifth less time.
    forkOpts: { execArgv: ['--single-threaded'] },
    // What a process without memory prints is for the engine's makers; the user gets a sentence.
    emitStdStreams: true,
  });
  let over: UserError | null = null;
  const waiting = new Set<(e: UserError) => void>();
  const broken = new Promise<never>((_, reject) => void waiting.add(reject));
  broken.catch(() => {});
  const end = (): void => {
    over ??= new UserError(
      'processes',
      'The processes that check fields cannot be started: they end while they start, mostly for want of memory.',
      {},
      'Close other programs or take a smaller "--at-once", then start again: what is finished is kept.',
    );
    for (const reject of waiting) reject(over);
  };
  const once = <T>(method: string, params: unknown[]): Promise<T> =>
    new Promise<T>((resolve, reject) => {
      if (over) return reject(over);
      waiting.add(reject);
      Promise.resolve(pool.exec(method, params) as PromiseLike<T>)
        .then(resolve, reject)
        .finally(() => waiting.delete(reject));
    });
  const run = async <T>(method: string, task: Task): Promise<T> => {
    for (let times = 1; ; times++) {
      try {
        return await once<T>(method, [task]);
      } catch (e) {
        if (!(e instanceof workerpool.TerminateError)) throw e;
        if (times === 1) continue;
        // Is it the field, or does none start? Every process can say what it does.
        await once('methods', []).catch(end);
        if (over) throw over;
        throw new Error('it ended two processes, mostly for want of memory; export it in parts, or take "--at-once 1"');
      }
    }
  };
  return {
    key: (task) => run('key', task),
    check: (task) => run('check', task),
    broken,
    async close() {
      await pool.terminate(true);
    },
  };
}
