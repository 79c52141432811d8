import { type Polygons, tooManyCrossings } from '../coverage/index.ts';
import { lengthOf } from '../geometry/length.ts';
import type { Plane } from '../plane/index.ts';
import { UserError } from '../shared/messages.ts';
import type { Boundary } from './chords.ts';

/** Pieces of long edges, meters: a search then looks at few cells. */
const LONGEST_EDGE_M = 8;

/** The edges around three sets of polygons, in this order: whole pieces, wide ground, webs. */
export interface Edges extends Boundary {
  /** Polygon of each edge, by its number in its own set; rising. */
  polygon: Uint32Array;
  /** Edges of whole pieces, and of those with wide ground: so many come before the rest. */
  wholeEdges: number;
  openEdges: number;
}

/** The edges of polygons in meters, long ones in pieces. Throws `UserError` 'too-many-crossings' beyond `most` pieces. */
export function edgesOf(pieces: Polygons, wide: Polygons | null, webs: Polygons, plane: Plane, most: number): Edges {
  const out: Drawn = { xy: [], ring: [], polygon: [], rings: 0 };
  addEdges(out, pieces, -1, plane, most);
  const wholeEdges = out.ring.length;
  if (wide) addEdges(out, wide, frameOf(wide), plane, most);
  const openEdges = out.ring.length;
  addEdges(out, webs, -1, plane, most);
  return {
    xy: new Float64Array(out.xy),
    count: out.ring.length,
    ring: new Uint32Array(out.ring),
    polygon: new Uint32Array(out.polygon),
    wholeEdges,
    openEdges,
  };
}

/** Edges `from` up to `to` alone. */
export function someEdges({ xy, ring }: Boundary, from: number, to: number): Boundary {
  return { xy: xy.subarray(4 * from, 4 * to), count: to - from, ring: ring.subarray(from, to) };
}

interface Drawn {
  xy: number[];
  ring: number[];
  polygon: number[];
  rings: number;
}

/** Ring `leftOut` is that of the frame around the map. */
function addEdges(out: Drawn, p: Polygons, leftOut: number, plane: Plane, most: number): void {
  const n = p.xy.length / 2;
  // Every corner begins an edge.
  if (out.ring.length + n - (leftOut < 0 ? 0 : 4) > most) throw tooManyCrossings(most);
  const meters = new Float64Array(p.xy.length);
  plane.toMeters(p.xy, 0, n, meters);
  for (let i = 0; i + 1 < p.polygonStart.length; i++) {
    for (let r = p.polygonStart[i]; r < p.polygonStart[i + 1]; r++) {
      if (r === leftOut) continue;
      let q = p.ringStart[r + 1] - 1;
      for (let k = p.ringStart[r]; k < p.ringStart[r + 1]; q = k++) {
        const [ax, ay] = [meters[2 * q], meters[2 * q + 1]];
        const [dx, dy] = [meters[2 * k] - ax, meters[2 * k + 1] - ay];
        const parts = Math.max(1, Math.ceil(lengthOf(dx, dy) / LONGEST_EDGE_M));
        if (out.ring.length + parts > most)
          throw parts > most / 10 ? tooLong(lengthOf(dx, dy)) : tooManyCrossings(most);
        for (let s = 0; s < parts; s++) {
          out.xy.push(ax + (dx * s) / parts, ay + (dy * s) / parts);
          out.xy.push(ax + (dx * (s + 1)) / parts, ay + (dy * (s + 1)) / parts);
          out.ring.push(out.rings + r);
          out.polygon.push(i);
        }
      }
    }
  }
  out.rings += Math.max(0, p.ringStart.length - 1);
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

/** The error for a map with one edge of `lengthM` meters, cut into more pieces than the limit. */
function tooLong(lengthM: number): UserError {
  return new UserError(
    'too-long',
    `The edge of a gap or an overlap runs straight for ${Math.round(lengthM / 1000)} km, longer than any field.`,
    {},
    'A record may reach to a wrong place: look at the map in a map viewer, and export it again.',
  );
}
