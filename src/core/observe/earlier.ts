import { makePointGrid, upTo } from '../geometry/grid.ts';
import { lengthOf } from '../geometry/length.ts';
import type { Passes } from '../track/types.ts';

/** True when (x, y), metres, lies on a record of a pass before `pass`. */
export type Earlier = (x: number, y: number, pass: number) => boolean;

/** Asks the bars instead of the polygons: along and across a bar are two products, and its records are intervals. */
export function makeEarlier(passes: Passes): Earlier {
  const { bars, centre, right, lengthM, barStart, leftM, rightM } = passes;
  const passOf = new Uint32Array(bars);
  for (let p = 0; p + 1 < passes.passStart.length; p++) passOf.fill(p, passes.passStart[p], passes.passStart[p + 1]);
  let reach = 0;
  let longest = 0;
  for (let b = 0; b < bars; b++) {
    reach = Math.max(reach, rightM[barStart[b + 1] - 1], -leftM[barStart[b]]);
    longest = Math.max(longest, lengthM[b]);
  }
  const around = lengthOf(reach, longest / 2);
  const grid = makePointGrid(centre, upTo(bars), Math.max(3, reach / 2));
  return (x, y, pass) => {
    const n = grid.near(x, y, around);
    const { found } = grid;
    for (let k = 0; k < n; k++) {
      const b = found[k];
      if (passOf[b] >= pass) continue;
      const dx = x - centre[2 * b];
      const dy = y - centre[2 * b + 1];
      const along = -dx * right[2 * b + 1] + dy * right[2 * b];
      if (Math.abs(along) > lengthM[b] / 2 + 0.01) continue;
      const across = dx * right[2 * b] + dy * right[2 * b + 1];
      for (let i = barStart[b]; i < barStart[b + 1]; i++) if (across >= leftM[i] && across <= rightM[i]) return true;
    }
    return false;
  };
}
