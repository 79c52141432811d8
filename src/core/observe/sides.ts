import { logT, median } from '../geometry/stats.ts';
import type { Seam } from './types.ts';

/**
 * Which of two levels each seam belongs to where neighbors run opposite ways: +1 where left sides face each other, -1 where right sides
 * do, 0 where the passes run the same way or one level explains all seams.
 *
 * With the direction of travel known, the facing sides decide. Without it, a pass that lies to one side of its travel still leaves seams
 * that are wider and narrower in turn: two levels, with neighboring seams on different ones, are weighed against one level by the Bayesian
 * information criterion; + is then the wider one, because nothing shows which side of travel it is.
 */
export function seamSides(
  seams: readonly Seam[],
  m: readonly number[],
  accuracyM: number,
  travelKnown: boolean,
): Int8Array {
  if (travelKnown)
    return Int8Array.from(seams, (s) => (s.facing === 'left-left' ? 1 : s.facing === 'right-right' ? -1 : 0));
  const none = new Int8Array(seams.length);
  if (seams.length < FEWEST_SEAMS) return none;
  const floor = Math.max(accuracyM, median(seams.map((s) => s.spreadM)) / 2, FLOOR_M);
  const links = linksOf(seams);
  const one = levelLikelihood(
    m,
    m.map(() => median(m)),
    floor,
  );
  let best = one + COST + 1.5 * Math.log(seams.length);
  let sides = none;
  const sorted = [...m].sort((a, b) => a - b);
  for (let k = 1; k + 2 < sorted.length; k++) {
    const cut = (sorted[k] + sorted[k + 1]) / 2;
    const level = [median(m.filter((v) => v <= cut)), median(m.filter((v) => v > cut))];
    if (level[1] - level[0] < 2 * floor) continue;
    const two =
      levelLikelihood(
        m,
        m.map((v) => level[v > cut ? 1 : 0]),
        floor,
      ) +
      labelLikelihood(
        m.map((v) => v > cut),
        links,
      );
    if (two <= best) continue;
    best = two;
    const far =
      FAR_OFF *
      scaleOf(
        m.map((v) => v - level[v > cut ? 1 : 0]),
        floor,
      );
    sides = Int8Array.from(m, (v) => (Math.abs(v - level[v > cut ? 1 : 0]) > far ? 0 : v > cut ? 1 : -1));
  }
  return sides;
}

/** Fewer seams than this have no two levels. */
const FEWEST_SEAMS = 4;
/** No level is more precise than this, meters: rounding of the file, and steering an inch off on purpose. */
const FLOOR_M = 0.01;
/** Degrees of freedom of seams about their level. */
const DOF = 4;
/** The cost of a second level beyond its parameter: natural logarithm of the odds against a side offset, about 20 to 1. */
const COST = 3;
/** Neighboring seams are on different levels where passes are driven back and forth, all but a few (common practice). */
const ALTERNATES = 0.9;

/** Seams of headland laps and of a last pass lie anywhere between the narrowest and the widest one: their share (common practice). */
const ANYWHERE = 0.1;
/** A seam this many scales off its level is on none. */
const FAR_OFF = 6;

const scaleOf = (off: readonly number[], floor: number): number => Math.max(floor, 1.4826 * median(off.map(Math.abs)));

function levelLikelihood(m: readonly number[], level: readonly number[], floor: number): number {
  const off = m.map((v, i) => v - level[i]);
  const scale = scaleOf(off, floor);
  const span = Math.max(scale, m.reduce((a, v) => Math.max(a, v), m[0]) - m.reduce((a, v) => Math.min(a, v), m[0]));
  return off.reduce(
    (s, v) => s + Math.log((1 - ANYWHERE) * Math.exp(logT(v / scale, DOF) - Math.log(scale)) + ANYWHERE / span),
    0,
  );
}

/** Every seam is on either level, and on another one than its neighbor. */
function labelLikelihood(wide: readonly boolean[], links: readonly [number, number][]): number {
  const free = wide.length - links.length;
  return (
    free * Math.log(0.5) +
    links.reduce((s, [a, b]) => s + Math.log(wide[a] !== wide[b] ? ALTERNATES : 1 - ALTERNATES), 0)
  );
}

/** Pairs of seams on the two sides of one pass: the two longest of each pass, without closing rings. */
function linksOf(seams: readonly Seam[]): [number, number][] {
  const of = new Map<number, number[]>();
  seams.forEach((s, i) => {
    for (const p of [s.passA, s.passB]) of.set(p, [...(of.get(p) ?? []), i]);
  });
  const root = seams.map((_, i) => i);
  const find = (i: number): number => {
    let k = i;
    while (root[k] !== k) k = root[k];
    return k;
  };
  const out: [number, number][] = [];
  for (const list of of.values()) {
    const [a, b] = list.sort((x, y) => seams[y].lengthM - seams[x].lengthM);
    if (b === undefined || find(a) === find(b)) continue;
    root[find(a)] = find(b);
    out.push([a, b]);
  }
  return out;
}
