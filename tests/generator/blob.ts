import Coordinate from 'jsts/org/locationtech/jts/geom/Coordinate.js';
import type Geometry from 'jsts/org/locationtech/jts/geom/Geometry.js';
import GeometryFactory from 'jsts/org/locationtech/jts/geom/GeometryFactory.js';
import UnaryUnionOp from 'jsts/org/locationtech/jts/operation/union/UnaryUnionOp.js';
import type { Point } from './route.ts';

interface Ring {
  getCoordinates(): { x: number; y: number }[];
}

/** Polygons dissolved into one another by JSTS: each as its rings (outer ring first, not closed). Seconds for a whole field. */
export function dissolve(outlines: Point[][]): Point[][][] {
  const factory = new GeometryFactory();
  const polygons = outlines.map((o) => factory.createPolygon([...o, o[0]].map(([x, y]) => new Coordinate(x, y))));
  const union: Geometry = new UnaryUnionOp(factory.createGeometryCollection(polygons)).union();
  const open = (ring: Ring): Point[] =>
    ring
      .getCoordinates()
      .slice(0, -1)
      .map((c): Point => [c.x, c.y]);
  const out: Point[][][] = [];
  for (let i = 0; i < union.getNumGeometries(); i++) {
    const g = union.getGeometryN(i) as unknown as {
      getExteriorRing(): Ring;
      getNumInteriorRing(): number;
      getInteriorRingN(k: number): Ring;
    };
    const holes = Array.from({ length: g.getNumInteriorRing() }, (_, k) => open(g.getInteriorRingN(k)));
    // JSTS gives outer rings clockwise.
    out.push([open(g.getExteriorRing()).reverse(), ...holes.map((h) => h.reverse())]);
  }
  return out;
}
