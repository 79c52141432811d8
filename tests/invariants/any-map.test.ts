import { expect, it } from 'vitest';
import { check } from '../../src/core/check.ts';
import { named } from '../../src/core/intake/index.ts';
import { toCsv, toGeoJson, toJson, toText } from '../../src/core/report/index.ts';
import { UserError } from '../../src/core/shared/messages.ts';
import { PLANTERS } from '../generator/planters.ts';
import { Random } from '../generator/random.ts';
import { planterOf } from '../settings/help.ts';

const LON = -93;
const LAT = 42;

/** Rings of five kinds: tiny squares, points on a coarse grid (crossing, folded, repeated), a row of rectangles, stars here and there. */
function ring(random: Random, kind: number, i: number): number[][] {
  const points = 3 + Math.floor(random.next() * 6);
  const size = 10 ** (-6 + 4 * random.next());
  const at = [LON + size * 5 * random.next() * (kind === 4 ? i : 1), LAT + size * 5 * random.next()];
  const out: number[][] = [];
  if (kind === 0) {
    const side = 1e-7 * Math.round(random.next() * 40);
    for (const [x, y] of [
      [0, 0],
      [1, 0],
      [1, 1],
      [0, 1],
    ])
      out.push([at[0] + x * side, at[1] + y * side]);
  } else if (kind === 2) {
    for (const [x, y] of [
      [i, 0],
      [i + 1, 0],
      [i + 1, 10],
      [i, 10],
    ])
      out.push([LON + x * 1e-5, LAT + y * 1e-5]);
  } else {
    for (let k = 0; k < points; k++) {
      if (kind === 1)
        out.push([LON + Math.floor(random.next() * 5) * 1e-5, LAT + Math.floor(random.next() * 5) * 1e-5]);
      else {
        const reach = size * (0.3 + random.next());
        out.push([
          at[0] + reach * Math.cos((2 * Math.PI * k) / points),
          at[1] + reach * Math.sin((2 * Math.PI * k) / points),
        ]);
      }
    }
  }
  return [...out, out[0]];
}

it('any polygons end in a report or in one sentence, and every report can be written in every format', async () => {
  const random = new Random(20_261_125);
  const planters = [PLANTERS.fifteen, PLANTERS.twentyFour, PLANTERS.twelveMetric, PLANTERS.fifteenRowByRow].map(
    planterOf,
  );
  let reports = 0;
  for (let t = 0; t < 200; t++) {
    const features = Array.from({ length: 1 + Math.floor(random.next() * (t % 10 === 0 ? 60 : 6)) }, (_, i) => ({
      type: 'Feature',
      properties: { time: random.next() < 0.2 ? null : i, sect: i % 3, width_ft: random.next() < 0.1 ? 'x' : 5 },
      geometry: { type: 'Polygon', coordinates: [ring(random, t % 5, i)] },
    }));
    const bytes = new TextEncoder().encode(JSON.stringify({ type: 'FeatureCollection', features }));
    try {
      const a = await check({ map: [named('any.geojson', bytes)], planter: planters[t % planters.length] });
      reports++;
      for (const l of toText(a).split('\n')) expect(l.length).toBeLessThanOrEqual(100);
      expect(JSON.parse(toJson(a)).report).toBe('guessrow/1');
      JSON.parse(toGeoJson(a));
      toCsv(a);
      expect(a.report.area.residual).toBeLessThan(1e-6);
      // A handful of polygons decides nothing about a planter.
      if (a.report.map.bars < 30)
        expect(
          a.report.diagnoses.every((d) => ['declared-layout', 'map-repeated', 'map-units'].includes(d.setting)),
        ).toBe(true);
    } catch (e) {
      if (!(e instanceof UserError)) throw e;
      expect(e.detail.todo.length).toBeGreaterThan(5);
    }
  }
  expect(reports).toBeGreaterThan(100);
});
