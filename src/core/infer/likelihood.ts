import type { Segment } from '../observe/bands.ts';
import type { Hypothesis } from './hypothesis.ts';
import { EDGE_FLOOR_M } from './noise.ts';

export interface Ranked {
  hypothesis: Hypothesis;
  /** Probability among everything tried, 0 to 1. */
  probability: number;
  /** Root mean square of edge misses, metres. */
  missM: number;
}

export interface Ranking {
  ranked: Ranked[];
  /** Probability of something else. */
  other: number;
  /** Logarithm of the probability of the bands, whatever was believed. */
  evidence: number;
}

/** Nothing that was tried: every measured edge as badly met as 3.5 standard deviations. Keeps a bad best from looking sure. */
const OTHER_PER_EDGE = -(3.5 ** 2) / 2;
/**
 * Ranks hypotheses by how well they explain the measured bands: Gaussian edges with their standard errors, times the prior of each
 * hypothesis and the likelihood of the seams with it (`seams`, null for "something else"), normalised together with "something else".
 * `sections` false (bar or strip grain) compares the width alone.
 */
export function rank(
  segment: Segment,
  hypotheses: Hypothesis[],
  sections: boolean,
  seams: (b: Hypothesis | null) => number = () => 1,
): Ranking {
  const scored = hypotheses.map((b) => {
    const fit = !inReach(segment, b.widthM, sections) ? null : sections ? fitBands(segment, b) : fitWidth(segment, b);
    const score = fit ? fit.logLikelihood + b.logPrior + Math.log(seams(b)) : -Infinity;
    return { hypothesis: b, score, missM: fit ? fit.missM : Infinity };
  });
  const other = OTHER_PER_EDGE * edgesOf(segment, sections) + Math.log(0.02) + Math.log(seams(null));
  const top = Math.max(other, ...scored.map((s) => s.score));
  let sum = Math.exp(other - top);
  for (const s of scored) sum += Math.exp(s.score - top);
  const ranked = scored
    .map((s) => ({ hypothesis: s.hypothesis, probability: Math.exp(s.score - top) / sum, missM: s.missM }))
    .filter((r) => r.probability > 1e-4)
    .sort((a, b) => b.probability - a.probability);
  return { ranked, other: Math.exp(other - top) / sum, evidence: top + Math.log(sum) };
}

interface Fit {
  logLikelihood: number;
  missM: number;
}

/** Edges that a hypothesis has to meet. */
const edgesOf = (segment: Segment, sections: boolean): number => (sections ? segment.bands.length + 1 : 1);

/**
 * Whether a hypothesis of this width, metres, can have a say: beyond it the outer edges alone are missed by so much that its probability
 * is 0 in a double beside "something else", whatever the seams say.
 */
export function inReach(segment: Segment, widthM: number, sections: boolean): boolean {
  const hopeless = 900 - OTHER_PER_EDGE * edgesOf(segment, sections);
  if (!sections) return -widthLikelihood(segment, widthM) <= hopeless;
  const [left, right] = [segment.bands[0], segment.bands[segment.bands.length - 1]];
  const outer = strain(left.leftM + widthM / 2, left.leftSeM) + strain(right.rightM - widthM / 2, right.rightSeM);
  return outer / 2 <= hopeless;
}

function widthLikelihood(segment: Segment, widthM: number): number {
  const sd = Math.hypot(segment.widthSeM, EDGE_FLOOR_M * Math.SQRT2);
  return -0.5 * ((segment.widthM - widthM) / sd) ** 2;
}

function fitWidth(segment: Segment, b: Hypothesis): Fit | null {
  return { logLikelihood: widthLikelihood(segment, b.widthM), missM: Math.abs(segment.widthM - b.widthM) };
}

/** Square of an edge's miss in standard deviations. */
const strain = (d: number, se: number): number => (d / Math.hypot(se, EDGE_FLOOR_M)) ** 2;

function fitBands(segment: Segment, b: Hypothesis): Fit | null {
  const m = segment.bands;
  let sum = 0;
  let miss = 0;
  const add = (d: number, se: number): void => {
    sum += strain(d, se);
    miss += d * d;
  };
  if (b.bands) {
    const bands = b.bands();
    if (bands.length !== m.length) return null;
    for (let i = 0; i < m.length; i++) {
      add(m[i].leftM - bands[i].leftM, m[i].leftSeM);
      add(m[i].rightM - bands[i].rightM, m[i].rightSeM);
    }
    return { logLikelihood: -sum / 2, missM: Math.sqrt(miss / (2 * m.length)) };
  }
  if (b.fewerThan !== undefined && m.length >= b.fewerThan) return null;
  const edges = b.edges!();
  const offDeclared = (x: number): boolean => Math.abs(nearest(b.notOnly!, x)) > 0.03;
  if (b.notOnly && !m.some((x) => offDeclared(x.leftM) || offDeclared(x.rightM))) return null;
  let free = 0;
  for (let i = 0; i < m.length; i++) {
    add(nearest(edges, m[i].leftM), m[i].leftSeM);
    add(nearest(edges, m[i].rightM), m[i].rightSeM);
    if (i > 0) {
      free++;
      // A strip left empty is no layout of this kind.
      if (m[i].leftM - m[i - 1].rightM > 0.05) return null;
    }
  }
  // The outer edges must be the frame's, not just any row's.
  add(m[0].leftM - edges[0], m[0].leftSeM);
  add(m[m.length - 1].rightM - edges[edges.length - 1], m[m.length - 1].rightSeM);
  return {
    logLikelihood: -sum / 2 - logPartitions(edges.length - 2, free),
    missM: Math.sqrt(miss / (2 * m.length)),
  };
}

/** Logarithm of the number of ways to cut at `free` of `inner` edges, times the number of counts: any number of sections is as likely. */
function logPartitions(inner: number, free: number): number {
  let sum = Math.log(Math.max(1, inner));
  for (let k = 1; k <= Math.min(free, inner - free); k++) sum += Math.log((inner - k + 1) / k);
  return sum;
}

function nearest(edges: number[], x: number): number {
  let best = Infinity;
  for (const e of edges) if (Math.abs(x - e) < Math.abs(best)) best = x - e;
  return best;
}
