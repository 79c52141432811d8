import { UserError } from '../core/shared/messages.ts';
import { type Pool, TooLong } from './pool.ts';
import { bullmq, CLAIM_S, connect, LOOK_S, QUEUE, RETRY_MS, watch } from './redis.ts';
import { JOB, shaped } from './schema.ts';
import { open, type Sealed, seal } from './seal.ts';
import { isBelow } from './source.ts';
import type { Job } from './types.ts';
import type { Place } from './worker.ts';

/** How long a stop waits for a server that is connected and does not answer. */
const ANSWER_MS = 3000;

export interface Working {
  /**
   * Resolves when the fields under way are done and handed in. Where the server is gone by then, the results are lost, and the fields are
   * given to other workers.
   */
  stop(): Promise<void>;
  /** Never fulfilled; rejected with `UserError` when this worker cannot serve the audit. */
  useless: Promise<never>;
}

interface WorkOptions {
  address: string;
  /** The key that jobs and results are signed with; null without one. */
  secret: Buffer | null;
  pool: Pool;
  atOnce: number;
  place: Place;
  /** Called when a field is done. */
  done(): void;
  say(sentence: string): void;
}

/**
 * Checks fields from the queue until it is stopped. The check runs in a process of the pool, never here: this one renews the claims
 * on the fields under way, which a busy process could not; its field would count as lost and go to another.
 */
export async function work({ address, secret, pool, atOnce, place, done, say }: WorkOptions): Promise<Working> {
  const { Worker, UnrecoverableError } = await bullmq();
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
  const under = new Set<Promise<unknown>>();
  let fail: (e: UserError) => void;
  const useless = new Promise<never>((_, reject) => {
    fail = reject;
  });
  useless.catch(() => {});
  const worker = new Worker<Sealed, Sealed>(
    QUEUE,
    async ({ id = '', data }) => {
      const job = jobIn(secret, id, data);
      if ('other' in job) {
        fail(
          new UserError(
            'version',
            `The audit runs another version of the program (${job.other}).`,
            {},
            'Install the same version on every machine.',
          ),
        );
        throw new Error('the worker runs another version of the program');
      }
      // Another worker would find the same in it.
      if ('fault' in job) throw new UnrecoverableError(job.fault);
      const checking = pool.solveFor({ job: job.job, place });
      under.add(checking);
      try {
        const text = await checking;
        done();
        return seal(secret, 'result', id, text);
      } catch (e) {
        throw e instanceof TooLong ? new UnrecoverableError(e.message) : e;
      } finally {
        under.delete(checking);
      }
    },
    {
      connection: redis,
      concurrency: atOnce,
      lockDuration: CLAIM_S * 1000,
      stalledInterval: LOOK_S * 1000,
      // A field whose worker died is tried on others; one that kills every worker is given up.
      maxStalledCount: 2,
    },
  );
  worker.on('error', () => {});
  await worker.waitUntilReady();
  const unwatch = watch(redis, say);
  return {
    useless,
    async stop() {
      unwatch();
      // When closed between two tries to connect, the queue would wait for a connection that it has itself canceled.
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
 * The signed job. Anyone who can write to the queue chooses what is read, so only names below this worker's own folder or address count.
 * `bytesFrom` checks again and distinguishes the two.
 */
function jobIn(secret: Buffer | null, id: string, data: unknown): { job: Job } | { fault: string } | { other: string } {
  const opened = open(secret, 'job', id, data);
  if ('fault' in opened)
    return opened.other === undefined ? { fault: `the job was refused: ${opened.fault}` } : { other: opened.other };
  let json: unknown;
  try {
    json = JSON.parse(opened.text);
  } catch {
    return { fault: 'the job was refused: it is not JSON' };
  }
  const found = shaped(JOB, json);
  if ('fault' in found) return { fault: `the job was refused: ${found.fault}` };
  if (![...found.value.map, ...found.value.boundary].every((n) => isBelow(n, false)))
    return { fault: 'the job was refused: it names a file outside the folder of the maps' };
  return { job: found.value };
}
