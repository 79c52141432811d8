import type { Io } from '../../src/cli/io.ts';
import { main } from '../../src/cli/main.ts';

/** Runs one command line and returns its status and output. */
export async function guessrow(...args: string[]): Promise<{ status: number; out: string; err: string }> {
  let out = '';
  let err = '';
  const io: Io = {
    out: async (t) => {
      out += t;
    },
    err: (t) => {
      err += t;
    },
    paint: null,
    progress: false,
    onStop: () => {},
  };
  return { status: await main(args, io), out, err };
}
