import type { Finding, Setting } from '../answer.ts';
import type { GroundLine } from '../ground/index.ts';
import { WIDTH_SETTINGS } from '../infer/index.ts';
import type { RuleBreak } from '../planter/types.ts';
import type { AccountLine, Cause } from './types.ts';
import type { WidthFact } from './widths.ts';

/** Limits that decide a cause, meters. */
export interface Limits {
  /** Slivers up to this width are positioning noise and get no lines of their own. */
  noiseM: number;
  /** A strip between two passes up to this width is steering error: four standard deviations of the errors of both passes. */
  steeringM: number;
  /** Width of a pass. */
  passM: number;
  /** How far a pass may end short of the ground that it ends at: one log interval, one section, the time that seed takes to fall. */
  endM: number;
  /** Travel of the whole map. */
  travelM: number;
}

/** A finding and the passes (counted from 1) that it covers; none where it covers the whole map. */
export interface Claim {
  finding: Finding;
  passes: ReadonlySet<number>;
  /** Passes of the machine that it was found on: it explains nothing beside those. */
  within: ReadonlySet<number>;
  /** Rules of a sound layout that the planter file breaks. */
  rules: ReadonlySet<RuleBreak['rule']>;
}

/** The machine and the time of two passes (counted from 1). */
export interface OriginsOf {
  sameMachine(a: number, b: number): boolean;
  /** Whether one was planted over the other on a later day: not where it only meets a headland of the day before. */
  isReplant(a: number, b: number): boolean;
}

/** The evidence for causes. */
export interface CauseContext {
  claims: readonly Claim[];
  limits: Limits;
  widthError: WidthError;
  origins: OriginsOf;
  /** Travel of a pass (counted from 1), meters. */
  passTravelM(pass: number): number;
}

/**
 * By how much the bars of the passes record wider (+) or narrower (-) than they plant, the least and the most of both; meters. `outer` is about
 * their outermost edges, which bound the strips between two passes; else strips that stay empty inside the bar count too.
 */
export type WidthError = (passes: readonly number[], outer: boolean) => [number, number];

export interface Attribution {
  cause: Cause;
  setting?: Setting;
  or?: Setting[];
  confidence: number;
}

/** Settings that change what a full bar records, and so the strips beside it; or rules of the planter file about the same. */
const OF_WIDTH: ReadonlySet<Setting> = new Set<Setting>([...WIDTH_SETTINGS, 'declared-layout']);

/** These apply to the passes that show them; all others to the whole map. */
const OF_A_STRETCH: ReadonlySet<Setting> = new Set<Setting>([...OF_WIDTH, 'section-stuck-off']);

/** A strip is no wider than the error of the width that causes it, plus steering; a share and meters. */
const WIDER_PART = 1.3;
const WIDER_M = 0.1;

/** A strip no wider than steering error is attributed to a setting only if it is at least this share of the setting's own error. */
const STEERED_PART = 0.5;

/**
 * Which ground a broken rule can be the cause of: the strip of an idle section (rule 2) or of a section that a drive line cuts (rule 3), and
 * seams at a pass spacing that is not the working width (rule 5).
 */
function brokenRuleExplains(rules: Claim['rules'], l: GroundLine): boolean {
  if (l.a !== l.b && rules.has(5)) return true;
  return l.fact === 'gap' && (rules.has(3) || (l.a === l.b && rules.has(2)));
}

