import fc from 'fast-check';
import { expect, it } from 'vitest';
import { check } from '../../src/core/check.ts';
import { named } from '../../src/core/intake/index.ts';
import { toJson } from '../../src/core/report/index.ts';
import { UserError } from '../../src/core/shared/messages.ts';
import { fifteen } from '../planter/frames.ts';

/** Maps of any polygons on a grid of 1e-5 degree or anywhere near, with attributes of any kind. */
const grid = fc
  .tuple(fc.integer({ min: 0, max: 12 }), fc.integer({ min: 0, max: 12 }))
  .map(([x, y]) => [-93.6 + x * 1e-5, 42 + y * 1e-5]);
const near = fc
  .tuple(fc.double({ min: -93.601, max: -93.6, noNaN: true }), fc.double({ min: 42, max: 42.001, noNaN: true }))
  .map(([x, y]) => [x, y]);
const ring = fc.array(fc.oneof(grid, grid, near), { minLength: 3, maxLength: 9 }).map((r) => [...r, r[0]]);
const polygon = fc.array(ring, { minLength: 1, maxLength: 3 });
const value = fc.oneof(fc.string(), fc.double(), fc.integer(), fc.boolean(), fc.constant(null));
const feature = fc.record({
  type: fc.constant('Feature'),
  properties: fc.dictionary(
    fc.oneof(fc.constantFrom('time', 'section', 'width', '__proto__', 'constructor'), fc.string()),
    value,
    { maxKeys: 4 },
  ),
  geometry: polygon.map((coordinates) => ({ type: 'Polygon', coordinates })),
});

it('any map: records and areas add up, and two runs give the same bytes', async () => {
  const planter = fifteen();
  await fc.assert(
    fc.asyncProperty(fc.array(feature, { minLength: 1, maxLength: 12 }), async (features) => {
      const bytes = new TextEncoder().encode(JSON.stringify({ type: 'FeatureCollection', features }));
      const run = () => check({ map: [named('map.geojson', bytes)], planter });
      try {
        const answer = await run();
        const { map, area } = answer.report;
        expect(map.records).toBe(features.length);
        expect(map.used + map.setAside.reduce((n, s) => n + s.count, 0)).toBe(map.records);
        expect(area.residual).toBeLessThan(1e-6);
        // The union is no larger than the sum, and what lies double is no larger than the union.
        expect(area.coveredM2).toBeLessThanOrEqual(area.recordedM2 * (1 + 1e-9) + 1e-6);
        expect(area.overlapM2).toBeLessThanOrEqual(area.coveredM2 * (1 + 1e-9) + 1e-6);
        expect(toJson(await run())).toBe(toJson(answer));
      } catch (e) {
        if (!(e instanceof UserError)) throw e;
      }
    }),
    { seed: 7, numRuns: 40 },
  );
});
