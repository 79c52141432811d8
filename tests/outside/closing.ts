/**
 * Open strips of a map, measured from its polygons alone: covered ground closed by half a working width, less covered ground.
 * Two general geometry libraries do it: GEOS (Debian python3-shapely, in closing.py) and JTS (npm jsts). Neither depends on the product.
 *
 * 1. Degrees become meters on a local plane (radii of curvature of the WGS84 ellipsoid in the middle of the map).
 * 2. Records are joined; with a boundary, the ground outside it counts as covered, so that strips along an edge or a waterway are found.
 * 3. Closing, in two ways, both with half the width. Plain closing, with circles, fills every inside corner with a fillet. A mitred one keeps corners up to
 *    a right angle as they are, but reaches too far from outside corners. The common part of the two does neither, and fills a strip between parallel edges to its
 *    very mouth; but it leaves the mouths of wedges open for a quarter of the width more than a circle needs, and digs as deep into a fan of bars, whose grown
 *    corners are teeth. `plainM2` is of plain closing, all else of the common part.
 * 4. What is narrower than `noiseM` is taken off by opening (steering noise, and slivers between records of rounded corners).
 * 5. Of the pieces, `strips` are half as long again as wide (length and width are those of the rectangle with the same perimeter and area), and at most
 *    0.28 of the way around them is open. Closing leaves a crescent in the notch of a pass end: in one as wide as closing reaches, the half circle is 0.28
 *    of the way around where the notch is one and a half times as deep as wide. `pockets` are shorter than a width or than three times as wide, and
 *    most of a hole in what is covered, slits of noise around it shut. The rest are corners and crescents, which closing fills though nobody
 *    drove past twice: they are only counted, in `droppedM2`.
 *
 * Limits: a strip wider than `widthM` is open ground, not a strip. A wedge narrower than a width between converging passes counts up
 * to where it is as wide. Ground that was covered by anybody at any time is covered.
 */
import { spawnSync } from 'node:child_process';
import { readFileSync } from 'node:fs';
import type { Geometry as Shape } from 'geojson';
import ArrayList from 'jsts/java/util/ArrayList.js';
import type PublishedGeometry from 'jsts/org/locationtech/jts/geom/Geometry.js';
import GeometryFactory from 'jsts/org/locationtech/jts/geom/GeometryFactory.js';
import PrecisionModel from 'jsts/org/locationtech/jts/geom/PrecisionModel.js';
import GeoJSONReader from 'jsts/org/locationtech/jts/io/GeoJSONReader.js';
import BufferOp from 'jsts/org/locationtech/jts/operation/buffer/BufferOp.js';
import BufferParameters from 'jsts/org/locationtech/jts/operation/buffer/BufferParameters.js';
import SnapIfNeededOverlayOp from 'jsts/org/locationtech/jts/operation/overlay/snap/SnapIfNeededOverlayOp.js';
import CascadedPolygonUnion from 'jsts/org/locationtech/jts/operation/union/CascadedPolygonUnion.js';
import IsValidOp from 'jsts/org/locationtech/jts/operation/valid/IsValidOp.js';

export interface ClosingJob {
  /** GeoJSON file of polygons. */
  map: string;
  /** Working width, meters: the closing reaches half of it from either side. */
  widthM: number;
  /** Strips narrower than this are noise, meters. Take three times the pass-to-pass accuracy or more. */
  noiseM: number;
  /** GeoJSON file of the field's edge; holes are ground that is not planted, such as a waterway. */
  boundary?: string;
}

export interface OpenGround {
  areaM2: number;
  lengthM: number;
  /** Mean over its length. */
  widthM: number;
  kind: 'strip' | 'pocket' | 'corner';
  /** Degrees; only GEOS gives it. */
  geometry?: Shape;
}

export interface Closing {
  /** JTS counts polygons, GEOS features. */
  records: number;
  /** Of these, those without an area: rings of fewer than three points, or of points on one line. */
  leftOut: number;
  coveredM2: number;
  stripsM2: number;
  pocketsM2: number;
  droppedM2: number;
  /** Strips and pockets by plain closing; only GEOS gives it. */
  plainM2?: number;
  /** Largest first. */
  pieces: OpenGround[];
  /** What was dropped; only GEOS gives it. */
  corners?: OpenGround[];
}

/** One process for all jobs. Throws with the words of Python when it fails. */
export function closeByGeos(jobs: readonly ClosingJob[]): Closing[] {
  const input = JSON.stringify(jobs);
  const r = spawnSync('/usr/bin/python3', ['tests/outside/closing.py'], {
    input,
    encoding: 'utf8',
    maxBuffer: 1 << 28,
  });
  if (r.status !== 0) throw new Error(`closing.py: ${r.stderr || r.error}`);
  return JSON.parse(r.stdout);
}

const FLATTENING_E2 = 0.0066943799901413165;
const MAJOR_M = 6378137;
/** A tenth of a millimeter: JTS's overlay needs a grid to be sure of itself. */
const GRID_PER_M = 1e4;
const MITRE_LIMIT = 1.5;
const ARC_STEPS = 16;
const SLIM = 1.5;
const MOUTH = 0.28;

