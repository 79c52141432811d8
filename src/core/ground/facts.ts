import { areaOf, openGround, type Polygons, pickPolygons } from '../coverage/index.ts';
import { lengthOf } from '../geometry/length.ts';
import type { Plane } from '../plane/index.ts';
import { findChords } from './chords.ts';
import { boundaryOf, joinBoundaries } from './edges.ts';
import { measureLines } from './lines.ts';
import { Sorting } from './neighbors.ts';
import { keepStrips } from './strips.ts';
import type { Ground, GroundFacts, GroundLine } from './types.ts';

/** Edges around open ground, or around ground covered twice, that are looked at in any map, and for each point of its records; each costs some 30 µs. */
const MOST_EDGES = 200_000;
const EDGES_EACH = 4;

/** Open ground. `covered` may include the land beyond a boundary; `widestM` is one working width, `noiseM` the width of slivers that positioning leaves. */
export function findGaps(covered: Polygons, g: Ground, widestM: number, noiseM: number): GroundFacts {
  const { narrow, wide } = openGround(covered, g.plane.stepsPerMetre, widestM);
  return partition(narrow, wide, g, widestM, noiseM, 'gap');
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

/** `whole` polygons belong to the region entirely; of `wide` ones only what lies in strips. */
function partition(
  whole: Polygons,
  wide: Polygons | null,
  g: Ground,
  widestM: number,
  noiseM: number,
  fact: GroundLine['fact'],
): GroundFacts {
  const { slivers, pieces } = partSlivers(whole, g.plane, noiseM);
  const most = MOST_EDGES + EDGES_EACH * g.points;
  const inside = boundaryOf(pieces, g.plane, 0, most);
  const outside = wide ? boundaryOf(wide, g.plane, inside.rings, most) : null;
  const boundary = joinBoundaries(inside, outside);
  const chords = findChords(boundary, widestM);
  const keep = keepStrips(boundary, chords, inside.rings);
  const sorted = new Sorting(boundary, g, noiseM, fact).sort(chords, keep);
  const facts = measureLines(sorted, chords, boundary, pieces, g, noiseM, fact);
  const sliverM2 = areaOf(slivers, g.plane.density).reduce((a, b) => a + b, 0);
  facts.noiseM2 += sliverM2;
  facts.areaM2 += sliverM2;
  facts.noise = slivers;
  return facts;
}

/** Polygons whose mean width (twice the area over the way around) is below `noiseM`, and the others. */
function partSlivers(p: Polygons, plane: Plane, noiseM: number): { slivers: Polygons; pieces: Polygons } {
  const areas = areaOf(p, plane.density);
  const slivers: number[] = [];
  const pieces: number[] = [];
  const [sx, sy] = plane.stepsPerMetre;
  for (let i = 0; i < areas.length; i++) {
    let around = 0;
    for (let r = p.polygonStart[i]; r < p.polygonStart[i + 1]; r++) {
      let q = p.ringStart[r + 1] - 1;
      for (let k = p.ringStart[r]; k < p.ringStart[r + 1]; q = k++)
        around += lengthOf((p.xy[2 * k] - p.xy[2 * q]) / sx, (p.xy[2 * k + 1] - p.xy[2 * q + 1]) / sy);
    }
    (2 * areas[i] < noiseM * around ? slivers : pieces).push(i);
  }
  return { slivers: pickPolygons(p, slivers), pieces: pickPolygons(p, pieces) };
}
