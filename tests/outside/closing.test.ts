/** The two measures of open ground, on fields small enough to count by hand. Areas are arithmetic on rectangles in meters. */
import { mkdtempSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { type Closing, type ClosingJob, closeByGeos, closeByJts } from './closing.ts';

const folder = mkdtempSync(join(tmpdir(), 'guessrow-'));
const LAT = 44.5;
const LON = 80.5;
// WGS84, radii of curvature: meters in a degree at this latitude.
const W = Math.sqrt(1 - 0.0066943799901413165 * Math.sin((LAT * Math.PI) / 180) ** 2);
const KX = ((Math.PI / 180) * 6378137 * Math.cos((LAT * Math.PI) / 180)) / W;
const KY = ((Math.PI / 180) * 6378137 * (1 - 0.0066943799901413165)) / W ** 3;

type Point = [number, number];
let count = 0;
function file(shapes: Point[][], holes: Point[][] = []): string {
  const ring = (r: Point[]) => [...r, r[0]].map(([x, y]) => [LON + x / KX, LAT + y / KY]);
  const path = join(folder, `m${count++}.geojson`);
  const features = shapes.map((s) => ({
    type: 'Feature',
    properties: {},
    geometry: { type: 'Polygon', coordinates: [ring(s), ...holes.map(ring)] },
  }));
  writeFileSync(path, JSON.stringify({ type: 'FeatureCollection', features }));
  return path;
}
const box = (x0: number, y0: number, x1: number, y1: number): Point[] => [
  [x0, y0],
  [x1, y0],
  [x1, y1],
  [x0, y1],
];

const CASES: { name: string; job: ClosingJob; strips: number; pockets: number }[] = [
  {
    name: 'a strip open at both ends, beside passes of unequal length: from the shorter end to the shorter end',
    job: { map: file([box(0, 0, 12, 200), box(13.5, 5, 25.5, 203)]), widthM: 12, noiseM: 0.1 },
    strips: 1.5 * 195,
    pockets: 0,
  },
  {
    name: 'passes that touch, with a headland: inside corners are not strips',
    job: { map: file([box(0, 0, 12, 200), box(12, 8, 24, 200), box(0, 200, 60, 212)]), widthM: 12, noiseM: 0.1 },
    strips: 0,
    pockets: 0,
  },
  {
    name: 'a seam within noise',
    job: { map: file([box(0, 0, 12, 200), box(12.08, 0, 24, 200)]), widthM: 12, noiseM: 0.1 },
    strips: 0,
    pockets: 0,
  },
  {
    name: 'ground wider than a pass is open ground',
    job: { map: file([box(0, 0, 12, 200), box(24.5, 0, 36, 200)]), widthM: 12, noiseM: 0.1 },
    strips: 0,
    pockets: 0,
  },
  {
    name: 'a pocket with covered ground all around',
    job: {
      map: file([box(0, 0, 12, 50), box(0, 55, 12, 100), box(12, 0, 24, 100), box(-12, 0, 0, 100)]),
      widthM: 12,
      noiseM: 0.1,
    },
    strips: 0,
    pockets: 12 * 5,
  },
  {
    name: 'a strip along the edge of the field and one beside a waterway',
    job: {
      map: file([box(1, 0, 12, 100), box(12, 0, 23, 100), box(32, 0, 44, 100)]),
      boundary: file([box(0, 0, 44, 100)], [box(25, 10, 32, 90)]),
      widthM: 12,
      noiseM: 0.1,
    },
    // Along the edge 1 m; beside the waterway 2 m; above and below the waterway the 9 m between the passes.
    strips: 100 + 2 * 80 + 2 * 9 * 10,
    pockets: 0,
  },
];

test.each(CASES)('$name', ({ job, strips, pockets }) => {
  for (const [by, c] of [
    ['GEOS', closeByGeos([job])[0]],
    ['JTS', closeByJts(job)],
  ] as [string, Closing][]) {
    expect([by, Math.abs(c.stripsM2 - strips) < 0.004 * strips + 0.01]).toEqual([by, true]);
    expect([by, Math.abs(c.pocketsM2 - pockets) < 0.004 * pockets + 0.01]).toEqual([by, true]);
  }
});

test('records without an area change nothing, and are counted', () => {
  const sound = [box(0, 0, 12, 200), box(13.5, 5, 25.5, 203)];
  const point: Point[] = [
    [4, 4],
    [4, 4],
    [4, 4],
  ];
  // Not on covered ground: what is left of them could be kept beside it.
  const slip: Point[] = [
    [40, 4],
    [50, 4],
    [40, 4],
  ];
  const line: Point[] = [
    [40, 8],
    [50, 8],
    [60, 8],
  ];
  const bow: Point[] = [
    [0, 0],
    [12, 10],
    [12, 0],
    [0, 10],
  ];
  const job = { map: file([point, ...sound, slip, line, bow]), widthM: 12, noiseM: 0.1 };
  for (const [by, c] of [
    ['GEOS', closeByGeos([job])[0]],
    ['JTS', closeByJts(job)],
  ] as [string, Closing][]) {
    expect([by, c.records, c.leftOut]).toEqual([by, 6, 3]);
    expect([by, Math.abs(c.stripsM2 - 1.5 * 195) < 1.2]).toEqual([by, true]);
  }
  expect(() => closeByGeos([{ map: file([point]), widthM: 12, noiseM: 0.1 }])).toThrow('no record has an area');
});
