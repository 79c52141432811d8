import { Budget, tooClose } from '../geometry/budget.ts';
import { EdgeGrid } from '../geometry/edgegrid.ts';
import { lengthOf } from '../geometry/length.ts';
import { logSum, median } from '../geometry/stats.ts';
import { Sets } from '../geometry/unionfind.ts';
import type { Column } from '../intake/types.ts';
import { groupBy } from '../shared/groups.ts';
import { numbersOf, readMoments } from './columns/moments.ts';
import { contains, nearestOn, roundOf, signedArea } from './laps.ts';

/**
 * Which strips that lie side by side are sections of one pass, from how closely they lie, the corners that they share, their order in the file, and what the columns say.
 *
 * Two sections were drawn from one line between them: what thinning and rounding leave of it differs by a centimeter or so, and not on the mean. Two passes lie as far apart as
 * they were steered. Each kind of evidence is a likelihood ratio; whether the strips of the map are sections at all is asked of all pairs together.
 */
export interface StripPasses {
  /** Rings beside each ring in its own pass. */
  beside: number[][];
  /** Rings across a strip that stays empty within the pass, where a section records nothing. */
  across: number[][];
  /** Lowest ring of the pass of each ring. */
  passOf: Int32Array;
}

/** On a coarser lattice than this, meters, the sides of two passes that were steered well fall together. */
const COARSE_M = 0.03;

/** Whether the positions of strips show which of them are of one pass. */
export const tellsStripsApart = (stepM: number): boolean => stepM <= COARSE_M;

/** Points of one strip on the side of another within this, meters, lie beside it: far beyond what sections of one pass leave, and what most passes do. */
export const BESIDE_M = 0.1;
/** Contact over less than this, meters, and of fewer points is a corner. */
const LEAST_CONTACT_M = 3;
const FEWEST_POINTS = 3;

/** Standard deviations, meters, any of them as likely: of the mean distance of two sections of one pass (what is left of thinning to 2 cm), and of the rest about it. */
const SAME_MEAN_M = [0.002, 0.005];
const SAME_REST_M = [0.002, 0.007];
/** The same of two passes: pass-to-pass accuracy of two passes, and their wander (common practice: an inch; good receivers a third of it). */
const APART_MEAN_M = [0.011, 0.025];
const APART_REST_M = [0.002, 0.008, 0.02];
/** Wander along a pass stays alike over this, meters, and no more looks than these tell one kind of wander from another. */
const ALIKE_M = 20;
const MOST_LOOKS = 2;
/** No contact says more than this, natural logarithm: some passes are steered so well that chance lays them together. */
const MOST_SAID = 3;
/** Logarithms of likelihood ratios: one corner in common digit for digit, and several; two passes have one by chance now and then. */
const ONE_CORNER = 3;
const CORNERS = 6;
/** Fewer of the points of two strips are common to both by chance, where their records were logged in step. */
const BY_CHANCE = 0.05;
/** No more of the pairs are taken to share corners than this. */
const MOST_SHARING = 0.95;
/** Following one another in the file; and not doing so where those that share corners do. */
const NEXT = 1.5;
const NOT_NEXT = -3;
/** Part of the pairs side by side that are of one pass, in a map of sections. */
const OF_ONE_PASS = 0.7;

/** Pairs of strips that may lie side by side in any map, and for each strip: real ones touch a few others, a headland lap every pass. */
const MOST_CONTACTS = 100_000;
const CONTACTS_EACH = 4;

interface Contact {
  a: number;
  b: number;
  points: number;
  lengthM: number;
  sum: number;
  squares: number;
  corners: number;
}

/**
 * Sorts `rings` (counter-clockwise, meters) into passes. `record` is the record of each ring, rising; `columns` are the map's. `stepM` is the size of a lattice step.
 */
