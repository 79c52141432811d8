/**
 * The worst shapes of `tests/bench/worst-shapes.ts`, small: either the looks that all searches take grow with the file, or a check ends in the sentence of a limit. Looks are
 * counted, not timed. `tests/bench/worst.ts` measures large ones.
 */
import { readFileSync } from 'node:fs';
import { afterEach, describe, expect, it, vi } from 'vitest';
import { check } from '../../src/core/check.ts';
import { named, read } from '../../src/core/intake/index.ts';
import { readPlanter } from '../../src/core/planter/index.ts';
import type { UserErrorCode } from '../../src/core/shared/codes.ts';
import { UserError } from '../../src/core/shared/messages.ts';
import { SHAPES, WORST } from '../bench/worst-shapes.ts';

/** Looks taken since the last `looksOf`, and the part of its usual size that each budget has. */
const counted = vi.hoisted(() => ({ looks: 0, part: 1 }));
vi.mock('../../src/core/geometry/budget.ts', async (original) => {
  const real = await original<typeof import('../../src/core/geometry/budget.ts')>();
  class Counting extends real.Budget {
    constructor(most: number, each: number, count: number, refuse: (all: number) => UserError) {
      super(most * counted.part, each * counted.part, count, refuse);
    }
    override spend(looks: number): void {
      counted.looks += looks;
      super.spend(looks);
    }
  }
  return { ...real, Budget: Counting };
});
/** The most corners around open ground, or ground covered twice, for each point of a map. */
const around = vi.hoisted(() => ({ corners: 0 }));
vi.mock('../../src/core/ground/edges.ts', async (original) => {
  const real = await original<typeof import('../../src/core/ground/edges.ts')>();
  const edgesOf: typeof real.edgesOf = (pieces, wide, webs, plane, limits, points) => {
    around.corners = Math.max(around.corners, (pieces.xy.length + (wide?.xy.length ?? 0)) / 2 / points);
    return real.edgesOf(pieces, wide, webs, plane, limits, points);
  };
  return { ...real, edgesOf };
});
afterEach(() => {
  counted.part = 1;
  around.corners = 0;
});

// Counting every look on a busy machine takes its time.
vi.setConfig({ testTimeout: 180_000 });

type Shape = keyof typeof WORST;
const planter = readPlanter(readFileSync('sample-data/test-strips/test-strips.planter.json', 'utf8'), 'p.planter.json');
const file = (shape: Shape, size: number) => named('map.geojson', new TextEncoder().encode(WORST[shape].draw(size)));

/** The verdict, or the code of the sentence that the check ended in, and the looks that it took. */
async function end(shape: Shape, size: number): Promise<{ how: string; looks: number }> {
  counted.looks = 0;
  try {
    const { report } = await check({ map: [file(shape, size)], planter, planting: 'narrow' });
    return { how: report.verdict, looks: counted.looks };
  } catch (e) {
    if (!(e instanceof UserError)) throw e;
    return { how: e.detail.code, looks: counted.looks };
  }
}

/** Answered at any size. Twice the size, twice the comparisons; cells and trees add a little. */
const ANSWERED: [Shape, number][] = [
  ['holes', 250],
  ['long', 12],
  // Fewer are one pass, wider than any planter.
  ['slanted', 100],
  ['apart', 1000],
  ['zigzag', 1000],
  ['texts', 500],
  ['tangles', 40],
  ['corners', 120],
  ['open', 1000],
];
/** Answered where they are small. With a hundredth of every budget small ones reach it too. */
const BUDGETED: [Shape, number, UserErrorCode][] = [
  ['near', 400, 'too-close'],
  ['spots', 400, 'too-close'],
  ['diagonal', 100, 'too-close'],
  ['fan', 60, 'too-close'],
];
/** Refused as they are. */
const REFUSED: [Shape, number, UserErrorCode][] = [
  ['strips', 400, 'too-many-crossings'],
  ['combs', 400, 'too-many-crossings'],
  ['specks', 1500, 'too-many-crossings'],
  ['endless', 1, 'too-long'],
  ['diagonal', 64_000, 'too-long'],
  ['nested', 2000, 'no-records'],
  ['tangle', 3000, 'too-many-crossings'],
  ['corners', 2500, 'too-many-crossings'],
];

it('every shape of the table is held here', () => {
  const held = [...ANSWERED, ...BUDGETED, ...REFUSED].map(([shape]) => shape);
  expect(new Set([...held, 'spot'])).toEqual(new Set(SHAPES));
});

describe('comparisons grow with the file', () => {
  it.each(ANSWERED)('%s', async (shape, size) => {
    const [once, twice] = [await end(shape, size), await end(shape, 2 * size)];
    for (const { how } of [once, twice]) expect(['agrees', 'differs', 'undecided']).toContain(how);
    expect(once.looks).toBeGreaterThan(size);
    expect(twice.looks / once.looks).toBeLessThan(2.6);
  });

  it('spot: shapes that repeat others are folded, and take the comparisons of one', async () => {
    const [few, many] = [await end('spot', 2000), await end('spot', 20_000)];
    expect(many.how).toBe(few.how);
    expect(many.looks).toBeLessThan(2 * few.looks);
  });
});

describe('what is quadratic ends in the sentence of a limit', () => {
  it.each(BUDGETED)('%s', async (shape, size, code) => {
    expect(['agrees', 'differs', 'undecided']).toContain((await end(shape, size)).how);
    counted.part = 0.01;
    expect((await end(shape, size)).how).toBe(code);
  });

  it.each(REFUSED)('%s %d', async (shape, size, code) => {
    expect((await end(shape, size)).how).toBe(code);
  });
});

it('bars with every seam open have fewer corners around ground than the limit allows for each point, at any size; rings in any order have several times as many', async () => {
  await end('open', 1000);
  expect(around.corners).toBeGreaterThan(0.5);
  expect(around.corners).toBeLessThan(1.25);
  await end('corners', 120);
  expect(around.corners).toBeGreaterThan(3);
});

it('a long record is refused by its length', async () => {
  const said = await check({ map: [file('endless', 1)], planter, planting: 'narrow' }).catch((e) => e.detail.sentence);
  // 19 degrees of longitude at 42 degrees north: 111.32 km · cos 42° · 19 = 1572 km on a sphere.
  expect(said).toBe('The edge of a gap or an overlap runs straight for 1575 km, longer than any field.');
});

it('2,000 holes in an outline of 30,000 points are sound, and read', async () => {
  const set = await read([file('holes', 2000)]);
  expect([set.total, set.skipped, set.shapes.ringStart.length - 1, set.invalidRings]).toEqual([1, [], 2001, []]);
});
