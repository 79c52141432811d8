import { lengthOf } from '../geometry/length.ts';
import { Sets } from '../geometry/unionfind.ts';
import type { Boundary, Chords } from './chords.ts';
import type { Edges } from './edges.ts';

/**
 * 1 for each chord that counts: all of those inside whole pieces, those wider than `slitM` in webs, and elsewhere those of long strips.
 * A strip consists of runs of edges along one ring that face something; it continues across the mouth of a seam and up the steps of a slanted end.
 */
export function keepStrips(b: Edges, chords: Chords, slitM: number): Uint8Array {
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
    // Every strip is found from both sides.
    if ((lengthM * lengthM) / 4 > (SLIM * areaM2) / 2) for (const r of strip) keep.fill(1, r.from, r.to);
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

/** A strip continues where the next run begins within this, meters, or this share of its width: mouths of seams, steps of slanted ends, and wider places. */
const BRIDGE_M = 2;
const BRIDGE_PART = 1;

/** Runs that face each other, or continue each other: the end of one lies near the beginning of the other, and both are about equally wide. */
function stripsOf(runs: readonly Run[], chords: Chords): Run[][] {
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
          if (gap < reach(v, w) && isAlike(v, w)) joined.join(i, k);
        }
  });
  joinFacing(runs, chords, joined);
  const strips = new Map<number, Run[]>();
  runs.forEach((r, i) => {
    const root = joined.find(i);
    const list = strips.get(root);
    if (list) list.push(r);
    else strips.set(root, [r]);
  });
  return [...strips.values()];
}

/** Joins runs that face each other at about the same distance. */
function joinFacing(runs: readonly Run[], { near, far, widthM }: Chords, joined: Sets): void {
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
      for (const o of over.get(far[c]) ?? []) if (isAlike(widthM[c], widthM[o.chord])) joined.join(run, o.run);
  });
}

const isAlike = (v: number, w: number): boolean => Math.max(v, w) < 3 * Math.min(v, w) + 0.5;

/** Whether chord c begins near where the one before it ended, and is about as long. */
function follows(b: Boundary, chords: Chords, c: number): boolean {
  const [p, q] = [chords.near[c - 1], chords.near[c]];
  const gap = p === q ? 0 : lengthOf(b.xy[4 * q] - b.xy[4 * p + 2], b.xy[4 * q + 1] - b.xy[4 * p + 3]) + (q - p - 1);
  return gap < BRIDGE_M && isAlike(chords.widthM[c - 1], chords.widthM[c]);
}

/** A strip that is open at its ends is at least this many times as long as wide; a shorter one is a corner, or the notch that a short pass leaves. A pocket found from all four sides counts as twice as long. */
const SLIM = 1.5;