export function stripPasses(
  rings: readonly Float64Array[],
  record: readonly number[],
  columns: readonly Column[],
  stepM: number,
  budget: Budget,
): StripPasses {
  const passOf = Int32Array.from(rings, (_, r) => r);
  const beside = rings.map((): number[] => []);
  const across = rings.map((): number[] => []);
  const out = { beside, across, passOf };
  if (!tellsStripsApart(stepM) || rings.length < 2) return out;
  const contacts = contactsOf(rings, stepM, budget).filter(
    (c) => c.corners > 1 || (c.points >= FEWEST_POINTS && c.lengthM >= LEAST_CONTACT_M),
  );
  const lies = contacts.map((c) => logContact(c, stepM));
  const sections = lies.reduce((sum, v) => sum + Math.log(OF_ONE_PASS * Math.exp(v) + 1 - OF_ONE_PASS), 0);
  if (logSections(rings) + sections <= 0) return out;
  const known = contacts.filter((_, i) => lies[i] > CORNERS - MOST_SAID);
  const isNext = ({ a, b }: Contact): boolean => Math.abs(record[a] - record[b]) <= 1;
  const inOrder = known.length > 2 && known.filter(isNext).length > 0.9 * known.length;
  const says = columns.flatMap((c) => columnSays(c, rings, record, contacts.filter(isNext)) ?? []);
  const prior = Math.log(OF_ONE_PASS / (1 - OF_ONE_PASS));
  const next = contacts.filter(isNext);
  // Where most share corners, those that do not are the more likely two passes.
  const sharing = next.length > 0 ? next.filter((c) => c.corners > 1).length / next.length : 0;
  const none = Math.log(1 - Math.min(MOST_SHARING, sharing));
  const sides: Side[] = [];
  contacts.forEach((c, i) => {
    const order = isNext(c) ? NEXT : inOrder ? NOT_NEXT : 0;
    const odds =
      prior + lies[i] + (c.corners >= 1 ? 0 : none) + order + says.reduce((sum, s) => sum + s(c.a, c.b, false), 0);
    if (odds > 0) sides.push({ a: c.a, b: c.b, odds });
  });
  for (const { a, b } of withoutTwins(rings, sides)) {
    beside[a].push(b);
    beside[b].push(a);
  }
  const joined = (): void => {
    for (let r = 0; r < rings.length; r++) passOf[r] = r;
    for (let r = 0; r < rings.length; r++) if (passOf[r] === r) spread([beside, across], passOf, r);
  };
  joined();
  for (const [a, b] of followers(record, passOf, beside)) {
    if (passOf[a] === passOf[b]) continue;
    const own = rings.filter((_, r) => r !== a && r !== b && (passOf[r] === passOf[a] || passOf[r] === passOf[b]));
    const odds = logHole(rings[a], rings[b], own, budget) + says.reduce((sum, s) => sum + s(a, b, true), 0);
    if (odds <= 0) continue;
    across[a].push(b);
    across[b].push(a);
  }
  joined();
  return out;
}

/** Pieces into which gaps cut one section of a pass. */
const MOST_RINGS = 4;

/**
 * Rings of two passes that follow one another in the file as the sections of a pass do: directly, or as far apart as the sections beside either of them, where those of several runs stand in
 * turn. Lower ring first, in their order.
 */
function followers(
  record: readonly number[],
  passOf: Int32Array,
  beside: readonly (readonly number[])[],
): [number, number][] {
  // A record of many rings is no section of a pass.
  const ringsOf = new Map([...groupBy(record.keys(), (r) => record[r])].filter(([, own]) => own.length <= MOST_RINGS));
  const pairs = new Map<number, [number, number]>();
  const add = (a: number, b: number): void => {
    if (passOf[a] !== passOf[b]) pairs.set(b * record.length + a, [a, b]);
  };
  record.forEach((own, r) => {
    for (const step of new Set([1, ...beside[r].map((o) => Math.abs(record[o] - own) || 1)])) {
      for (const o of ringsOf.get(own - step) ?? []) add(o, r);
      for (const o of ringsOf.get(own + step) ?? []) add(r, o);
    }
  });
  return [...pairs].sort(([x], [y]) => x - y).map(([, pair]) => pair);
}

/** Two rings that are likely sections of one pass, with the logarithm of the odds. */
interface Side {
  a: number;
  b: number;
  odds: number;
}

/** A pass this many times as wide as usual is two that were steered so well that chance laid them together. */
const TWO_PASSES = 1.35;
/** Passes of one width differ by less than this part of it: pieces of a pass about a waterway are of several lengths. */
const SAME_WIDTH = 0.12;
/** A part of two passes is a pass, and no section, from this part of the usual width on. */
const LEAST_PASS = 0.7;
/** Fewer passes of one width, or a smaller part of all, are no usual width. */
const FEWEST_USUAL = 3;
const USUAL_SHARE = 0.4;

