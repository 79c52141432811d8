import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { type Coverage, type CoverageRings, measure, outline } from '../../src/core/coverage/index.ts';
import { geometry, multipolygon, pieces, union, valid } from './jts.ts';
import { nastyShapes, type Rings, random, toShapes } from './tools.ts';

const PLAIN = [1, 0, 0, 0] as const;
const RUNS = { numRuns: 60, seed: 20260401 };
/** Shapes of every nasty kind; fast-check finds the smallest seed and grid that fail. */
const shapes = fc
  .tuple(fc.integer({ min: 1, max: 1e6 }), fc.constantFrom(4, 8, 30, 1000))
  .map(([seed, side]) => nastyShapes(random(seed), side));

interface Both {
  m: Coverage;
  o: CoverageRings;
}
const run = (list: readonly Rings[]): Both => {
  const s = toShapes(list);
  return { m: measure(s, PLAIN), o: outline(s, PLAIN) };
};
const move = (list: readonly Rings[], f: (x: number, y: number) => [number, number]): Rings[] =>
  list.map((rings) =>
    rings.map((r) => Array.from({ length: r.length / 2 }, (_, i) => f(r[2 * i], r[2 * i + 1])).flat()),
  );

function close(a: ArrayLike<number>, b: ArrayLike<number>, scale: number): void {
  expect(a.length).toBe(b.length);
  for (let i = 0; i < a.length; i++)
    expect(Math.abs(a[i] - b[i])).toBeLessThanOrEqual(1e-9 * Math.max(1e-3 * scale, Math.abs(b[i])));
}
/** Same areas at every depth and the same number of polygons and rings. */
function alike(a: Both, b: Both): void {
  close(a.m.areaAtDepthM2, b.m.areaAtDepthM2, b.m.sumM2);
  for (const kind of ['covered', 'overlap'] as const) {
    expect(a.o[kind].polygonStart.length).toBe(b.o[kind].polygonStart.length);
    expect(a.o[kind].ringStart.length).toBe(b.o[kind].ringStart.length);
  }
}

