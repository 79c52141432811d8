/** A boundary encloses what its rings do by the rule for maps: even-odd for a ring that crosses itself, and once where records overlap. Areas by hand. */
import { expect, it } from 'vitest';
import { measure } from '../../src/core/coverage/index.ts';
import { outsideOf } from '../../src/core/steps/boundary.ts';
import { collection, feature, readJson } from '../intake/helpers.ts';

type Points = readonly (readonly [number, number])[];

/** Ground inside the boundary, in squares of 1e-4 degree: what the frame around it has less the land outside. */
async function enclosed(records: readonly (readonly Points[])[]): Promise<number> {
  const at = ([x, y]: readonly [number, number]): number[] => [-93.5 + x * 1e-4, 42 + y * 1e-4];
  const set = await readJson(collection(records.map((rings) => feature(rings.map((r) => [...r, r[0]].map(at))))));
  const outside = outsideOf(set, set.lattice, { minX: 0, minY: 0, maxX: 1, maxY: 1 });
  const [x0, y0, x1, , , y1] = outside.xy;
  const { areaM2 } = measure(outside, [1, 0, 0, 0]);
  return ((x1 - x0) * (y1 - y0) - areaM2[0]) / (set.lattice.stepsPerDegree * 1e-4) ** 2;
}

const box = (x0: number, y0: number, x1: number, y1: number): Points => [
  [x0, y0],
  [x1, y0],
  [x1, y1],
  [x0, y1],
];

it.each([
  ['a square', [[box(0, 0, 4, 4)]], 16],
  ['a square with a hole', [[box(0, 0, 4, 4), box(1, 1, 2, 3)]], 14],
  ['two squares that overlap, in two records', [[box(0, 0, 4, 4)], [box(2, 2, 6, 6)]], 28],
  ['the same record twice', [[box(0, 0, 4, 4)], [box(0, 0, 4, 4)]], 16],
  [
    'a bow-tie: both halves',
    [
      [
        [
          [0, 0],
          [4, 4],
          [4, 0],
          [0, 4],
        ],
      ],
    ],
    8,
  ],
  ['a hole that crosses its shell', [[box(0, 0, 4, 4), box(2, 1, 6, 3)]], 12],
  ['a hole that another record fills', [[box(0, 0, 4, 4), box(1, 1, 3, 3)], [box(1, 1, 3, 3)]], 16],
] as readonly [string, Points[][], number][])('%s', async (_, records, area) => {
  expect(await enclosed(records)).toBeCloseTo(area, 3);
});
