import { lengthOf } from '../geometry/length.ts';
import type { Chords } from './chords.ts';
import type { Edges } from './edges.ts';
import type { Between, Ground, GroundLine, Neighbor } from './types.ts';

/** How far behind an edge to search for its owner, meters: more than any rounding, less than any row width. */
const BEHIND_M = 0.04;
/** Chords wider than this many times the noise form separate lines. */
export const WIDE = 2;
/** An edge within 45 degrees of travel is a side of its pass. */
const SIDE_COS = Math.SQRT1_2;

export interface Sorted {
  /** Line of each chord, -1 where it does not count. */
  line: Int32Array;
  lines: LineStart[];
  /** The line of whole piece i where no chord was found in it; created if necessary. */
  lineOfPiece(i: number): number;
}

/** A line before it is measured. */
type LineStart = Omit<GroundLine, 'fact' | 'areaM2' | 'polygons'>;

/** Which neighbors a chord lies between. */
export class Sorting {
  private readonly neighbor: Neighbor[] = [];
  private readonly side: number[] = [];
  private readonly off: number[] = [];
  private readonly turns: number[] = [];

  constructor(
    private readonly edges: Edges,
    private readonly g: Ground,
    private readonly noiseM: number,
    private readonly fact: GroundLine['fact'],
  ) {}

  sort(chords: Chords, keep: Uint8Array): Sorted {
    const line = new Int32Array(chords.count).fill(-1);
    const lines: LineStart[] = [];
    const members: { widths: number[]; lengths: number[]; off: number; turns: number; over: Map<number, number> }[] =
      [];
    const ids = new Map<number, number>();
    const lineOf = (a: Neighbor, b: Neighbor, between: Between, wide: boolean): number => {
      const [x, y] = rankOf(a) > rankOf(b) ? [b, a] : [a, b];
      const key = keyOf(x, y, between, wide);
      let id = ids.get(key);
      if (id === undefined) {
        id = lines.length;
        ids.set(key, id);
        lines.push({ a: x, b: y, over: 0, between, lengthM: 0, widthM: 0, spreadM: [0, 0], sectionOff: 0, turning: 0 });
        members.push({ widths: [], lengths: [], off: 0, turns: 0, over: new Map() });
      }
      return id;
    };
    for (let c = 0; c < chords.count; c++) {
      if (keep[c] === 0) continue;
      const e = chords.near[c];
      const f = chords.far[c];
      this.look(e);
      this.look(f);
      // Beyond the boundary on both sides: nothing was planted beside it.
      if (this.neighbor[e] === 'boundary' && this.neighbor[f] === 'boundary' && e >= this.edges.wholeEdges) continue;
      const sides = this.side[e] + this.side[f];
      const between: Between = sides === 2 ? 'sides' : sides === 0 ? 'ends' : 'side-and-end';
      // A seam that opens into a wedge is two lines: the width of one half must not stand for the other.
      const id = lineOf(this.neighbor[e], this.neighbor[f], between, chords.widthM[c] > WIDE * this.noiseM);
      line[c] = id;
      const m = members[id];
      m.widths.push(chords.widthM[c]);
      m.lengths.push(chords.lengthM[c]);
      if (this.off[e] + this.off[f] > 0) m.off += chords.lengthM[c];
      if (this.turns[e] + this.turns[f] > 0) m.turns += chords.lengthM[c];
      const over = this.overAt(e, f);
      if (over > 0) m.over.set(over, (m.over.get(over) ?? 0) + chords.lengthM[c]);
    }
    lines.forEach((l, i) => {
      const m = members[i];
      const all = m.lengths.reduce((s, v) => s + v, 0);
      // Every strip is found from both sides.
      l.lengthM = all / 2;
      l.widthM = weightedQuantile(m.widths, m.lengths, 0.5);
      l.spreadM = [weightedQuantile(m.widths, m.lengths, 0.1), weightedQuantile(m.widths, m.lengths, 0.9)];
      l.sectionOff = all > 0 ? m.off / all : 0;
      l.turning = all > 0 ? m.turns / all : 0;
      l.over = [...m.over].reduce((best, o) => (o[1] > best[1] ? o : best), [0, 0])[0];
    });
    const lineOfPiece = (i: number): number => {
      const [a, b] = this.aroundPiece(i);
      const id = lineOf(a, b, 'ends', true);
      if (this.fact === 'overlap' && lines[id].over === 0) lines[id].over = this.underPiece(i, a, b);
      return id;
    };
    return { line, lines, lineOfPiece };
  }

