import { type Polygons, tooManyCrossings } from '../coverage/index.ts';
import { grown } from '../geometry/grown.ts';
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
  /** Edges of whole pieces, and of those with wide ground: counts of edges that come before the rest. */
  wholeEdges: number;
  openEdges: number;
}

/** Limits for any map, and more for each point of its records: of edges around whole pieces and wide ground, and of all edges with long ones in pieces. */
export interface EdgeLimits {
  whole: number;
  wholeEach: number;
  pieces: number;
  piecesEach: number;
}

/** The edges of polygons in meters, long ones in pieces. Throws `UserError` 'too-many-crossings' beyond the limits for a map of this many `points`. */
export function edgesOf(
  pieces: Polygons,
  wide: Polygons | null,
  webs: Polygons,
  plane: Plane,
  limits: EdgeLimits,
  points: number,
): Edges {
  const mostWhole = Math.floor(limits.whole + limits.wholeEach * points);
  if ((pieces.xy.length + (wide?.xy.length ?? 0)) / 2 > mostWhole) throw tooManyCrossings(mostWhole);
  const most = limits.pieces + limits.piecesEach * points;
  const out = new EdgeList();
  addEdges(out, pieces, -1, plane, most);
  const wholeEdges = out.count;
  if (wide) addEdges(out, wide, frameOf(wide), plane, most);
  const openEdges = out.count;
  addEdges(out, webs, -1, plane, most);
  const { xy, count, ring, polygon } = out;
  return {
    xy: xy.slice(0, 4 * count),
    count,
    ring: ring.slice(0, count),
    polygon: polygon.slice(0, count),
    wholeEdges,
    openEdges,
  };
}

/** Edges `from` up to `to` alone. */
export function someEdges({ xy, ring }: Boundary, from: number, to: number): Boundary {
  return { xy: xy.subarray(4 * from, 4 * to), count: to - from, ring: ring.subarray(from, to) };
}

/** Edges in growing arrays. */
class EdgeList {
  xy = new Float64Array(0);
  ring = new Uint32Array(0);
  polygon = new Uint32Array(0);
  count = 0;
  /** Rings of the polygons that were added whole. */
  rings = 0;

  /** Makes room for `more` edges. */
  expect(more: number): void {
    const least = this.count + more;
    if (least <= this.ring.length) return;
    const size = Math.max(least, 2 * this.ring.length);
    this.xy = grown(this.xy, 4 * size);
    this.ring = grown(this.ring, size);
    this.polygon = grown(this.polygon, size);
  }

  /** The line from (ax, ay) by (dx, dy), in `parts` edges of one length. */
  add(ax: number, ay: number, dx: number, dy: number, parts: number, ring: number, polygon: number): void {
    this.expect(parts);
    for (let s = 0; s < parts; s++) {
      const e = this.count++;
      this.xy[4 * e] = ax + (dx * s) / parts;
      this.xy[4 * e + 1] = ay + (dy * s) / parts;
      this.xy[4 * e + 2] = ax + (dx * (s + 1)) / parts;
      this.xy[4 * e + 3] = ay + (dy * (s + 1)) / parts;
      this.ring[e] = this.rings + ring;
      this.polygon[e] = polygon;
    }
  }
}

/** Ring `leftOut` is that of the frame around the map. */
function addEdges(out: EdgeList, p: Polygons, leftOut: number, plane: Plane, most: number): void {
  const n = p.xy.length / 2;
  // Every corner begins an edge.
  if (out.count + n - (leftOut < 0 ? 0 : 4) > most) throw tooManyCrossings(most);
  out.expect(n);
  const meters = new Float64Array(p.xy.length);
  plane.toMeters(p.xy, 0, n, meters);
  const addRing = (r: number, polygon: number): void => {
    let q = p.ringStart[r + 1] - 1;
    for (let k = p.ringStart[r]; k < p.ringStart[r + 1]; q = k++) {
      const ax = meters[2 * q];
      const ay = meters[2 * q + 1];
      const dx = meters[2 * k] - ax;
      const dy = meters[2 * k + 1] - ay;
      const parts = Math.max(1, Math.ceil(lengthOf(dx, dy) / LONGEST_EDGE_M));
      if (out.count + parts > most) throw parts > most / 10 ? tooLong(lengthOf(dx, dy)) : tooManyCrossings(most);
      out.add(ax, ay, dx, dy, parts, r, polygon);
    }
  };
  for (let i = 0; i + 1 < p.polygonStart.length; i++)
    for (let r = p.polygonStart[i]; r < p.polygonStart[i + 1]; r++) if (r !== leftOut) addRing(r, i);
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
