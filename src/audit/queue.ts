import type { Job as BullJob } from 'bullmq';
import { checkerJob } from './field.ts';
import type { Pool } from './pool.ts';
import { bullmq, connect, QUEUE, watch } from './redis.ts';
import { open, type Sealed, seal } from './seal.ts';
import type { Checked, Checker, Field } from './types.ts';

const PACE_MS = 300;
const DAY_S = 86_400;
/** So often a field is handed out whose result is none. */
const MOST_TRIES = 3;

/**
 * Hands fields out over a queue and waits for their results.
 *
 * A field's key is its job's id: handing it out twice gives one job, and a result that a killed audit left behind is picked up by the
 * next one. Results are asked for, not listened to, so that nothing is missed while the server restarts. At most `most` fields of this
 * audit are in the queue, done or not: that bounds the server's memory. A result leaves the server when it is safe in the journal.
 *
 * Results are opened, validated and drawn by `pool`, on this machine; an invalid one is discarded and its field handed out again.
 */
export async function openQueue(
  address: string,
  most: number,
  secret: Buffer | null,
  pool: Pool,
  say: (sentence: string) => void,
): Promise<Checker> {
  const { Queue } = await bullmq();
  const redis = await connect(address);
  const queue = new Queue<Sealed, Sealed>(QUEUE, { connection: redis });
  queue.on('error', () => {});
  const unwatch = watch(redis, say);
  const add = (field: Field, key: string): Promise<unknown> =>
    queue.add('field', seal(secret, 'job', key, JSON.stringify(checkerJob(field))), {
      jobId: key,
      attempts: 3,
      backoff: { type: 'exponential', delay: 2000 },
      removeOnComplete: { age: 7 * DAY_S },
      removeOnFail: { age: 7 * DAY_S },
    });
  /** The field's result; null when it is lost and the field must be handed out again. */
  const result = async (key: string): Promise<{ sealed: unknown } | null> => {
    for (;;) {
      await new Promise((r) => setTimeout(r, PACE_MS));
      const state = await queue.getJobState(key);
      if (state === 'completed') {
        const job = await queue.getJob(key);
        // Between the two requests another audit of the same field may have fetched it.
        return job ? { sealed: job.returnvalue } : null;
      }
      if (state === 'failed') {
        const job = await queue.getJob(key);
        const why = job?.failedReason ?? 'no reason was given';
        await job?.remove();
        throw new Error(`every worker that took it failed (${why})`);
      }
      if (state === 'unknown') return null;
    }
  };
  const remove = async (key: string): Promise<void> => {
    const job: BullJob | undefined = await queue.getJob(key);
    if (job) await job.remove().catch(() => {});
  };
  return {
    most,
    async check(field, key): Promise<Checked> {
      for (let tries = 1; ; ) {
        await add(field, key);
        const got = await result(key);
        if (got === null) continue;
        const opened = open(secret, 'result', key, got.sealed);
        const found = 'fault' in opened ? opened : await pool.draw({ job: checkerJob(field), text: opened.text });
        if (!('fault' in found)) return found;
        await remove(key);
        if (++tries > MOST_TRIES)
          throw new Error(`the queue returned an invalid result ${MOST_TRIES} times: ${found.fault}`);
      }
    },
    settled: remove,
    async close() {
      unwatch();
      await queue.close();
      redis.disconnect();
    },
  };
}