/** Which ground each setting can be the cause of; `error` is that of the line's passes. */
function explains(
  { finding: { setting }, rules }: Claim,
  picture: AccountLine['picture'],
  l: GroundLine,
  [least, most]: readonly [number, number],
  steeringM: number,
): boolean {
  const sides = l.between === 'sides';
  const between = l.a !== l.b;
  const { fact } = l;
  if (setting === 'declared-layout') return sides && l.widthM > steeringM && brokenRuleExplains(rules, l);
  if (OF_WIDTH.has(setting)) {
    if (!sides) return false;
    // A layout that records too wide overlaps on the map or leaves gaps on the ground; one that records too narrow does the opposite.
    const error = (fact === 'gap') === (picture === 'planted') ? most : -least;
    if (l.widthM <= steeringM && l.widthM < STEERED_PART * error) return false;
    return error > 0 && l.widthM <= WIDER_PART * error + WIDER_M;
  }
  if (setting === 'pass-spacing' || setting === 'side-offset') return sides && between;
  if (sides && l.widthM <= steeringM) return false;
  switch (setting) {
    case 'section-stuck-off':
      return fact === 'gap' && sides;
    case 'section-stuck-on':
    case 'section-control-off':
    case 'map-repeated':
      return fact === 'overlap';
    case 'section-order':
      return true;
    case 'inline-offset':
    case 'switch-delay':
      return !sides;
    default:
      return false;
  }
}

/** A wrong width shows along every pass. A strip along less than this share of their travel has another cause. */
const ALONG = 0.25;

/** The claims, without those of a wrong width whose strips are rare in this picture: the seams do not show it, so it causes none of them. */
export function claimsSupportedBySeams(
  lines: readonly GroundLine[],
  picture: AccountLine['picture'],
  { claims, limits, widthError, passTravelM }: CauseContext,
): Claim[] {
  return claims.filter((c) => {
    if (!WIDTH_SETTINGS.has(c.finding.setting)) return true;
    const travelM = c.passes.size === 0 ? limits.travelM : [...c.passes].reduce((s, p) => s + passTravelM(p), 0);
    const seenM = lines.reduce((s, l) => {
      const passes = passesBeside(l).filter((p) => c.passes.size === 0 || c.passes.has(p));
      const own =
        passes.length > 0 && explains(c, picture, l, widthError(passesBeside(l), l.a !== l.b), limits.steeringM);
      return own ? s + l.lengthM : s;
    }, 0);
    return seenM >= ALONG * travelM;
  });
}

export const passesBeside = (l: GroundLine): number[] => [...new Set([l.a, l.b])].filter((n) => typeof n === 'number');

/** Narrower bars on up to this share of the travel are point rows, along which whole sections stay off. */
const POINT_ROWS = 0.15;

/** The findings that explain a width that differs from the declared one, surest first. */
export function causeOfWidth(w: WidthFact, claims: readonly Claim[], limits: Limits): Attribution {
  const own = claims.filter((c) => OF_WIDTH.has(c.finding.setting) || c.finding.setting === 'section-stuck-off');
  const setting = claimed(own, w.passes);
  if (setting) return setting;
  return w.recordedM < w.declaredM && w.lengthM <= POINT_ROWS * limits.travelM
    ? { cause: 'point-rows', confidence: 0.9 }
    : { cause: 'unexplained', confidence: 1 };
}

function claimed(claims: readonly Claim[], passes: readonly number[]): Attribution | null {
  const fit = claims
    .filter((c) => passes.some((p) => c.within.has(p)))
    .filter((c) => !OF_A_STRETCH.has(c.finding.setting) || c.passes.size === 0 || passes.some((p) => c.passes.has(p)))
    // A broken rule of the planter file comes after what the display did with it.
    .sort((a, b) => ownRule(a) - ownRule(b) || b.finding.confidence - a.finding.confidence);
  if (fit.length === 0) return null;
  const [first, ...rest] = fit.map((c) => c.finding);
  const or = rest.map((f) => f.setting).filter((s) => first.or?.includes(s));
  return {
    cause: 'setting',
    setting: first.setting,
    ...(or.length > 0 ? { or } : {}),
    confidence: first.confidence,
  };
}

const ownRule = (c: Claim): number => (c.finding.setting === 'declared-layout' ? 1 : 0);

/** A strip that a setting leaves has the same width everywhere, except for steering: within this share of its width, and this many meters. */
const VARIES_PART = 0.3;
const VARIES_M = 0.4;

