/** The drawing of the map for the graphics card and the map library: offsets from an origin, triangles, lines in degrees. */
import type { Evidence } from '../../core/answer.ts';
import { joinPolygons, type Polygons } from '../../core/coverage/index.ts';
import type { Lattice, Shapes } from '../../core/geometry/shapes.ts';
import { median } from '../../core/geometry/stats.ts';
import { insideOf, type SeamState, type Sign, seamLines } from '../../core/report/index.ts';
import { type Mesh, meshOf, meshShapes, ringEdges } from './mesh.ts';
import { boundsOf, lngLat, mercator, type Origin, offsets, perMeter } from './place.ts';
import { bandsOf, openShare, type Strips, stripsOf } from './strips.ts';

/** The records of a map before the check. */
export interface Records {
  lattice: Lattice;
  records: Shapes;
}

/** What a check adds to them. */
export type Found = Pick<
  Evidence,
  | 'recordPass'
  | 'recordSection'
  | 'planted'
  | 'plantedLattice'
  | 'plantedPass'
  | 'account'
  | 'passes'
  | 'seams'
  | 'stepsPerMeter'
> & {
  signs: readonly Pick<Sign, 'key' | 'letter' | 'lines' | 'fact' | 'weight' | 'picture'>[];
  /** State of each seam in each picture. */
  seamStates: Record<Sign['picture'], readonly SeamState[]>;
  /** Of a full bar, meters. */
  workingWidthM: number;
};

/** For a map that was rebuilt: the records before it, and which of the new ones were redrawn. */
export interface Redrawn {
  before: Records;
  /** One for each record: 1 where it was redrawn, 0 where it was kept. */
  redrawn: Uint8Array;
}

export interface Drawn extends Records {
  found: Found | null;
  changes: Redrawn | null;
}

/** Points as offsets from the origin, x east and y south in turn; `flags` and `thick` are one for each point. */
export interface Layer {
  xy: Float32Array;
  /** Bit 1: every other pass; bit 2: every other section. */
  flags?: Uint8Array;
  thick?: Float32Array;
  mesh: Mesh;
}

/** The ground of one sign, and the bands drawn instead where it is too thin to see. */
interface SignDrawing {
  strips: Layer;
  /** Half of the strips, by their points, are no thinner; offsets. */
  usualThick: number;
  bands: Layer | null;
  /** Part of the bands' ground that the strips take, 0 to 1. */
  share: number;
}

export interface Drawing {
  origin: Origin;
  /** Records whose triangles cover exactly the record. */
  records: Layer;
  /** Records whose inside only the winding number shows, every other pass separately; points as in `records`. */
  otherRecords: [Mesh, Mesh];
  edges: Mesh;
  planted: Layer;
  /** Where the map was rebuilt: `planted` has the convex records before, and this mesh, of the same points, the others. */
  otherBefore: Mesh;
  rebuilt: boolean;
  /** One for each sign wanted. */
  signs: SignDrawing[];
  /** The open ground of each picture. */
  open: { recorded: Layer; planted: Layer };
  /** `at` is the seam's index in the evidence. */
  seams: GeoJSON.FeatureCollection<GeoJSON.MultiLineString>;
  passes: GeoJSON.FeatureCollection<GeoJSON.LineString>;
  /** A place in each piece of a sign's ground, the largest pieces of each; `key` is the sign's. */
  places: GeoJSON.FeatureCollection<GeoJSON.Point>;
}

const NO_SHAPES: Shapes = { xy: new Int32Array(0), ringStart: new Uint32Array(1), shapeStart: new Uint32Array(1) };
const NO_LINES: GeoJSON.FeatureCollection<never> = { type: 'FeatureCollection', features: [] };

