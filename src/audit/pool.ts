import { fileURLToPath } from 'node:url';
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
 * Threads start as they are needed. A thread that runs out of memory is replaced and its field tried once more: what lay in the old one
 * besides the field is gone then.
 */
export async function openPool(threads: number): Promise<Pool> {
  const { Piscina } = await import('piscina');
  // In the built command the worker is a file beside it; from source it goes through tsx, as everything does there.
  const fromSource = import.meta.url.endsWith('.ts');
  const pool: Piscina = new Piscina({
    filename: fileURLToPath(new URL(fromSource ? './worker.ts' : './audit-worker.js', import.meta.url)),
    minThreads: 0,
    maxThreads: threads,
    idleTimeout: 5_000,
    ...(fromSource ? { execArgv: ['--import', 'tsx'] } : {}),
  });
  // A thread that dies while it starts has no task that could fail, and the pool starts no other then: whoever waits would wait for ever.
  let running = 0;
  let alone = 0;
  let end: (why: string) => void = () => {};
  const broken = new Promise<never>((_, reject) => {
    end = (why) =>
      reject(
        new UserError(
          'threads',
          `The threads that check fields cannot be started: ${why}.`,
          {},
          'Close other programs or take fewer "--threads", then start again: what is finished is kept.',
        ),
      );
  });
  broken.catch(() => {});
  pool.on('error', (e: NodeJS.ErrnoException) =>
    end(e.code === OUT_OF_MEMORY ? 'there is too little memory' : e.message),
  );
  const watch = setInterval(() => {
    alone = running > 0 && pool.threads.length === 0 ? alone + 1 : 0;
    if (alone === 3) end('they end while they start, mostly for want of memory');
  }, 1000);
  const run = async <T>(task: Task, name: string): Promise<T> => {
    for (let times = 1; ; times++) {
      running++;
      try {
        return await Promise.race([pool.run(task, { name }) as Promise<T>, broken]);
      } catch (e) {
        if ((e as NodeJS.ErrnoException).code !== OUT_OF_MEMORY) throw e;
        if (times === 2)
          throw new Error('it does not fit into memory, tried twice; export it in parts, or take "--threads 1"');
      } finally {
        running--;
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
