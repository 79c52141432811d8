/**
 * The account of a map: every gap, every overlap and every wrong width with its cause, and the verdict that follows.
 *
 * Assumes ground facts (areas between named passes) and the findings of the inference. Guarantees that the recorded gap lines add up to the
 * gap area and the overlap lines to the overlap area, that every line has exactly one cause, and that a map with open strips that nothing
 * explains never gets the verdict "agrees".
 *
 * `veto.ts` comes first: a finding that predicts ground which the map does not have is withdrawn.
 *
 * 1. `widths.ts`: bars whose recorded width is not what the declared planter covered.
 * 2. `causes.ts`: which finding, or which usual practice, explains a piece of ground.
 * 3. `lines.ts`: pieces of one cause that touch are a line; `sentences.ts`: its sentence.
 * 4. `effects.ts`: what a setting did, as sums over lines.
 * 5. `doubt.ts`: records whose area is in doubt, and sums that disagree: such a map never gets the verdict "agrees".
 * 6. `verdict.ts`: the verdict and the size of what is wrong.
 * 7. `populations.ts`: two widths side by side, which either a second planter or a changed setting would leave.
 */

import type { Finding, Observation } from '../answer.ts';
import type { GroundFacts } from '../ground/index.ts';
import { SAME_JOB_MS } from '../observe/index.ts';
import type { RuleBreak, Unit } from '../planter/types.ts';
import type { CauseContext, Claim, Limits, OriginsOf, WidthError } from './causes.ts';
import { groundLines, widthLines } from './lines.ts';
import type { Account, PlacedLine } from './types.ts';
import type { WidthFact } from './widths.ts';

export type { Limits } from './causes.ts';
export { type Doubt, doubtsOf, recordedAndTraveledAreas } from './doubt.ts';
export { consequencesOf, effectOf } from './effects.ts';
export { type Population, twoPopulations } from './populations.ts';
export { type Account, type AccountLine, CAUSES, type Cause, HARMLESS, type PlacedLine } from './types.ts';
export { type Verdict, verdictOf, verdictOfAll } from './verdict.ts';
export { withdrawRefuted } from './veto.ts';
export { compareWidths, type WidthFact } from './widths.ts';

interface AccountInput {
  gaps: GroundFacts;
  overlaps: GroundFacts;
  /** The same for the planted picture; null where it equals the recorded one. */
  planted: { gaps: GroundFacts; overlaps: GroundFacts } | null;
  widths: WidthFact[];
  plantedCountM2: number;
  /** The findings on each machine, and the numbers of its passes: a finding explains nothing on another machine. */
  parts: readonly {
    findings: readonly Finding[];
    observations: readonly Observation[];
    passes: ReadonlySet<number>;
    ruleBreaks: readonly RuleBreak[];
  }[];
  /** When each pass began, by its number less one, ms since 1970; NaN where that is not known. */
  startMs: Float64Array;
  /** 1 for each pass, by its number less one, that was planted over an earlier day's. */
  replants: Uint8Array;
  /** Travel of each pass, by its number less one, meters. */
  passTravelM: Float64Array;
  limits: Limits;
  unit: Unit;
}

export function makeAccount(a: AccountInput): Account {
  const claims = a.parts.flatMap(({ findings, observations, passes: within, ruleBreaks }) =>
    findings.map((finding): Claim => {
      const passes = observations.filter((o) => finding.because.includes(o.id)).flatMap((o) => o.passes);
      return { finding, passes: new Set(passes), within, rules: new Set(ruleBreaks.map((b) => b.rule)) };
    }),
  );
  const origins: OriginsOf = {
    sameMachine: (x, y) => a.parts.some((p) => p.passes.has(x) && p.passes.has(y)),
    isReplant: (x, y) => {
      const ms = a.startMs[x - 1] - a.startMs[y - 1];
      return Math.abs(ms) >= SAME_JOB_MS && a.replants[(ms > 0 ? x : y) - 1] === 1;
    },
  };
  const widthError: WidthError = (passes, outer) => {
    const own = a.widths.filter((w) => passes.some((p) => w.passes.includes(p)));
    const errors = own.map((w) => (outer ? w.outerM : w.recordedM) - w.declaredM);
    const shift = Math.max(0, ...own.map((w) => w.shiftM));
    return [Math.min(0, ...errors) - shift, Math.max(0, ...errors) + shift];
  };
  const means: CauseContext = {
    claims,
    limits: a.limits,
    widthError,
    origins,
    passTravelM: (pass) => a.passTravelM[pass - 1] ?? 0,
  };
  const ground = (facts: GroundFacts, fact: 'gap' | 'overlap', picture: 'recorded' | 'planted'): PlacedLine[] =>
    groundLines(facts, fact, picture, means, a.unit);
  const lines = [
    ...ground(a.gaps, 'gap', 'recorded'),
    ...ground(a.overlaps, 'overlap', 'recorded'),
    ...widthLines(a.widths, claims, a.limits, a.unit),
    ...(a.planted
      ? [...ground(a.planted.gaps, 'gap', 'planted'), ...ground(a.planted.overlaps, 'overlap', 'planted')]
      : []),
  ];
  const last = (p: PlacedLine): number => (p.line.cause === 'noise' ? 1 : 0);
  lines.sort((p, q) => last(p) - last(q) || q.line.areaM2 - p.line.areaM2);
  return { lines, plantedCountM2: a.plantedCountM2, plantedApart: a.planted !== null };
}

/** The lines that touch the passes of one machine. */
export function accountOf(account: Account, passes: ReadonlySet<number>): Account {
  return { ...account, lines: account.lines.filter(({ line }) => line.passes.some((p) => passes.has(p))) };
}
