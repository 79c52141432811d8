import { EdgeGrid } from '../geometry/edgegrid.ts';
import { lengthOf } from '../geometry/length.ts';
import { Sets } from '../geometry/unionfind.ts';
import { distance } from './borders.ts';
import type { Boundary, Chords } from './chords.ts';
import { SURELY_NARROW } from './discs.ts';
import type { Edges } from './edges.ts';

/**
 * 1 for each chord that counts: all of those inside whole pieces, those wider than `slitM` in webs, and elsewhere those of long strips.
 * A strip is made of runs of edges along one ring that face something; it goes on across the mouth of a seam and up the steps of a slanted end.
 * It is long when its mouths are a small part of the way around it; into a mouth, a circle of diameter `widestM` bulges from outside.
 */
export function keepStrips(b: Edges, chords: Chords, widestM: number, slitM: number): Uint8Array {
  const keep = new Uint8Array(chords.count);
  const runs: Run[] = [];
  for (let c = 0; c < chords.count; ) {
    const near = chords.near[c];
    if (near < b.wholeEdges || near >= b.openEdges) {
      // As short as a slit is wide, a chord runs along one.
      keep[c] = near < b.wholeEdges || Math.min(chords.widthM[c], chords.lengthM[c]) > slitM ? 1 : 0;
      c++;
      continue;
    }
    const ring = b.ring[near];
    const run: Run = { from: c, to: c, lengthM: 0 };
    for (; run.to < chords.count && b.ring[chords.near[run.to]] === ring; run.to++) {
      if (run.to > c && !follows(b, chords, run.to, slitM)) break;
      run.lengthM += chords.lengthM[run.to];
    }
    runs.push(run);
    c = run.to;
  }
  const mouths = new Mouths(b, chords, widestM);
  for (const strip of stripsOf(runs, chords, slitM)) {
    const { openM, shutM } = mouths.of(strip);
    if (openM <= MOUTH * (shutM + openM)) for (const r of strip) keep.fill(1, r.from, r.to);
  }
  return keep;
}

/** Chords `from` up to `to` that follow each other along a ring. */
interface Run {
  from: number;
  to: number;
  lengthM: number;
}

/** A strip continues where the next run begins within this, meters, or this share of its width: mouths of seams, steps of slanted ends, and wider places. */
const BRIDGE_M = 2;
const BRIDGE_PART = 1;

/** Runs that face one another, or go on in one another: the end of one lies near the beginning of the other, and both are about as wide. */
function stripsOf(runs: readonly Run[], chords: Chords, slitM: number): Run[][] {
  const { quad, widthM } = chords;
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
          if (gap < reach(v, w) && isAlike(v, w, slitM)) joined.join(i, k);
        }
  });
  joinFacing(runs, chords, slitM, joined);
  const strips = new Map<number, Run[]>();
  runs.forEach((r, i) => {
    const root = joined.find(i);
    const list = strips.get(root);
    if (list) list.push(r);
    else strips.set(root, [r]);
  });
  return [...strips.values()];
}

/** Joins runs that see one another, about as far. */
function joinFacing(runs: readonly Run[], { near, far, widthM }: Chords, slitM: number, joined: Sets): void {
  const over = new Map<number, { run: number; chord: number }[]>();
  runs.forEach((r, run) => {
    for (let chord = r.from; chord < r.to; chord++) {
      const list = over.get(near[chord]);
      if (list) list.push({ run, chord });
      else over.set(near[chord], [{ run, chord }]);
    }
  });
  runs.forEach((r, run) => {
    for (let c = r.from; c < r.to; c++)
      for (const o of over.get(far[c]) ?? []) if (isAlike(widthM[c], widthM[o.chord], slitM)) joined.join(run, o.run);
  });
}

/** A slit does not belong to the strip that it opens into. */
const isAlike = (v: number, w: number, slitM: number): boolean => v > slitM === w > slitM;

/** Whether chord c begins near where the one before it ended, and sees about as far. */
function follows(b: Boundary, chords: Chords, c: number, slitM: number): boolean {
  const [p, q] = [chords.near[c - 1], chords.near[c]];
  const gap = p === q ? 0 : lengthOf(b.xy[4 * q] - b.xy[4 * p + 2], b.xy[4 * q + 1] - b.xy[4 * p + 3]) + (q - p - 1);
  return gap < BRIDGE_M && isAlike(chords.widthM[c - 1], chords.widthM[c], slitM);
}

/**
 * Most of the way around a strip that may be open: in a notch as wide as a working width, closed at its end, that leaves what is one and a half times as deep
 * as wide or more; between two passes with both ends open, what is four times as long as wide.
 */
const MOUTH = 0.28;
/** A wall begins within this of the end of a strip, meters. */
const WALL_M = 0.3;

/** The ends of strips. */
class Mouths {
  private readonly grid: EdgeGrid;

  constructor(
    private readonly edges: Edges,
    private readonly chords: Chords,
    private readonly widestM: number,
  ) {
    this.grid = new EdgeGrid(edges.xy.subarray(0, 4 * edges.openEdges), edges.openEdges);
  }