type Geometry = PublishedGeometry & {
  getGeometryType(): string;
  isEmpty(): boolean;
  getExteriorRing(): Geometry;
  getNumInteriorRing(): number;
  getInteriorRingN(k: number): Geometry;
  getCoordinates(): { x: number; y: number }[];
};

// The published types ask for arguments that the library does not need, and leave out some that it has.
const make = <T>(kind: unknown, ...args: unknown[]): T => new (kind as new (...a: unknown[]) => T)(...args);
const reader = make<{ read(shape: unknown): Geometry }>(
  GeoJSONReader,
  make(GeometryFactory, make(PrecisionModel, GRID_PER_M)),
);
const overlay = (name: 'difference' | 'intersection' | 'union', a: Geometry, b: Geometry): Geometry =>
  (SnapIfNeededOverlayOp as unknown as Record<typeof name, (a: Geometry, b: Geometry) => Geometry>)[name](a, b);

function buffered(g: Geometry, distance: number, mitred = false): Geometry {
  const style = mitred
    ? make(BufferParameters, 8, BufferParameters.CAP_ROUND, BufferParameters.JOIN_MITRE, MITRE_LIMIT)
    : make(BufferParameters, ARC_STEPS);
  return make<{ getResultGeometry(d: number): Geometry }>(BufferOp, g, style).getResultGeometry(distance);
}

function joined(list: readonly Geometry[]): Geometry {
  const all = make<ArrayList>(ArrayList);
  for (const g of list) all.add(g);
  return CascadedPolygonUnion.union(all) as Geometry;
}

function polygonsOf(g: Geometry): Geometry[] {
  if (g.getGeometryType() === 'Polygon') return g.isEmpty() ? [] : [g];
  if (g.getNumGeometries() === 1 && g.getGeometryN(0) === g) return [];
  return Array.from({ length: g.getNumGeometries() }, (_, k) => polygonsOf(g.getGeometryN(k) as Geometry)).flat();
}

type Rings = number[][][];

function polygonsIn(path: string): Rings[] {
  const { features } = JSON.parse(readFileSync(path, 'utf8')) as { features: { geometry: Shape }[] };
  return features.flatMap(({ geometry: g }) =>
    g?.type === 'Polygon' ? [g.coordinates] : g?.type === 'MultiPolygon' ? g.coordinates : [],
  );
}

/** JTS refuses a ring of fewer than three points. */
const hasArea = ([outer]: Rings): boolean => new Set(outer?.map(String)).size > 2;

function planeOf(polygons: readonly Rings[]): (rings: Rings) => Geometry {
  const points = polygons.flat(2);
  const near = (x: number, of: number) => ((((x - of + 180) % 360) + 360) % 360) - 180;
  const first = points[0][0];
  const ends = (values: number[]) =>
    values.reduce((m, v) => [Math.min(m[0], v), Math.max(m[1], v)], [values[0], values[0]]);
  const x = ends(points.map((p) => near(p[0], first)));
  const y = ends(points.map((p) => p[1]));
  const lon = first + (x[0] + x[1]) / 2;
  const lat = (y[0] + y[1]) / 2;
  const w = Math.sqrt(1 - FLATTENING_E2 * Math.sin((lat * Math.PI) / 180) ** 2);
  const kx = (Math.PI / 180) * MAJOR_M * (Math.cos((lat * Math.PI) / 180) / w);
  const ky = ((Math.PI / 180) * MAJOR_M * (1 - FLATTENING_E2)) / w ** 3;
  const grid = (v: number) => Math.round(v * GRID_PER_M) / GRID_PER_M;
  return (rings) =>
    reader.read({
      type: 'Polygon',
      coordinates: rings.map((r) => r.map((p) => [grid(near(p[0], lon) * kx), grid((p[1] - lat) * ky)])),
    });
}

function extent(ring: Geometry): { x: [number, number]; y: [number, number] } {
  const ends = (v: number[]): [number, number] =>
    v.reduce(([l, h], w) => [Math.min(l, w), Math.max(h, w)], [v[0], v[0]]);
  const points = ring.getCoordinates();
  return { x: ends(points.map((p) => p.x)), y: ends(points.map((p) => p.y)) };
}

function ringArea(ring: Geometry): number {
  const p = ring.getCoordinates();
  let sum = 0;
  for (let i = 1; i < p.length; i++)
    sum += (p[i].x - p[0].x) * (p[i - 1].y - p[0].y) - (p[i - 1].x - p[0].x) * (p[i].y - p[0].y);
  return Math.abs(sum / 2);
}

type Segment = [ax: number, ay: number, bx: number, by: number];

function segmentsOf(g: Geometry): Segment[] {
  return polygonsOf(g).flatMap((p) =>
    [p.getExteriorRing(), ...Array.from({ length: p.getNumInteriorRing() }, (_, k) => p.getInteriorRingN(k))].flatMap(
      (ring) => {
        const c = ring.getCoordinates();
        return c.slice(1).map((b, k): Segment => [c[k].x, c[k].y, b.x, b.y]);
      },
    ),
  );
}

