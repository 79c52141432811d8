/** From log intervals to the polygons that a file holds, in meters. */
import ArrayList from 'jsts/java/util/ArrayList.js';
import type Geometry from 'jsts/org/locationtech/jts/geom/Geometry.js';
import GeoJSONReader from 'jsts/org/locationtech/jts/io/GeoJSONReader.js';
import GeoJSONWriter from 'jsts/org/locationtech/jts/io/GeoJSONWriter.js';
import CascadedPolygonUnion from 'jsts/org/locationtech/jts/operation/union/CascadedPolygonUnion.js';
import type { Point } from './field.ts';
import type { Random } from './random.ts';
import type { Log, Step } from './work.ts';

export type Grain = 'section' | 'bar' | 'bar of parts' | 'strip' | 'strip of a section';

export interface Corners {
  /** Sides across travel are common to neighboring records, or each record is a rectangle of its own. */
  shared: boolean;
  /** Noise of the heading from which sides are drawn, degrees. */
  headingDeg: number;
  /** Further points on sides, and points that appear twice. */
  extra: number;
  repeated: boolean;
}

/** Rings not closed; the first ring of a polygon is its shell. */
export interface Shape {
  polygons: Point[][][];
  /** The log intervals that it is made of. */
  logs: Log[];
}

type Side = (step: Step, along: number) => [Point, Point];

/** How the ends of an interval are drawn: positions and headings with their noise, shifted as the display is set. */
function sidesOf(
  random: Random,
  corners: Corners,
): (log: Log, left: number, right: number) => [Point, Point, Point, Point] {
  const noise = new Map<Step | string, number>();
  const noisy = (key: Step | string): number => {
    let v = noise.get(key);
    if (v === undefined) {
      v = (random.normal() * corners.headingDeg * Math.PI) / 180;
      noise.set(key, v);
    }
    return v;
  };
  return (log, left, right) => {
    const { from, to, display } = log;
    const own = Math.atan2(to.y - from.y, to.x - from.x);
    const headings = corners.shared
      ? [from.h + noisy(from), to.h + noisy(to)]
      : [0, 0].map(() => own + noisy(`${log.pass} ${log.bar}`));
    const side: Side = (p, h) => {
      const [fx, fy] = [Math.cos(p.h) * display.forwardM, Math.sin(p.h) * display.forwardM];
      const put = (c: number): Point => [
        p.x + fx + Math.sin(h) * (c + display.asideM),
        p.y + fy - Math.cos(h) * (c + display.asideM),
      ];
      return [put(left), put(right)];
    };
    const [a, b] = side(from, headings[0]);
    const [d, c] = side(to, headings[1]);
    return [a, b, c, d];
  };
}

function dressed(random: Random, ring: Point[], corners: Corners): Point[] {
  const out: Point[] = [];
  for (let i = 0; i < ring.length; i++) {
    const p = ring[i];
    const q = ring[(i + 1) % ring.length];
    out.push(p);
    if (corners.repeated && random.chance(0.08)) out.push(p);
    if (random.next() * 4 < corners.extra) {
      const f = random.between(0.3, 0.7);
      out.push([p[0] + (q[0] - p[0]) * f, p[1] + (q[1] - p[1]) * f]);
    }
  }
  return out;
}

/** Neighboring sections that are on, as runs: [first, last] indices into the logs of a bar. */
function runsOf(logs: readonly Log[]): [number, number][] {
  const runs: [number, number][] = [];
  logs.forEach((log, i) => {
    const before = i > 0 ? logs[i - 1].display.bands[logs[i - 1].section] : null;
    const band = log.display.bands[log.section]!;
    if (before && Math.abs(before.right - band.left) < 1e-6) runs[runs.length - 1][1] = i;
    else runs.push([i, i]);
  });
  return runs;
}

function grouped<T>(list: readonly T[], key: (item: T) => string): T[][] {
  const groups = new Map<string, T[]>();
  for (const item of list) {
    const k = key(item);
    const group = groups.get(k);
    if (group) group.push(item);
    else groups.set(k, [item]);
  }
  return [...groups.values()];
}

/** Stretches along a pass in which one section recorded without a break and with one band. */
function chainsOf(logs: readonly Log[]): Log[][] {
  return grouped(logs, (l) => `${l.pass} ${l.section}`).flatMap((list) => {
    const chains: Log[][] = [];
    for (const log of list) {
      const last = chains[chains.length - 1]?.[chains[chains.length - 1].length - 1];
      if (last && last.to === log.from && last.display === log.display) chains[chains.length - 1].push(log);
      else chains.push([log]);
    }
    return chains;
  });
}