/** A whole number of sections can be off where a strip is wider than this share of a pass. */
const LEFT_OUT = 0.8;
/** A section is the cause of a strip if it is off beside at least this share of the strip's length. */
const MOSTLY_OFF = 0.5;
/** A gap lies in the corners of laps if this part of its length does: beside straight runs it is something else. */
const MOSTLY_TURNING = 0.7;
/** Overlaps along sides are last passes that fill the rest of the field, on up to this share of the travel. */
const FILLED = 0.25;
/** An overlap shorter than this many pass widths is a corner of headland laps or a pass that runs into them; such a gap is the end of a pass. */
const CORNER = 3;

/** The cause of a piece of ground. `overlapM` is the length of all overlaps along sides that are wider than steering. */
export function causeOfGround(
  l: GroundLine,
  picture: AccountLine['picture'],
  { claims, limits, widthError, origins }: CauseContext,
  overlapM: number,
): Attribution {
  const passes = [l.a, l.b].filter((n) => typeof n === 'number');
  const sides = l.between === 'sides';
  if (l.widthM <= limits.noiseM) return { cause: 'noise', confidence: 1 };
  const [first, second] = l.over > 0 ? [passes[0], l.over] : passes;
  const twice = l.fact === 'overlap' && second !== undefined;
  if (twice && origins.isReplant(first, second)) return { cause: 'replant', confidence: 1 };
  // Wider than long, and no longer than a pass may end short: the end of a pass, whatever else was wrong.
  if (l.fact === 'gap' && sides && l.lengthM <= Math.min(limits.endM, l.widthM))
    return { cause: 'point-rows', confidence: 0.9 };
  const setting = claimed(
    claims.filter((c) => explains(c, picture, l, widthError(passes, l.a !== l.b), limits.steeringM)),
    passes,
  );
  if (!sides && l.widthM <= limits.endM && !setting) return { cause: endCause(l.fact), confidence: 1 };
  if (setting) return setting;
  // Passes wander, and so do the strips between them.
  if (sides && l.widthM <= limits.steeringM) return { cause: 'noise', confidence: 1 };
  if (l.a === 'boundary' || l.b === 'boundary') return { cause: 'field-edge', confidence: 1 };
  if (l.fact === 'gap' && l.turning >= MOSTLY_TURNING && l.widthM <= LEFT_OUT * limits.passM)
    return { cause: 'headland', confidence: 0.9 };
  if (l.fact === 'overlap') {
    if (twice && !origins.sameMachine(first, second)) return { cause: 'another-machine', confidence: 0.9 };
    if (!sides || l.a === l.b || l.lengthM < CORNER * limits.passM) return { cause: 'headland', confidence: 1 };
    return overlapM <= FILLED * limits.travelM
      ? { cause: 'planned-overlap', confidence: 0.9 }
      : { cause: 'unexplained', confidence: 1 };
  }
  // No longer than a pass may end short of the ground that it ends at: the side of such an end.
  if (sides && l.lengthM <= limits.endM) return { cause: 'point-rows', confidence: 0.9 };
  // As wide as a pass and shorter than a few widths is the notch of a pass that ended early.
  if (sides && l.widthM > LEFT_OUT * limits.passM)
    return { cause: l.lengthM < CORNER * limits.passM ? 'point-rows' : 'pass-left-out', confidence: 0.9 };
  if (sides && (l.sectionOff >= MOSTLY_OFF || (l.a === l.b && typeof l.a === 'number')))
    return l.lengthM <= 2 * limits.endM
      ? { cause: 'point-rows', confidence: 0.9 }
      : { cause: 'section-off', confidence: 0.9 };
  if (sides && second !== undefined && !origins.sameMachine(first, second))
    return { cause: 'between-machines', confidence: 0.9 };
  const [low, high] = l.spreadM;
  if (sides && high - low > Math.max(VARIES_M, VARIES_PART * l.widthM))
    return { cause: 'driven-around', confidence: 0.9 };
  return { cause: 'unexplained', confidence: 1 };
}

const endCause = (fact: GroundLine['fact']): Cause => (fact === 'gap' ? 'point-rows' : 'headland');
