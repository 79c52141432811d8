import { areaOf, joinPolygons, openGround, type Polygons, pickPolygons } from '../coverage/index.ts';
import { lengthOf } from '../geometry/length.ts';
import type { Plane } from '../plane/index.ts';
import { type Chords, findChords, findWideChords, joinChords } from './chords.ts';
import { narrowChords } from './discs.ts';
import { type EdgeLimits, type Edges, edgesOf, someEdges } from './edges.ts';
import { measureLines } from './lines.ts';
import { Sorting, WIDE } from './neighbors.ts';
import { keepStrips } from './strips.ts';
import type { Ground, GroundFacts, GroundLine } from './types.ts';

/**
 * Limits of edges around open ground, or around ground covered twice: for any map, and more for each point of its records. Each costs 40 to 80 µs and a kilobyte.
 * Where every bar is a rectangle by itself and every seam is open, which a wrong width does, there is one edge for each point; where rings cross themselves there are
 * several. Long edges are cut in pieces, of which there may be more.
 */
const MOST_EDGES: EdgeLimits = { whole: 100_000, wholeEach: 1.5, pieces: 200_000, piecesEach: 4 };

/** Across a strip between stepped edges a chord square to a step is longer than the strip is wide: by the square root of 2 where it runs aslant over even steps, by more over uneven ones. */
const ASLANT = 2;

/** Open ground. `covered` may include the land beyond a boundary; `widestM` is one working width, `noiseM` the width of slivers that positioning leaves. */
export function findGaps(covered: Polygons, g: Ground, widestM: number, noiseM: number): GroundFacts {
  // A pass that was left out is as wide as a pass, plus or minus what its neighbors wander.
  const limitM = widestM + 2 * noiseM;
  const { narrow, wide } = openGround(covered, g.plane.stepsPerMeter, limitM);
  return partition(narrow, wide, g, limitM, noiseM, 'gap');
}

/** Ground covered twice or more: all of `overlap`, whose area is `areaM2`. */
export function findOverlaps(
  overlap: Polygons,
  areaM2: number,
  g: Ground,
  widestM: number,
  noiseM: number,
): GroundFacts {
  const facts = partition(overlap, null, g, widestM, noiseM, 'overlap');
  // Chords are drawn on a lattice of a tenth of a millimeter: what that rounds off belongs to the slivers.
  return { ...facts, areaM2, noiseM2: facts.noiseM2 + areaM2 - facts.areaM2 };
}

/** `whole` polygons belong to the region entirely; of `wide` ones only what lies in strips, or between them. */
function partition(
  whole: Polygons,
  wide: Polygons | null,
  g: Ground,
  widestM: number,
  noiseM: number,
  fact: GroundLine['fact'],
): GroundFacts {
  const { slivers, webs, pieces } = partSlivers(whole, g.plane, noiseM);
  const edges = edgesOf(pieces, wide, webs, g.plane, MOST_EDGES, g.points);
  const chords = chordsOf(edges, widestM, WIDE * noiseM, wide !== null);
  const keep = keepStrips(edges, chords, widestM, WIDE * noiseM, g);
  const sorted = new Sorting(edges, g, noiseM, fact).sort(chords, keep);
  const { lines, websLeft } = measureLines(sorted, chords, edges, { pieces, webs }, g, widestM, fact);
  const sum = (list: Iterable<number>): number => Array.from(list).reduce((a, b) => a + b, 0);
  const noise = joinPolygons([slivers, websLeft]);
  const noiseM2 = sum(areaOf(noise, g.plane.density));
  return { lines, areaM2: sum(lines.map((l) => l.areaM2)) + noiseM2, noiseM2, noise };
}

function chordsOf(edges: Edges, widestM: number, slitM: number, open: boolean): Chords {
  const { openEdges, count } = edges;
  const solid = findChords(someEdges(edges, 0, openEdges), open ? ASLANT * widestM : widestM, slitM);
  const inWebs = findWideChords(someEdges(edges, openEdges, count), widestM, slitM);
  return joinChords(open ? narrowChords(edges, solid, widestM) : solid, inWebs, openEdges);
}

/** Slivers that are connected may be a web with a strip in it: one of this area and more is looked into, square meters. */
const WEB_M2 = 0.1;

/** Polygons whose mean width (twice the area over the perimeter) is below `noiseM`, webs of them separately, and the others. */
function partSlivers(
  p: Polygons,
  plane: Plane,
  noiseM: number,
): { slivers: Polygons; webs: Polygons; pieces: Polygons } {
  const areas = areaOf(p, plane.density);
  const slivers: number[] = [];
  const webs: number[] = [];
  const pieces: number[] = [];
  const [sx, sy] = plane.stepsPerMeter;
  for (let i = 0; i < areas.length; i++) {
    let around = 0;
    for (let r = p.polygonStart[i]; r < p.polygonStart[i + 1]; r++) {
      let q = p.ringStart[r + 1] - 1;
      for (let k = p.ringStart[r]; k < p.ringStart[r + 1]; q = k++)
        around += lengthOf((p.xy[2 * k] - p.xy[2 * q]) / sx, (p.xy[2 * k + 1] - p.xy[2 * q + 1]) / sy);
    }
    (2 * areas[i] >= noiseM * around ? pieces : areas[i] < WEB_M2 ? slivers : webs).push(i);
  }
  return { slivers: pickPolygons(p, slivers), webs: pickPolygons(p, webs), pieces: pickPolygons(p, pieces) };
}
