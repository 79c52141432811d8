import { areaOf, joinPolygons, type Polygons, pickPolygons } from '../coverage/index.ts';
import { joinShapes } from '../geometry/shapes.ts';
import { UserError } from '../shared/messages.ts';
import { enclosedGround, NONE } from './between.ts';
import { Borders } from './borders.ts';
import type { Chords } from './chords.ts';
import { finenessOf, finer, quadsOf, scaled, shareOut } from './draw.ts';
import type { Edges } from './edges.ts';
import type { Sorted } from './neighbors.ts';
import type { Ground, GroundLine } from './types.ts';

/** Of chords that cross too often to be drawn, one in so many is. */
const THINNED = 4;

export interface Measured {
  lines: GroundLine[];
  /** What lines leave of the webs. */
  websLeft: Polygons;
}

/**
 * Areas and polygons of the lines: whole pieces go to lines to the last digit, of the wide ground what chords see or enclose, of webs what chords see.
 * A spot that several lines see goes to the narrowest of them, and ground that none sees to the line along most of its way around.
 */
export function measureLines(
  s: Sorted,
  chords: Chords,
  edges: Edges,
  { pieces, webs }: { pieces: Polygons; webs: Polygons },
  g: Ground,
  widestM: number,
  fact: GroundLine['fact'],
): Measured {
  const out = new Drawing(s, chords, g);
  const { single, shared, blind } = sortPieces(s, chords, edges, pieces);
  // Asked first: it may make a line.
  blind.forEach((i) => {
    const line = s.lineOfPiece(i);
    out.give(line, pickPolygons(pieces, [i]));
    // Wider than any chord: a patch that was planted over. Its width is that of a pass, or of a square for a crumb.
    const l = s.lines[line];
    if (l.lengthM > 0) return;
    const areaM2 = out.areaOfLine(line);
    l.widthM = Math.min(widestM, Math.sqrt(areaM2));
    l.spreadM = [l.widthM, l.widthM];
    l.lengthM = areaM2 / l.widthM;
  });
  single.forEach(([i, line]) => {
    out.give(line, pickPolygons(pieces, [i]));
  });
  const inShared: number[] = [];
  const open: number[] = [];
  const inWebs: number[] = [];
  const isShared = new Uint8Array(Math.max(0, pieces.polygonStart.length - 1));
  for (const i of shared) isShared[i] = 1;
  for (let c = 0; c < chords.count; c++) {
    if (s.line[c] < 0) continue;
    const e = chords.near[c];
    if (e >= edges.openEdges) inWebs.push(c);
    else if (e >= edges.wholeEdges) open.push(c);
    else if (isShared[edges.polygon[e]] === 1) inShared.push(c);
  }
  const whole = pickPolygons(pieces, shared);
  const ofShared = upTo(0, edges.wholeEdges).filter((e) => isShared[edges.polygon[e]] === 1);
  out.share(inShared, enclosedGround(inShared, chords, edges, ofShared, g, Infinity), whole);
  const ofWide = upTo(edges.wholeEdges, edges.openEdges);
  out.share(open, enclosedGround(open, chords, edges, ofWide, g, widestM), null);
  const websLeft = out.shareWebs(inWebs, webs);
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

  /**
   * The ground under chords goes to their lines, and what they enclose to the lines around it. `whole`, if given, is all of the ground: what drawing
   * rounds off goes to the largest line.
   */
  share(list: readonly number[], enclosed: Polygons, whole: Polygons | null): void {
    if (list.length === 0) return;
    let givenM2 = this.shareChords(list, NONE).givenM2;
    const areas = areaOf(enclosed, this.g.plane.density);
    const borders = areas.length > 0 ? new Borders(list, this.chords, this.s.line) : null;
    const own = new Map<number, number[]>();
    areas.forEach((m2, i) => {
      const line = borders!.along(this.ringOf(enclosed, i));
      if (line < 0) return;
      givenM2 += m2;
      this.add(line, m2, NONE);
      const list = own.get(line);
      if (list === undefined) own.set(line, [i]);
      else list.push(i);
    });
    for (const [line, indexes] of own) this.add(line, 0, pickPolygons(enclosed, indexes));
    if (whole === null) return;
    const largest = list.reduce((best, c) => this.larger(best, this.s.line[c]), this.s.line[list[0]]);
    this.areaM2[largest] += sum(areaOf(whole, this.g.plane.density)) - givenM2;
  }

  /** The ground under chords goes to their lines; what they leave of `webs` is returned. */
  shareWebs(list: readonly number[], webs: Polygons): Polygons {
    return list.length === 0 ? webs : this.shareChords(list, webs).left;
  }

  /**
   * Where chords cross too often to be drawn, as over ground as wide as a pass between many short ends, a quarter of them is, and so on: the ground between those that are left out goes to
   * the largest line with the rest, and the sum stays exact.
   */
  private shareChords(all: readonly number[], rest: Polygons): { givenM2: number; left: Polygons } {
    for (let stride = 1; ; stride *= THINNED) {
      try {
        return this.shareSome(
          all.filter((_, i) => i % stride === 0),
          rest,
        );
      } catch (e) {
        if (!(e instanceof UserError) || e.detail.code !== 'too-many-crossings' || stride > all.length) throw e;
      }
    }
  }

  private shareSome(list: readonly number[], rest: Polygons): { givenM2: number; left: Polygons } {
    const { s, chords, g, factor } = this;
    const order = [...new Set(list.map((c) => s.line[c]))];
    order.sort((a, b) => s.lines[a].widthM - s.lines[b].widthM || a - b);
    const own = new Map(order.map((line) => [line, [] as number[]]));
    for (const c of list) own.get(s.line[c])!.push(c);
    const sets = order.map((line) => own.get(line)!);
    const shapes = joinShapes([quadsOf(sets.flat(), chords.quad, g), finer(rest, factor)]);
    const counts = [...sets.map((set) => set.length), shapes.shapeStart.length - 1 - list.length];
    const shares = shareOut(shapes, counts, g);
    let givenM2 = 0;
    order.forEach((line, k) => {
      givenM2 += shares[k].areaM2;
      this.add(line, shares[k].areaM2, scaled(shares[k].polygons, 1 / factor));
    });
    return { givenM2, left: scaled(shares[order.length].polygons, 1 / factor) };
  }

  private larger(a: number, b: number): number {
    return (this.areaM2[b] ?? 0) > (this.areaM2[a] ?? 0) ? b : a;
  }

  /** The outer ring of polygon i, in meters. */
  private ringOf({ xy, ringStart, polygonStart }: Polygons, i: number): Float64Array {
    const [from, to] = [ringStart[polygonStart[i]], ringStart[polygonStart[i] + 1]];
    const out = new Float64Array(2 * (to - from));
    this.g.plane.toMeters(xy, from, to, out);
    return out;
  }

  areaOfLine(line: number): number {
    return this.areaM2[line] ?? 0;
  }

  private add(line: number, areaM2: number, polygons: Polygons): void {
    this.areaM2[line] = (this.areaM2[line] ?? 0) + areaM2;
    this.polygons[line] ??= [];
    if (polygons.xy.length > 0) this.polygons[line].push(polygons);
  }

  lines(fact: GroundLine['fact']): GroundLine[] {
    return this.s.lines
      .map((l, i) => ({ fact, ...l, areaM2: this.areaM2[i] ?? 0, polygons: joinPolygons(this.polygons[i] ?? []) }))
      .filter((l) => l.areaM2 > 0);
  }
}

function upTo(from: number, to: number): number[] {
  const out: number[] = [];
  for (let k = from; k < to; k++) out.push(k);
  return out;
}

const sum = (list: Iterable<number>): number => Array.from(list).reduce((a, b) => a + b, 0);
