import type { Message } from '../core/shared/messages.ts';
import type { Api, Telling } from '../worker/api.ts';
import type { Call, Reply, Result } from '../worker/protocol.ts';

/** Why there is no answer: the user's file, our bug, a worker that died, or a cancellation. */
export type Failure =
  | { kind: 'refused'; detail: Message }
  | { kind: 'broken'; text: string }
  /** A sentence about something that the page cannot do now. */
  | { kind: 'notice'; text: string }
  | { kind: 'memory' }
  | { kind: 'cancelled' };

export class CheckFailed extends Error {
  readonly failure: Failure;
  constructor(failure: Failure) {
    super(failure.kind);
    this.failure = failure;
  }
}

export interface Running<T> {
  result: Promise<T>;
  cancel(): void;
}

/**
 * Calls the worker's functions, one call per worker. Canceling ends the worker at once: a
 * check in the middle of a long stage reads no messages.
 */
export function callWorker<Name extends keyof Api>(
  name: Name,
  args: Call<Name>['args'],
  tell: Partial<Telling> = {},
): Running<Result<Name>> {
  const worker = new Worker(new URL('../worker/index.ts', import.meta.url), { type: 'module' });
  const lock = `guessrow ${name} ${Math.random()}`;
  let fail: (f: Failure) => void = () => {};
  const result = new Promise<Result<Name>>((resolve, reject) => {
    fail = (failure) => {
      worker.terminate();
      reject(new CheckFailed(failure));
    };
    worker.addEventListener('message', (event: MessageEvent<Reply<Name>>) => {
      const r = event.data;
      if (r.kind === 'alive') void navigator.locks.request(lock, () => fail({ kind: 'memory' }));
      else if (r.kind === 'progress') tell.progress?.(r.stage, r.done);
      else if (r.kind === 'picture') tell.picture?.(r.first);
      else if (r.kind === 'refused') fail({ kind: 'refused', detail: r.detail });
      else if (r.kind === 'broken') fail(r.outOfMemory ? { kind: 'memory' } : { kind: 'broken', text: r.text });
      else {
        worker.terminate();
        resolve(r.value);
      }
    });
    worker.addEventListener('error', (event) => {
      event.preventDefault();
      const text = event.message ?? '';
      fail(
        /memory/i.test(text)
          ? { kind: 'memory' }
          : { kind: 'broken', text: text || 'The part of the page that checks maps did not start.' },
      );
    });
    worker.addEventListener('messageerror', () => fail({ kind: 'memory' }));
    worker.postMessage({ name, args, lock });
  });
  return { result, cancel: () => fail({ kind: 'cancelled' }) };
}

/** Why a file was not written, in a sentence. `says` names the file. */
export function whyNot(error: unknown, says: string): string {
  const kind = error instanceof CheckFailed ? error.failure.kind : 'broken';
  if (kind === 'cancelled') return `${says} was cancelled. Nothing was written.`;
  if (kind === 'memory')
    return `The browser ran out of memory while it wrote ${says}. The command line below writes it with "--format" and "--out".`;
  if (error instanceof CheckFailed && error.failure.kind === 'refused')
    return `${error.failure.detail.sentence} ${error.failure.detail.todo}`;
  return `${says} could not be written because of a bug in this program: ${String(error)}`;
}
