import { notChecked } from './field.ts';
import type { Pool } from './pool.ts';
import { CLAIM_S, connect, LOOK_S, QUEUE, type QueuedJob, type QueuedResult, RETRY_MS } from './redis.ts';
import { isBelow } from './source.ts';
import type { Job } from './types.ts';
import type { Place } from './worker.ts';

/** How long a stop waits for a server that is connected and does not answer. */
const ANSWER_MS = 3000;

export interface Working {
  /**
   * Resolves when the fields under way are done and handed in. Where the server is gone by then, what it was to be told is lost, and the fields are
   * given to other workers.
   */
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
  let givenUp = false;
  const redis = await connect(address, () => givenUp);
  // The queue opens another connection, on which it waits for fields.
  const connections = [redis];
  const duplicate = redis.duplicate.bind(redis);
  redis.duplicate = (...more) => {
    const another = duplicate(...more);
    connections.push(another);
    return another;
  };
  const down = (): boolean => connections.some((c) => c.status !== 'ready');
  const { Worker } = await import('bullmq');
  const under = new Set<Promise<unknown>>();
  const worker = new Worker<QueuedJob, QueuedResult>(
    QUEUE,
    async ({ data }) => {
      const checking = isJob(data?.job)
        ? pool.check({ job: data.job, place })
        : Promise.resolve({ row: notChecked('The queue held a field that is none.'), picture: null, reports: {} });
      under.add(checking);
      const checked = await checking.finally(() => under.delete(checking));
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
      // Told to close between two tries to connect, the queue would wait for a connection that it has itself called off.
      if (down()) await worker.pause(true);
      else void worker.close();
      while (under.size > 0) await Promise.allSettled(under);
      givenUp = true;
      // The next try brings the server back or ends the connections, and what waits for an answer with them.
      if (down()) await within(RETRY_MS + 500);
      await within(ANSWER_MS, worker.close());
      for (const c of connections) c.disconnect();
    },
  };
}

/** Resolves after `ms`, or as soon as `done` is. */
async function within(ms: number, done?: Promise<void>): Promise<void> {
  let timer: NodeJS.Timeout | undefined;
  const over = new Promise<void>((resolve) => {
    timer = setTimeout(resolve, ms);
  });
  await Promise.race(done ? [over, done] : [over]);
  clearTimeout(timer);
}

/**
 * Whoever can write to the queue chooses what is read: only names below this worker's own folder or address count.
 * `bytesFrom` looks again, and knows which of the two it is.
 */
function isJob(job: unknown): job is Job {
  const j = job as Job | undefined;
  const names = (v: unknown, least: number): boolean =>
    Array.isArray(v) && v.length >= least && v.length <= 10 && v.every((n) => isBelow(n, false));
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
