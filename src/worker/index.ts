import { isOutOfMemory, UserError } from '../core/shared/messages.ts';
import { type Api, api, type Telling } from './api.ts';
import { buffersOf } from './buffers.ts';
import type { Call, Reply, Result } from './protocol.ts';

/** At most one progress message of a stage in this time: for each the whole window is painted anew, which takes processor time from the check. */
const EVERY_MS = 200;

/** One function for each name, with the arguments that name takes: the compiler cannot follow a pair of unions. */
const call = ({ name, args }: Call, tell: Telling): Promise<unknown> =>
  (api[name] as (...all: unknown[]) => Promise<unknown>)(...args, tell);

const reply = (r: Reply, transfer: Transferable[] = []): void => self.postMessage(r, { transfer });

self.addEventListener('message', async (event: MessageEvent<Call>) => {
  // Only on secure origins, which 127.0.0.1 and localhost are.
  void navigator.locks?.request(event.data.lock, () => {
    reply({ kind: 'alive' });
    return new Promise(() => {});
  });
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
    const value = await call(event.data, { progress, picture });
    reply({ kind: 'result', value: value as Result<keyof Api> }, buffersOf(value));
  } catch (error) {
    if (error instanceof UserError) reply({ kind: 'refused', detail: error.detail });
    else
      reply({
        kind: 'broken',
        text: String(error),
        outOfMemory: isOutOfMemory(error),
      });
  }
});