const reader = new (GeoJSONReader as unknown as new () => { read(shape: unknown): Geometry })();
const writer = new (
  GeoJSONWriter as unknown as new () => { write(g: Geometry): { type: string; coordinates: unknown } }
)();

function union(rings: Point[][]): Point[][][] {
  const list = new (ArrayList as unknown as new () => ArrayList)();
  for (const r of rings) list.add(reader.read({ type: 'Polygon', coordinates: [[...r, r[0]]] }));
  const out = writer.write(CascadedPolygonUnion.union(list) as Geometry);
  const polygons = (out.type === 'Polygon' ? [out.coordinates] : out.coordinates) as Point[][][];
  return polygons.map((p) => p.map((r) => r.slice(0, -1)));
}

/** Points closer to the line between their neighbors than `toleranceM` are left out (Douglas and Peucker 1973). */
function thinned(line: Point[], toleranceM: number): Point[] {
  if (line.length < 3) return line;
  const [a, b] = [line[0], line[line.length - 1]];
  const l = Math.hypot(b[0] - a[0], b[1] - a[1]);
  let most = 0;
  let at = 0;
  for (let i = 1; i < line.length - 1; i++) {
    const [dx, dy] = [line[i][0] - a[0], line[i][1] - a[1]];
    // A ring ends where it begins: then the distance is that from the point.
    const d = l > 0 ? Math.abs(dx * (b[1] - a[1]) - dy * (b[0] - a[0])) / l : Math.hypot(dx, dy);
    if (d > most) [most, at] = [d, i];
  }
  if (most <= toleranceM) return [a, b];
  return [...thinned(line.slice(0, at + 1), toleranceM).slice(0, -1), ...thinned(line.slice(at), toleranceM)];
}

/** Log intervals that are dissolved at once: too few to go round a field. */
const PIECE = 12;

/** A chain that goes round a field: it ends near where it began, far along. */
function isRound(chain: readonly Log[]): boolean {
  const [from, to] = [chain[0].from, chain[chain.length - 1].to];
  return to.s - from.s > 4 * Math.hypot(to.x - from.x, to.y - from.y);
}

export function drawShapes(
  random: Random,
  logs: readonly Log[],
  grain: Grain,
  corners: Corners,
  thinM: number,
): Shape[] {
  const sides = sidesOf(random, corners);
  const quad = (log: Log): Point[] => {
    const b = log.display.bands[log.section]!;
    return sides(log, b.left, b.right);
  };
  if (grain === 'section')
    return logs.map((log) => ({ polygons: [[dressed(random, quad(log), corners)]], logs: [log] }));
  if (grain === 'bar' || grain === 'bar of parts')
    return grouped(logs, (l) => `${l.pass} ${l.bar}`).map((bar) => {
      const parts = grain === 'bar' ? runsOf(bar) : bar.map((_, i): [number, number] => [i, i]);
      return {
        polygons: parts.map(([a, z]) => {
          const bandOf = (i: number) => bar[i].display.bands[bar[i].section]!;
          return [dressed(random, sides(bar[a], bandOf(a).left, bandOf(z).right), corners)];
        }),
        logs: bar,
      };
    });
  const chains = chainsOf(logs).map((chain) => {
    const quads = chain.map(quad);
    const left = [quads[0][0], ...quads.map((q) => q[3])];
    const right = [quads[0][1], ...quads.map((q) => q[2])];
    return { chain, left, right };
  });
  // A lap that runs on over its own beginning is a ring of ground with a hole: dissolved piece by piece, for a ring that covers itself is no polygon that could be.
  const pieces = ({ left, right }: { left: Point[]; right: Point[] }): Point[][] =>
    Array.from({ length: Math.ceil((left.length - 1) / PIECE) }, (_, k) => {
      const [from, to] = [k * PIECE, (k + 1) * PIECE + 1];
      return [...left.slice(from, to), ...right.slice(from, to).reverse()];
    });
  const dissolved = (rings: Point[][]): Point[][][] =>
    union(rings).map((p) => p.map((r) => thinned([...r, r[0]], thinM).slice(0, -1)));
  if (grain === 'strip of a section')
    return chains.map(({ chain, left, right }) => ({
      polygons: isRound(chain)
        ? dissolved(pieces({ left, right }))
        : [[[...thinned(left, thinM), ...thinned(right, thinM).reverse()]]],
      logs: chain,
    }));
  return grouped(chains, (c) => `${c.chain[0].pass}`).map((pass) => ({
    polygons: dissolved(pass.flatMap(pieces)),
    logs: pass.flatMap((c) => c.chain),
  }));
}
