import type { Job as BullJob } from 'bullmq';
import { type Checker, jobOf } from './index.ts';
import { connect, QUEUE, type QueuedJob, type QueuedResult } from './redis.ts';
import type { Checked } from './types.ts';

const PACE_MS = 300;
const DAY_S = 86_400;

/**
 * Hands fields out over a queue and waits for their results.
 *
 * A field's key is its job's id: handing it out twice gives one job, and a result that a killed audit left behind is picked up by the
 * next one. Results are asked for, not listened to, so that nothing is missed while the server restarts. At most `most` fields of this
 * audit are in the queue, done or not: that bounds the server's memory. A result leaves the server when it is safe in the journal.
 */
export async function openQueue(address: string, most: number): Promise<Checker> {
  const redis = await connect(address);
  const { Queue } = await import('bullmq');
  const queue = new Queue<QueuedJob, QueuedResult>(QUEUE, { connection: redis });
  queue.on('error', () => {});
  const add = (field: Parameters<Checker['check']>[0], key: string): Promise<unknown> =>
    queue.add(
      'field',
      { job: jobOf(field) },
      {
        jobId: key,
        attempts: 3,
        backoff: { type: 'exponential', delay: 2000 },
        removeOnComplete: { age: 7 * DAY_S },
        removeOnFail: { age: 7 * DAY_S },
      },
    );
  return {
    most,
    async check(field, key): Promise<Checked> {
      await add(field, key);
      for (;;) {
        await new Promise((r) => setTimeout(r, PACE_MS));
        const state = await queue.getJobState(key);
        if (state === 'completed') {
          const job = await queue.getJob(key);
          // Between the two questions another audit of the same field may have fetched it: then it is handed out again.
          if (job?.returnvalue) return soundResult(job.returnvalue);
        } else if (state === 'failed') {
          const job = await queue.getJob(key);
          const why = job?.failedReason ?? 'no reason was given';
          await job?.remove();
          throw new Error(`every worker that took it failed (${why})`);
        } else if (state === 'unknown') await add(field, key);
      }
    },
    async settled(key) {
      const job: BullJob | undefined = await queue.getJob(key);
      if (job) await job.remove().catch(() => {});
    },
    async close() {
      await queue.close();
      redis.disconnect();
    },
  };
}

/** A result as a worker of this program makes it; anything else is a fault of whoever wrote it. */
function soundResult(r: QueuedResult): Checked {
  const reports = r?.reports;
  const sound =
    typeof r?.row?.verdict === 'string' &&
    ['agrees', 'differs', 'undecided', 'not checked'].includes(r.row.verdict) &&
    Array.isArray(r.row.settings) &&
    typeof reports === 'object' &&
    reports !== null &&
    Object.entries(reports).every(([ext, text]) => /^(txt|json|html)$/.test(ext) && typeof text === 'string');
  if (!sound) throw new Error('the queue held a result that is none; do all workers run the same version?');
  return r;
}