/**
 * Parts groups of rings that are much wider than the usual pass, at the weakest contact that leaves a pass on either side: a frame has one width. They are left as they are
 * where nothing shows a usual width.
 */
function withoutTwins(rings: readonly Float64Array[], sides: readonly Side[]): readonly Side[] {
  const groupsOf = (list: readonly Side[]): number[][] => {
    const sets = new Sets(rings.length);
    for (const { a, b } of list) sets.join(a, b);
    const groups = groupBy(rings.keys(), (r) => sets.find(r));
    return [...groups.values()].filter((g) => g.length > 1);
  };
  // Rings behind each other, where a section was off for a while, count once: their ground, by the length of the longest.
  const widthM = (group: readonly number[]): number =>
    group.reduce((sum, r) => sum + signedArea(rings[r]), 0) / Math.max(...group.map((r) => roundOf(rings[r]) / 2));
  const groups = groupsOf(sides);
  const widths = groups.map(widthM);
  const usualM = median(widths);
  const usual = widths.filter((w) => Math.abs(w / usualM - 1) < SAME_WIDTH).length;
  if (usual < FEWEST_USUAL || usual < USUAL_SHARE * groups.length) return sides;
  const cut = new Set<Side>();
  const open = groups.filter((_, g) => widths[g] >= TWO_PASSES * usualM);
  for (let group = open.pop(); group !== undefined; group = open.pop()) {
    const own = new Set(group);
    const inside = sides.filter((s) => own.has(s.a) && !cut.has(s)).sort((s, t) => s.odds - t.odds);
    for (const side of inside) {
      const parts = groupsOf(inside.filter((s) => s !== side));
      if (parts.length < 2 || parts.some((part) => widthM(part) < LEAST_PASS * usualM)) continue;
      cut.add(side);
      open.push(...parts.filter((part) => widthM(part) >= TWO_PASSES * usualM));
      break;
    }
  }
  return sides.filter((s) => !cut.has(s));
}

/** Widths, meters, up to which strips are hardly ever whole passes, and from which on they are hardly ever sections (common practice); natural logarithm of the odds beyond. */
const NARROW_M = 2.2;
const WIDE_M = 3.7;
const BY_WIDTH = 4;

/** Logarithm of the odds, before it is looked at how they lie, that strips of these widths are sections of passes and no whole passes. */
function logSections(rings: readonly Float64Array[]): number {
  const widthM = median(rings.map((m) => (2 * signedArea(m)) / roundOf(m)));
  return widthM < NARROW_M ? BY_WIDTH : widthM > WIDE_M ? -BY_WIDTH : 0;
}

/** Marks all that hangs together with `from` as of its pass. */
function spread(links: readonly number[][][], passOf: Int32Array, from: number): void {
  const open = [from];
  const seen = new Set(open);
  for (let r = open.pop(); r !== undefined; r = open.pop()) {
    passOf[r] = from;
    for (const o of links.flatMap((list) => list[r]))
      if (!seen.has(o)) {
        seen.add(o);
        open.push(o);
      }
  }
}

const logNormal = (x: number, sd: number): number => -0.5 * (x / sd) ** 2 - Math.log(sd);

/** Logarithm of the likelihood ratio of how two strips lie: sections of one pass against two passes. */
function logContact(c: Contact, stepM: number): number {
  const shared = c.corners > BY_CHANCE * (c.points + c.corners);
  const corners = !shared || c.corners < 1 ? 0 : c.corners > 1 ? CORNERS : ONE_CORNER;
  if (c.points < FEWEST_POINTS) return corners;
  const mean = c.sum / c.points;
  const rest = Math.sqrt(Math.max(0, c.squares / c.points - mean * mean));
  const looks = Math.min(MOST_LOOKS, Math.max(1, c.lengthM / ALIKE_M));
  const round = stepM / Math.sqrt(12);
  const ofMean = (sd: number): number => logNormal(mean, Math.hypot(sd, round));
  const ofRest = (sd: number): number => looks * logNormal(rest, Math.hypot(sd, round));
  const lies =
    any(SAME_MEAN_M, ofMean) + any(SAME_REST_M, ofRest) - any(APART_MEAN_M, ofMean) - any(APART_REST_M, ofRest);
  return corners + Math.max(-MOST_SAID, Math.min(MOST_SAID, lies));
}

