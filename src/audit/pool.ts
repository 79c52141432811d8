import { fileURLToPath } from 'node:url';
import type { Pool as Processes } from 'workerpool';
import { UserError } from '../core/shared/messages.ts';
import type { Checked } from './types.ts';
import type { Handed, Task } from './worker.ts';

/**
 * Processes that check fields, one field each at a time.
 *
 * Why processes and not threads: see README.md in this folder.
 */
export interface Pool {
  key(task: Task): Promise<{ key: string } | { sentence: string }>;
  /** A field from map to files. Throws an `Error` where a field crashes two processes, usually for lack of memory, and `TooLong`. */
  check(task: Task): Promise<Checked>;
  /** A field for an audit elsewhere, as text for the queue. Throws as `check` does. */
  solveFor(task: Task): Promise<string>;
  /** Such a text as files, or what is wrong with it. Throws as `check` does. */
  draw(handed: Handed): Promise<Checked | { fault: string }>;
  /** Never fulfilled; rejected with `UserError` when processes cannot start any more. Pending calls to the pool end the same way. */
  broken: Promise<never>;
  close(): Promise<void>;
}

/** A field that was stopped because it took too long. Another try would take as long. */
export class TooLong extends Error {
  constructor(seconds: number) {
    super(`its check took longer than ${seconds} s and was stopped; raise "--limit seconds=N", or export it in parts`);
    this.name = 'TooLong';
  }
}

/**
 * Processes, not threads: memory that one runs out of ends it alone, and only a process can be told, as it starts, to do without the engine's
 * helper threads. They run what is built, as from source there is none of it beside this file, and start as they are needed. One that ends in
 * the middle of a field is replaced and its field tried once more: what lay in the old one besides is gone then. One that takes too long is ended.
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
      'The processes that check fields cannot be started: they stop while starting, usually for lack of memory.',
      {},
      'Close other programs or take a smaller "--at-once", then start again: what is finished is kept.',
    );
    for (const reject of waiting) reject(over);
  };
  const once = <T>(method: string, params: unknown[], seconds: number | null): Promise<T> =>
    new Promise<T>((resolve, reject) => {
      if (over) return reject(over);
      waiting.add(reject);
      const running = pool.exec(method, params);
      // The time runs from when a process takes it up.
      if (seconds !== null) running.timeout(seconds * 1000);
      Promise.resolve(running as PromiseLike<T>)
        .then(resolve, reject)
        .finally(() => waiting.delete(reject));
    });
  const run = async <T>(method: string, params: Task | Handed, seconds: number | null): Promise<T> => {
    for (let times = 1; ; times++) {
      try {
        return await once<T>(method, [params], seconds);
      } catch (e) {
        if (seconds !== null && e instanceof Error && e.name === 'TimeoutError') throw new TooLong(seconds);
        if (!(e instanceof workerpool.TerminateError)) throw e;
        if (times === 1) continue;
        // Is it the field, or does none start? Every process can say what it does.
        await once('methods', [], null).catch(end);
        if (over) throw over;
        throw new Error(
          'it crashed two processes, usually for lack of memory; export it in parts, or take "--at-once 1"',
        );
      }
    }
  };
  return {
    key: (task) => run('key', task, null),
    check: (task) => run('check', task, task.job.seconds),
    solveFor: (task) => run('solveFor', task, task.job.seconds),
    draw: (handed) => run('draw', handed, handed.job.seconds),
    broken,
    async close() {
      await pool.terminate(true);
    },
  };
}
