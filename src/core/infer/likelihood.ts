import { logT } from '../geometry/stats.ts';
import type { Segment } from '../observe/types.ts';
import type { Hypothesis } from './hypothesis.ts';
import { EDGE_FLOOR_M, HOLE_M } from './noise.ts';
import { posterior } from './posterior.ts';

export interface Ranked {
  hypothesis: Hypothesis;
  /** Probability among everything tried, 0 to 1. */
  probability: number;
}

export interface Ranking {
  ranked: Ranked[];
  /** Probability of something else. */
  other: number;
  /** Natural logarithm of the marginal probability density of the bands. */
  logEvidence: number;
}

/** Prior probability that the layout is none of those tried. */
const OTHER = 0.02;
/** Hypotheses less likely than this are not kept. */
const LEAST_KEPT = 1e-4;

/**
 * Posterior of the hypotheses for the bands of one segment: the density of the measured edges around those that a hypothesis predicts,
 * times its prior and the likelihood of the segment's seams (`seams`, null for "something else"), normalized together with "something
 * else". `sections` false (bar or strip grain): the width alone.
 */
export function rank(
  segment: Segment,
  hypotheses: Hypothesis[],
  sections: boolean,
  seams: (h: Hypothesis | null) => number = () => 1,
): Ranking {
  const candidates = hypotheses.flatMap((of) => {
    if (of.belowM !== undefined) {
      if (segment.width.value > of.belowM) return [];
      return [{ of, logPrior: of.logPrior, logLikelihood: -Math.log(of.belowM) + Math.log(seams(null)) }];
    }
    if (!inReach(segment, of.widthM)) return [];
    const inner = sections ? logInner(segment, of) : 0;
    if (inner === null) return [];
    const logLikelihood = logWidth(segment, of.widthM) + inner + Math.log(seams(of));
    return [{ of, logPrior: of.logPrior, logLikelihood }];
  });
  const all = posterior<Hypothesis | null>([
    ...candidates,
    { of: null, logPrior: Math.log(OTHER), logLikelihood: logOther(segment, sections) + Math.log(seams(null)) },
  ]);
  return {
    ranked: all.ranked.flatMap(({ of, probability }) =>
      of && probability > LEAST_KEPT ? [{ hypothesis: of, probability }] : [],
    ),
    other: all.ranked.find((r) => r.of === null)!.probability,
    logEvidence: all.logEvidence,
  };
}

/** Density of a measured place at `d` from the predicted one, both meters; natural logarithm, per meter. */
function logDensity(d: number, standardError: number, floorM: number, degreesOfFreedom: number): number {
  const scale = Math.hypot(standardError, floorM);
  return logT(d / scale, degreesOfFreedom) - Math.log(scale);
}

const logWidth = ({ width }: Segment, widthM: number): number =>
  logDensity(width.value - widthM, width.standardError, EDGE_FLOOR_M * Math.SQRT2, width.degreesOfFreedom);

/** Standard deviations from the measured width beyond which a hypothesis cannot compete with "something else", whatever the seams. */
const HOPELESS = 40;

/** Whether a hypothesis of this width, meters, can compete. */
export function inReach({ width }: Segment, widthM: number): boolean {
  const scale = Math.hypot(width.standardError, EDGE_FLOOR_M * Math.SQRT2);
  return Math.abs(width.value - widthM) <= HOPELESS * scale;
}

/** Unknown width and inner edges: uniform within the measured width. It pays for each edge once, like the others. */
function logOther({ bands, width }: Segment, sections: boolean): number {
  let edges = 1;
  if (sections) for (let i = 1; i < bands.length; i++) edges += isHole(bands[i].leftM - bands[i - 1].rightM) ? 2 : 1;
  return -edges * Math.log(width.value);
}

const isHole = (gapM: number): boolean => gapM > HOLE_M;

/** Density of the inner edges under a hypothesis, natural logarithm; null where it cannot have recorded such bands at all. */
function logInner(segment: Segment, h: Hypothesis): number | null {
  const m = segment.bands;
  const dof = segment.width.degreesOfFreedom;
  const bands = h.bands?.();
  if (bands && bands.length !== m.length) return null;
  if (!bands && h.fewerThan !== undefined && m.length >= h.fewerThan) return null;
  const edges = bands ? [] : h.edges!();
  let sum = 0;
  let free = 0;
  let holes = 0;
  let moved = 0;
  const edge = (at: number, se: number, predicted: number): void => {
    sum += logDensity(at - predicted, se, EDGE_FLOOR_M, dof);
    free++;
    if (h.movedFrom && Math.abs(nearest(h.movedFrom, at)) > SAME_EDGE_M) moved++;
  };
  for (let i = 1; i < m.length; i++) {
    const [a, b] = [m[i - 1], m[i]];
    const hole = isHole(b.leftM - a.rightM);
    if (bands && isHole(bands[i].leftM - bands[i - 1].rightM) !== hole) return null;
    if (hole) {
      holes++;
      if (!bands && !h.holes?.at.some((x) => x > a.rightM - h.holes!.slackM && x < b.leftM + h.holes!.slackM))
        return null;
      edge(a.rightM, a.rightSeM, bands ? bands[i - 1].rightM : a.rightM - nearest(edges, a.rightM));
      edge(b.leftM, b.leftSeM, bands ? bands[i].leftM : b.leftM - nearest(edges, b.leftM));
    } else {
      // Two sections share the edge between them; measured from both sides, it is one observation.
      const at = (a.rightM + b.leftM) / 2;
      const predicted = bands ? (bands[i - 1].rightM + bands[i].leftM) / 2 : at - nearest(edges, at);
      edge(at, Math.min(a.rightSeM, b.leftSeM), predicted);
    }
  }
  if (bands) return sum;
  if (h.holes && holes === 0) return null;
  if (h.movedFrom && moved === 0) return null;
  const inner = edges.length - 2;
  const some = h.movedFrom?.length === free ? logMoved(inner, free, moved) : Number.POSITIVE_INFINITY;
  return sum - Math.min(logPartitions(inner, free), some);
}

/** Edges closer than this are the same, meters: far below the closest row spacing. */
const SAME_EDGE_M = 0.03;

/** Logarithm of the number of ways to cut at `free` of `inner` edges, times the number of counts: every number of sections is equally likely. */
function logPartitions(inner: number, free: number): number {
  let sum = Math.log(Math.max(1, inner));
  for (let k = 1; k <= Math.min(free, inner - free); k++) sum += Math.log((inner - k + 1) / k);
  return sum;
}

/** Logarithm of the price of moving some of the `declared` edges to other ones of `inner`: each further one is half as likely. */
function logMoved(inner: number, declared: number, moved: number): number {
  let sum = moved * Math.log(2 * Math.max(1, inner - declared));
  for (let k = 1; k <= moved; k++) sum += Math.log((declared - k + 1) / k);
  return sum;
}

function nearest(edges: number[], x: number): number {
  let best = Infinity;
  for (const e of edges) if (Math.abs(x - e) < Math.abs(best)) best = x - e;
  return best;
}
