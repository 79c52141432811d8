import type { Budget } from '../geometry/budget.ts';
import { lengthOf } from '../geometry/length.ts';

/**
 * A lap round the field that was dissolved to one record is a ring of ground with the inner field as its hole. Cut open across at one place it is a strip
 * like any other, with both of its ends there.
 */

/** Signed area of a ring, meters squared: above 0 counter-clockwise. */
export function signedArea(m: ArrayLike<number>): number {
  const n = m.length / 2;
  let a = 0;
  for (let i = 0; i < n; i++) {
    const j = (i + 1) % n;
    a += m[2 * i] * m[2 * j + 1] - m[2 * j] * m[2 * i + 1];
  }
  return a / 2;
}

/** The way round, meters. */
export function roundOf(m: Float64Array): number {
  const n = m.length / 2;
  let round = 0;
  for (let i = 0; i < n; i++) {
    const j = (i + 1) % n;
    round += lengthOf(m[2 * j] - m[2 * i], m[2 * j + 1] - m[2 * i + 1]);
  }
  return round;
}

/**
 * Ground of even breadth around a hole has the area of its mean way round times that breadth. A hole that a section left which was off inside a strip has
 * far more ground around it than so; rounded corners and a lap that runs on over its own beginning change it by less than this part.
 */
const EVEN = 0.25;

/**
 * The outer rings of one record (counter-clockwise, meters), each with the hole (clockwise) that it was driven around, if there is one, as one ring that goes
 * along its outer side, across, and back along its inner side. Other holes are ground switched off and left out. Looks draw on `budget`.
 */
export function openLaps(rings: readonly Float64Array[], budget: Budget): Float64Array[] {
  const outer = rings.filter((m) => signedArea(m) > 0);
  const holes = rings.filter((m) => signedArea(m) < 0);
  return outer.map((m) => {
    const inside = holes
      .filter((h) => outer.length === 1 || contains(m, h[0], h[1]))
      .sort((a, b) => signedArea(a) - signedArea(b))[0];
    return (inside && openedAt(m, inside, budget)) ?? m;
  });
}

/** The two rings as one, joined where they lie their usual distance apart; null where the ground between them has no even breadth. */
function openedAt(outer: Float64Array, hole: Float64Array, budget: Budget): Float64Array | null {
  const n = hole.length / 2;
  budget.spend((n * outer.length) / 2);
  const nearest = Array.from({ length: n }, (_, i) => ({ i, ...nearestOn(outer, hole[2 * i], hole[2 * i + 1]) }));
  nearest.sort((a, b) => a.awayM - b.awayM);
  const at = nearest[nearest.length >> 1];
  const even = (at.awayM * (roundOf(outer) + roundOf(hole))) / 2;
  const ground = signedArea(outer) + signedArea(hole);
  if (!(Math.abs(ground - even) < EVEN * even)) return null;
  const out: number[] = [at.x, at.y];
  const k = outer.length / 2;
  for (let v = 1; v <= k; v++) push(out, outer, (at.edge + v) % k);
  out.push(at.x, at.y);
  for (let v = 0; v <= n; v++) push(out, hole, (at.i + v) % n);
  return Float64Array.from(out);
}

/** A point that lies on the last one already is not put in. */
function push(out: number[], m: Float64Array, v: number): void {
  const [x, y] = [m[2 * v], m[2 * v + 1]];
  if (out[out.length - 2] !== x || out[out.length - 1] !== y) out.push(x, y);
}

/** A point whose foot lies this much past the end of a side lies beyond it, meters. */
const PAST_M = 0.01;

/** The place on a ring that lies nearest to a point, on the side from point `edge` to the next; `corner`: the point lies beyond both sides of that corner. */
export function nearestOn(
  m: Float64Array,
  px: number,
  py: number,
): { edge: number; x: number; y: number; awayM: number; corner: boolean } {
  const n = m.length / 2;
  let best = { edge: 0, x: m[0], y: m[1], awayM: Number.POSITIVE_INFINITY, corner: true };
  for (let e = 0; e < n; e++) {
    const f = (e + 1) % n;
    const [ux, uy] = [m[2 * f] - m[2 * e], m[2 * f + 1] - m[2 * e + 1]];
    const square = ux * ux + uy * uy;
    const t = square > 0 ? ((px - m[2 * e]) * ux + (py - m[2 * e + 1]) * uy) / square : 0;
    const s = Math.min(1, Math.max(0, t));
    const [x, y] = [m[2 * e] + s * ux, m[2 * e + 1] + s * uy];
    const awayM = lengthOf(px - x, py - y);
    if (awayM < best.awayM) best = { edge: e, x, y, awayM, corner: Math.abs(t - s) * Math.sqrt(square) > PAST_M };
  }
  return best;
}

/** Whether a point lies inside a ring. */
export function contains(m: Float64Array, x: number, y: number): boolean {
  let inside = false;
  const n = m.length / 2;
  for (let i = 0, j = n - 1; i < n; j = i++) {
    const [ay, by] = [m[2 * i + 1], m[2 * j + 1]];
    if (ay > y !== by > y && x < ((m[2 * j] - m[2 * i]) * (y - ay)) / (by - ay) + m[2 * i]) inside = !inside;
  }
  return inside;
}
