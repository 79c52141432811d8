/**
 * Polygons with rings of every kind, drawn at random, written as GeoJSON and as shapefiles, against GEOS (through shapely).
 * `RING_ROUNDS=2000 npx vitest run tests/intake/geos-rings.test.ts` runs more of them.
 */
import { execFileSync } from 'node:child_process';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import { measure } from '../../src/core/coverage/index.ts';
import { collection, feature, readJson, seeded } from './helpers.ts';

type Ring = [number, number][];
const ROUNDS = Number(process.env.RING_ROUNDS ?? 40);

interface Geos {
  /** The rule in terms of GEOS. */
  rule: number;
  /** `make_valid` of the whole polygon. */
  valid: number;
}

function geos(polygons: Ring[][]): Geos[] {
  const script = fileURLToPath(new URL('./geos-rule.py', import.meta.url));
  const input = polygons.map((rings) => JSON.stringify(rings)).join('\n');
  const out = execFileSync('/usr/bin/python3', [script], { input, encoding: 'utf8', maxBuffer: 1 << 28 });
  return out
    .trimEnd()
    .split('\n')
    .map((line) => JSON.parse(line) as Geos);
}

/** What every polygon covers, in grid steps. The grid is wide enough that the lattice has a place for each of its points. */
async function ours(polygons: Ring[][]): Promise<number[]> {
  const features = polygons.map((rings) =>
    feature(
      rings.map((r) =>
        [...r, r[0]].map(([x, y]) => [Math.round(1e7 * (10 + x * 1e-5)) / 1e7, Math.round(y * 100) / 1e7]),
      ),
    ),
  );
  // Far from the others, so that the lattice is the same whatever becomes of them.
  const set = await readJson(collection(features));
  const area = new Array<number>(polygons.length).fill(0);
  const k = (set.lattice.stepsPerDegree * 1e-5) ** 2;
  measure(set.shapes, [1, 0, 0, 0]).areaM2.forEach((a, i) => {
    area[set.recordNumber[i] - 1] = a / k;
  });
  return area;
}

const differences = (polygons: Ring[][], got: number[], want: number[]): string[] =>
  polygons.flatMap((p, i) =>
    Math.abs(got[i] - want[i]) <= 1e-9 * Math.max(1, want[i])
      ? []
      : [`${got[i]}, not ${want[i]}: ${JSON.stringify(p)}`],
  );

const rings = (next: () => number) => {
  const int = (n: number): number => Math.floor(next() * n);
  return {
    star: (side: number): Ring => Array.from({ length: 3 + int(7) }, () => [int(side + 1), int(side + 1)]),
    rect: (x: number, y: number, w: number, h: number): Ring => {
      const ring: Ring = [
        [x, y],
        [x + w, y],
        [x + w, y + h],
        [x, y + h],
      ];
      return next() < 0.5 ? ring : ring.reverse();
    },
    int,
  };
};
const cross = ([ax, ay]: number[], [bx, by]: number[], [cx, cy]: number[]): number =>
  (bx - ax) * (cy - ay) - (by - ay) * (cx - ax);
/** No stretch of line is run twice: GEOS then takes it for a cut between two faces, which even-odd does not. */
function runsOnce(ring: Ring): boolean {
  const edges = ring.map((p, i) => [p, ring[(i + 1) % ring.length]]).filter(([p, q]) => String(p) !== String(q));
  const along = ([a, b]: number[][], p: number[]): number =>
    ((p[0] - a[0]) * (b[0] - a[0]) + (p[1] - a[1]) * (b[1] - a[1])) / ((b[0] - a[0]) ** 2 + (b[1] - a[1]) ** 2);
  return edges.every((e, i) =>
    edges.slice(i + 1).every(([p, q]) => {
      if (cross(e[0], e[1], p) !== 0 || cross(e[0], e[1], q) !== 0) return true;
      const [s, t] = [along(e, p), along(e, q)];
      return Math.max(s, t) <= 0 || Math.min(s, t) >= 1;
    }),
  );
}
const isArea = (ring: Ring): boolean => new Set(ring.map(String)).size > 2 && runsOnce(ring);

describe.each([
  [6, 0],
  [20, 0],
  [1000, 0],
])('one ring of 3 to 9 points on a grid of %i', (side) => {
  it('covers what make_valid gives it', async () => {
    const { star } = rings(seeded(20261129 + side));
    const polygons = Array.from({ length: 5 * ROUNDS }, () => [star(side)]).filter(([r]) => isArea(r));
    const want = geos(polygons);
    expect(
      differences(
        polygons,
        await ours(polygons),
        want.map((w) => w.valid),
      ),
    ).toEqual([]);
  }, 600_000);
});

describe.each([[10], [30]])('a ring with holes on a grid of %i', (side) => {
  it('covers what the rule says, with GEOS for the cutting', async () => {
    const { rect, int } = rings(seeded(77 + side));
    const polygons = Array.from({ length: 5 * ROUNDS }, () => [
      rect(0, 0, side, side),
      ...Array.from({ length: 1 + int(4) }, () =>
        rect(int(2 * side) - 3, int(2 * side) - 3, 1 + int(side), 1 + int(side)),
      ),
    ]);
    const want = geos(polygons);
    expect(
      differences(
        polygons,
        await ours(polygons),
        want.map((w) => w.rule),
      ),
    ).toEqual([]);
    // Where no ring crosses another, make_valid of the whole polygon says the same.
    expect(want.filter((w) => Math.abs(w.rule - w.valid) < 1e-9).length).toBeGreaterThan(want.length / 5);
  }, 600_000);
});
