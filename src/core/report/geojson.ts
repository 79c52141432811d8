import type { AccountLine } from '../account/types.ts';
import type { Answer, Evidence } from '../answer.ts';
import type { Polygons } from '../coverage/index.ts';
import type { Lattice, Shapes } from '../geometry/shapes.ts';
import { clean } from '../shared/safe.ts';
import { cutAtAntimeridian, type Geometry, type Position, tidy } from './antimeridian.ts';
import { heading, round } from './json.ts';
import { jsonText } from './plain.ts';

/** The answer as one GeoJSON text. For maps of millions of records write `geoJsonParts` one after another instead. */
export function toGeoJson(answer: Answer): string {
  return [...geoJsonParts(answer)].join('');
}

/**
 * The answer as a GeoJSON FeatureCollection (RFC 7946), in pieces to be written one after another. Property `layer` tells
 * `recorded` (every used record with its number, pass, bar, section and width), `planted` (what the declared planter covered),
 * `gap` and `overlap` (one feature per line of the account, with its cause) and `track` (one line per pass). Verdict and seams are the foreign member `guessrow`. Coordinates are degrees
 * on WGS84: those of records digit for digit as the map gave them. What crosses the antimeridian is cut there (section 3.1.9).
 */
export function* geoJsonParts(answer: Answer): Generator<string> {
  const { report, evidence: e } = answer;
  const about = {
    verdict: report.verdict,
    says: clean(report.says),
    seams: e.seams.map((s) => ({
      passes: [s.passA, s.passB],
      facing: s.facing,
      recordedM: meters(s.recordedM),
      plantedM: meters(s.plantedM),
    })),
  };
  yield `{"type":"FeatureCollection","guessrow":${jsonText(about)},"features":[`;
  let first = true;
  for (const f of features(e, report.account)) {
    yield `${first ? '\n' : ',\n'}${f}`;
    first = false;
  }
  yield '\n]}\n';
}

function* features(e: Evidence, account: readonly AccountLine[]): Generator<string> {
  const n = e.records.shapeStart.length - 1;
  for (let i = 0; i < n; i++) {
    const geometry = shapeGeometry(e.records, i, e.lattice);
    if (geometry === null) continue;
    yield feature(geometry, {
      layer: 'recorded',
      record: e.recordNumber[i],
      pass: e.recordPass[i] || null,
      bar: e.recordBar[i] < 0 ? null : e.recordBar[i] + 1,
      section: e.recordSection[i] < 0 ? null : e.recordSection[i] + 1,
      widthM: meters(e.recordWidthM[i]),
    });
  }
  for (let i = 0; i + 1 < e.planted.shapeStart.length; i++) {
    const geometry = shapeGeometry(e.planted, i, e.plantedLattice);
    if (geometry !== null) yield feature(geometry, { layer: 'planted' });
  }
  for (let i = 0; i < account.length; i++) {
    const geometry = polygonsGeometry(e.account[i], e.lattice);
    if (geometry === null) continue;
    const { fact, says, areaM2, excessM2, widthM, lengthM, ...l } = account[i];
    yield feature(geometry, {
      layer: fact,
      ...l,
      areaM2: meters(areaM2),
      lengthM: meters(lengthM),
      says: clean(says),
    });
  }
  for (const p of e.passes) {
    if (p.track.length < 4) continue;
    const line: Position[] = [];
    for (let k = 0; k + 1 < p.track.length; k += 2) line.push(degrees(p.track[k], p.track[k + 1], e.lattice));
    yield feature(
      { type: 'LineString', coordinates: line },
      {
        layer: 'track',
        pass: p.number,
        bars: p.bars,
        lengthM: meters(p.lengthM),
        headingDeg: heading(p.headingDeg),
        widthM: meters(p.recordedWidthM),
        start: p.startMs === null ? null : new Date(p.startMs).toISOString(),
        end: p.endMs === null ? null : new Date(p.endMs).toISOString(),
      },
    );
  }
}

function feature(geometry: Geometry, properties: Record<string, unknown>): string {
  return jsonText({ type: 'Feature', properties, geometry: cutAtAntimeridian(geometry) });
}

function meters(m: number): number | null {
  return Number.isFinite(m) ? round(m, 4) : null;
}

/** Lattice steps to degrees. Whole steps of a decimal lattice give back the digits of the file. */
function degrees(x: number, y: number, lattice: Lattice): Position {
  const { stepsPerDegree: s, originX, originY } = lattice;
  return [tidy((originX + x) / s), tidy((originY + y) / s)];
}

type Ring = { points: Position[]; area: number };

/** One shape as a polygon, or as several where it has several outer rings; null when no ring has three points. */
function shapeGeometry(shapes: Shapes, i: number, lattice: Lattice): Geometry | null {
  const rings: Ring[] = [];
  for (let r = shapes.shapeStart[i]; r < shapes.shapeStart[i + 1]; r++) {
    const from = shapes.ringStart[r];
    const to = shapes.ringStart[r + 1];
    if (to - from < 3) continue;
    rings.push(ringOf(shapes.xy, from, to, lattice));
  }
  if (rings.length === 0) return null;
  const outer = rings.filter((r) => r.area >= 0);
  if (outer.length === 0) return { type: 'Polygon', coordinates: rings.map((r) => [...r.points].reverse()) };
  const parts = outer.map((r) => ({ area: r.area, coordinates: [r.points] }));
  for (const hole of rings.filter((r) => r.area < 0)) {
    const around = parts.filter((p) => contains(p.coordinates[0], hole.points[0])).sort((a, b) => a.area - b.area);
    (around[0] ?? parts[parts.length - 1]).coordinates.push(hole.points);
  }
  return parts.length === 1
    ? { type: 'Polygon', coordinates: parts[0].coordinates }
    : { type: 'MultiPolygon', coordinates: parts.map((p) => p.coordinates) };
}

/** Polygons as one geometry; null where there is none. */
function polygonsGeometry(polygons: Polygons, lattice: Lattice): Geometry | null {
  const parts: Position[][][] = [];
  for (let p = 0; p + 1 < polygons.polygonStart.length; p++) {
    const rings: Position[][] = [];
    for (let r = polygons.polygonStart[p]; r < polygons.polygonStart[p + 1]; r++)
      rings.push(ringOf(polygons.xy, polygons.ringStart[r], polygons.ringStart[r + 1], lattice).points);
    if (rings.length > 0) parts.push(rings);
  }
  if (parts.length === 0) return null;
  return parts.length === 1 ? { type: 'Polygon', coordinates: parts[0] } : { type: 'MultiPolygon', coordinates: parts };
}

/** A closed ring in degrees, with twice its signed area in steps (+ counter-clockwise). */
function ringOf(xy: ArrayLike<number>, from: number, to: number, lattice: Lattice): Ring {
  const points: Position[] = [];
  let area = 0;
  for (let k = from; k < to; k++) {
    const next = k + 1 < to ? k + 1 : from;
    area += xy[2 * k] * xy[2 * next + 1] - xy[2 * next] * xy[2 * k + 1];
    points.push(degrees(xy[2 * k], xy[2 * k + 1], lattice));
  }
  points.push(points[0]);
  return { points, area };
}

/** Even-odd test of a point against a closed ring. */
function contains(ring: readonly Position[], [x, y]: Position): boolean {
  let inside = false;
  for (let i = 0; i + 1 < ring.length; i++) {
    const [ax, ay] = ring[i];
    const [bx, by] = ring[i + 1];
    if (ay > y !== by > y && x < ((bx - ax) * (y - ay)) / (by - ay) + ax) inside = !inside;
  }
  return inside;
}
