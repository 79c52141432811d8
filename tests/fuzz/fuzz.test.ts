import { readdirSync, readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { round } from './rounds.ts';
import { TARGETS } from './targets.ts';

/** Rounds of each target in the test run, always the same; `npm run fuzz` continues from there for as long as it is given. */
const ROUNDS: Readonly<Record<string, number>> = { check: 60, boundary: 60, planter: 200 };

describe('files changed at random end as a map or in one sentence', () => {
  it.each(Object.keys(TARGETS))('%s', async (target) => {
    const words = new Set<string>();
    for (let seed = 1; seed <= (ROUNDS[target] ?? 400); seed++) {
      const { word, error } = await round(target, seed);
      if (error) throw new Error(`seed ${seed} of ${target}`, { cause: error });
      words.add(word);
    }
    // Changes that never reach the reader would prove nothing. A .cpg or .shx stops no map, whatever it holds.
    expect(words.size).toBeGreaterThan(target === 'cpg' || target === 'shx' ? 0 : 1);
  });
});

describe('what broke once does not break again', () => {
  const folder = new URL('found/', import.meta.url);
  it.each(readdirSync(folder))('%s', async (name) => {
    const target = name.split('-')[0];
    await TARGETS[target].run(new Uint8Array(readFileSync(new URL(name, folder))));
  });
});
