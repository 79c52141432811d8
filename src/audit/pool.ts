import { fileURLToPath } from 'node:url';
import type { Piscina } from 'piscina';
import type { Checked } from './types.ts';
import type { Task } from './worker.ts';

/** Threads that check fields, one field each at a time. */
export interface Pool {
  key(task: Task): Promise<{ key: string } | { sentence: string }>;
  check(task: Task): Promise<Checked>;
  close(): Promise<void>;
}

/** Threads start as they are needed. A thread that runs out of memory fails its own field; the next field gets a new thread. */
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
  return {
    key: (task) => pool.run(task, { name: 'key' }),
    check: (task) => pool.run(task, { name: 'check' }),
    close: () => pool.destroy(),
  };
}
