import { lengthOf } from '../geometry/length.ts';
import { enclosedGround } from './between.ts';
import type { Boundary, Chords } from './chords.ts';
import { SURELY_NARROW } from './discs.ts';
import type { Edges } from './edges.ts';
import { drawPieces } from './pieces.ts';
import type { Ground } from './types.ts';

/**
 * 1 for each chord that counts: all of those inside whole pieces, those wider than `slitM` in webs, and of wide ground those in strips and in long slits.
 * A strip is a piece of the ground under chords and of what they enclose, drawn without slits, of whose outline a small part is open.
 */
export function keepStrips(b: Edges, chords: Chords, widestM: number, slitM: number, g: Ground): Uint8Array {
  const { near, widthM, lengthM } = chords;
  const keep = new Uint8Array(chords.count);
  const open: number[] = [];
  const wide: number[] = [];
  for (let c = 0; c < chords.count; c++) {
    if (near[c] < b.wholeEdges) keep[c] = 1;
    // As short as a slit is wide, a chord runs along one.
    else if (near[c] >= b.openEdges) keep[c] = Math.min(widthM[c], lengthM[c]) > slitM ? 1 : 0;
    else {
      open.push(c);
      if (widthM[c] > slitM) wide.push(c);
    }
  }
  keepSlits(b, chords, open, slitM, keep);
  if (wide.length === 0) return keep;
  const around: number[] = [];
  for (let e = b.wholeEdges; e < b.openEdges; e++) around.push(e);
  const enclosed = enclosedGround(open, chords, b, around, g, widestM);
  const pieces = drawPieces(wide, enclosed, chords, b, slitM, g);
  const isStrip = pieces.mouths.map((mouths, i) => {
    let openM = 0;
    let shutM = pieces.shutM[i];
    for (const acrossM of mouths) {
      const { arcM, besideM } = circleIn(acrossM, widestM, slitM);
      openM += arcM;
      shutM += besideM;
    }
    return openM <= MOUTH * (openM + shutM);
  });
  wide.forEach((c, k) => {
    if (isStrip[pieces.pieceOf[k]]) keep[c] = 1;
  });
  return keep;
}

/**
 * Most of the way around a strip that may be open: in a notch as wide as a working width, closed at its end, that leaves what is one and a half times as deep
 * as wide or more; between two passes with both ends open, what is four times as long as wide.
 */
const MOUTH = 0.28;

/**
 * The circle of diameter `widestM` that comes in at a mouth `acrossM` wide: its arc, less what runs as near to a wall as a slit is wide, and that. Chords are cut
 * straight across where the circle ends, so that the walls beside it, as deep as it comes in, are not in the outline; short chords are not cut.
 */
function circleIn(acrossM: number, widestM: number, slitM: number): { arcM: number; besideM: number } {
  const r = widestM / 2;
  const half = Math.min(acrossM / 2, r);
  const wholeM = 2 * r * Math.asin(half / r);
  const arcM = 2 * r * Math.asin(Math.max(0, half - slitM) / r);
  const deepM = acrossM < SURELY_NARROW * widestM ? 0 : r - Math.sqrt(r * r - half * half);
  return { arcM: Math.max(acrossM - 2 * slitM, arcM), besideM: wholeM - arcM + 2 * deepM };
}

/** A slit goes on behind a step of this length, meters. */
const STEP_M = 2;

/** Marks the chords of slits: of runs of chords along a ring that are as long, for their width, as a strip with two open ends. */
function keepSlits(b: Boundary, chords: Chords, open: readonly number[], slitM: number, keep: Uint8Array): void {
  const { widthM, lengthM } = chords;
  let run: number[] = [];
  const close = (): void => {
    if (run.length === 0) return;
    const mouthsM = widthM[run[0]] + widthM[run[run.length - 1]];
    const shutM = 2 * run.reduce((s, c) => s + lengthM[c], 0);
    if (mouthsM <= MOUTH * (mouthsM + shutM)) for (const c of run) keep[c] = 1;
    run = [];
  };
  for (const c of open) {
    if (widthM[c] > slitM || (run.length > 0 && !follows(b, chords, run[run.length - 1], c))) close();
    if (widthM[c] <= slitM) run.push(c);
  }
  close();
}

/** Whether chord c begins near where chord `last`, on the same ring, ended. */
function follows({ xy, ring }: Boundary, { near }: Chords, last: number, c: number): boolean {
  const [p, q] = [near[last], near[c]];
  if (p === q) return true;
  if (ring[p] !== ring[q]) return false;
  return lengthOf(xy[4 * q] - xy[4 * p + 2], xy[4 * q + 1] - xy[4 * p + 3]) + (q - p - 1) < STEP_M;
}
