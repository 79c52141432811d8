/**
 * The library's checks in a web worker: `import { check } from 'guessrow/worker'`, in browsers and wherever else there are web workers. The page stays
 * responsive while a map is checked, and a signal ends the work at once. Input and output are those of the functions of the same names in
 * the library; files are read into memory first, because only bytes can be sent to a worker.
 */
import type { Answer } from '../core/answer.ts';
import type { NamedBytes } from '../core/intake/types.ts';
import type { LibraryCheckInput, LibraryHooks, LibraryRebuildInput, Signal } from '../core/library.ts';
import type { Rebuilt } from '../core/rebuild/index.ts';
import { UserError } from '../core/shared/messages.ts';
import type { ThreadCall, ThreadReply } from './thread-protocol.ts';

/** The part of an `AbortSignal` that is used here. */
export interface StopSignal extends Signal {
  addEventListener(type: 'abort', listener: () => void): void;
  removeEventListener(type: 'abort', listener: () => void): void;
}

/** The part of a `Worker` that is used here. */
export interface Thread {
  postMessage(message: unknown, transfer: ArrayBuffer[]): void;
  terminate(): void;
  addEventListener(type: 'message', listener: (event: { data: unknown }) => void): void;
  addEventListener(type: 'error' | 'messageerror', listener: (event: unknown) => void): void;
}

export interface WorkerHooks extends Omit<LibraryHooks, 'signal'> {
  /** Ends the work at once; its reason is thrown. */
  signal?: StopSignal;
  /**
   * Starts the worker where the file beside this one is not available, as in a bundle:
   * `() => new Worker(new URL('guessrow/worker-thread', import.meta.url), { type: 'module' })`.
   */
  thread?: () => Thread;
}

declare const Worker: new (url: unknown, options: { type: 'module' }) => Thread;
declare const URL: new (path: string, base: string) => unknown;

// Bundlers must not detect this worker: its file is beside the built file, not beside the source.
const THREAD = './worker-thread.js';

/** Checks a map, as `check` of the library does. */
export const check = (input: LibraryCheckInput, hooks: WorkerHooks = {}): Promise<Answer> =>
  run('check', input, hooks) as Promise<Answer>;

/** Rebuilds a map, as `rebuild` of the library does. */
export const rebuild = (input: LibraryRebuildInput, hooks: WorkerHooks = {}): Promise<Rebuilt> =>
  run('rebuild', input, hooks) as Promise<Rebuilt>;

async function run(
  name: ThreadCall['name'],
  input: LibraryCheckInput | LibraryRebuildInput,
  { signal, progress, thread }: WorkerHooks,
): Promise<unknown> {
  if (signal?.aborted) throw signal.reason;
  const { map, boundary, ...rest } = input as LibraryCheckInput;
  const files = { map: await packed(map), ...(boundary === undefined ? {} : { boundary: await packed(boundary) }) };
  if (signal?.aborted) throw signal.reason;
  const worker = thread
    ? thread()
    : new Worker(new URL(THREAD, (import.meta as unknown as { url: string }).url), { type: 'module' });
  let stop = (): void => {};
  try {
    return await new Promise((resolve, reject) => {
      stop = () => reject(signal?.reason);
      signal?.addEventListener('abort', stop);
      worker.addEventListener('message', ({ data }) => {
        const reply = data as ThreadReply;
        if (reply.kind === 'result') resolve(reply.value);
        else if (reply.kind === 'progress') {
          try {
            progress?.(reply.stage, reply.done);
          } catch (e) {
            reject(e);
          }
        } else if (reply.kind === 'refused') {
          const { code, sentence, place, todo } = reply.detail;
          reject(new UserError(code, sentence, place, todo));
        } else reject(new Error(reply.text));
      });
      const broken = (event: unknown): void =>
        reject(
          new Error(`The worker could not be run: ${(event as { message?: string }).message ?? 'no reason given'}`),
        );
      worker.addEventListener('error', broken);
      worker.addEventListener('messageerror', broken);
      const call: ThreadCall = { name, input: { ...rest, ...files } };
      worker.postMessage(
        call,
        [...files.map, ...(files.boundary ?? [])].map((f) => f.bytes.buffer),
      );
    });
  } finally {
    signal?.removeEventListener('abort', stop);
    worker.terminate();
  }
}

/** The bytes of each file, in a separate buffer that can be transferred to the worker. */
async function packed(files: NamedBytes | NamedBytes[]): Promise<{ name: string; bytes: Uint8Array<ArrayBuffer> }[]> {
  const out: { name: string; bytes: Uint8Array<ArrayBuffer> }[] = [];
  for (const file of Array.isArray(files) ? files : [files]) {
    const chunks: Uint8Array[] = [];
    let size = 0;
    for await (const c of file.chunks()) {
      chunks.push(c);
      size += c.length;
    }
    const bytes = new Uint8Array(size);
    let at = 0;
    for (const c of chunks) {
      bytes.set(c, at);
      at += c.length;
    }
    out.push({ name: file.name, bytes });
  }
  return out;
}
