import type { End } from '../observe/index.ts';
import { groupBy } from '../shared/groups.ts';
import type { Passes } from '../track/types.ts';
import { ANY_ORDER, BACK_AND_FORTH } from './noise.ts';
import { posterior } from './posterior.ts';
import { type TimingPosterior, timingPosterior } from './timing.ts';

/**
 * What ends show where nothing tells which way the passes were driven: strips of whole passes. Every pass meets covered ground at two ends, and it began at one of them. The ways in
 * which a field is driven are few: back and forth or one way, and either of them from the one side or the other. Each is read, and what they say is averaged by how well each explains the ends.
 */
export function timingEitherWay(passes: Passes, ends: readonly End[], whole: boolean): TimingPosterior | null {
  const ways = waysOf(passes, ends);
  const read = ways.flatMap(({ logPrior, ends: turned }) => {
    const of = timingPosterior(turned, whole);
    return of ? [{ of, logPrior, logLikelihood: of.logEvidence }] : [];
  });
  if (read.length === 0) return null;
  const { ranked, logEvidence } = posterior(read);
  const sum = (key: 'offset' | 'delay' | 'neither'): number =>
    ranked.reduce((s, r) => s + r.probability * r.of[key], 0);
  const best = ranked.reduce((a, b) =>
    b.probability * (1 - b.of.neither) > a.probability * (1 - a.of.neither) ? b : a,
  );
  return { ...best.of, offset: sum('offset'), delay: sum('delay'), neither: sum('neither'), logEvidence };
}

/** Passes run along one axis within this, cosine of 30 degrees; others are headland runs. */
const ALONG_AXIS = Math.cos(Math.PI / 6);

/** The ends under each way of driving. */
function waysOf(passes: Passes, ends: readonly End[]): { logPrior: number; ends: End[] }[] {
  const { passStart, right } = passes;
  const withEnds = [...new Set(ends.map((e) => e.pass))];
  const parallel = (p: number, q: number): number =>
    right[2 * passStart[p]] * right[2 * passStart[q]] + right[2 * passStart[p] + 1] * right[2 * passStart[q] + 1];
  const alike = (p: number): number => withEnds.filter((q) => Math.abs(parallel(p, q)) >= ALONG_AXIS).length;
  /** The pass that most others run alike or against. */
  const main = withEnds.reduce((a, p) => (alike(p) > alike(a) ? p : a), withEnds[0] ?? 0);
  const axis = 2 * passStart[main];
  const along = new Map<number, number>();
  const line = new Map<number, number>();
  let lines = -1;
  let last: Across | null = null;
  // Passes that show no end turn the planter around too.
  for (let p = 0; p + 1 < passStart.length; p++) {
    const cosine = parallel(p, main);
    if (Math.abs(cosine) < ALONG_AXIS) continue;
    along.set(p, Math.sign(cosine));
    // Parts of one pass, about a waterway or with sections off, were driven the same way.
    const own = acrossOf(passes, p, axis);
    if (!last || !lieTogether(own, last)) lines++;
    last = own;
    line.set(p, lines);
  }
  const mine = ends.filter((e) => along.has(e.pass));
  const inOrder = [BACK_AND_FORTH, 1 - BACK_AND_FORTH].flatMap((prior, oneWay) =>
    [1, -1].map((side) => ({
      logPrior: Math.log(((1 - ANY_ORDER) * prior) / 2),
      ends: mine.map((e) => {
        const way = side * (oneWay === 1 || line.get(e.pass)! % 2 === 0 ? 1 : -1);
        return along.get(e.pass) === way ? e : turned(e);
      }),
    })),
  );
  return [...inOrder, ...inAnyOrder(mine)];
}

/** The file may hold the passes in another order than they were driven in: each then ran either way, and of all ways the two in which all come late, or early, explain the most. */
function inAnyOrder(ends: readonly End[]): { logPrior: number; ends: End[] }[] {
  const lateM = (list: readonly End[]): number =>
    list.reduce((sum, e) => sum + (e.kind === 'stop' ? e.overlapM : -e.overlapM), 0);
  const passes = [...groupBy(ends, (e) => e.pass).values()];
  return [1, -1].map((side) => ({
    logPrior: Math.log(ANY_ORDER) - passes.length * Math.LN2,
    ends: passes.flatMap((list) => (side * lateM(list) >= 0 ? list : list.map(turned))),
  }));
}

/** How far the middle bar of a pass reaches across the axis, meters. */
type Across = [from: number, to: number];

function acrossOf({ passStart, barStart, center, right, leftM, rightM }: Passes, p: number, axis: number): Across {
  const b = (passStart[p] + passStart[p + 1]) >> 1;
  const [rx, ry] = [right[axis], right[axis + 1]];
  const middle = center[2 * b] * rx + center[2 * b + 1] * ry;
  const turn = right[2 * b] * rx + right[2 * b + 1] * ry;
  const ends = [leftM[barStart[b]], rightM[barStart[b + 1] - 1]].map((m) => middle + turn * m);
  return [Math.min(...ends), Math.max(...ends)];
}

/** Parts of one line cover at least half of the width of the narrower one; neighboring passes hardly overlap. */
const lieTogether = ([a, b]: Across, [c, d]: Across): boolean =>
  Math.min(b, d) - Math.max(a, c) > Math.min(b - a, d - c) / 2;

const turned = (e: End): End => ({ ...e, kind: e.kind === 'start' ? 'stop' : 'start' });
