import {
  type AreaDensity,
  areaOf,
  type CoverageRings,
  joinPolygons,
  openGround,
  outline,
  type Polygons,
  pickPolygons,
  tooManyCrossings,
} from '../coverage/index.ts';
import { lengthOf } from '../geometry/length.ts';
import type { Lattice } from '../geometry/shapes.ts';
import { Sets } from '../geometry/unionfind.ts';
import type { RecordedBands } from '../observe/index.ts';
import type { Plane } from '../plane/index.ts';
import type { Passes } from '../track/types.ts';
import { type Boundary, type Chords, findChords } from './chords.ts';
import { type LaidQuads, Owners } from './owners.ts';
import type { Between, GroundFacts, GroundLine, Neighbor } from './types.ts';

export interface Ground {
  plane: Plane;
  /** The finer lattice that drawn geometry is written on, and the ground area of its cells. */
  fine: Lattice;
  fineDensity: AreaDensity;
  passes: Passes;
  bands: RecordedBands;
  /** What the passes laid down in the picture that is measured. */
  laid: LaidQuads;
  /** Rings of the field's boundary, lattice steps; none without one. */
  boundary: readonly Float64Array[];
  /** Points of the map's records: what a map may take grows with them. */
  points: number;
}

/** Edges around open ground, or around ground covered twice, that are looked at in any map, and for each point of its records; each costs some 30 µs. */
const MOST_EDGES = 200_000;
const EDGES_EACH = 4;

/** Pieces of long edges, meters: a search then looks at few cells. */
const LONGEST_EDGE_M = 8;
/** How far behind an edge its owner is looked for, meters: beyond any rounding, less than any row is wide. */
const BEHIND_M = 0.04;
/** Chords wider than so many times the noise are lines apart from narrower ones. */
const WIDE = 2;
/** An edge within 45 degrees of travel is a side of its pass. */
const SIDE_COS = Math.SQRT1_2;

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

interface Edges extends Boundary {
  rings: number;
  /** Polygon of each edge; rising among those of whole pieces. */
  polygon: Uint32Array;
  /** Edges of whole pieces come first: so many. */
  wholeEdges: number;
}