/** Logarithm of the mean likelihood over scales of which any is as likely. */
function any(scales: readonly number[], logOf: (sd: number) => number): number {
  return logSum(scales.map(logOf)) - Math.log(scales.length);
}

/** Width of a strip that stays empty where a section records nothing, meters: a row at the least, and no section is much wider (common practice). */
const HOLE_M = [0.2, 4];
/** It is as wide all along, but for thinning and rounding, meters. */
const EVEN_M = 0.06;
/** Ends of sections of one pass lie within a log interval where all of them begin and stop together, meters: they seldom lie further apart than the second. */
const TOGETHER_M = [0.3, 3];
/** Logarithm of the odds that strips which follow one another in the file with such a hole between them are of one pass, by how far apart their ends lie: along a slanted edge far, so that one moment of the log outweighs it. */
const BY_ENDS = [2, 0.3, -1.5];

/** Logarithm of the odds that two strips that do not touch are sections of one pass, with a section between them that records nothing; `own` are the other strips of their passes. */
function logHole(a: Float64Array, b: Float64Array, own: readonly Float64Array[], budget: Budget): number {
  budget.spend((a.length / 2) * HOLE_LOOKS);
  const n = b.length / 2;
  const away: { m: number; x: number; y: number }[] = [];
  for (let k = 0; k < HOLE_LOOKS; k++) {
    const i = Math.floor((k * n) / HOLE_LOOKS);
    const at = nearestOn(a, b[2 * i], b[2 * i + 1]);
    const [x, y] = [(at.x + b[2 * i]) / 2, (at.y + b[2 * i + 1]) / 2];
    if (!at.corner) away.push({ m: at.awayM, x, y });
  }
  if (away.length < HOLE_LOOKS / 4) return Number.NEGATIVE_INFINITY;
  // Half of the points lie on the side that faces the hole.
  const near = away.sort((p, q) => p.m - q.m).slice(0, Math.ceil(away.length / 3));
  const holeM = median(near.map((p) => p.m));
  if (holeM < HOLE_M[0] || holeM > HOLE_M[1] || near[near.length - 1].m - near[0].m > EVEN_M)
    return Number.NEGATIVE_INFINITY;
  // What lies between them is no hole where one of their passes recorded it.
  budget.spend((near.length * own.reduce((n, m) => n + m.length, 0)) / 2);
  if (near.some((p) => own.some((m) => contains(m, p.x, p.y)))) return Number.NEGATIVE_INFINITY;
  const apartM = endsApartM(a, b);
  return BY_ENDS[apartM <= TOGETHER_M[0] ? 0 : apartM <= TOGETHER_M[1] ? 1 : 2];
}

const HOLE_LOOKS = 24;

/** Every two rings that lie side by side: points of either on a side of the other, with their distance, + a gap. */
function contactsOf(rings: readonly Float64Array[], stepM: number, budget: Budget): Contact[] {
  const count = rings.reduce((n, m) => n + m.length / 2, 0);
  const edges = new Float64Array(4 * count);
  const ringOf = new Uint32Array(count);
  const edgeOf = new Uint32Array(count);
  let e = 0;
  rings.forEach((m, r) => {
    const n = m.length / 2;
    for (let i = 0; i < n; i++, e++) {
      const k = i + 1 === n ? 0 : i + 1;
      edges.set([m[2 * i], m[2 * i + 1], m[2 * k], m[2 * k + 1]], 4 * e);
      ringOf[e] = r;
      edgeOf[e] = i;
    }
  });
  const grid = new EdgeGrid(edges, count, 4, budget);
  const found = new Map<number, Contact>();
  const room = new Budget(MOST_CONTACTS, CONTACTS_EACH, rings.length, tooClose);
  const contact = (a: number, b: number): Contact => {
    const key = Math.min(a, b) * rings.length + Math.max(a, b);
    let c = found.get(key);
    if (c === undefined) {
      room.spend(1);
      c = { a: Math.min(a, b), b: Math.max(a, b), points: 0, lengthM: 0, sum: 0, squares: 0, corners: 0 };
      found.set(key, c);
    }
    return c;
  };
  /** Nearest side of each other ring to the point in hand: its distance, + outside. */
  const nearest = new Map<number, number>();
  const touching = new Set<number>();
  rings.forEach((m, r) => {
    const n = m.length / 2;
    for (let i = 0; i < n; i++) {
      const [x, y] = [m[2 * i], m[2 * i + 1]];
      nearest.clear();
      touching.clear();
      const met = grid.near(x - BESIDE_M, y - BESIDE_M, x + BESIDE_M, y + BESIDE_M);
      for (let k = 0; k < met; k++) {
        const f = grid.found[k];
        const o = ringOf[f];
        if (o === r) continue;
        if (lengthOf(edges[4 * f] - x, edges[4 * f + 1] - y) < stepM / 2) touching.add(o);
        const at = alongSide(rings[o], edgeOf[f], x, y, BESIDE_M, 0);
        const known = nearest.get(o);
        if (at && (known === undefined || Math.abs(at.asideM) < Math.abs(known))) nearest.set(o, at.asideM);
      }
      // Each shared corner is seen from both rings.
      for (const o of touching) contact(r, o).corners += 0.5;
      const lengthM = aboutM(m, i);
      for (const [o, asideM] of nearest) {
        if (touching.has(o)) continue;
        const c = contact(r, o);
        c.points++;
        c.lengthM += lengthM / 2;
        c.sum += asideM;
        c.squares += asideM * asideM;
      }
    }
  });
  return [...found.values()];
}

