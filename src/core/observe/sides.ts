import { logT, median } from '../geometry/stats.ts';
import { groupBy } from '../shared/groups.ts';
import type { Seam } from './types.ts';

/**
 * Which of two levels each seam belongs to where neighbors run opposite ways: +1 where left sides face each other, -1 where right sides
 * do, 0 where the passes run the same way or one level explains all seams.
 *
 * With the direction of travel known, the facing sides decide. Without it, a pass that lies to one side of its travel still leaves seams
 * that are wider and narrower in turn: two levels, with neighboring seams on different ones, and a third one halfway between them for passes that run the same way, are weighed against one
 * level by the Bayesian information criterion; + is then the wider one, because nothing shows which side of travel it is.
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
  for (const [low, high] of cutsOf(m)) {
    const label = m.map((v) => (v <= low ? -1 : v > high ? 1 : 0));
    const [narrow, wide] = [-1, 1].map((of) => median(m.filter((_, i) => label[i] === of)));
    if (wide - narrow < 2 * floor) continue;
    const level = label.map((of) => (of < 0 ? narrow : of > 0 ? wide : (narrow + wide) / 2));
    const several = levelLikelihood(m, level, floor) + labelLikelihood(label, links);
    if (several <= best) continue;
    best = several;
    const off = m.map((v, i) => v - level[i]);
    const far = FAR_OFF * scaleOf(off, floor);
    sides = Int8Array.from(label, (of, i) => (Math.abs(off[i]) > far ? 0 : of));
  }
  return sides;
}

/** Jumps between widths beside which a level between two others may end; the widest are tried. */
const MOST_JUMPS = 8;

/** Where the widths may be cut into levels: what is not above the first is narrow, what is above the second is wide, and passes that run the same way lie halfway between. */
function cutsOf(m: readonly number[]): [low: number, high: number][] {
  const sorted = [...m].sort((a, b) => a - b);
  const between = (k: number): number => (sorted[k] + sorted[k + 1]) / 2;
  const out: [number, number][] = [];
  const cuts: number[] = [];
  for (let k = 1; k + 2 < sorted.length; k++) cuts.push(k);
  for (const k of cuts) out.push([between(k), between(k)]);
  const jumps = cuts.sort((a, b) => sorted[b + 1] - sorted[b] - sorted[a + 1] + sorted[a]).slice(0, MOST_JUMPS);
  for (const low of jumps) for (const high of jumps) if (low < high) out.push([between(low), between(high)]);
  return out;
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

/** Every seam is on either level, and on another one than its neighbor; or between them, where two passes run the same way. How many do is not known. */
function labelLikelihood(label: readonly number[], links: readonly [number, number][]): number {
  const turned = links.filter(([a, b]) => label[a] !== 0 && label[b] !== 0);
  const n = label.length;
  const between = label.filter((of) => of === 0).length;
  let ways = 0;
  if (between > 0) ways = Math.log(n + 1);
  for (let k = 1; k <= between; k++) ways += Math.log((n - k + 1) / k);
  return (
    (n - between - turned.length) * Math.log(0.5) +
    turned.reduce((s, [a, b]) => s + Math.log(label[a] !== label[b] ? ALTERNATES : 1 - ALTERNATES), 0) -
    ways
  );
}

/** Pairs of seams on the two sides of one pass: the two longest of each pass, without closing rings. */
function linksOf(seams: readonly Seam[]): [number, number][] {
  const sides = seams.flatMap((s, seam) => [s.passA, s.passB].map((pass) => ({ pass, seam })));
  const root = seams.map((_, i) => i);
  const find = (i: number): number => {
    let k = i;
    while (root[k] !== k) k = root[k];
    return k;
  };
  const out: [number, number][] = [];
  for (const list of groupBy(sides, (s) => s.pass).values()) {
    const [a, b] = list.map((s) => s.seam).sort((x, y) => seams[y].lengthM - seams[x].lengthM);
    if (b === undefined || find(a) === find(b)) continue;
    root[find(a)] = find(b);
    out.push([a, b]);
  }
  return out;
}
