import type { Redis } from 'ioredis';
import { UserError } from '../core/messages.ts';
import type { Checked, Job } from './types.ts';

export const QUEUE = 'guessrow-fields';

/** What goes out. The key is also the job's id, so that one field is one job however often it is handed out. */
export interface QueuedJob {
  job: Job;
}
export type QueuedResult = Checked;

/** Seconds: how long a worker's claim on a field lasts without being renewed, and how often fields without a claim are looked for. */
export const CLAIM_S = 15;
export const LOOK_S = 8;

/** Longest pause between two tries to connect again. */
export const RETRY_MS = 2000;

/**
 * A connection that waits through a restart of the server, until `givenUp`: then what it was asked fails at the next try. Throws `UserError` when
 * there is no server at that address now.
 */
export async function connect(address: string, givenUp: () => boolean = () => false): Promise<Redis> {
  if (!/^rediss?:\/\//.test(address) || !URL.canParse(address))
    throw new UserError(
      'option-value',
      'The address of the queue cannot be used.',
      {},
      'Write redis://HOST:PORT, or rediss:// for TLS.',
    );
  const { Redis } = await import('ioredis');
  let first = true;
  const redis = new Redis(address, {
    lazyConnect: true,
    maxRetriesPerRequest: null,
    connectTimeout: 10_000,
    retryStrategy: (times: number) => (first || givenUp() ? null : Math.min(times * 200, RETRY_MS)),
  });
  // Trouble shows in the commands that wait; without a listener it would end the process.
  redis.on('error', () => {});
  try {
    await redis.connect();
  } catch {
    redis.disconnect();
    // The address may hold a password: it is not repeated.
    throw new UserError(
      'queue',
      'The queue does not answer.',
      {},
      'Is the Redis server running, and are its address and password right?',
    );
  }
  first = false;
  return redis;
}