  /** Where one pass ends on both sides of ground covered twice: the other pass there, halfway between edges e and f; else 0. */
  private overAt(e: number, f: number): number {
    const own = this.neighbor[e];
    if (this.fact === 'gap' || typeof own !== 'number' || own !== this.neighbor[f]) return 0;
    const { xy } = this.edges;
    const middle = (k: number): number => (xy[4 * e + k] + xy[4 * e + k + 2] + xy[4 * f + k] + xy[4 * f + k + 2]) / 4;
    this.g.owners.at(middle(0), middle(1));
    return this.g.owners.pass.find((p) => p !== own) ?? 0;
  }

  /** A pass that covered whole piece i besides the two around it, at the first of its edges that shows one; 0 for none. */
  private underPiece(i: number, a: Neighbor, b: Neighbor): number {
    const { xy, polygon, wholeEdges } = this.edges;
    for (let e = firstOf(polygon, i, wholeEdges); e < wholeEdges && polygon[e] === i; e++) {
      const [dx, dy] = [xy[4 * e + 2] - xy[4 * e], xy[4 * e + 3] - xy[4 * e + 1]];
      const l = lengthOf(dx, dy) || 1;
      // The ground covered twice lies to the left of its edges.
      this.g.owners.at(
        (xy[4 * e] + xy[4 * e + 2]) / 2 - (dy / l) * BEHIND_M,
        (xy[4 * e + 1] + xy[4 * e + 3]) / 2 + (dx / l) * BEHIND_M,
      );
      const other = this.g.owners.pass.find((p) => p !== a && p !== b);
      if (other !== undefined) return other;
    }
    return 0;
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
    const rx = (dy / l) * BEHIND_M;
    const ry = (-dx / l) * BEHIND_M;
    const { owners } = this.g;
    let pass = 0;
    let bar = -1;
    if (this.fact === 'gap') {
      if (owners.at(mx + rx, my + ry) > 0) [pass, bar] = [owners.pass[0], owners.bar[0]];
    } else {
      // Of the passes inside, the one that is not also outside ends here.
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
    this.turns[e] = bar >= 0 && owners.isTurning(bar) ? 1 : 0;
    this.neighbor[e] = pass > 0 ? pass : this.isBeyond(mx + rx, my + ry) ? 'boundary' : 'unplaced';
  }

  /** Whether the outermost section of bar b on the side of the point is off. */
  private isOff(b: number, x: number, y: number): boolean {
    const { passes, bands } = this.g;
    const segment = bands.segments[bands.segment[b]];
    if (!segment || Number.isNaN(bands.middleM[b])) return false;
    const across =
      (x - passes.center[2 * b]) * passes.right[2 * b] + (y - passes.center[2 * b + 1]) * passes.right[2 * b + 1];
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

/** Passes of a map are fewer, so that a line has a key that is a whole number below 2^53. */
const MOST_NEIGHBORS = 2 ** 24;
const codeOf = (n: Neighbor): number => (n === 'boundary' ? 1 : n === 'unplaced' ? 2 : n + 2);

function keyOf(a: Neighbor, b: Neighbor, between: Between, wide: boolean): number {
  const ends = between === 'sides' ? 0 : between === 'ends' ? 1 : 2;
  return (codeOf(a) * MOST_NEIGHBORS + codeOf(b)) * 6 + 2 * ends + (wide ? 1 : 0);
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
