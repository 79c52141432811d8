/** Forty rounds of foreign fuzz; `npx tsx tests/fuzz/foreign.ts ROUNDS` runs more. */
import { expect, it } from 'vitest';
import { FORMATS, foreignRounds } from './foreign.ts';

it('40 maps, drawn and broken with GEOS and written by GDAL and DuckDB, have the areas that GEOS says, in every format', async () => {
  const { differ, compared } = await foreignRounds('suite', 40);
  expect(differ).toEqual([]);
  expect(compared).toBeGreaterThan(FORMATS.length * 40 * 6);
});
