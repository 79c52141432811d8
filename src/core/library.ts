/** The checks as the library offers them: options are validated before anything is read, a signal stops them, and a map may be one file. */
import type { Answer } from './answer.ts';
import { check as checkMap } from './check.ts';
import { DEFAULT_LIMITS, type Limits } from './intake/index.ts';
import type { NamedBytes } from './intake/types.ts';
import { type RebuildInput, type Rebuilt, rebuild as rebuildMap } from './rebuild/index.ts';
import { nearest, UserError } from './shared/messages.ts';
import type { CheckInput, Hooks } from './steps/job.ts';

/** The part of an `AbortSignal` that is used here. */
export interface Signal {
  readonly aborted: boolean;
  readonly reason: unknown;
}

export interface LibraryHooks extends Hooks {
  /** Stops the work: its reason is thrown. Checked between pieces of a file and between stages; `guessrow/worker` stops at once. */
  signal?: Signal;
}

type OneOrMore<T extends { map: NamedBytes[]; boundary?: NamedBytes[] }> = Omit<T, 'map' | 'boundary'> & {
  map: NamedBytes | NamedBytes[];
  boundary?: NamedBytes | NamedBytes[];
};
export type LibraryCheckInput = OneOrMore<CheckInput>;
export type LibraryRebuildInput = Omit<RebuildInput, 'map'> & { map: NamedBytes | NamedBytes[] };

/** Checks a map. Throws `UserError` for input or options that cannot be used, and the signal's reason where it stops the work. */
export async function check(input: LibraryCheckInput, hooks: LibraryHooks = {}): Promise<Answer> {
  const { map, boundary, ...rest } = input;
  lookAt(rest);
  const { signal } = hooks;
  const all: CheckInput = { ...rest, map: files(map, signal) };
  if (boundary !== undefined) all.boundary = files(boundary, signal);
  return checkMap(all, stoppable(hooks));
}

/** Rebuilds a map. Throws as `check` does. */
export async function rebuild(input: LibraryRebuildInput, hooks: LibraryHooks = {}): Promise<Rebuilt> {
  const { map, ...rest } = input;
  lookAt(rest);
  const { by } = rest;
  if (by !== undefined && by !== 'section' && by !== 'pass')
    throw new UserError('option-value', `"${shown(by)}" is not a value of "by".`, {}, 'It may be section or pass.');
  return rebuildMap({ ...rest, map: files(map, hooks.signal) }, stoppable(hooks));
}

const shown = (v: unknown): string => String(v).slice(0, 60);

/** Option errors that TypeScript does not catch: numbers have no range there. */
function lookAt({ passAccuracyM, seedCostPerHa, limits = {} }: Partial<CheckInput>): void {
  const range = (name: string, v: unknown, most: number, unit: string): void => {
    if (v === undefined || (typeof v === 'number' && v > 0 && v <= most)) return;
    const bound = Number.isFinite(most) ? ` and at most ${most}` : '';
    throw new UserError(
      'option-value',
      `${shown(v)} is not a value of "${name}".`,
      {},
      `Give a number of ${unit} above 0${bound}.`,
    );
  };
  range('passAccuracyM', passAccuracyM, 2, 'meters');
  range('seedCostPerHa', seedCostPerHa, Number.MAX_VALUE, 'your money for a hectare');
  const names = Object.keys(DEFAULT_LIMITS);
  for (const [name, value] of Object.entries(limits)) {
    if (!Object.hasOwn(DEFAULT_LIMITS, name)) {
      const near = nearest(name, names);
      throw new UserError(
        'option-value',
        `There is no limit "${shown(name)}".`,
        {},
        near ? `Did you mean "${near}"?` : `Limits are ${names.join(', ')}.`,
      );
    }
    if (!(Number.isSafeInteger(value) && (value as number) >= 1))
      throw new UserError(
        'option-value',
        `${shown(value)} is not a value of the limit "${name as keyof Limits}".`,
        {},
        'Give a whole number from 1.',
      );
  }
}

function files(given: NamedBytes | NamedBytes[], signal: Signal | undefined): NamedBytes[] {
  const list = Array.isArray(given) ? given : [given];
  if (list.length === 0) throw new UserError('no-file', 'No map was given.', {}, 'Give one file, or the parts of one.');
  if (signal === undefined) return list;
  return list.map((file) => ({
    ...file,
    async *chunks() {
      for await (const chunk of file.chunks()) {
        if (signal.aborted) throw signal.reason;
        yield chunk;
      }
    },
  }));
}

function stoppable({ signal, progress, ...rest }: LibraryHooks): Hooks {
  if (signal?.aborted) throw signal.reason;
  return {
    ...rest,
    progress(stage, done) {
      if (signal?.aborted) throw signal.reason;
      progress?.(stage, done);
    },
  };
}