/** The edges of polygons in meters, long ones in pieces; the frame around the map is left out. Rings are counted from `firstRing`. More than `most` pieces are refused. */
function boundaryOf(p: Polygons, plane: Plane, firstRing: number, most: number): Edges {
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

function joinBoundaries(a: Edges, b: Edges | null): Edges {
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

/**
 * 1 for each chord that counts: all of those inside whole pieces (rings below `whole`), and elsewhere those of long strips.
 * A strip is made of runs of edges along one ring that face something; it goes on across the mouth of a seam and up the steps of a slanted end.
 */
function keepStrips(b: Boundary, chords: Chords, whole: number): Uint8Array {
  const keep = new Uint8Array(chords.count);
  const runs: Run[] = [];
  for (let c = 0; c < chords.count; ) {
    const ring = b.ring[chords.near[c]];
    if (ring < whole) {
      keep[c++] = 1;
      continue;
    }
    const run: Run = { from: c, to: c, lengthM: 0, areaM2: 0 };
    for (; run.to < chords.count && b.ring[chords.near[run.to]] === ring; run.to++) {
      if (run.to > c && !follows(b, chords, run.to)) break;
      run.lengthM += chords.lengthM[run.to];
      run.areaM2 += chords.lengthM[run.to] * chords.widthM[run.to];
    }
    runs.push(run);
    c = run.to;
  }
  for (const strip of stripsOf(runs, chords)) {
    const lengthM = strip.reduce((s, r) => s + r.lengthM, 0);
    const areaM2 = strip.reduce((s, r) => s + r.areaM2, 0);
    if (lengthM * lengthM > SLIM * areaM2) for (const r of strip) keep.fill(1, r.from, r.to);
  }
  return keep;
}

/** Chords `from` up to `to` that follow one another along a ring. */
interface Run {
  from: number;
  to: number;
  lengthM: number;
  areaM2: number;
}

/** A strip goes on where the next run begins within this, meters, or this part of its width: mouths of seams, steps of slanted ends, and places where it is wider for a while. */
const BRIDGE_M = 2;
const BRIDGE_PART = 1;

/** Runs that go on in one another: the end of one lies near the beginning of the other, and both are about as wide. */
function stripsOf(runs: readonly Run[], { quad, widthM }: Chords): Run[][] {
  const reach = (v: number, w: number): number => Math.max(BRIDGE_M, BRIDGE_PART * Math.min(v, w));
  const cellM = runs.reduce((m, r) => Math.max(m, reach(widthM[r.from], widthM[r.from])), BRIDGE_M);
  const cells = new Map<string, number[]>();
  const cell = (v: number): number => Math.floor(v / cellM);
  runs.forEach((r, i) => {
    const key = `${cell(quad[8 * r.from])} ${cell(quad[8 * r.from + 1])}`;
    const list = cells.get(key);
    if (list) list.push(i);
    else cells.set(key, [i]);
  });
  const joined = new Sets(runs.length);
  runs.forEach((r, i) => {
    const last = r.to - 1;
    const [x, y] = [quad[8 * last + 2], quad[8 * last + 3]];
    for (let cx = cell(x) - 1; cx <= cell(x) + 1; cx++)
      for (let cy = cell(y) - 1; cy <= cell(y) + 1; cy++)
        for (const k of cells.get(`${cx} ${cy}`) ?? []) {
          const [v, w] = [widthM[last], widthM[runs[k].from]];
          const gap = lengthOf(quad[8 * runs[k].from] - x, quad[8 * runs[k].from + 1] - y);
          if (gap < reach(v, w) && isAlike(v, w)) joined.join(i, k);
        }
  });
  const strips = new Map<number, Run[]>();
  runs.forEach((r, i) => {
    const root = joined.find(i);
    const list = strips.get(root);
    if (list) list.push(r);
    else strips.set(root, [r]);
  });
  return [...strips.values()];
}

const isAlike = (v: number, w: number): boolean => Math.max(v, w) < 3 * Math.min(v, w) + 0.5;

/** Whether chord c begins near where the one before it ended, and sees about as far. */
function follows(b: Boundary, chords: Chords, c: number): boolean {
  const [p, q] = [chords.near[c - 1], chords.near[c]];
  const gap = p === q ? 0 : lengthOf(b.xy[4 * q] - b.xy[4 * p + 2], b.xy[4 * q + 1] - b.xy[4 * p + 3]) + (q - p - 1);
  return gap < BRIDGE_M && isAlike(chords.widthM[c - 1], chords.widthM[c]);
}

/** A strip that is open at its ends is at least so many times as long as wide; what is shorter is a corner, or the notch that a short pass leaves. */
const SLIM = 3;

interface Sorted {
  /** Line of each chord, -1 where it does not count. */
  line: Int32Array;
  lines: LineStart[];
  /** The line of whole piece i where no chord was found in it; makes one if need be. */
  lineOfPiece(i: number): number;
}

type LineStart = Omit<GroundLine, 'fact' | 'areaM2' | 'polygons'>;

/** Which neighbors a chord lies between. */
class Sorting {
  private readonly owners: Owners;
  private readonly neighbor: Neighbor[] = [];
  private readonly side: number[] = [];
  private readonly off: number[] = [];

  constructor(
    private readonly edges: Edges,
    private readonly g: Ground,
    private readonly noiseM: number,
    private readonly fact: GroundLine['fact'],
  ) {
    this.owners = new Owners(g.passes, g.laid);
  }

  sort(chords: Chords, keep: Uint8Array): Sorted {
    const line = new Int32Array(chords.count).fill(-1);
    const lines: LineStart[] = [];
    const members: { widths: number[]; lengths: number[]; off: number; over: Map<number, number> }[] = [];
    const ids = new Map<string, number>();
    const lineOf = (a: Neighbor, b: Neighbor, between: Between, wide: boolean): number => {
      const [x, y] = rankOf(a) > rankOf(b) ? [b, a] : [a, b];
      const key = `${x} ${y} ${between} ${wide}`;
      let id = ids.get(key);
      if (id === undefined) {
        id = lines.length;
        ids.set(key, id);
        lines.push({ a: x, b: y, over: 0, between, lengthM: 0, widthM: 0, spreadM: [0, 0], sectionOff: 0 });
        members.push({ widths: [], lengths: [], off: 0, over: new Map() });
      }
      return id;
    };
    for (let c = 0; c < chords.count; c++) {
      if (keep[c] === 0) continue;
      const [e, f] = [chords.near[c], chords.far[c]];
      this.look(e);
      this.look(f);
      const sides = this.side[e] + this.side[f];
      const between: Between = sides === 2 ? 'sides' : sides === 0 ? 'ends' : 'side-and-end';
      // A seam that opens into a wedge is two lines: the width of one half must not speak for the other.
      const id = lineOf(this.neighbor[e], this.neighbor[f], between, chords.widthM[c] > WIDE * this.noiseM);
      line[c] = id;
      const m = members[id];
      m.widths.push(chords.widthM[c]);
      m.lengths.push(chords.lengthM[c]);
      if (this.off[e] + this.off[f] > 0) m.off += chords.lengthM[c];
      const over = this.overAt(e, f);
      if (over > 0) m.over.set(over, (m.over.get(over) ?? 0) + chords.lengthM[c]);
    }
    lines.forEach((l, i) => {
      const m = members[i];
      const all = m.lengths.reduce((s, v) => s + v, 0);
      // Every strip is seen from both sides.
      l.lengthM = all / 2;
      l.widthM = weightedQuantile(m.widths, m.lengths, 0.5);
      l.spreadM = [weightedQuantile(m.widths, m.lengths, 0.1), weightedQuantile(m.widths, m.lengths, 0.9)];
      l.sectionOff = all > 0 ? m.off / all : 0;
      l.over = [...m.over].reduce((best, o) => (o[1] > best[1] ? o : best), [0, 0])[0];
    });
    return { line, lines, lineOfPiece: (i) => lineOf(...this.aroundPiece(i), 'ends', true) };
  }

  /** Where one pass ends on both sides of ground covered twice: the other pass there, halfway between edges e and f; else 0. */
  private overAt(e: number, f: number): number {
    const own = this.neighbor[e];
    if (this.fact === 'gap' || typeof own !== 'number' || own !== this.neighbor[f]) return 0;
    const { xy } = this.edges;
    const middle = (k: number): number => (xy[4 * e + k] + xy[4 * e + k + 2] + xy[4 * f + k] + xy[4 * f + k + 2]) / 4;
    this.owners.at(middle(0), middle(1));
    return this.owners.pass.find((p) => p !== own) ?? 0;
  }

  /** The two neighbors that have most of the way around whole piece i. */
  private aroundPiece(i: number): [Neighbor, Neighbor] {
    const { xy, polygon, wholeEdges } = this.edges;
    const along = new Map<Neighbor, number>();
    for (let e = firstOf(polygon, i, wholeEdges); e < wholeEdges && polygon[e] === i; e++) {
      this.look(e);
      const l = lengthOf(xy[4 * e + 2] - xy[4 * e], xy[4 * e + 3] - xy[4 * e + 1]);
      along.set(this.neighbor[e], (along.get(this.neighbor[e]) ?? 0) + l);
    }
    const top = [...along].sort((p, q) => q[1] - p[1] || rankOf(p[0]) - rankOf(q[0])).map(([n]) => n);
    return [top[0] ?? 'unplaced', top[1] ?? top[0] ?? 'unplaced'];
  }

  /** Finds the owner of edge e, once. */
  private look(e: number): void {
    if (this.side[e] !== undefined) return;
    const { xy } = this.edges;
    const mx = (xy[4 * e] + xy[4 * e + 2]) / 2;
    const my = (xy[4 * e + 1] + xy[4 * e + 3]) / 2;
    const dx = xy[4 * e + 2] - xy[4 * e];
    const dy = xy[4 * e + 3] - xy[4 * e + 1];
    const l = lengthOf(dx, dy) || 1;
    const [rx, ry] = [(dy / l) * BEHIND_M, (-dx / l) * BEHIND_M];
    const { owners } = this;
    let [pass, bar] = [0, -1];
    if (this.fact === 'gap') {
      if (owners.at(mx + rx, my + ry) > 0) [pass, bar] = [owners.pass[0], owners.bar[0]];
    } else {
      // Of the passes inside, the one that is not outside as well ends here.
      owners.at(mx + rx, my + ry);
      const beyond = [...owners.pass];
      const n = owners.at(mx - rx, my - ry);
      for (let k = 0; k < n; k++) {
        const at = beyond.indexOf(owners.pass[k]);
        if (at < 0) {
          [pass, bar] = [owners.pass[k], owners.bar[k]];
          break;
        }
        beyond.splice(at, 1);
      }
    }
    this.side[e] = bar < 0 || owners.alongTravel(bar, dx, dy) > SIDE_COS ? 1 : 0;
    this.off[e] = bar >= 0 && this.side[e] === 1 && this.isOff(bar, mx, my) ? 1 : 0;
    this.neighbor[e] = pass > 0 ? pass : this.isBeyond(mx + rx, my + ry) ? 'boundary' : 'unplaced';
  }

  /** Whether the outermost section of bar b on the side of the point is off. */
  private isOff(b: number, x: number, y: number): boolean {
    const { passes, bands } = this.g;
    const segment = bands.segments[bands.segment[b]];
    if (!segment || Number.isNaN(bands.middleM[b])) return false;
    const across =
      (x - passes.centre[2 * b]) * passes.right[2 * b] + (y - passes.centre[2 * b + 1]) * passes.right[2 * b + 1];
    const last = passes.barStart[b + 1] - 1;
    return across > bands.middleM[b]
      ? bands.slot[last] !== segment.bands.length - 1
      : bands.slot[passes.barStart[b]] !== 0;
  }

  private isBeyond(x: number, y: number): boolean {
    const { boundary, plane } = this.g;
    if (boundary.length === 0) return false;
    const step = new Float64Array(2);
    plane.toSteps([x, y], 1, step);
    let inside = false;
    for (const ring of boundary) {
      let q = ring.length - 2;
      for (let k = 0; k < ring.length; q = k, k += 2) {
        if (ring[k + 1] > step[1] === ring[q + 1] > step[1]) continue;
        if (step[0] < ((ring[q] - ring[k]) * (step[1] - ring[k + 1])) / (ring[q + 1] - ring[k + 1]) + ring[k])
          inside = !inside;
      }
    }
    return !inside;
  }
}

/** The first of the `count` rising numbers that is not below v. */
function firstOf(rising: Uint32Array, v: number, count: number): number {
  let low = 0;
  let high = count;
  while (low < high) {
    const mid = (low + high) >> 1;
    if (rising[mid] < v) low = mid + 1;
    else high = mid;
  }
  return low;
}

const rankOf = (n: Neighbor): number => (n === 'boundary' ? 1e9 : n === 'unplaced' ? 1e9 - 1 : n);

function weightedQuantile(values: number[], weights: number[], share: number): number {
  const order = values.map((_, i) => i).sort((i, j) => values[i] - values[j]);
  const wanted = weights.reduce((s, v) => s + v, 0) * share;
  let sum = 0;
  for (const i of order) {
    sum += weights[i];
    if (sum >= wanted) return values[i];
  }
  return 0;
}

/**
 * Areas and polygons of the lines. A whole piece is shared out in proportion to the ground that the chords of each line see in it, so that its
 * area is given away to the last digit; an open strip is the ground under its chords.
 */
function measureLines(
  s: Sorted,
  chords: Chords,
  edges: Edges,
  pieces: Polygons,
  g: Ground,
  noiseM: number,
  fact: GroundLine['fact'],
): GroundFacts {
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
  const areaM2 = new Float64Array(s.lines.length);
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
    const strips = underChords(open[i], chords, g);
    areaM2[i] += strips.coveredM2;
    // What steering leaves is too narrow to be seen in a picture.
    const drawn =
      inPiece[i].length > 0 && l.widthM > noiseM ? underChords([...open[i], ...inPiece[i]], chords, g) : strips;
    return {
      fact,
      ...l,
      areaM2: areaM2[i],
      polygons: joinPolygons([scaled(drawn.covered, 1 / factor), pickPolygons(pieces, unseen[i])]),
    };
  });
  const kept = lines.filter((l) => l.areaM2 > 0);
  return { lines: kept, areaM2: kept.reduce((sum, l) => sum + l.areaM2, 0), noiseM2: 0, noise: NO_POLYGONS };
}

/** The ground under some chords, on the finer lattice. */
function underChords(list: readonly number[], chords: Chords, g: Ground): CoverageRings {
  const quads = new Float64Array(8 * list.length);
  list.forEach((c, k) => {
    quads.set(chords.quad.subarray(8 * c, 8 * c + 8), 8 * k);
  });
  return outline(g.plane.toQuads(quads, g.fine), g.fineDensity);
}

const NO_POLYGONS: Polygons = {
  xy: new Float64Array(0),
  ringStart: new Uint32Array(1),
  polygonStart: new Uint32Array(1),
};

/** The line that sees most of each whole piece. */
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