  /** How much of the way around a strip is open, and how much is covered ground, meters. */
  of(strip: readonly Run[]): { openM: number; shutM: number } {
    const { quad, widthM } = this.chords;
    // Wider than a circle: seen from the end, along a strip.
    const sides = strip.filter((r) => widthM[r.from] <= this.widestM);
    const begins = sides.map((r) => this.point(r.from, 0));
    const ends = sides.map((r) => this.point(r.to - 1, 2));
    const [beginning, ending] = [
      new Near(begins, Math.max(BRIDGE_M, this.widestM)),
      new Near(ends, Math.max(BRIDGE_M, this.widestM)),
    ];
    let openM = 0;
    let shutM = sides.reduce((s, r) => s + r.lengthM, 0);
    // Every end is seen from both sides.
    const look = (p: Point, far: number, others: Near, sign: number): void => {
      const acrossM = lengthOf(quad[far] - p.x, quad[far + 1] - p.y);
      const jogM = others.goesOn(p, sign, acrossM);
      if (jogM >= 0) {
        shutM += jogM / 2;
        return;
      }
      const walled = this.wallShare(p.x, p.y, quad[far], quad[far + 1]);
      const mouth = this.mouthOf(acrossM);
      shutM += (walled * acrossM) / 2 + (1 - walled) * mouth.deepM;
      openM += ((1 - walled) * mouth.arcM) / 2;
    };
    sides.forEach((r, i) => {
      look(begins[i], 8 * r.from + 6, ending, -1);
      look(ends[i], 8 * (r.to - 1) + 4, beginning, 1);
    });
    return { openM, shutM };
  }

  /** The circle that comes in between two edges `acrossM` apart: its arc, and how deep it comes in, which chords were cut off by. */
  private mouthOf(acrossM: number): { arcM: number; deepM: number } {
    const r = this.widestM / 2;
    const half = Math.min(acrossM / 2, r);
    return {
      arcM: 2 * r * Math.asin(half / r),
      deepM: acrossM < SURELY_NARROW * this.widestM ? 0 : r - Math.sqrt(r * r - half * half),
    };
  }

  /** A corner of chord c on its near edge, and the way the edge runs. */
  private point(c: number, corner: number): Point {
    const { quad, lengthM } = this.chords;
    const [x, y] = [quad[8 * c + corner], quad[8 * c + corner + 1]];
    return {
      x,
      y,
      ux: (quad[8 * c + 2] - quad[8 * c]) / lengthM[c],
      uy: (quad[8 * c + 3] - quad[8 * c + 1]) / lengthM[c],
    };
  }

  /** How much of the line from side to side lies along an edge, 0 to 1. */
  private wallShare(ax: number, ay: number, bx: number, by: number): number {
    const reach = Math.min(WALL_M, lengthOf(bx - ax, by - ay) / 4);
    const at = [0.3, 0.5, 0.7];
    const walled = at.filter((t) => {
      const [x, y] = [ax + (bx - ax) * t, ay + (by - ay) * t];
      const n = this.grid.near(x - reach, y - reach, x + reach, y + reach);
      for (let k = 0; k < n; k++) if (distance(this.edges.xy, 4 * this.grid.found[k], x, y) <= reach) return true;
      return false;
    });
    return walled.length / at.length;
  }
}

interface Point {
  x: number;
  y: number;
  ux: number;
  uy: number;
}

/** Where runs begin, or where they end, by square cells. */
class Near {
  private readonly cells = new Map<string, Point[]>();

  constructor(
    points: readonly Point[],
    private readonly cellM: number,
  ) {
    for (const p of points) {
      const key = `${Math.floor(p.x / cellM)} ${Math.floor(p.y / cellM)}`;
      const list = this.cells.get(key);
      if (list) list.push(p);
      else this.cells.set(key, [p]);
    }
  }

  /** How far one of them lies ahead of (or, for `sign` -1, behind) the end of a run: close by, or within the strip's width where it runs the same way; else -1. */
  goesOn({ x, y, ux, uy }: Point, sign: number, widthM: number): number {
    let nearest = -1;
    const [cx, cy] = [Math.floor(x / this.cellM), Math.floor(y / this.cellM)];
    for (let i = cx - 1; i <= cx + 1; i++)
      for (let j = cy - 1; j <= cy + 1; j++)
        for (const p of this.cells.get(`${i} ${j}`) ?? []) {
          const [dx, dy] = [p.x - x, p.y - y];
          const sameWay = p.ux * ux + p.uy * uy > SAME_WAY;
          const reach = sameWay ? Math.max(BRIDGE_M, widthM) : Math.min(BRIDGE_M, widthM / 2);
          const away = lengthOf(dx, dy);
          if (away <= reach && sign * (dx * ux + dy * uy) > -WALL_M && (nearest < 0 || away < nearest)) nearest = away;
        }
    return nearest;
  }
}

/** Cosine of the angle up to which two runs go the same way. */
const SAME_WAY = 0.5;
