import { describe, expect, test } from 'vitest';
import { check, named, readPlanter } from '../../src/core/index.ts';
import { compareWithClosing } from './against-closing.ts';

// Maps of rectangles in meters: areas by arithmetic. Eight rows at 30 in are 240 in wide.
const WIDTH_M = 240 * 0.0254;
const LAT = 41.9;
const LON = -93.6;
// WGS84, radii of curvature: meters in a degree at this latitude.
const W = Math.sqrt(1 - 0.0066943799901413165 * Math.sin((LAT * Math.PI) / 180) ** 2);
const KX = ((Math.PI / 180) * 6378137 * Math.cos((LAT * Math.PI) / 180)) / W;
const KY = ((Math.PI / 180) * 6378137 * (1 - 0.0066943799901413165)) / W ** 3;

const PLANTER = JSON.stringify({
  name: 'Yard',
  unit: 'in',
  rows: 8,
  rowSpacing: 30,
  plantings: { all: 'all' },
  sections: ['1-8'],
});

type Box = [x0: number, y0: number, x1: number, y1: number];

function mapOf(boxes: readonly Box[]): string {
  const at = (x: number, y: number): number[] => [LON + x / KX, LAT + y / KY].map((v) => Math.round(v * 1e9) / 1e9);
  const features = boxes.map(([x0, y0, x1, y1]) => ({
    type: 'Feature',
    properties: {},
    geometry: { type: 'Polygon', coordinates: [[at(x0, y0), at(x1, y0), at(x1, y1), at(x0, y1), at(x0, y0)]] },
  }));
  return JSON.stringify({ type: 'FeatureCollection', features });
}

/** A pass along y in bars of `barM`, `slitM` apart, without what lies in `open`. */
function pass(x0: number, lengthM: number, barM: number, slitM: number, open: readonly [number, number][]): Box[] {
  const out: Box[] = [];
  for (let y = 0; y < lengthM; y += barM) {
    const [from, to] = [y, y + barM - slitM];
    if (!open.some(([a, b]) => from < b && to > a)) out.push([x0, from, x0 + WIDTH_M, to]);
  }
  return out;
}

const linesOf = async (map: string) => {
  const { report } = await check({
    map: [named('map.geojson', new TextEncoder().encode(map))],
    planter: readPlanter(PLANTER, 'yard.planter.json'),
    planting: 'all',
  });
  return report.account.filter((l) => l.fact === 'gap' && l.picture === 'recorded');
};

describe('gaps of a map of rectangles', () => {
  test('a strip in a web of slits is not lost among them', async () => {
    // Bars 2 m apart with slits of 2 cm, passes 2 cm apart, closed all around: one web. Across it all, a strip of 40 cm.
    const passes = 10;
    const boxes = Array.from({ length: passes }, (_, i) => {
      const x0 = i * (WIDTH_M + 0.02);
      const outer = i === 0 || i === passes - 1;
      const half = pass(x0, 50, 2, outer ? 0 : 0.02, []);
      const ends = [-2, 100.4].map((y): Box => [x0, y, x0 + WIDTH_M + 0.02, y + 2]);
      return [...half, ...half.map(([a, b, c, d]): Box => [a, b + 50.4, c, d + 50.4]), ...ends];
    }).flat();
    boxes.push([0, 50, 0.5, 50.4], [passes * (WIDTH_M + 0.02) - 0.5, 50, passes * (WIDTH_M + 0.02) - 0.02, 50.4]);
    const lines = await linesOf(mapOf(boxes));
    const open = lines.filter((l) => l.cause !== 'noise').reduce((s, l) => s + l.areaM2, 0);
    const stripM2 = 0.4 * passes * (WIDTH_M + 0.02);
    expect(Math.abs(open / stripM2 - 1)).toBeLessThan(0.05);
    const slitsM2 = passes * WIDTH_M * 48 * 0.02 + (passes - 1) * 0.02 * 100;
    const noise = lines.filter((l) => l.cause === 'noise').reduce((s, l) => s + l.areaM2, 0);
    expect(noise).toBeLessThan(slitsM2 * 1.05);
    expect(noise).toBeGreaterThan(0.5 * slitsM2);
  });

  // Each pass is interrupted for 8 m, the next one 6 m further on: a corridor aslant between steps, narrower than a pass.
  test('a corridor between steps agrees with closing, and no spot of it counts twice', async () => {
    const stepM = 6;
    const boxes = Array.from({ length: 14 }, (_, i) =>
      pass(i * WIDTH_M, 120, 2, 0, [[20 + i * stepM, 28 + i * stepM]]),
    ).flat();
    const map = mapOf(boxes);
    const [c] = await compareWithClosing(
      [{ name: 'steps', map, planter: PLANTER, planting: 'all', boundary: null }],
      0.025,
    );
    const closed = c.stripsM2 + c.pocketsM2;
    const openM2 = 14 * 8 * WIDTH_M;
    expect(closed).toBeGreaterThan(0.85 * openM2);
    expect(c.gapM2).toBeLessThan(openM2);
    expect(Math.abs(c.gapM2 / closed - 1)).toBeLessThan(0.05);
  });

  test('a pass that was left out is open along its whole length, though its neighbors wander', async () => {
    const wander = (i: number): number => 0.03 * Math.sin(7 * i);
    const boxes = [0, 1, 2, 4, 5, 6].flatMap((i) => pass(i * WIDTH_M + wander(i), 160, 2, 0, []));
    const lines = await linesOf(mapOf(boxes));
    const open = lines.filter((l) => l.cause === 'pass-left-out').reduce((s, l) => s + l.areaM2, 0);
    const openM2 = 160 * (WIDTH_M + wander(4) - wander(2));
    expect(Math.abs(open / openM2 - 1)).toBeLessThan(0.05);
  });
});
