import { areaOf, joinPolygons, type Polygons, pickPolygons } from '../coverage/index.ts';
import { Borders } from './borders.ts';
import type { Chords } from './chords.ts';
import { finenessOf, finer, quadsOf, type Share, scaled, shareOut } from './draw.ts';
import type { Edges } from './edges.ts';
import type { Sorted } from './neighbors.ts';
import type { Ground, GroundLine } from './types.ts';

/** Ground that lines are measured in, on the map's lattice. */
export interface Region {
  /** All of each polygon belongs to lines. */
  pieces: Polygons;
  /** Ground between strips that no chord sees. */
  enclosed: Polygons;
  /** Only what chords see belongs to lines. */
  webs: Polygons;
}

export interface Measured {
  lines: GroundLine[];
  /** What lines leave of the webs. */
  websLeft: Polygons;
}

/** Smaller pieces are what rounding leaves beside chords: not drawn, and counted with the largest line, square meters. */
const CRUMB_M2 = 1e-3;

/**
 * Areas and polygons of the lines. A spot that several lines see goes to the narrowest of them, and ground that none sees to the line along most of its
 * way around. Whole pieces are given away to the last digit; polygons and areas of a line agree but for what drawing rounds off.
 */
export function measureLines(
  s: Sorted,
  chords: Chords,
  edges: Edges,
  region: Region,
  g: Ground,
  fact: GroundLine['fact'],
): Measured {
  const { pieces, enclosed, webs } = region;
  const out = new Drawing(s, chords, g);
  const { single, shared, blind } = sortPieces(s, chords, edges, pieces);
  // Asked first: it may make a line.
  blind.forEach((i) => {
    out.give(s.lineOfPiece(i), pickPolygons(pieces, [i]));
  });
  single.forEach(([i, line]) => {
    out.give(line, pickPolygons(pieces, [i]));
  });
  const inPieces = new Set(shared);
  const inShared: number[] = [];
  const open: number[] = [];
  for (let c = 0; c < chords.count; c++) {
    if (s.line[c] < 0) continue;
    const e = chords.near[c];
    if (e >= edges.wholeEdges) open.push(c);
    else if (inPieces.has(edges.polygon[e])) inShared.push(c);
  }
  const whole = pickPolygons(pieces, shared);
  out.share(inShared, whole, null);
  const websLeft = out.share(open, enclosed, webs);
  return { lines: out.lines(fact), websLeft };
}

/** Whole pieces by how many lines see into them: one (and which), several, none. */
function sortPieces(
  s: Sorted,
  chords: Chords,
  edges: Edges,
  pieces: Polygons,
): { single: [number, number][]; shared: number[]; blind: number[] } {
  const SEVERAL = -2;
  const seenBy = new Int32Array(Math.max(0, pieces.polygonStart.length - 1)).fill(-1);
  for (let c = 0; c < chords.count; c++) {
    const e = chords.near[c];
    if (s.line[c] < 0 || e >= edges.wholeEdges) continue;
    const i = edges.polygon[e];
    seenBy[i] = seenBy[i] === -1 || seenBy[i] === s.line[c] ? s.line[c] : SEVERAL;
  }
  const single: [number, number][] = [];
  const shared: number[] = [];
  const blind: number[] = [];
  seenBy.forEach((line, i) => {
    if (line >= 0) single.push([i, line]);
    else (line === SEVERAL ? shared : blind).push(i);
  });
  return { single, shared, blind };
}

class Drawing {
  private readonly areaM2: number[] = [];
  private readonly polygons: Polygons[][] = [];
  private readonly factor: number;

  constructor(
    private readonly s: Sorted,
    private readonly chords: Chords,
    private readonly g: Ground,
  ) {
    this.factor = finenessOf(g);
  }

  /** Polygons on the map's lattice go to a line whole. */
  give(line: number, polygons: Polygons): void {
    this.add(line, sum(areaOf(polygons, this.g.plane.density)), polygons);
  }