/** Half of the two sides at a point, meters. */
function aboutM(m: Float64Array, i: number): number {
  const n = m.length / 2;
  const [b, a] = [(i + n - 1) % n, (i + 1) % n];
  return (
    (lengthOf(m[2 * i] - m[2 * b], m[2 * i + 1] - m[2 * b + 1]) +
      lengthOf(m[2 * a] - m[2 * i], m[2 * a + 1] - m[2 * i + 1])) /
    2
  );
}

/** Nothing is cut closer to a corner than this, meters. */
export const LEAST_M = 0.3;

/** How far along side e of the ring a point lies on it, and how far to its right, meters; null where it lies further aside than `mostM`, elsewhere, or within `cornerM` of a corner. */
export function alongSide(
  m: Float64Array,
  e: number,
  x: number,
  y: number,
  mostM: number,
  cornerM = LEAST_M,
): { t: number; asideM: number } | null {
  const f = e + 1 === m.length / 2 ? 0 : e + 1;
  const [ux, uy] = [m[2 * f] - m[2 * e], m[2 * f + 1] - m[2 * e + 1]];
  const l = lengthOf(ux, uy);
  if (l < 2 * LEAST_M) return null;
  const [px, py] = [x - m[2 * e], y - m[2 * e + 1]];
  const t = (px * ux + py * uy) / l;
  const asideM = (px * uy - py * ux) / l;
  return t >= cornerM && t <= l - cornerM && Math.abs(asideM) <= mostM ? { t, asideM } : null;
}

type Says = (a: number, b: number, hole: boolean) => number;

/** Logarithms of likelihood ratios of a tested time or section number, which two passes share by chance, and sections of one pass do not where one of them began or stopped by itself. */
const AGREES = 2;
const DIFFERS = -8;

/** What a column says of two rings, in favor of one pass: a time, a heading, or a number that rises by one from section to section. */
function columnSays(
  column: Column,
  rings: readonly Float64Array[],
  record: readonly number[],
  next: readonly Contact[],
): Says | null {
  return timeSays(column, rings, record) ?? sectionSays(column, record, next) ?? headingSays(column, rings, record);
}

/** Slowest speed of a planter at work, meters per second, and how many seconds the time of a strip may differ from its end. */
const SLOWEST_M_PER_S = 0.4;
const CLOSE_S = 6;
/** Fewer different times say nothing. */
const FEWEST_TIMES = 3;

/** Sections of one pass end as long after one another as the planter takes from the one end to the other; two passes end a pass apart. */
function timeSays(column: Column, rings: readonly Float64Array[], record: readonly number[]): Says | null {
  const moments = readMoments(column, null, false);
  if (moments === null || !('holds' in moments) || moments.holds === 'days') return null;
  const ms = record.map((r) => moments.ms[r]);
  if (new Set(ms.filter((v) => !Number.isNaN(v))).size < FEWEST_TIMES) return null;
  return (a, b) => {
    const apartS = Math.abs(ms[a] - ms[b]) / 1000;
    if (Number.isNaN(apartS)) return 0;
    return apartS <= CLOSE_S + endsApartM(rings[a], rings[b]) / SLOWEST_M_PER_S ? AGREES : DIFFERS;
  };
}