/** Part of the way around a piece that is no edge of covered ground: where closing stopped. Looked at every quarter of a meter or less. */
function openShare(p: Geometry, covered: readonly Segment[], slack: number): number {
  const around = segmentsOf(p);
  const { x, y } = extent(p.getExteriorRing());
  const beside = covered.filter(
    ([ax, ay, bx, by]) =>
      Math.max(ax, bx) > x[0] - 1 &&
      Math.min(ax, bx) < x[1] + 1 &&
      Math.max(ay, by) > y[0] - 1 &&
      Math.min(ay, by) < y[1] + 1,
  );
  const isBeside = (u: number, v: number): boolean =>
    beside.some(([ax, ay, bx, by]) => {
      const [dx, dy] = [bx - ax, by - ay];
      const t = Math.max(0, Math.min(1, ((u - ax) * dx + (v - ay) * dy) / (dx * dx + dy * dy || 1)));
      return Math.hypot(ax + t * dx - u, ay + t * dy - v) <= slack;
    });
  let [all, open] = [0, 0];
  for (const [ax, ay, bx, by] of around) {
    const length = Math.hypot(bx - ax, by - ay);
    const parts = Math.ceil(length / 0.25);
    for (let k = 0; k < parts; k++) {
      const t = (k + 0.5) / parts;
      if (!isBeside(ax + t * (bx - ax), ay + t * (by - ay))) open += length / parts;
    }
    all += length;
  }
  return open / all;
}

const areaOf = (list: readonly { areaM2: number }[]): number => list.reduce((sum, p) => sum + p.areaM2, 0);

/** The same measure by JTS, in this process: some seconds for 5,000 records. */
export function closeByJts(job: ClosingJob): Closing {
  const { widthM, noiseM } = job;
  const all = polygonsIn(job.map);
  const records = all.filter(hasArea);
  const toPlane = planeOf(records);
  const solid = (rings: Rings): Geometry => {
    const g = toPlane(rings);
    return IsValidOp.isValid(g) ? g : buffered(g, 0);
  };
  const parts = records.map(solid).filter((g) => g.getArea() > 0);
  const covered = joined(parts);
  let filled = covered;
  if (job.boundary) {
    const field = joined(polygonsIn(job.boundary).map(solid));
    const around = overlay('union', covered, field).getEnvelope() as Geometry;
    filled = overlay('union', covered, overlay('difference', buffered(around, 2 * widthM, true), field));
  }
  const round = buffered(buffered(filled, widthM / 2), -widthM / 2);
  const mitred = buffered(buffered(filled, widthM / 2, true), -widthM / 2, true);
  let ground = overlay('difference', overlay('intersection', round, mitred), filled);
  if (noiseM > 0)
    ground = overlay('intersection', buffered(buffered(ground, -noiseM / 2), (noiseM / 2) * 1.02), ground);
  const shut = noiseM > 0 ? buffered(buffered(filled, noiseM / 2, true), -noiseM / 2, true) : filled;
  const holes = polygonsOf(shut).flatMap((p) =>
    Array.from({ length: p.getNumInteriorRing() }, (_, k) => {
      const ring = p.getInteriorRingN(k);
      const { x, y } = extent(ring);
      return { areaM2: ringArea(ring), x, y };
    }),
  );
  const edges = segmentsOf(filled);
  const pieces: OpenGround[] = [];
  let droppedM2 = 0;
  for (const p of polygonsOf(ground)) {
    const areaM2 = p.getArea();
    const half = p.getLength() / 2;
    const mean = (half - Math.sqrt(Math.max(half ** 2 - 4 * areaM2, 0))) / 2;
    const long = half - mean >= Math.max(widthM, 3 * mean);
    // A pocket is most of a hole in what is covered.
    const { x, y } = extent(p.getExteriorRing());
    const slack = noiseM + 0.001;
    const within = (a: [number, number], b: [number, number]): boolean => a[0] >= b[0] - slack && a[1] <= b[1] + slack;
    const enclosed =
      !long &&
      holes.some((h) => areaM2 > 0.5 * h.areaM2 && areaM2 < 1.01 * h.areaM2 && within(h.x, x) && within(h.y, y));
    const slim = half - mean >= SLIM * mean && openShare(p, edges, slack) <= MOUTH;
    if (slim || enclosed)
      pieces.push({ areaM2, lengthM: half - mean, widthM: mean, kind: enclosed ? 'pocket' : 'strip' });
    else droppedM2 += areaM2;
  }
  pieces.sort((a, b) => b.areaM2 - a.areaM2);
  return {
    records: all.length,
    leftOut: all.length - parts.length,
    coveredM2: covered.getArea(),
    stripsM2: areaOf(pieces.filter((p) => p.kind === 'strip')),
    pocketsM2: areaOf(pieces.filter((p) => p.kind === 'pocket')),
    droppedM2,
    pieces,
  };
}
