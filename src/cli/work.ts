import { mapsFrom, openPool, readSecret, work } from '../audit/index.ts';
import { UserError } from '../core/shared/messages.ts';
import { atOnceOption, placeOption, QUEUE_OPTIONS } from './audit.ts';
import type { Io } from './io.ts';
import type { Parsed, Spec } from './options.ts';

export const WORK_OPTIONS: Spec = {
  ...QUEUE_OPTIONS,
  'at-once': { value: 'N', says: 'fields checked at once on this machine; one per core when left out' },
};

/** `guessrow work`: checks fields from the queue until it is stopped; then finishes those under way and returns 0. */
export async function runWork(args: Parsed, io: Io): Promise<number> {
  const { queue } = args.values;
  if (queue === undefined)
    throw new UserError('missing-option', 'A worker needs a queue.', {}, 'Add "--queue redis://HOST:PORT".');
  const place = placeOption(args, true)!;
  mapsFrom(place.from, place.maxBytes);
  const secret = args.values['queue-key'] === undefined ? null : readSecret(args.values['queue-key']);
  const atOnce = atOnceOption(args);
  const pool = await openPool(atOnce);
  let fields = 0;
  const stopped = new Promise<void>((resolve) => io.onStop(resolve));
  try {
    const working = await work({
      address: queue,
      secret,
      pool,
      atOnce,
      place,
      done: () => void fields++,
      say: (sentence) => io.err(`${sentence}\n`),
    });
    await io.out(`Working, ${atOnce === 1 ? 'one field' : `${atOnce} fields`} at a time. Stop with Ctrl+C.\n`);
    try {
      await Promise.race([stopped, pool.broken, working.useless]);
      io.err('Finishing the fields under way ...\n');
    } finally {
      await working.stop();
    }
  } finally {
    await pool.close();
  }
  await io.out(`${fields} ${fields === 1 ? 'field' : 'fields'} checked.\n`);
  return 0;
}
