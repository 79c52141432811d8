import type { Message } from '../core/shared/messages.ts';
import type { Api, FirstPicture } from './api.ts';

/** A call of one of the worker's functions, without the last argument, which is a callback of the worker. */
export interface Call<Name extends keyof Api = keyof Api> {
  name: Name;
  args: WithoutTelling<Parameters<Api[Name]>>;
}

/** What the page says to a worker: one greeting, then perhaps to practice, then one call after another. */
export type Asked<Name extends keyof Api = keyof Api> =
  /** With a lock that the worker holds as long as it runs. A worker that the browser ends for lack of memory sends nothing, but its lock is released. */
  { kind: 'begin'; lock: string } | { kind: 'practice' } | { kind: 'call'; call: Call<Name> };

type WithoutTelling<T extends unknown[]> = T extends [...infer LaterFeatures, unknown] ? LaterFeatures : never;
export type Result<Name extends keyof Api> = Awaited<ReturnType<Api[Name]>>;

export type Reply<Name extends keyof Api = keyof Api> =
  | { kind: 'alive' }
  | { kind: 'progress'; stage: string; done: number }
  | { kind: 'picture'; first: FirstPicture }
  /** `large`: the worker holds much memory still. */
  | { kind: 'result'; value: Result<Name>; large: boolean }
  /** The user's file or option cannot be used. */
  | { kind: 'refused'; detail: Message }
  /** Our bug, or the machine ran out of memory. */
  | { kind: 'broken'; text: string; outOfMemory: boolean };
