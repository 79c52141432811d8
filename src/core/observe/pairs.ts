import type { Passes } from '../track/types.ts';
import { PARALLEL } from './facing.ts';

/** Most of a pass is of one kind from this part of its bars on. */
const MOSTLY = 0.8;
/** Passes meet where an edge lies within this of another, meters. */
const MEETS_M = 0.1;
/** More passes than these in pairs are a layout of their own, whatever they cost. */
const MOST_PAIRED = 24;

/**
 * The kind of each pass that is of the same kind as the pass before it, where both meet a neighbor on either side; -1 for others. Looked at are kinds that `isPart` says hold some sections of a layout. Sections are off in one pass so that it fills what is left between
 * two others. Two such passes side by side were driven too close to a neighbor for nothing, if the display did not believe in their width.
 */
export function fillsInPairs(passes: Passes, kindOf: Int16Array, isPart: (kind: number) => boolean): Int16Array {
  const { passStart } = passes;
  const out = new Int16Array(passStart.length - 1).fill(-1);
  const middle = (p: number): number => (passStart[p] + passStart[p + 1]) >> 1;
  const usual = Array.from(out, (_, p) => {
    const kind = kindOf[middle(p)];
    const count = kindOf.subarray(passStart[p], passStart[p + 1]).filter((k) => k === kind).length;
    return count >= MOSTLY * (passStart[p + 1] - passStart[p]) ? kind : -1;
  });
  const most = usual.reduce((map, k) => map.set(k, (map.get(k) ?? 0) + 1), new Map<number, number>());
  const isPair = (p: number): boolean =>
    usual[p] >= 0 && usual[p] === usual[p - 1] && isPart(usual[p]) && most.get(usual[p])! <= MOST_PAIRED;
  const meets = new Map<number, boolean>();
  const meetsBoth = (p: number): boolean => {
    const known = meets.get(p) ?? (meetsAt(passes, middle(p), -1) && meetsAt(passes, middle(p), 1));
    meets.set(p, known);
    return known;
  };
  for (let p = 1; p < out.length; p++) if (isPair(p) && meetsBoth(p - 1) && meetsBoth(p)) out[p] = usual[p];
  return out;
}

/** Whether an edge of another pass lies at the edge of bar `b` on `side`, +1 right. */
function meetsAt(passes: Passes, b: number, side: number): boolean {
  const { center, right, lengthM, barStart, leftM, rightM } = passes;
  const [rx, ry] = [right[2 * b], right[2 * b + 1]];
  const edgeM = side > 0 ? rightM[barStart[b + 1] - 1] : leftM[barStart[b]];
  for (let a = 0; a < passes.bars; a++) {
    const [dx, dy] = [center[2 * a] - center[2 * b], center[2 * a + 1] - center[2 * b + 1]];
    if (Math.abs(dy * rx - dx * ry) > lengthM[a] / 2) continue;
    const cos = right[2 * a] * rx + right[2 * a + 1] * ry;
    if (a === b || Math.abs(cos) < PARALLEL) continue;
    const facing = cos * side > 0 ? leftM[barStart[a]] : rightM[barStart[a + 1] - 1];
    if (Math.abs(dx * rx + dy * ry + cos * facing - edgeM) < MEETS_M) return true;
  }
  return false;
}
