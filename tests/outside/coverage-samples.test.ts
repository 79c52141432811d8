import geodesicLibrary from 'geographiclib-geodesic';
import { describe, expect, test } from 'vitest';
import { measure, outline } from '../../src/core/coverage/index.ts';
import type { Shapes } from '../../src/core/geometry/shapes.ts';
import { read } from '../../src/core/intake/index.ts';
import type { RecordSet } from '../../src/core/intake/types.ts';
import { extentOf, planeFor } from '../../src/core/plane/index.ts';
import { toGeoJson, toShapefileZip } from '../generator/files.ts';
import { SAMPLES } from '../generator/samples.ts';
import type { DrawnField } from '../generator/spec.ts';
import { Coordinate, type Geometry, GeometryFactory, OverlayOp, UnaryUnionOp } from './jts.ts';

const { Geodesic } = geodesicLibrary;

/** Areas on the bare lattice, where a square of one step is 1. */
const FLAT = [1, 0, 0, 0] as const;

type Corner = [number, number];

/** Corners of record `i` in lattice steps, back left first as the display drew them. */
function corners(set: RecordSet, drawn: DrawnField, i: number): Corner[] {
  const { xy, ringStart, shapeStart } = set.shapes;
  const r = shapeStart[i];
  const ring: Corner[] = [];
  for (let p = ringStart[r]; p < ringStart[r + 1]; p++) ring.push([xy[2 * p], xy[2 * p + 1]]);
  const g = drawn.features.features[i].geometry;
  if (g.type !== 'Polygon' || ring.length !== 4) throw new Error(`record ${i + 1} is not a quad`);
  const { stepsPerDegree, originX, originY } = set.lattice;
  const [lon, lat] = g.coordinates[0][0];
  const off = ring.map(([x, y]) =>
    Math.hypot((originX + x) / stepsPerDegree - lon, (originY + y) / stepsPerDegree - lat),
  );
  const first = off.indexOf(Math.min(...off));
  return [0, 1, 2, 3].map((k) => ring[(first + k) % 4]);
}

/** Records of one section that follow one another share their edges: one polygon for each such stretch, with its pass. */
function stretches(set: RecordSet, drawn: DrawnField): { pass: number; geometry: Geometry }[] {
  const { pass, interval, section } = drawn.truth;
  const lanes = new Map<string, number[]>();
  for (let i = 0; i < pass.length; i++) {
    const key = `${pass[i]} ${section[i]}`;
    const lane = lanes.get(key);
    if (lane) lane.push(i);
    else lanes.set(key, [i]);
  }
  const factory = new GeometryFactory();
  const out: { pass: number; geometry: Geometry }[] = [];
  for (const lane of lanes.values()) {
    let at = 0;
    while (at < lane.length) {
      let end = at + 1;
      while (end < lane.length && interval[lane[end]] === interval[lane[end - 1]] + 1) end++;
      const quads = lane.slice(at, end).map((i) => corners(set, drawn, i));
      const right = [quads[0][1], ...quads.map((q) => q[2])];
      const left = [quads[0][0], ...quads.map((q) => q[3])];
      const ring = [...right, ...left.reverse()];
      const geometry = factory.createPolygon([...ring, ring[0]].map(([x, y]) => new Coordinate(x, y)));
      out.push({ pass: pass[lane[at]], geometry });
      at = end;
    }
  }
  return out;
}

/** Ground under one record or more, and under two or more, by JSTS. Stretches of one pass only touch. */
function byJsts(parts: { pass: number; geometry: Geometry }[]): { covered: number; overlap: number } {
  const factory = new GeometryFactory();
  const union = (list: Geometry[]): Geometry => new UnaryUnionOp(factory.createGeometryCollection(list)).union();
  const twice: Geometry[] = [];
  const boxes = parts.map((p) => p.geometry.getEnvelopeInternal());
  for (let i = 0; i < parts.length; i++)
    for (let j = i + 1; j < parts.length; j++) {
      if (parts[i].pass === parts[j].pass || !boxes[i].intersects(boxes[j])) continue;
      const shared = OverlayOp.intersection(parts[i].geometry, parts[j].geometry);
      if (shared.getArea() > 0) twice.push(shared);
    }
  return {
    covered: union(parts.map((p) => p.geometry)).getArea(),
    overlap: twice.length > 0 ? union(twice).getArea() : 0,
  };
}

/** Sum of the records by geographiclib-geodesic, m². */
function byGeodesics(shapes: Shapes, set: RecordSet): number {
  const { stepsPerDegree, originX, originY } = set.lattice;
  let sum = 0;
  for (let i = 0; i + 1 < shapes.shapeStart.length; i++) {
    const polygon = Geodesic.WGS84.Polygon(false);
    const r = shapes.shapeStart[i];
    for (let p = shapes.ringStart[r]; p < shapes.ringStart[r + 1]; p++)
      polygon.AddPoint(
        (originY + shapes.xy[2 * p + 1]) / stepsPerDegree,
        (originX + shapes.xy[2 * p]) / stepsPerDegree,
      );
    sum += polygon.Compute(false, true).area!;
  }
  return sum;
}

describe.each(SAMPLES)('$id', (sample) => {
  const map = sample.maps[0];
  const drawn = map.draw();
  const bytes = map.epsg === undefined ? toGeoJson(drawn) : toShapefileZip(drawn, map.epsg);
  const file = {
    name: map.file,
    sizeBytes: bytes.length,
    async *chunks() {
      yield bytes;
    },
  };

  test('covered and overlap area as JSTS has them, 1e-9', async () => {
    const set = await read([file]);
    expect(set.recordNumber.length).toBe(drawn.features.features.length);
    const want = byJsts(stretches(set, drawn));
    const got = measure(set.shapes, FLAT);
    const rings = outline(set.shapes, FLAT);
    for (const covered of [got.areaAtDepthM2[0], rings.coveredM2])
      expect(Math.abs(covered / want.covered - 1)).toBeLessThan(1e-9);
    for (const overlap of [got.areaAtDepthM2[1] ?? 0, rings.overlapM2])
      expect(Math.abs(overlap - want.overlap)).toBeLessThan(1e-9 * want.covered);
  });

  test('sum of the records as geographiclib-geodesic has it, 1e-6', async () => {
    const set = await read([file]);
    const got = measure(set.shapes, planeFor(set.lattice, extentOf(set.shapes)).density);
    expect(Math.abs(got.sumM2 / byGeodesics(set.shapes, set) - 1)).toBeLessThan(1e-6);
  });
});
