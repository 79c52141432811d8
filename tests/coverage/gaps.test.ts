import { describe, expect, it } from 'vitest';
import { areaOf, openGround, outline } from '../../src/core/coverage/index.ts';
import { multipolygon, valid } from './jts.ts';
import { backwards, type Rings, rectangle, toShapes } from './tools.ts';

const PLAIN = [1, 0, 0, 0] as const;

/** One shape of the given outline with the given holes. */
const pierced = (outer: number[], ...holes: number[][]): Rings => [outer, ...holes.map(backwards)];
const found = (list: Rings[], steps: [number, number], widthM: number): number[] =>
  Array.from(areaOf(openGround(outline(toShapes(list), PLAIN).covered, steps, widthM).narrow, PLAIN)).sort(
    (a, b) => a - b,
  );

// Arithmetic: the largest circle in a rectangle has its shorter side as diameter.
describe('openGround', () => {
  it('are holes narrower than the width, and only those', () => {
    const field = [
      pierced(
        rectangle(0, 0, 3000, 2000),
        rectangle(100, 100, 2000, 40),
        rectangle(100, 400, 60, 900),
        rectangle(1000, 500, 800, 800),
      ),
    ];
    expect(found(field, [10, 10], 3.9)).toEqual([]);
    expect(found(field, [10, 10], 4.1)).toEqual([80_000]);
    expect(found(field, [10, 10], 6.1)).toEqual([54_000, 80_000]);
    expect(found(field, [10, 10], 79.9)).toEqual([54_000, 80_000]);
    expect(found(field, [10, 10], 80.1)).toEqual([54_000, 80_000, 640_000]);
  });

  it('are measured on the ground where steps east and north differ', () => {
    // 40 steps are 4 m east but 2 m north.
    const field = [pierced(rectangle(0, 0, 3000, 3000), rectangle(100, 100, 2000, 40), rectangle(2500, 100, 40, 2000))];
    expect(found(field, [10, 20], 1.9)).toEqual([]);
    expect(found(field, [10, 20], 2.1)).toEqual([80_000]);
    expect(found(field, [10, 20], 4.1)).toEqual([80_000, 80_000]);
  });

  it('follow long slanted slivers', () => {
    // 2 km long at 45 degrees, sqrt(2)·2 = 2.83 m wide in steps of 10 per meter.
    const sliver = [1000, 1000, 15_000, 15_000, 14_960, 15_000, 1000, 1040];
    const field = [pierced(rectangle(0, 0, 20_000, 20_000), sliver)];
    expect(found(field, [10, 10], 2.8)).toEqual([]);
    expect(found(field, [10, 10], 2.9).length).toBe(1);
  });

  it('stop at islands: the ground around one is as wide as the way between', () => {
    const list = [pierced(rectangle(0, 0, 1000, 1000), rectangle(100, 100, 800, 800)), [rectangle(150, 150, 700, 700)]];
    expect(found(list, [10, 10], 4.9)).toEqual([]);
    const got = openGround(outline(toShapes(list), PLAIN).covered, [10, 10], 6.2).narrow;
    expect(Array.from(areaOf(got, PLAIN))).toEqual([640_000 - 490_000]);
    expect(Array.from(got.ringStart).length).toBe(3);
    expect(valid(multipolygon(got))).toBe(true);
  });

  it('are none where nothing is covered, or all is', () => {
    expect(found([], [1, 1], 10)).toEqual([]);
    expect(found([[rectangle(0, 0, 5, 5)]], [1, 1], 10)).toEqual([]);
  });
});

describe('areaOf', () => {
  it('takes holes off and follows the ground density', () => {
    const { covered } = outline(
      toShapes([pierced(rectangle(0, 0, 10, 10), rectangle(2, 2, 3, 3)), [rectangle(20, 0, 2, 4)]]),
      PLAIN,
    );
    expect(Array.from(areaOf(covered, PLAIN)).sort((a, b) => a - b)).toEqual([8, 91]);
    // The integral of y over the two: 10·50 - 3·(25 - 4)/2, and 2·8.
    const weighted = Array.from(areaOf(covered, [0, 1, 0, 0])).sort((a, b) => a - b);
    expect(weighted[0]).toBeCloseTo(16, 10);
    expect(weighted[1]).toBeCloseTo(468.5, 10);
  });
});
