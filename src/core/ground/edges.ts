import { type Polygons, tooManyCrossings } from '../coverage/index.ts';
import { lengthOf } from '../geometry/length.ts';
import type { Plane } from '../plane/index.ts';
import type { Boundary } from './chords.ts';

/** Pieces of long edges, meters: a search then looks at few cells. */
const LONGEST_EDGE_M = 8;

export interface Edges extends Boundary {
  rings: number;
  /** Polygon of each edge; rising among those of whole pieces. */
  polygon: Uint32Array;
  /** Edges of whole pieces come first: so many. */
  wholeEdges: number;
}

/** The edges of polygons in meters, long ones in pieces; the frame around the map is left out. Rings are counted from `firstRing`. More than `most` pieces are refused. */
export function boundaryOf(p: Polygons, plane: Plane, firstRing: number, most: number): Edges {
  const n = p.xy.length / 2;
  const metres = new Float64Array(p.xy.length);
  plane.toMetres(p.xy, 0, n, metres);
  const frame = frameOf(p);
  const xy: number[] = [];
  const ring: number[] = [];
  const polygon: number[] = [];
  const rings = Math.max(0, p.ringStart.length - 1);
  for (let i = 0; i + 1 < p.polygonStart.length; i++) {
    for (let r = p.polygonStart[i]; r < p.polygonStart[i + 1]; r++) {
      if (r === frame) continue;
      let q = p.ringStart[r + 1] - 1;
      for (let k = p.ringStart[r]; k < p.ringStart[r + 1]; q = k++) {
        const [ax, ay] = [metres[2 * q], metres[2 * q + 1]];
        const [dx, dy] = [metres[2 * k] - ax, metres[2 * k + 1] - ay];
        const parts = Math.max(1, Math.ceil(lengthOf(dx, dy) / LONGEST_EDGE_M));
        if (ring.length + parts > most) throw tooManyCrossings(most);
        for (let s = 0; s < parts; s++) {
          xy.push(ax + (dx * s) / parts, ay + (dy * s) / parts);
          xy.push(ax + (dx * (s + 1)) / parts, ay + (dy * (s + 1)) / parts);
          ring.push(firstRing + r);
          polygon.push(i);
        }
      }
    }
  }
  return {
    xy: Float64Array.from(xy),
    count: ring.length,
    ring: Uint32Array.from(ring),
    rings: firstRing + rings,
    polygon: Uint32Array.from(polygon),
    wholeEdges: ring.length,
  };
}

/** The ring of four points that encloses all others, which `openGround` set around the map; -1 where there is none. */
function frameOf(p: Polygons): number {
  let west = Infinity;
  let ring = -1;
  for (let r = 0; r + 1 < p.ringStart.length; r++)
    for (let k = p.ringStart[r]; k < p.ringStart[r + 1]; k++)
      if (p.xy[2 * k] < west) {
        west = p.xy[2 * k];
        ring = r;
      }
  return ring >= 0 && p.ringStart[ring + 1] - p.ringStart[ring] === 4 && isOuter(p, ring) && hasRoom(p, ring)
    ? ring
    : -1;
}

const isOuter = (p: Polygons, ring: number): boolean => p.polygonStart.includes(ring);

/** Nothing else reaches the frame. */
function hasRoom(p: Polygons, frame: number): boolean {
  const at = p.ringStart[frame];
  const xs = [0, 1, 2, 3].map((k) => p.xy[2 * (at + k)]);
  const [x0, x1] = [Math.min(...xs), Math.max(...xs)];
  return p.polygonStart.length > 1 && xs.every((x) => x === x0 || x === x1);
}

export function joinBoundaries(a: Edges, b: Edges | null): Edges {
  if (!b) return a;
  const join = (x: Float64Array, y: Float64Array): Float64Array => {
    const out = new Float64Array(x.length + y.length);
    out.set(x);
    out.set(y, x.length);
    return out;
  };
  return {
    xy: join(a.xy, b.xy),
    count: a.count + b.count,
    ring: Uint32Array.from([...a.ring, ...b.ring]),
    rings: b.rings,
    polygon: Uint32Array.from([...a.polygon, ...b.polygon]),
    wholeEdges: a.count,
  };
}
