/**
 * Families of simulated maps on which earlier versions blamed a setting that was right. The truth is the simulator's: nothing is wrong with these
 * displays, so nothing may be named, whatever else stays open.
 */
import { describe, expect, test } from 'vitest';
import { type Kind, simulate } from './index.ts';
import { answerTo } from './outcome.ts';

/** The first healthy maps from `seed` on whose story fits, of one kind of recording or of any. */
function* healthy(seed: number, fits: RegExp, count: number, kind?: Kind) {
  for (let found = 0, k = 0; found < count; k++) {
    const map = simulate(seed + k, { settings: [], ...(kind ? { kind } : {}) });
    if (!fits.test(map.story) || map.neverAgrees !== null) continue;
    found++;
    yield { seed: seed + k, map };
  }
}

const FAMILIES = [
  // A section that stops at the edge and starts again beyond it is neither late nor early: the waterway was not covered.
  { name: 'passes across a waterway', maps: [...healthy(900_000, /a waterway/, 4)] },
  // Rounds lie in phase with one another, and grow shorter than a bar is wide.
  { name: 'round and round', maps: [...healthy(901_000, /round and round/, 4)] },
  // Each section was dissolved and thinned separately.
  { name: 'strips of sections', maps: [...healthy(902_000, /./, 4, 'strips of sections')] },
  { name: 'strips', maps: [...healthy(903_000, /./, 4, 'strips')] },
];

describe.each(FAMILIES)('healthy maps: $name', ({ maps }) => {
  test.each(maps)('$seed', async ({ map }) => {
    expect((await answerTo(map)).report.diagnoses.map((d) => d.setting)).toEqual([]);
  });
});
