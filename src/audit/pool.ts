import { fileURLToPath } from 'node:url';
import { setFlagsFromString } from 'node:v8';
import type { Piscina } from 'piscina';
import { UserError } from '../core/messages.ts';
import type { Checked } from './types.ts';
import type { Task } from './worker.ts';

/** Threads that check fields, one field each at a time. */
export interface Pool {
  key(task: Task): Promise<{ key: string } | { sentence: string }>;
  /** Throws an `Error` where a field fails twice for want of memory. */
  check(task: Task): Promise<Checked>;
  /** Never fulfilled; rejected with `UserError` when threads cannot start any more. What was asked of the pool ends so too. */
  broken: Promise<never>;
  close(): Promise<void>;
}

/**
 * Threads run what is built: from source there is none of it beside this file. They start as they are needed. One that runs out of
 * memory is replaced and its field tried once more: what lay in the old one besides the field is gone then.
 */
export async function openPool(threads: number): Promise<Pool> {
  const { Piscina } = await import('piscina');
  // Threads that fill the cores leave none for the engine to compile on beside them: theirs compile for themselves. With two threads on two
  // cores, 300 small fields took 12 % less time so, and 12 % less of the processors'.
  setFlagsFromString('--no-concurrent-recompilation');
  const pool: Piscina = new Piscina({
    filename: fileURLToPath(new URL('./audit-worker.js', import.meta.url)),
    minThreads: 0,
    maxThreads: threads,
    idleTimeout: 5_000,
  });
  let over: UserError | null = null;
  const waiting = new Set<(e: UserError) => void>();
  const broken = new Promise<never>((_, reject) => void waiting.add(reject));
  broken.catch(() => {});
  const end = (why: string, todo: string): void => {
    over ??= new UserError('threads', `The threads that check fields cannot be started: ${why}.`, {}, todo);
    for (const reject of waiting) reject(over);
  };
  const forMemory = (why: string): void =>
    end(why, 'Close other programs or take fewer "--threads", then start again: what is finished is kept.');
  pool.on('error', (e: NodeJS.ErrnoException) => {
    if (e.code === OUT_OF_MEMORY) forMemory('there is too little memory');
    else end(e.message, 'Install the program anew.');
  });
  // A thread that dies while it starts may have no task that could fail, and the pool starts no other then: whoever waits would wait for
  // ever. This also keeps the process alive meanwhile, which threads that are only starting do not.
  let alone = 0;
  const watch = setInterval(() => {
    alone = waiting.size > 1 && pool.threads.length === 0 ? alone + 1 : 0;
    if (alone === 3) forMemory('they end while they start, mostly for want of memory');
  }, 1000);
  const once = <T>(task: Task, name: string): Promise<T> =>
    new Promise<T>((resolve, reject) => {
      if (over) return reject(over);
      waiting.add(reject);
      pool
        .run(task, { name })
        .then(resolve, reject)
        .finally(() => waiting.delete(reject));
    });
  const run = async <T>(task: Task, name: string): Promise<T> => {
    for (let times = 1; ; times++) {
      try {
        return await once<T>(task, name);
      } catch (e) {
        if ((e as NodeJS.ErrnoException).code !== OUT_OF_MEMORY) throw e;
        if (times === 2)
          throw new Error('it does not fit into memory, tried twice; export it in parts, or take "--threads 1"');
      }
    }
  };
  return {
    key: (task) => run(task, 'key'),
    check: (task) => run(task, 'check'),
    broken,
    async close() {
      clearInterval(watch);
      await pool.destroy();
    },
  };
}

const OUT_OF_MEMORY = 'ERR_WORKER_OUT_OF_MEMORY';
