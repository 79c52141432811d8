import type { Redis } from 'ioredis';
import { UserError } from '../core/shared/messages.ts';

export const QUEUE = 'guessrow-fields';

/** Seconds: how long a worker's claim on a field lasts without being renewed, and how often to look for fields without a claim. */
export const CLAIM_S = 15;
export const LOOK_S = 8;

/** Longest pause between two tries to connect again. */
export const RETRY_MS = 2000;

/** How often to ping the server, and how long it may take to answer: a lost one is reported within five seconds. */
const ASK_MS = 1500;
const ANSWER_MS = 3000;

/** The packages of the queue are installed by those who use it. Throws `UserError` where they are not. */
export const bullmq = (): Promise<typeof import('bullmq')> => import('bullmq').catch(missing);
const ioredis = (): Promise<typeof import('ioredis')> => import('ioredis').catch(missing);

function missing(e: unknown): never {
  if ((e as { code?: string }).code !== 'ERR_MODULE_NOT_FOUND') throw e;
  throw new UserError(
    'no-package',
    'The packages that a queue needs are not installed here.',
    {},
    'Run "npm install bullmq ioredis" beside Guessrow, or leave "--queue" out.',
  );
}

/**
 * A connection that waits through a restart of the server, until `givenUp`: then pending commands fail at the next try. Throws `UserError` when
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
  const { Redis } = await ioredis();
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

/**
 * Reports within five seconds that the server is lost (gone, or no longer answering), and when it is back. Returns
 * a function that ends the watch.
 */
export function watch(redis: Redis, say: (sentence: string) => void): () => void {
  let lost = false;
  let waiting: NodeJS.Timeout | null = null;
  const isLost = (): void => {
    if (!lost) say('The queue does not answer any more. Waiting for it; stop with Ctrl+C, what is finished is kept.');
    lost = true;
  };
  const ask = (): void => {
    // A pending ping is answered when the server is back.
    if (waiting !== null) return;
    waiting = setTimeout(isLost, ANSWER_MS);
    const over = (): void => {
      if (waiting !== null) clearTimeout(waiting);
      waiting = null;
    };
    redis.ping().then(() => {
      over();
      if (lost) say('The queue answers again.');
      lost = false;
    }, over);
  };
  const every = setInterval(ask, ASK_MS);
  return () => {
    clearInterval(every);
    if (waiting !== null) clearTimeout(waiting);
  };
}
