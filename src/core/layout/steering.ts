import type { Setting } from '../answer.ts';
import { logT } from '../geometry/stats.ts';
import type { Belief } from './belief.ts';

/** The steady part of the recorded seams, a Student t with `dof` degrees of freedom and scale `seM`; metres. */
export interface SteadySeam {
  valueM: number;
  seM: number;
  dof: number;
}

/** With these the display still believes the working width that is declared, and steers by it. */
const STEERING_KEPT = new Set<Setting>(['section-stuck-off', 'section-idle', 'section-across-drives']);
/** A display steers by the width that it believes, unless the pass spacing was entered on its own (common practice). */
const BY_BELIEF = 0.9;
/** Part of the maps in which passes lie at some other distance, and how far that may be, metres. */
const ASTRAY = 0.05;
const ASTRAY_M = 3;
/** Steering an inch or so inside the width is done on purpose, metres (common practice). */
const ON_PURPOSE_M = 0.03;

/**
 * How likely the recorded seams are when `belief` is what the display believed, up to a factor that all beliefs share. Two beliefs
 * that record the same bands may steer at different distances: sections that stay off leave gaps, a narrower frame does not.
 * `spacingM` is the distance at which the passes should lie.
 */
export function seamLikelihood(belief: Belief, steady: SteadySeam, spacingM: number): number {
  const scale = Math.hypot(steady.seM, ON_PURPOSE_M);
  const at = (m: number): number => Math.exp(logT((steady.valueM - m) / scale, steady.dof)) / scale;
  const followed = belief.setting !== null && STEERING_KEPT.has(belief.setting) ? 1 - BY_BELIEF : BY_BELIEF;
  return (1 - ASTRAY) * (followed * at(0) + (1 - followed) * at(spacingM - belief.widthM)) + ASTRAY / ASTRAY_M;
}

/** The same for a layout of which nothing is known. */
export const SEAMS_OF_ANY = 1 / ASTRAY_M;
