import {
  areaOf,
  type CoverageRings,
  joinPolygons,
  measure,
  outline,
  type Polygons,
  pickPolygons,
} from '../coverage/index.ts';
import type { Shapes } from '../geometry/shapes.ts';
import type { Chords } from './chords.ts';
import type { Edges } from './edges.ts';
import type { Sorted } from './neighbors.ts';
import type { Ground, GroundLine } from './types.ts';

/**
 * Areas and polygons of the lines. A whole piece is divided in proportion to the ground under the chords of each line, so that its
 * area is used up to the last digit; an open strip is the ground under its chords, and a spot in several lines counts for the narrowest one.
 */
export function measureLines(
  s: Sorted,
  chords: Chords,
  edges: Edges,
  pieces: Polygons,
  g: Ground,
  noiseM: number,
  fact: GroundLine['fact'],
): { lines: GroundLine[]; websM2: number } {
  const pieceM2 = areaOf(pieces, g.plane.density);
  const rest = lineOfPieces(s, chords, edges, pieceM2.length);
  const factor = g.fine.stepsPerDegree / g.plane.lattice.stepsPerDegree;
  const inPiece: number[][] = s.lines.map(() => []);
  const open: number[][] = s.lines.map(() => []);
  const seenM2 = new Float64Array(pieceM2.length);
  for (let c = 0; c < chords.count; c++) {
    if (s.line[c] < 0) continue;
    const e = chords.near[c];
    if (e < edges.wholeEdges) {
      inPiece[s.line[c]].push(c);
      seenM2[edges.polygon[e]] += chords.lengthM[c] * chords.widthM[c];
    } else open[s.line[c]].push(c);
  }
  const areaM2 = eachSpotOnce(open, chords, g);
  const unseen: number[][] = s.lines.map(() => []);
  pieceM2.forEach((m2, i) => {
    if (seenM2[i] > 0) return;
    areaM2[rest[i]] += m2;
    unseen[rest[i]].push(i);
  });
  const lines = s.lines.map((l, i): GroundLine => {
    for (const c of inPiece[i]) {
      const piece = edges.polygon[chords.near[c]];
      areaM2[i] += (pieceM2[piece] * chords.lengthM[c] * chords.widthM[c]) / seenM2[piece];
    }
    // Strips left by steering are too narrow to show in a picture.
    const seen = inPiece[i].length > 0 && l.widthM > noiseM;
    const drawn = underChords(seen ? [...open[i], ...inPiece[i]] : open[i], chords, g).covered;
    return {
      fact,
      ...l,
      areaM2: areaM2[i],
      polygons: joinPolygons([scaled(drawn, 1 / factor), pickPolygons(pieces, unseen[i])]),
    };
  });
  return { lines: lines.filter((l) => l.areaM2 > 0), websM2: inWebsM2(s, chords, edges, g) };
}

/** Area of each line in open ground, square meters: a spot under several chords is counted for the shortest. */
function eachSpotOnce(open: readonly number[][], chords: Chords, g: Ground): Float64Array {
  const list = open.flatMap((own, line) => own.map((c) => ({ c, line })));
  list.sort((a, b) => chords.widthM[a.c] - chords.widthM[b.c] || a.c - b.c);
  const quads = quadsOf(
    list.map(({ c }) => c),
    chords,
    g,
  );
  const { areaM2, alreadyCoveredM2 } = measure(quads, g.fineDensity);
  const out = new Float64Array(open.length);
  list.forEach(({ line }, k) => {
    out[line] += areaM2[k] - alreadyCoveredM2[k];
  });
  return out;
}

/** Ground under the chords of lines in webs, square meters. */
function inWebsM2({ line }: Sorted, chords: Chords, edges: Edges, g: Ground): number {
  const list: number[] = [];
  for (let c = 0; c < chords.count; c++) if (line[c] >= 0 && chords.near[c] >= edges.openEdges) list.push(c);
  return underChords(list, chords, g).coveredM2;
}

/** The ground under some chords, on the finer lattice. */
function underChords(list: readonly number[], chords: Chords, g: Ground): CoverageRings {
  return outline(quadsOf(list, chords, g), g.fineDensity);
}

function quadsOf(list: readonly number[], chords: Chords, g: Ground): Shapes {
  const quads = new Float64Array(8 * list.length);
  list.forEach((c, k) => {
    quads.set(chords.quad.subarray(8 * c, 8 * c + 8), 8 * k);
  });
  return g.plane.toQuads(quads, g.fine);
}

/** The line with most of the ground of each whole piece. */
function lineOfPieces(s: Sorted, chords: Chords, edges: Edges, pieces: number): number[] {
  const seen: Map<number, number>[] = Array.from({ length: pieces }, () => new Map());
  for (let c = 0; c < chords.count; c++) {
    const e = chords.near[c];
    if (s.line[c] < 0 || e >= edges.wholeEdges) continue;
    const m = seen[edges.polygon[e]];
    m.set(s.line[c], (m.get(s.line[c]) ?? 0) + chords.lengthM[c] * chords.widthM[c]);
  }
  return seen.map((m, i) => {
    let best = -1;
    for (const [line, area] of m) if (best < 0 || area > m.get(best)!) best = line;
    return best >= 0 ? best : s.lineOfPiece(i);
  });
}

function scaled(p: Polygons, factor: number): Polygons {
  return { ...p, xy: p.xy.map((v) => v * factor) };
}
