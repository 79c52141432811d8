import { expect, it } from 'vitest';
import { FORMATS, foreignRounds } from './foreign.ts';

// Invalid rings included: bow-ties, corners in any order, holes across their shell or one another, holes twice, parts that overlap.
it('40 maps drawn and broken with GEOS and written by GDAL and DuckDB: areas and overlaps are those of GEOS in every format', async () => {
  const { differ, compared } = await foreignRounds('1', 40);
  expect(differ).toEqual([]);
  expect(compared).toBeGreaterThan(40 * 6 * FORMATS.length);
});
