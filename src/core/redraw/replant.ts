import type { Shapes } from '../geometry/shapes.ts';
import type { Piece, Redrawn } from './bars.ts';
import { NOTHING_M2 } from './noise.ts';

/**
 * Puts the pieces of later days before those of earlier ones, each day in planting order, so that replanted ground goes to the later
 * record. `dayOfPass` per pass (0-based); a piece without a pass was logged on the day of the one before it. Returns the day of each piece in its new place.
 */
export function newestFirst(out: Redrawn, dayOfPass: ArrayLike<number>): Uint16Array {
  const { pieces } = out;
  const days = new Uint16Array(pieces.length);
  let day = dayOfPass.length > 0 ? dayOfPass[0] : 0;
  pieces.forEach((p, i) => {
    if (p.pass >= 0) day = dayOfPass[p.pass];
    days[i] = day;
  });
  if (days.every((d) => d === days[0])) return days;
  const cornersAt = new Int32Array(pieces.length);
  let drawn = 0;
  pieces.forEach((p, i) => {
    cornersAt[i] = p.keeps < 0 ? 8 * drawn++ : -1;
  });
  const order = Array.from(days, (_, i) => i).sort((a, b) => days[b] - days[a] || a - b);
  const meters: number[] = [];
  for (const i of order) if (cornersAt[i] >= 0) meters.push(...out.meters.slice(cornersAt[i], cornersAt[i] + 8));
  out.pieces = order.map((i) => pieces[i]);
  out.meters = meters;
  return Uint16Array.from(order, (i) => days[i]);
}

/**
 * Ground of each group that records of a later day took, m²: what the group adds among the pieces of its own day (`addsWithin`, for shapes and groups from 0),
 * less what it adds to all of them. Days whose pieces lose nothing are not measured again.
 */
export function replacedM2(
  pieces: readonly Piece[],
  days: Uint16Array,
  group: Uint32Array,
  drawn: Shapes,
  aloneM2: Float64Array,
  addsM2: Float64Array,
  addsWithin: (shapes: Shapes, group: Uint32Array) => Float64Array,
): Float64Array {
  const out = new Float64Array(addsM2.length);
  const groupM2 = new Float64Array(addsM2.length);
  pieces.forEach((_, i) => {
    groupM2[group[i]] += aloneM2[i];
  });
  for (let from = 0; from < pieces.length; ) {
    let to = from;
    while (to < pieces.length && days[to] === days[from]) to++;
    const [first, last] = [group[from], group[to - 1]];
    let loses = false;
    for (let g = first; g <= last && !loses; g++) loses = groupM2[g] - addsM2[g] > NOTHING_M2;
    if (days[from] !== days[0] && loses) {
      const own = addsWithin(
        slice(drawn, from, to),
        group.slice(from, to).map((g) => g - first),
      );
      own.forEach((m2, g) => {
        out[first + g] = Math.max(0, m2 - addsM2[first + g]);
      });
    }
    from = to;
  }
  return out;
}

/** Shapes `from` up to `to`. */
function slice({ xy, ringStart, shapeStart }: Shapes, from: number, to: number): Shapes {
  const rings = ringStart.slice(shapeStart[from], shapeStart[to] + 1);
  const [r0, p0] = [shapeStart[from], rings[0]];
  return {
    xy: xy.slice(2 * p0, 2 * rings[rings.length - 1]),
    ringStart: rings.map((p) => p - p0),
    shapeStart: shapeStart.slice(from, to + 1).map((r) => r - r0),
  };
}
