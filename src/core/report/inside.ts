/** Places and areas of polygons, for drawing them; nothing is measured here. */
import type { Polygons } from '../coverage/index.ts';

/** A place inside each polygon, and its area: the middle of the longest stretch inside it on a line across its middle. */
export function insideOf({ xy, ringStart, polygonStart }: Polygons): { x: number; y: number; area: number }[] {
  const out: { x: number; y: number; area: number }[] = [];
  for (let p = 0; p + 1 < polygonStart.length; p++) {
    const [from, to] = [ringStart[polygonStart[p]], ringStart[polygonStart[p + 1]]];
    let [low, high] = [Infinity, -Infinity];
    for (let i = from; i < to; i++) {
      low = Math.min(low, xy[2 * i + 1]);
      high = Math.max(high, xy[2 * i + 1]);
    }
    // Off the lattice, so that no corner lies on the line.
    const y = Math.floor((low + high) / 2) + 0.5;
    const cuts: number[] = [];
    for (let r = polygonStart[p]; r < polygonStart[p + 1]; r++) {
      for (let i = ringStart[r], j = ringStart[r + 1] - 1; i < ringStart[r + 1]; j = i++) {
        const [ay, by] = [xy[2 * j + 1], xy[2 * i + 1]];
        if (ay <= y !== by <= y) cuts.push(xy[2 * j] + ((y - ay) / (by - ay)) * (xy[2 * i] - xy[2 * j]));
      }
    }
    cuts.sort((a, b) => a - b);
    let at = -1;
    for (let k = 0; k + 1 < cuts.length; k += 2) if (at < 0 || cuts[k + 1] - cuts[k] > cuts[at + 1] - cuts[at]) at = k;
    if (at < 0) continue;
    const area = Math.abs(twiceArea(xy, ringStart, polygonStart[p], polygonStart[p + 1])) / 2;
    out.push({ x: (cuts[at] + cuts[at + 1]) / 2, y, area });
  }
  return out;
}

/** Twice the signed area of the rings from `first` to before `last`; each from its own first point, because places are large beside a strip. */
export function twiceArea(xy: ArrayLike<number>, ringStart: ArrayLike<number>, first: number, last: number): number {
  let sum = 0;
  for (let r = first; r < last; r++) {
    const [ox, oy] = [xy[2 * ringStart[r]], xy[2 * ringStart[r] + 1]];
    for (let i = ringStart[r], j = ringStart[r + 1] - 1; i < ringStart[r + 1]; j = i++)
      sum += (xy[2 * j] - ox) * (xy[2 * i + 1] - oy) - (xy[2 * i] - ox) * (xy[2 * j + 1] - oy);
  }
  return sum;
}
