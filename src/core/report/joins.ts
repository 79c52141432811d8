/** How the two rulers compare: which recorded edge is compared with which declared edge. */
import type { Report } from '../answer.ts';
import type { Unit } from '../planter/types.ts';
import { rulersOf, type Stretch } from './rulers.ts';

/** Edges closer than this are drawn as equal, meters: the rounding of common map files. */
export const SAME_M = 0.015;

export interface Join {
  declaredM: number;
  recordedM: number;
  /** recorded - declared, meters, + to the right. */
  offM: number;
  outer: boolean;
}

/** Edges of the declared bands with the recorded edges they are compared with; empty when the map shows no width. */
export function joinEdges(report: Report, unit: Unit): Join[] {
  const rulers = rulersOf(report, unit);
  const a = edges(rulers.declared);
  const b = edges(rulers.recorded);
  if (b.length === 0) return [];
  return match(a, b).map(([i, j]) => ({
    declaredM: a[i],
    recordedM: b[j],
    offM: b[j] - a[i],
    outer: i === 0 || i === a.length - 1,
  }));
}

/** Edges of bands from left to right; where two bands touch, the edge counts once. */
function edges(bands: readonly Stretch[]): number[] {
  const all = bands.flatMap((t) => [t.leftM, t.rightM]).sort((p, q) => p - q);
  return all.filter((e, i) => i === 0 || e - all[i - 1] > SAME_M);
}

/** Pairs of indices: one to one where the numbers agree, else the outer edges together and each inner one of the fewer to its nearest. */
function match(a: readonly number[], b: readonly number[]): [number, number][] {
  if (a.length === b.length) return a.map((_, i) => [i, i]);
  const pairs: [number, number][] = [];
  const fewerIsDeclared = a.length < b.length;
  const [fewer, more] = fewerIsDeclared ? [a, b] : [b, a];
  let from = 0;
  fewer.forEach((e, i) => {
    let at: number;
    if (i === 0) at = 0;
    else if (i === fewer.length - 1) at = more.length - 1;
    else {
      at = from + 1;
      const last = more.length - (fewer.length - i);
      for (let k = at; k <= last; k++) if (Math.abs(more[k] - e) < Math.abs(more[at] - e)) at = k;
    }
    from = at;
    pairs.push(fewerIsDeclared ? [i, at] : [at, i]);
  });
  return pairs;
}