// Outside: identities of plane geometry, and JSTS.
describe('coverage', () => {
  it.each<[string, (x: number, y: number) => [number, number]]>([
    ['a quarter turn', (x, y) => [-y, x]],
    ['a half turn', (x, y) => [-x, -y]],
    ['a shift of 1e9 steps', (x, y) => [x + 1e9, y + 1e9]],
    ['a shift of -1e9 steps', (x, y) => [x - 1e9, y + 999_999_937]],
  ])('does not change under %s', (_, f) => {
    fc.assert(
      fc.property(shapes, (list) => {
        const a = run(list);
        const b = run(move(list, f));
        alike(b, a);
        close(b.m.alreadyCoveredM2, a.m.alreadyCoveredM2, a.m.sumM2);
      }),
      RUNS,
    );
  });

  it('does not change in a mirror', () => {
    fc.assert(
      fc.property(shapes, (list) => {
        const a = run(list);
        const b = run(move(list, (x, y) => [-x, y]));
        alike(b, a);
        close(b.m.alreadyCoveredM2, a.m.alreadyCoveredM2, a.m.sumM2);
      }),
      RUNS,
    );
  });

  it('does not depend on the order of the records', () => {
    fc.assert(
      fc.property(shapes, fc.integer(), (list, seed) => {
        const next = random(seed);
        const mixed = list
          .map((l) => ({ l, k: next() }))
          .sort((a, b) => a.k - b.k)
          .map((e) => e.l);
        alike(run(mixed), run(list));
      }),
      RUNS,
    );
  });

  it('of a map and its copy is that of the map, all of the copy already covered', () => {
    fc.assert(
      fc.property(shapes, (list) => {
        const once = run(list);
        const twice = run([...list, ...list]);
        const union1 = once.m.areaAtDepthM2[0] ?? 0;
        close(
          [twice.m.areaAtDepthM2[0] ?? 0, twice.m.areaAtDepthM2[1] ?? 0, twice.o.overlapM2],
          [union1, union1, union1],
          once.m.sumM2,
        );
        close(twice.m.alreadyCoveredM2.subarray(list.length), measureAlone(list), once.m.sumM2);
        expect(twice.o.overlap.ringStart.length).toBe(once.o.covered.ringStart.length);
      }),
      RUNS,
    );
  });

  it('adds up: the sum of records is the union and the area at each further depth', () => {
    fc.assert(
      fc.property(shapes, (list) => {
        const { m, o } = run(list);
        const total = m.areaAtDepthM2.reduce((a, b) => a + b, 0);
        close(
          [total, m.sumM2 - m.alreadyCoveredM2.reduce((a, b) => a + b, 0)],
          [m.sumM2, m.areaAtDepthM2[0] ?? 0],
          m.sumM2,
        );
        close([o.coveredM2, o.overlapM2], [m.areaAtDepthM2[0] ?? 0, m.areaAtDepthM2[1] ?? 0], m.sumM2);
        for (let k = 1; k < m.areaAtDepthM2.length; k++)
          expect(m.areaAtDepthM2[k]).toBeLessThanOrEqual(m.areaAtDepthM2[k - 1] * (1 + 1e-12));
      }),
      RUNS,
    );
  });

  it('is the same after a record was cut in two', () => {
    fc.assert(
      fc.property(
        shapes,
        fc.integer({ min: 0, max: 1000 }),
        fc.integer({ min: 1, max: 1000 }),
        fc.integer({ min: 0, max: 7 }),
        (list, x, w, cut) => {
          // A rectangle of the record's own, cut along its width at a lattice line or along a diagonal.
          const h = 8;
          const whole: Rings = [[x, 0, x + w, 0, x + w, h, x, h]];
          const parts: Rings[] =
            cut === 0
              ? [[[x, 0, x + w, 0, x + w, h]], [[x, 0, x + w, h, x, h]]]
              : [[[x, 0, x + w, 0, x + w, cut, x, cut]], [[x, cut, x + w, cut, x + w, h, x, h]]];
          alike(run([...list, ...parts]), run([...list, whole]));
        },
      ),
      RUNS,
    );
  });

  it('agrees with JSTS on convex records: union, pieces, holes, and each record against those before', () => {
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 1e6 }), (seed) => {
        const list = quads(random(seed), 25);
        const { m, o } = run(list);
        const g = list.map(geometry);
        const all = union(g);
        close([m.areaAtDepthM2[0], o.coveredM2], [all.getArea(), all.getArea()], m.sumM2);
        expect(valid(multipolygon(o.covered))).toBe(true);
        expect(pieces(multipolygon(o.covered))).toEqual(pieces(all));
        let before = 0;
        for (let i = 0; i < g.length; i++) {
          const now = union(g.slice(0, i + 1)).getArea();
          close([m.alreadyCoveredM2[i]], [g[i].getArea() - (now - before)], m.sumM2);
          before = now;
        }
      }),
      { ...RUNS, numRuns: 15 },
    );
  });
});

function measureAlone(list: readonly Rings[]): Float64Array {
  return Float64Array.from(list, (rings) => measure(toShapes([rings]), PLAIN).sumM2);
}

/** Turned rectangles of random places and headings. */
function quads(next: () => number, count: number): Rings[] {
  return Array.from({ length: count }, () => {
    const [x, y, a, l, w] = [1000 * next(), 1000 * next(), 6.28 * next(), 40 + 200 * next(), 20 + 80 * next()];
    const [ux, uy] = [Math.cos(a), Math.sin(a)];
    const at = (s: number, t: number): number[] => [Math.round(x + s * ux - t * uy), Math.round(y + s * uy + t * ux)];
    return [[...at(0, 0), ...at(l, 0), ...at(l, w), ...at(0, w)]];
  });
}
