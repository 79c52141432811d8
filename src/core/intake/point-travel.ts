/** Which way the planter faced at each point, and whether a point's values apply to the ground before it or after it. */
import { median } from '../geometry/stats.ts';
import { shown } from './bytes.ts';
import type { PointColumns, PointTrack } from './point-types.ts';

/** Points nearer to each other than this are one place, meters. */
export const STILL_M = 0.02;
/** Whether the values of a point apply to the strip before it, decided by the distances that the points give. */
export function intervalOf(
  { distance }: PointColumns,
  steps: Float64Array,
  chain: number[],
): { before: boolean; says: string } {
  const taken = (how: string, why: string): string =>
    `The values of a point were applied to the ground from ${how}, ${why}.`;
  const BEFORE = 'the point before to itself';
  if (distance === null)
    return {
      before: true,
      says: taken(BEFORE, 'as displays log (common practice); no column of the distance driven shows which it is'),
    };
  const before: number[] = [];
  const after: number[] = [];
  for (let k = 1; k < steps.length; k++) {
    const d = distance.meters[chain[k]];
    if (!(d > 0)) continue;
    before.push(Math.abs(d - steps[k - 1]));
    after.push(Math.abs(d - steps[k]));
  }
  const [b, a] = [median(before), median(after)];
  const name = `column "${shown(distance.name)}" (${distance.unit})`;
  const cm = (m: number): string => `${(100 * m).toFixed(1)} cm`;
  if (Math.min(a, b) < 0.67 * Math.max(a, b)) {
    return b < a
      ? {
          before: true,
          says: taken(BEFORE, `because ${name} fits that step within ${cm(b)} and the next within ${cm(a)} (medians)`),
        }
      : {
          before: false,
          says: taken(
            'itself to the next',
            `because ${name} fits that step within ${cm(a)} and the one before within ${cm(b)} (medians)`,
          ),
        };
  }
  return {
    before: true,
    says: taken(BEFORE, `as displays log (common practice); ${name} fits both steps equally well`),
  };
}

/** Unit vectors of travel, x and y in turn: from the heading column where it follows the track, else from the points before and after. */
export function unitsOf(
  { x, y }: PointTrack,
  { heading, pass }: PointColumns,
  chains: number[][],
  breakM: number,
): { unit: Float64Array; says: string } {
  const unit = new Float64Array(2 * x.length);
  for (const chain of chains) {
    for (let k = 0; k < chain.length; k++) {
      const i = chain[k];
      const near = (j: number | undefined): j is number =>
        j !== undefined &&
        Math.hypot(x[j] - x[i], y[j] - y[i]) <= breakM &&
        (pass === null || pass.values[j] === pass.values[i]);
      let [from, to] = [k, k];
      while (from > 0 && near(chain[from - 1]) && distanceOf(x, y, chain[from], i) < STILL_M) from--;
      while (to + 1 < chain.length && near(chain[to + 1]) && distanceOf(x, y, chain[to], i) < STILL_M) to++;
      const [dx, dy] = [x[chain[to]] - x[chain[from]], y[chain[to]] - y[chain[from]]];
      const length = Math.hypot(dx, dy) || 1;
      unit[2 * i] = dx / length;
      unit[2 * i + 1] = dy / length;
    }
  }
  if (heading === null) return { unit, says: 'across the line from the point before to the one after' };
  let fit = 0;
  let seen = 0;
  const own = new Float64Array(2 * x.length);
  for (let i = 0; i < x.length; i++) {
    const a = (heading.values[i] * Math.PI) / 180;
    own[2 * i] = Math.sin(a);
    own[2 * i + 1] = Math.cos(a);
    if (unit[2 * i] === 0 && unit[2 * i + 1] === 0) continue;
    seen++;
    if (own[2 * i] * unit[2 * i] + own[2 * i + 1] * unit[2 * i + 1] > 0.95) fit++;
  }
  const name = `column "${shown(heading.name)}"`;
  if (fit < 0.8 * seen)
    return { unit, says: `across the line from the point before to the one after (${name} does not follow the track)` };
  for (let i = 0; i < x.length; i++)
    if (!Number.isNaN(own[2 * i])) {
      unit[2 * i] = own[2 * i];
      unit[2 * i + 1] = own[2 * i + 1];
    }
  return { unit, says: `across the heading of ${name}` };
}

const distanceOf = (x: Float64Array, y: Float64Array, a: number, b: number): number =>
  Math.hypot(x[a] - x[b], y[a] - y[b]);
