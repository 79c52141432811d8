import type { Message } from '../core/shared/messages.ts';
import type { Api, Telling } from '../worker/api.ts';
import type { Asked, Call, Reply, Result } from '../worker/protocol.ts';

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

/** How long the page is left alone before a worker practices, milliseconds: who opens a map at once is not kept waiting. */
const QUIET_MS = 400;

/** The answer about a large map is drawn after this time, milliseconds. */
const DRAWN_MS = 5000;

/** A worker of the page. It takes one call at a time. */
class Hand {
  private readonly worker = new Worker(new URL('../worker/index.ts', import.meta.url), { type: 'module' });
  private readonly done = new AbortController();
  private heard: ((reply: Reply) => void) | null = null;
  private failed: (failure: Failure) => void = () => {};

  constructor() {
    const lock = `guessrow ${Math.random()}`;
    this.worker.addEventListener('message', ({ data }: MessageEvent<Reply>) => {
      if (data.kind === 'alive') this.watch(lock);
      else this.heard?.(data);
    });
    this.worker.addEventListener('error', (event) => {
      event.preventDefault();
      const text = event.message ?? '';
      this.fail(
        /memory/i.test(text)
          ? { kind: 'memory' }
          : { kind: 'broken', text: text || 'The part of the page that checks maps did not start.' },
      );
    });
    this.worker.addEventListener('messageerror', () => this.fail({ kind: 'memory' }));
    this.say({ kind: 'begin', lock });
  }

  /** What `call` is answered with. Until then `heard` gets all that it says. */
  call(call: Call, heard: (reply: Reply) => void, failed: (failure: Failure) => void): void {
    this.heard = heard;
    this.failed = failed;
    this.say({ kind: 'call', call });
  }

  practice(): void {
    this.say({ kind: 'practice' });
  }

  rest(): void {
    this.heard = null;
    this.failed = () => {};
  }

  end(): void {
    this.done.abort();
    this.worker.terminate();
  }

  private say(asked: Asked): void {
    this.worker.postMessage(asked);
  }

  private fail(failure: Failure): void {
    if (waiting === this) waiting = null;
    this.failed(failure);
    this.end();
  }

  /** The lock is free when the browser has ended the worker. */
  private watch(lock: string): void {
    navigator.locks.request(lock, { signal: this.done.signal }, () => this.fail({ kind: 'memory' })).catch(() => {});
  }
}

/** The worker that the next call goes to: started, and in practice, before there is a map. */
let waiting: Hand | null = null;

let calls = 0;

/** Has a worker ready for the next call; not while one is running, from which it would take processor time. */
export function standBy(): void {
  if (waiting || calls > 0) return;
  const hand = new Hand();
  waiting = hand;
  setTimeout(() => {
    if (waiting === hand) hand.practice();
  }, QUIET_MS);
}

/**
 * Calls one of the worker's functions. Canceling ends the worker at once: a check in the middle of a long stage reads no messages. One that has answered
 * waits for the next call, for the engine has its functions compiled; but after a large map it is ended, which frees its memory.
 */
export function callWorker<Name extends keyof Api>(
  name: Name,
  args: Call<Name>['args'],
  tell: Partial<Telling> = {},
): Running<Result<Name>> {
  const hand = waiting ?? new Hand();
  waiting = null;
  calls++;
  let fail: (f: Failure) => void = () => {};
  const result = new Promise<Result<Name>>((resolve, reject) => {
    const settled = (): void => {
      hand.rest();
      fail = () => {};
      calls--;
    };
    fail = (failure) => {
      settled();
      hand.end();
      reject(new CheckFailed(failure));
      standBy();
    };
    const heard = (r: Reply): void => {
      if (r.kind === 'progress') tell.progress?.(r.stage, r.done);
      else if (r.kind === 'picture') tell.picture?.(r.first);
      else if (r.kind === 'refused') fail({ kind: 'refused', detail: r.detail });
      else if (r.kind === 'broken') fail(r.outOfMemory ? { kind: 'memory' } : { kind: 'broken', text: r.text });
      else if (r.kind === 'result') {
        settled();
        if (waiting || r.large) hand.end();
        else waiting = hand;
        // Not now, for the answer is being drawn.
        setTimeout(standBy, DRAWN_MS);
        resolve(r.value as Result<Name>);
      }
    };
    hand.call({ name, args }, heard, (failure) => fail(failure));
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
