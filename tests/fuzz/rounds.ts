import { mutate } from './mutate.ts';
import { TARGETS } from './targets.ts';

/** The bytes for a seed. */
export function bytesOf(target: string, seed: number): Uint8Array {
  const { seeds } = TARGETS[target];
  return mutate(seeds[seed % seeds.length], seeds, seed);
}

/** What comes of one seed: a word, or the error that must not be. */
export async function round(
  target: string,
  seed: number,
): Promise<{ word: string; error: Error | null; tookMs: number }> {
  const bytes = bytesOf(target, seed);
  const from = performance.now();
  try {
    const word = await TARGETS[target].run(bytes);
    return { word, error: null, tookMs: performance.now() - from };
  } catch (e) {
    return { word: 'FAULT', error: e instanceof Error ? e : new Error(String(e)), tookMs: performance.now() - from };
  }
}