export function drawingOf({ lattice, records, found, changes }: Drawn): Drawing {
  const b = boundsOf(records.xy, lattice);
  const [x, y] = b ? mercator((b[0] + b[2]) / 2, (b[1] + b[3]) / 2) : [0.5, 0.5];
  const origin = { x, y };
  const xy = offsets(records.xy, lattice, origin);
  const meshes = meshShapes(records);
  const planted = changes?.before.records ?? found?.planted ?? NO_SHAPES;
  const plantedXy = offsets(planted.xy, changes?.before.lattice ?? found?.plantedLattice ?? lattice, origin);
  const plantedMesh = meshShapes(planted);
  const flags = flagsOf(records, changes?.redrawn ?? found?.recordPass, found?.recordSection);
  const others = [0, 1].map((odd) =>
    meshOf(
      xy,
      trianglesWhere(meshes.other, (i) => (flags[i] & 1) === odd),
    ),
  );
  const strips = (polygons: Polygons): Layer => layerOf(stripsOf(offsets(polygons.xy, lattice, origin), polygons));
  const half = 0.5 * (found?.workingWidthM ?? 0) * perMeter(b ? (b[1] + b[3]) / 2 : 0);
  const groundOf = (s: Found['signs'][number]): Polygons => joinPolygons(s.lines.map((i) => found!.account[i]));
  const open = (picture: Sign['picture']): Layer =>
    strips(joinPolygons((found?.signs ?? []).filter((s) => s.fact === 'gap' && s.picture === picture).map(groundOf)));
  return {
    origin,
    rebuilt: changes !== null,
    records: {
      xy,
      flags,
      mesh: meshOf(xy, meshes.convex),
    },
    otherRecords: [others[0], others[1]],
    edges: meshOf(xy, ringEdges(records.ringStart)),
    planted: {
      xy: plantedXy,
      flags: flagsOf(planted, found?.plantedPass),
      mesh: meshOf(plantedXy, changes ? plantedMesh.convex : joined(plantedMesh.convex, plantedMesh.other)),
    },
    otherBefore: meshOf(plantedXy, changes ? plantedMesh.other : new Uint32Array(0)),
    signs: (found?.signs ?? []).map((sign): SignDrawing => {
      const ground = groundOf(sign);
      const bands = sign.weight === 'usual' ? null : bandsOf(offsets(ground.xy, lattice, origin), ground, half);
      const own = strips(ground);
      const share = bands ? openShare(offsets(ground.xy, lattice, origin), ground, bands, half) : 1;
      return { strips: own, usualThick: median(own.thick ?? []), bands: bands && layerOf(bands), share };
    }),
    open: { recorded: open('recorded'), planted: open('planted') },
    ...(found ? linesOf({ lattice, ...found }) : { seams: NO_LINES, passes: NO_LINES }),
    places: found ? placesOf(found, lattice, groundOf) : NO_LINES,
  };
}

function layerOf({ xy, thick, index }: Strips): Layer {
  return { xy, thick, mesh: meshOf(xy, index, thick) };
}

/** At most this many pieces of a sign carry its letter. */
const LETTERED = 300;

function placesOf(
  { signs }: Found,
  lattice: Lattice,
  groundOf: (sign: Found['signs'][number]) => Polygons,
): Drawing['places'] {
  const features = signs.flatMap((sign) =>
    insideOf(groundOf(sign))
      .sort((a, b) => b.area - a.area)
      .slice(0, LETTERED)
      .map(({ x, y }, rank) => ({
        type: 'Feature' as const,
        properties: { key: sign.key, letter: sign.letter, rank },
        geometry: { type: 'Point' as const, coordinates: lngLat(lattice, x, y) },
      })),
  );
  return { type: 'FeatureCollection', features };
}

type Lines = Pick<Evidence, 'lattice' | 'passes' | 'seams' | 'stepsPerMeter'> & Pick<Found, 'seamStates'>;

function linesOf(e: Lines): Pick<Drawing, 'seams' | 'passes'> {
  const toLine = (xy: ArrayLike<number>): [number, number][] => {
    const out: [number, number][] = [];
    for (let i = 0; i < xy.length; i += 2) out.push(lngLat(e.lattice, xy[i], xy[i + 1]));
    return out;
  };
  const lines = seamLines(e);
  return {
    seams: {
      type: 'FeatureCollection',
      features: e.seams.flatMap((_, at) =>
        lines[at].length === 0
          ? []
          : [
              {
                type: 'Feature',
                properties: {
                  at,
                  planted: e.seamStates.planted[at],
                  recorded: e.seamStates.recorded[at],
                },
                geometry: { type: 'MultiLineString', coordinates: lines[at].map(toLine) },
              },
            ],
      ),
    },
    passes: {
      type: 'FeatureCollection',
      features: e.passes
        .filter((p) => p.track.length >= 4)
        .map((p) => ({
          type: 'Feature',
          properties: { number: p.number },
          geometry: { type: 'LineString', coordinates: toLine(p.track) },
        })),
    },
  };
}

function flagsOf(
  { xy, ringStart, shapeStart }: Shapes,
  pass?: ArrayLike<number>,
  section?: ArrayLike<number>,
): Uint8Array {
  const flags = new Uint8Array(xy.length / 2);
  if (!pass) return flags;
  for (let s = 0; s + 1 < shapeStart.length; s++) {
    const bits = (pass[s] & 1) | (section && section[s] >= 0 && section[s] & 1 ? 2 : 0);
    flags.fill(bits, ringStart[shapeStart[s]], ringStart[shapeStart[s + 1]]);
  }
  return flags;
}

/** The triangles whose first point passes the test. */
function trianglesWhere(index: Uint32Array, test: (point: number) => boolean): Uint32Array {
  const out = new Uint32Array(index.length);
  let n = 0;
  for (let i = 0; i < index.length; i += 3) {
    if (!test(index[i])) continue;
    out.set(index.subarray(i, i + 3), n);
    n += 3;
  }
  return out.slice(0, n);
}

function joined(a: Uint32Array, b: Uint32Array): Uint32Array {
  if (b.length === 0) return a;
  const out = new Uint32Array(a.length + b.length);
  out.set(a);
  out.set(b, a.length);
  return out;
}
