import { buffersOf } from '../core/shared/buffers.ts';
import { isOutOfMemory, UserError } from '../core/shared/messages.ts';
import { type Api, api, helper, type Telling } from './api.ts';
import { practiceUntil } from './practice.ts';
import type { Asked, Call, Reply, Result } from './protocol.ts';

/** At most one progress message of a stage in this time: for each the whole window is painted anew, which takes processor time from the check. */
const EVERY_MS = 200;

/** One function for each name, with the arguments that name takes: the compiler cannot follow a pair of unions. */
const call = ({ name, args }: Call, tell: Telling): Promise<unknown> =>
  (api[name] as (...all: unknown[]) => Promise<unknown>)(...args, tell);

const reply = (r: Reply, transfer: Transferable[] = []): void => self.postMessage(r, { transfer });

/** An answer this large has left as much behind. */
const LARGE_BYTES = 2 ** 24;

/** A call makes practice needless: what it has compiled stays. */
let called = false;

self.addEventListener('message', ({ data }: MessageEvent<Asked>) => {
  if (data.kind === 'begin') hold(data.lock);
  else if (data.kind === 'practice') void practiceUntil(() => called, helper);
  else void answer(data.call);
});

/** Only on secure origins, which 127.0.0.1 and localhost are. */
function hold(lock: string): void {
  void navigator.locks?.request(lock, () => {
    reply({ kind: 'alive' });
    return new Promise(() => {});
  });
}

async function answer(asked: Call): Promise<void> {
  called = true;
  let last = 0;
  let lastStage = '';
  try {
    const progress = (stage: string, done: number): void => {
      const now = performance.now();
      if (stage === lastStage && now - last < EVERY_MS) return;
      last = now;
      lastStage = stage;
      reply({ kind: 'progress', stage, done });
    };
    const picture: Telling['picture'] = (first) => reply({ kind: 'picture', first }, [first.bitmap]);
    const value = await call(asked, { progress, picture });
    const buffers = buffersOf(value);
    const large = buffers.reduce((bytes, b) => bytes + b.byteLength, 0) > LARGE_BYTES;
    reply({ kind: 'result', value: value as Result<keyof Api>, large }, buffers);
  } catch (error) {
    if (error instanceof UserError) reply({ kind: 'refused', detail: error.detail });
    else
      reply({
        kind: 'broken',
        text: String(error),
        outOfMemory: isOutOfMemory(error),
      });
  }
}
