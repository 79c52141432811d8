import { notChecked } from './field.ts';
import type { Pool } from './pool.ts';
import { CLAIM_S, connect, LOOK_S, QUEUE, type QueuedJob, type QueuedResult } from './redis.ts';
import { isBelow } from './source.ts';
import type { Job } from './types.ts';
import type { Place } from './worker.ts';

export interface Working {
  /** Resolves when the fields under way are done and handed in. */
  stop(): Promise<void>;
}

/**
 * Checks fields from the queue until it is stopped. The check runs in a process of the pool, never here: this one renews the claims
 * on the fields under way, and one that is busy with a field could not; the field would be taken for lost and given to another.
 */
export async function work(
  address: string,
  pool: Pool,
  atOnce: number,
  place: Place,
  done: (verdict: string) => void,
): Promise<Working> {
  const redis = await connect(address);
  const { Worker } = await import('bullmq');
  const worker = new Worker<QueuedJob, QueuedResult>(
    QUEUE,
    async ({ data }) => {
      const checked = isJob(data?.job)
        ? await pool.check({ job: data.job, place })
        : { row: notChecked('The queue held a field that is none.'), picture: null, reports: {} };
      done(checked.row.verdict);
      return checked;
    },
    {
      connection: redis,
      concurrency: atOnce,
      lockDuration: CLAIM_S * 1000,
      stalledInterval: LOOK_S * 1000,
      // A field whose worker died is tried on others; one that kills every worker that takes it is given up.
      maxStalledCount: 2,
    },
  );
  worker.on('error', () => {});
  await worker.waitUntilReady();
  return {
    async stop() {
      await worker.close();
      redis.disconnect();
    },
  };
}

/** Whoever can write to the queue chooses what is read: only names below this worker's own folder or address count. */
function isJob(job: unknown): job is Job {
  const j = job as Job | undefined;
  const names = (v: unknown, least: number): boolean =>
    Array.isArray(v) && v.length >= least && v.length <= 10 && v.every(isBelow);
  return (
    typeof j === 'object' &&
    j !== null &&
    names(j.map, 1) &&
    names(j.boundary, 0) &&
    typeof j.planter === 'string' &&
    j.planter.length <= 5_000_000 &&
    typeof j.planterFile === 'string' &&
    typeof j.settings === 'object' &&
    j.settings !== null
  );
}
