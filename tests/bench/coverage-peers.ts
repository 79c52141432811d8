/** General libraries beside the coverage engine, each as its user would call it, on the same quads. Times leave out the building of their geometries. */
import { createRequire } from 'node:module';
import { area, featureCollection, polygon, union as turfUnion } from '@turf/turf';
import { union as polyclipUnion } from 'polyclip-ts';
import { geometry, union as jtsUnion } from '../coverage/jts.ts';
import type { BenchMap } from './coverage-map.ts';

/** Milliseconds and the area of the union in square lattice steps (NaN where the library measures on a sphere). */
export interface PeerRun {
  ms: number;
  area: number;
}

type Ring = [number, number][];

function rings(map: BenchMap): Ring[] {
  const { xy } = map.shapes;
  return Array.from({ length: map.count }, (_, i) => {
    const ring: Ring = [];
    for (const k of [0, 1, 2, 3, 0]) ring.push([xy[8 * i + 2 * k], xy[8 * i + 2 * k + 1]]);
    return ring;
  });
}

function timed<T>(run: () => T): { ms: number; out: T } {
  const start = performance.now();
  const out = run();
  return { ms: performance.now() - start, out };
}

function shoelace(ring: readonly (readonly number[])[]): number {
  let a = 0;
  for (let i = 0; i < ring.length; i++) {
    const [x, y] = ring[i];
    const [u, v] = ring[(i + 1) % ring.length];
    a += x * v - y * u;
  }
  return a / 2;
}

export function turf(map: BenchMap): PeerRun {
  // Degrees, as a user of the library has them.
  const all = featureCollection(rings(map).map((r) => polygon([r.map(([x, y]) => [-93 + x / 1e7, 41.9 + y / 1e7])])));
  const { ms, out } = timed(() => turfUnion(all));
  return { ms, area: out && area(out) > 0 ? Number.NaN : 0 };
}

export function jsts(map: BenchMap): PeerRun {
  const all = rings(map).map((r) => geometry([r.slice(0, 4).flat()]));
  const { ms, out } = timed(() => jtsUnion(all));
  return { ms, area: out.getArea() };
}

export function polyclip(map: BenchMap): PeerRun {
  const all = rings(map).map((r) => [r]);
  const { ms, out } = timed(() => polyclipUnion(all[0], ...all.slice(1)));
  return {
    ms,
    area: out.reduce(
      (sum, p) => sum + p.reduce((s, r, i) => s + (i === 0 ? 1 : -1) * Math.abs(shoelace(r.slice(0, -1))), 0),
      0,
    ),
  };
}

interface Clipper {
  MakePath64(xy: number[]): { delete(): void };
  Paths64: new () => { push_back(path: unknown): void; size(): number; delete(): void };
  Union64(subjects: unknown, clips: unknown, rule: unknown): { size(): number; delete(): void };
  AreaPaths64(paths: unknown): number;
  FillRule: { NonZero: unknown };
}

/** Whole numbers, a thousand to the lattice step. */
export async function clipper(map: BenchMap): Promise<PeerRun> {
  const require = createRequire(import.meta.url);
  const load = require('clipper2-wasm/dist/umd/clipper2z.js') as () => Promise<Clipper>;
  const c = await load();
  const subjects = new c.Paths64();
  for (const r of rings(map)) {
    const path = c.MakePath64(
      r
        .slice(0, 4)
        .flat()
        .map((v) => 1000 * v),
    );
    subjects.push_back(path);
    path.delete();
  }
  const none = new c.Paths64();
  const { ms, out } = timed(() => c.Union64(subjects, none, c.FillRule.NonZero));
  return { ms, area: c.AreaPaths64(out) / 1e6 };
}