/** A heading lies this near the line between the tips of a strip, cosine of 15 degrees, on this part of the strips at the least: some turn. */
const HEADED = Math.cos(Math.PI / 12);
const MOSTLY_HEADED = 0.8;

/** Logarithm of a likelihood ratio that no lie of two strips outweighs. */
const NEVER = -(CORNERS + MOST_SAID + 3);

/** Sections of one pass have one heading; of two passes side by side, often the opposite one. */
function headingSays(column: Column, rings: readonly Float64Array[], record: readonly number[]): Says | null {
  const degrees = numbersOf(column);
  if (degrees === null) return null;
  const known = record.map((r) => degrees[r]);
  if (known.some((d) => d < -180 || d > 360)) return null;
  const unit = known.map((d) => [Math.sin((d * Math.PI) / 180), Math.cos((d * Math.PI) / 180)]);
  const along = rings.map((m, r) => {
    const [x, y, u, v] = tipsOf(m);
    return ((u - x) * unit[r][0] + (v - y) * unit[r][1]) / (lengthOf(u - x, v - y) || 1);
  });
  if (along.filter((cos) => Math.abs(cos) > HEADED).length < MOSTLY_HEADED * rings.length) return null;
  const turned = (a: number, b: number): number => unit[a][0] * unit[b][0] + unit[a][1] * unit[b][1];
  return (a, b) => (turned(a, b) < -HEADED ? NEVER : 0);
}

/** How far apart the ends of two strips lie along them, the further of the two ways to pair them, meters. */
function endsApartM(a: Float64Array, b: Float64Array): number {
  const [p, q] = [tipsOf(a), tipsOf(b)];
  const [ux, uy] = [p[2] - p[0], p[3] - p[1]];
  const l = lengthOf(ux, uy) || 1;
  const along = (x: number, y: number): number => ((x - p[0]) * ux + (y - p[1]) * uy) / l;
  const [low, high] = [along(q[0], q[1]), along(q[2], q[3])].sort((x, y) => x - y);
  return Math.max(Math.abs(low), Math.abs(high - l));
}

/** Two points of a ring that lie as far apart as any, nearly: the one farthest from the first, and the one farthest from that. */
function tipsOf(m: Float64Array): [number, number, number, number] {
  const farFrom = (x: number, y: number): [number, number] => {
    let best = 0;
    for (let i = 2; i < m.length; i += 2)
      if (lengthOf(m[i] - x, m[i + 1] - y) > lengthOf(m[best] - x, m[best + 1] - y)) best = i;
    return [m[best], m[best + 1]];
  };
  const [x, y] = farFrom(m[0], m[1]);
  return [...farFrom(x, y), x, y];
}

/** A number that goes by one from strip to strip in many of the pairs that follow one another in the file is that of the section. */
const MOSTLY_ONE = 0.4;
const FEWEST_ONE = 3;

function sectionSays(column: Column, record: readonly number[], next: readonly Contact[]): Says | null {
  const numbers = numbersOf(column);
  if (numbers === null || next.length === 0) return null;
  const step = (a: number, b: number): number => numbers[record[b]] - numbers[record[a]];
  const ones = next.filter((c) => Math.abs(step(c.a, c.b)) === 1);
  // A number of its own for each strip counts strips, and goes on by one from pass to pass.
  const own = new Set(record.map((r) => numbers[r])).size;
  if (ones.length < FEWEST_ONE || ones.length < MOSTLY_ONE * next.length || own > 0.5 * record.length) return null;
  const rise = Math.sign(ones.reduce((sum, c) => sum + step(c.a, c.b), 0));
  return (a, b, hole) => {
    const by = hole ? rise * step(a, b) : Math.abs(step(a, b));
    return (hole ? by > 1 && by <= MOST_MISSING + 1 : by === 1) ? AGREES : DIFFERS;
  };
}

/** Sections side by side that record nothing, at most. */
const MOST_MISSING = 3;
