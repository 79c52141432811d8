/** What the map draws, as the graphics card and the map library take it: offsets from an origin, triangles, lines in degrees. */
import type { Evidence } from '../../core/answer.ts';
import { seamLines } from '../../core/report/index.ts';
import { type Mesh, meshOf, meshPolygons, meshShapes, ringEdges } from './mesh.ts';
import { boundsOf, lngLat, mercator, type Origin, offsets } from './place.ts';

/** The part of the evidence that is drawn. */
export type Drawn = Pick<
  Evidence,
  | 'lattice'
  | 'records'
  | 'recordPass'
  | 'recordSection'
  | 'planted'
  | 'plantedLattice'
  | 'overlap'
  | 'gaps'
  | 'passes'
  | 'seams'
  | 'stepsPerMetre'
>;

export interface Drawing {
  origin: Origin;
  /** Points as offsets from the origin, x east and y south in turn. */
  records: Float32Array;
  /** One for each point of the records. Bit 1: every other pass; bit 2: every other section. */
  flags: Uint8Array;
  planted: Float32Array;
  gaps: Float32Array;
  overlap: Float32Array;
  meshes: {
    /** Records whose triangles cover just the record. */
    records: Mesh;
    /** Records of which only the winding number tells inside from outside. */
    otherRecords: Mesh;
    edges: Mesh;
    planted: Mesh;
    gaps: Mesh;
    overlap: Mesh;
  };
  /** `at` is the seam's index in the evidence. */
  seams: GeoJSON.FeatureCollection<GeoJSON.MultiLineString>;
  passes: GeoJSON.FeatureCollection<GeoJSON.LineString>;
}

export function drawingOf(e: Drawn): Drawing {
  const b = boundsOf(e.records.xy, e.lattice);
  const [x, y] = b ? mercator((b[0] + b[2]) / 2, (b[1] + b[3]) / 2) : [0.5, 0.5];
  const origin = { x, y };
  const records = offsets(e.records.xy, e.lattice, origin);
  const planted = offsets(e.planted.xy, e.plantedLattice, origin);
  const gaps = offsets(e.gaps.xy, e.lattice, origin);
  const overlap = offsets(e.overlap.xy, e.lattice, origin);
  const recordMesh = meshShapes(e.records);
  const plantedMesh = meshShapes(e.planted);
  return {
    origin,
    records,
    flags: flagsOf(e),
    planted,
    gaps,
    overlap,
    meshes: {
      records: meshOf(records, recordMesh.convex),
      otherRecords: meshOf(records, recordMesh.other),
      edges: meshOf(records, ringEdges(e.records.ringStart)),
      planted: meshOf(planted, join(plantedMesh.convex, plantedMesh.other)),
      gaps: meshOf(gaps, meshPolygons(e.gaps)),
      overlap: meshOf(overlap, meshPolygons(e.overlap)),
    },
    ...linesOf(e),
  };
}

function linesOf(e: Drawn): Pick<Drawing, 'seams' | 'passes'> {
  const toLine = (xy: ArrayLike<number>): [number, number][] => {
    const out: [number, number][] = [];
    for (let i = 0; i < xy.length; i += 2) out.push(lngLat(e.lattice, xy[i], xy[i + 1]));
    return out;
  };
  const lines = seamLines(e);
  return {
    seams: {
      type: 'FeatureCollection',
      features: e.seams.flatMap((s, at) =>
        lines[at].length === 0
          ? []
          : [
              {
                type: 'Feature',
                properties: {
                  at,
                  planted: Number.isFinite(s.plantedM) ? s.plantedM : 0,
                  recorded: Number.isFinite(s.recordedM) ? s.recordedM : 0,
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

function flagsOf({ records, recordPass, recordSection }: Drawn): Uint8Array {
  const { ringStart, shapeStart } = records;
  const flags = new Uint8Array(records.xy.length / 2);
  for (let s = 0; s + 1 < shapeStart.length; s++) {
    const bits = (recordPass[s] & 1) | (recordSection[s] >= 0 && recordSection[s] & 1 ? 2 : 0);
    flags.fill(bits, ringStart[shapeStart[s]], ringStart[shapeStart[s + 1]]);
  }
  return flags;
}

function join(a: Uint32Array, b: Uint32Array): Uint32Array {
  if (b.length === 0) return a;
  const out = new Uint32Array(a.length + b.length);
  out.set(a);
  out.set(b, a.length);
  return out;
}
