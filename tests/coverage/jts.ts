// JSTS 2.12.1, the port of the JTS topology suite: a general reference library that shares no code with the engine.
import ArrayList from 'jsts/java/util/ArrayList.js';
import type Geometry from 'jsts/org/locationtech/jts/geom/Geometry.js';
import GeoJSONReader from 'jsts/org/locationtech/jts/io/GeoJSONReader.js';
import CascadedPolygonUnion from 'jsts/org/locationtech/jts/operation/union/CascadedPolygonUnion.js';
import IsValidOp from 'jsts/org/locationtech/jts/operation/valid/IsValidOp.js';
import type { Polygons } from '../../src/core/coverage/index.ts';
import { type Rings, ringsOf } from './tools.ts';

// The published types ask for arguments that the library does not need.
const reader = new (GeoJSONReader as unknown as new () => GeoJSONReader)();

function closed(ring: readonly (readonly number[])[]): number[][] {
  return [...ring.map((p) => [...p]), [...ring[0]]];
}

export function geometry(rings: Rings): Geometry {
  const coordinates = rings.map((r) =>
    closed(Array.from({ length: r.length / 2 }, (_, i) => [r[2 * i], r[2 * i + 1]])),
  );
  return reader.read({ type: 'Polygon', coordinates } as never) as Geometry;
}

export function multipolygon(p: Polygons): Geometry {
  const coordinates = ringsOf(p).map((rings) => rings.map(closed));
  return reader.read({ type: 'MultiPolygon', coordinates } as never) as Geometry;
}

export const valid = (g: Geometry): boolean => IsValidOp.isValid(g);

export function union(list: readonly Geometry[]): Geometry {
  const all = new (ArrayList as unknown as new () => ArrayList)();
  for (const g of list) all.add(g);
  return CascadedPolygonUnion.union(all) as Geometry;
}

/** Number of polygons and of holes. */
export function pieces(g: Geometry): { polygons: number; holes: number } {
  let holes = 0;
  const n = g.getNumGeometries();
  for (let i = 0; i < n; i++)
    holes += (g.getGeometryN(i) as unknown as { getNumInteriorRing(): number }).getNumInteriorRing();
  return { polygons: n, holes };
}

/** Areas of all holes above `least`, smallest first. */
export function holeAreas(g: Geometry, least: number): number[] {
  const out: number[] = [];
  for (let i = 0; i < g.getNumGeometries(); i++) {
    const p = g.getGeometryN(i) as unknown as {
      getNumInteriorRing(): number;
      getInteriorRingN(k: number): { getCoordinates(): { x: number; y: number }[] };
    };
    for (let k = 0; k < p.getNumInteriorRing(); k++) {
      const c = p.getInteriorRingN(k).getCoordinates();
      let a = 0;
      for (let q = 1; q < c.length; q++) a += (c[q].x - c[0].x + c[q - 1].x - c[0].x) * (c[q].y - c[q - 1].y);
      if (Math.abs(a / 2) > least) out.push(Math.abs(a / 2));
    }
  }
  return out.sort((x, y) => x - y);
}