  /** The ground under chords goes to their lines, and so does the rest of `whole`, to the last digit; what they leave of `webs` is returned. */
  share(list: readonly number[], whole: Polygons, webs: Polygons | null): Polygons {
    const { s, chords, g, factor } = this;
    const empty = webs ?? NOTHING;
    if (list.length === 0) return empty;
    const order = [...new Set(list.map((c) => s.line[c]))];
    order.sort((a, b) => s.lines[a].widthM - s.lines[b].widthM || a - b);
    const own = new Map(order.map((line) => [line, [] as number[]]));
    for (const c of list) own.get(s.line[c])!.push(c);
    const shares = shareOut(
      [...order.map((line) => quadsOf(own.get(line)!, chords, g)), finer(whole, factor), finer(empty, factor)],
      g,
    );
    order.forEach((line, k) => {
      this.add(line, shares[k].areaM2, scaled(shares[k].polygons, 1 / factor));
    });
    this.shareRest(shares[order.length], list);
    if (webs === null) {
      const exact = sum(areaOf(whole, g.plane.density));
      const given = shares.reduce((m2, share) => m2 + share.areaM2, 0);
      const largest = order.reduce((a, b) => (this.areaM2[b] > this.areaM2[a] ? b : a));
      this.areaM2[largest] += exact - given;
    }
    return scaled(shares[order.length + 1].polygons, 1 / factor);
  }

  /** Ground that no chord sees goes to the lines around it. */
  private shareRest({ polygons, areaM2 }: Share, list: readonly number[]): void {
    const { chords, g, factor, s } = this;
    if (polygons.xy.length === 0) return;
    const areas = areaOf(polygons, g.fineDensity);
    const borders = new Borders(list, chords, s.line);
    const of = new Map<number, number[]>();
    let restM2 = areaM2;
    areas.forEach((m2, i) => {
      if (m2 < CRUMB_M2) return;
      const line = borders.along(this.ringOf(polygons, i));
      if (line < 0) return;
      restM2 -= m2;
      const own = of.get(line);
      if (own) own.push(i);
      else of.set(line, [i]);
    });
    for (const [line, own] of of)
      this.add(line, sum(own.map((i) => areas[i])), scaled(pickPolygons(polygons, own), 1 / factor));
    const largest = this.areaM2.reduce((best, m2, i) => (m2 > (this.areaM2[best] ?? 0) ? i : best), s.line[list[0]]);
    this.areaM2[largest] += restM2;
  }

  /** The outer ring of polygon i of the finer lattice, in meters. */
  private ringOf({ xy, ringStart, polygonStart }: Polygons, i: number): Float64Array {
    const [from, to] = [ringStart[polygonStart[i]], ringStart[polygonStart[i] + 1]];
    const steps = xy.subarray(2 * from, 2 * to).map((v) => v / this.factor);
    const out = new Float64Array(steps.length);
    this.g.plane.toMeters(steps, 0, to - from, out);
    return out;
  }

  private add(line: number, areaM2: number, polygons: Polygons): void {
    this.areaM2[line] = (this.areaM2[line] ?? 0) + areaM2;
    this.polygons[line] ??= [];
    if (polygons.xy.length > 0) this.polygons[line].push(polygons);
  }

  lines(fact: GroundLine['fact']): GroundLine[] {
    return this.s.lines
      .map((l, i) => ({
        fact,
        ...l,
        areaM2: this.areaM2[i] ?? 0,
        polygons: joinPolygons(this.polygons[i] ?? []),
      }))
      .filter((l) => l.areaM2 > 0);
  }
}

const NOTHING: Polygons = {
  xy: new Float64Array(0),
  ringStart: new Uint32Array(1),
  polygonStart: new Uint32Array(1),
};

const sum = (list: Iterable<number>): number => Array.from(list).reduce((a, b) => a + b, 0);
