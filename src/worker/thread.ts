/** The other side of `client.ts`: one call of the library, in a worker. */
import { named } from '../core/intake/index.ts';
import { check, type LibraryCheckInput, type LibraryRebuildInput, rebuild } from '../core/library.ts';
import { buffersOf } from '../core/shared/buffers.ts';
import { UserError } from '../core/shared/messages.ts';
import type { PackedFile, ThreadCall, ThreadReply } from './thread-protocol.ts';

/** At most one progress message every 40 ms. */
const EVERY_MS = 40;

const reply = (r: ThreadReply, transfer: ArrayBuffer[] = []): void => self.postMessage(r, { transfer });
const opened = (files: PackedFile[]) => files.map((f) => named(f.name, f.bytes));

self.addEventListener('message', async ({ data }: MessageEvent<ThreadCall>) => {
  const { map, boundary, ...rest } = data.input;
  const input = { ...rest, map: opened(map), ...(boundary ? { boundary: opened(boundary) } : {}) };
  let last = 0;
  let lastStage = '';
  const hooks = {
    progress(stage: string, done: number): void {
      const now = performance.now();
      if (stage === lastStage && now - last < EVERY_MS) return;
      last = now;
      lastStage = stage;
      reply({ kind: 'progress', stage, done });
    },
  };
  try {
    const value =
      data.name === 'check'
        ? await check(input as unknown as LibraryCheckInput, hooks)
        : await rebuild(input as unknown as LibraryRebuildInput, hooks);
    reply({ kind: 'result', value }, buffersOf(value));
  } catch (e) {
    if (e instanceof UserError) reply({ kind: 'refused', detail: e.detail });
    else reply({ kind: 'broken', text: String(e) });
  }
});
