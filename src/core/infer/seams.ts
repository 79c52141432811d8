import type { Setting } from '../answer.ts';
import { median } from '../geometry/stats.ts';
import type { Estimate, SeamStretch } from '../observe/index.ts';
import { listNumbers } from '../planter/index.ts';
import { areaText as area, distanceText, gapText as gap, lengthText as length } from '../planter/units.ts';
import {
  DOUBTED,
  FAR_SEAM_M,
  FEWEST_ALTERNATING,
  FEWEST_SEAMS,
  FEWEST_STRIP_SEAMS,
  LEAST_SEAM_M,
  MOST_SURE,
  NAMED,
  NAMED_BESIDE,
  SHOWN_M,
} from './decide.ts';
import { addObservation, type Facts, type Findings } from './facts.ts';
import { plural } from './phrases.ts';
import { half95, seamPosterior } from './posterior.ts';
import { passSpacingWords } from './settings/pass-spacing.ts';
import { sideOffsetWords } from './settings/side-offset.ts';

/** A steady seam up to this, either way, is steering error, not a setting; meters. */
export function seamToleranceM(accuracyM: number): number {
  return Math.max(LEAST_SEAM_M, 2 * accuracyM);
}

/** The result for the layout of one segment, before its seams are evaluated. */
export interface SegmentLayout {
  /** Settings of the recorded width that are wrong there. */
  wrong: Setting[];
  /** No hypothesis explains the layout: another planting may have been planted, and then its passes lie right. */
  unknown: boolean;
}

/** Diagnoses about how passes lie beside each other: pass spacing and side offset, each from the seams of one segment at a time. */
export function diagnoseSeams(f: Facts, out: Findings, layouts: readonly SegmentLayout[]): void {
  const u = f.planter.unit;
  const count = f.seams.length;
  // Where most strips have no neighbor, the few that do are weak evidence.
  const few = f.grain === 'strip' && count < Math.max(FEWEST_STRIP_SEAMS, 0.25 * (longRuns(f) - 1));
  const stretches = f.stretches.filter((s) => s.seams.length >= FEWEST_SEAMS);
  if (stretches.length === 0 || few) {
    out.undecided.push({
      what:
        count === 0
          ? 'No two passes lie side by side, so the pass spacing cannot be judged.'
          : count === 1
            ? 'One seam is not enough to judge the pass spacing.'
            : `Only ${plural(count, 'seam')} could be measured between the ${f.grain === 'strip' ? 'strips' : 'passes'}, too few to judge the pass spacing.`,
      wouldDecide: `At least three passes side by side, each ${distanceText(50, u)} or longer, with every section on.`,
    });
    return;
  }
  const spacings = stretches.map((s) => judgeSpacing(f, s, layouts[s.segment]));
  const named = spacings.filter((s) => s.state === 'named');
  if (named.length > 0) nameSpacing(f, out, named);
  else tellSpacing(f, out, spacings[0]);

  const sides = stretches.flatMap((s) => judgeSide(f, s) ?? []);
  if (sides.length > 0) diagnoseSide(f, out, sides.sort((a, b) => b.probability - a.probability)[0], layouts);
}

/** A run shorter than this part of the longest one is a piece of a pass that fell apart at a corner, and has no neighbor to lie beside. */
const PIECE = 0.25;

function longRuns({ passes: { passStart, lengthM } }: Facts): number {
  const runs = Array.from({ length: passStart.length - 1 }, (_, p) =>
    lengthM.subarray(passStart[p], passStart[p + 1]).reduce((sum, m) => sum + m, 0),
  );
  const longest = Math.max(0, ...runs);
  return runs.filter((m) => m >= PIECE * longest).length;
}

interface Spacing {
  stretch: SeamStretch;
  state: 'right' | 'named' | 'unknown-layout' | 'doubted';
  probability: number;
}

function judgeSpacing(f: Facts, stretch: SeamStretch, layout: SegmentLayout): Spacing {
  const limit = seamToleranceM(f.accuracyM);
  // The middle of both kinds is no distance at which anything was driven where the passes of one kind fill the rest of the field.
  if (isLopsided(f, stretch) && Math.abs(median(stretch.seams.map((i) => f.plantedSeamM[i]))) <= limit)
    return { stretch, state: 'right', probability: 0 };
  const ground = stretch.planted.steady!;
  const recorded = stretch.recorded.steady!;
  const steadyM = stretch.planted.steadyM;
  // With a wrong recorded width, seams that close on the recorded map come from the width: the steering followed the same setting.
  const weighed = layout.wrong.length > 0 ? [ground, recorded] : [ground];
  const probability = Math.min(...weighed.map((v) => seamPosterior(v, 'pass-spacing')));
  const beyond =
    Math.abs(steadyM) > limit &&
    half95(ground) < Math.abs(steadyM) &&
    weighed.every((v) => Math.abs(v.value) > limit && v.value * steadyM > 0);
  if (beyond && probability >= NAMED && !stretch.planted.levels)
    return { stretch, state: layout.unknown ? 'unknown-layout' : 'named', probability };
  const open = (beyond && probability >= DOUBTED) || reachesFar(layout.wrong.length > 0 ? recorded : ground, limit);
  return { stretch, state: open ? 'doubted' : 'right', probability };
}

const word = (m: number): string => (m > 0 ? 'gap' : 'overlap');
const passesAlong = (f: Facts, s: SeamStretch): number[] =>
  [...new Set(s.seams.flatMap((i) => [f.passes.number[f.seams[i].passA], f.passes.number[f.seams[i].passB]]))].sort(
    (a, b) => a - b,
  );
const spacingOf = (f: Facts, s: SeamStretch): number => f.bands.segments[s.segment].widthM + s.recorded.steadyM;
const expectedOf = (f: Facts): number => f.planting.passSpacingM ?? f.layout.workingWidthM;

/** Half of the 95 % interval of the median that is told, meters; of the mean that decides, where there are too few seams for it. */
const ofMedian = (s: SeamStretch['planted']): number =>
  Number.isFinite(s.steadyHalf95M) ? s.steadyHalf95M : half95(s.steady!);

/** The seams of one stretch as an observation, where they are clear of zero; both levels where there are two. */
function observeSeams(f: Facts, out: Findings, s: SeamStretch): string[] {
  const u = f.planter.unit;
  const { planted: p, recorded: r } = s;
  const half = half95(p.steady!);
  if (Math.abs(p.steadyM) <= half && Math.abs(r.steadyM) <= half95(r.steady!) && !p.levels) return [];
  const one = (m: number): string => (Math.abs(m) < 0.01 ? 'closed' : `${gap(Math.abs(m), u)} ${word(m)}`);
  const says = p.levels
    ? `Seams on the ground have two typical widths: ${p.levels.map((l) => `${one(l.value)} (${plural(l.count, 'seam')})`).join(' and ')}.`
    : `Seams on the ground: ${gap(Math.abs(p.steadyM), u)} ${word(p.steadyM)} (median of ${plural(p.count, 'seam')}, give or take ${gap(ofMedian(p), u)}); on the recorded map ${one(r.steadyM)}.`;
  return [
    addObservation(out, {
      kind: 'seam',
      says,
      measuredM: p.steadyM,
      expectedM: 0,
      n: p.count,
      share: 1,
      passes: passesAlong(f, s),
    }),
  ];
}

function nameSpacing(f: Facts, out: Findings, named: Spacing[]): void {
  const u = f.planter.unit;
  const { stretch, probability } = named[0];
  const steadyM = stretch.planted.steadyM;
  const spacing = spacingOf(f, stretch);
  // Where the passes follow the planter file, the declaration itself is wrong: then the width of the planted rows was meant.
  const asDeclared = Math.abs(spacing - expectedOf(f)) < seamToleranceM(f.accuracyM);
  const expected = asDeclared ? f.layout.workingWidthM : expectedOf(f);
  const limit = seamToleranceM(f.accuracyM);
  const other = f.planter.plantings.find(
    (q) => q.name !== f.planting.name && Math.abs((q.passSpacingM ?? widthOfRows(f, q.rows)) - spacing) < limit,
  );
  const unplanted = steadyM > 0;
  let areaM2 = 0;
  for (const { stretch: s } of named)
    for (const i of s.seams)
      areaM2 += Math.max(0, unplanted ? f.plantedSeamM[i] : -f.plantedSeamM[i]) * f.seams[i].lengthM;
  // The recorded map itself must show what the passes leave, except where a wrong width hides it.
  let shownM2 = 0;
  for (const { stretch: s } of named)
    for (const i of s.seams)
      shownM2 += Math.max(0, unplanted ? f.seams[i].recordedM : -f.seams[i].recordedM) * f.seams[i].lengthM;
  const everywhere = f.stretches.length === 1;
  const where = everywhere ? '' : ` in passes ${listNumbers(passesAlong(f, stretch))}`;
  out.diagnoses.push({
    setting: 'pass-spacing',
    confidence: Math.min(MOST_SURE, probability),
    ...passSpacingWords({
      planting: f.planting.name,
      spacing: length(spacing, u),
      expected: length(expected, u),
      where,
      asDeclared,
      other: other?.name ?? '',
      seam: `${gap(Math.abs(steadyM), u)} ${word(steadyM)}`,
      area: area(areaM2, u),
      guessRow: gap(guessRow(f, expected), u),
    }),
    because: named.flatMap((s) => observeSeams(f, out, s.stretch)),
    predicts: unplanted ? { openM2: shownM2 } : { twiceM2: shownM2 },
  });
}

/** Seams that name no setting: the observation, and what they leave open. */
function tellSpacing(f: Facts, out: Findings, { stretch, state }: Spacing): void {
  const u = f.planter.unit;
  observeSeams(f, out, stretch);
  if (state === 'unknown-layout')
    out.undecided.push({
      what: `Passes lie ${length(spacingOf(f, stretch), u)} apart where ${length(expectedOf(f), u)} was meant, but the recorded layout fits none of those tried: another planting may have been planted.`,
      wouldDecide: 'Ask what was planted, read the rows that plant and the sections off the display, and check again.',
    });
  if (state !== 'doubted') return;
  const { planted: p } = stretch;
  out.undecided.push({
    what: p.levels
      ? `Seams have two typical widths, ${p.levels.map((l) => `${gap(Math.abs(l.value), u)} ${word(l.value)} (${l.count})`).join(' and ')}, and nothing in the map shows why.`
      : `The steady seam is ${gap(Math.abs(p.steadyM), u)}, give or take ${gap(ofMedian(p), u)}: the passes lie too unevenly to show whether that is a setting.`,
    wouldDecide: `More passes side by side from the same day, or the pass-to-pass accuracy of the positioning, if it is worse than ${gap(f.accuracyM, u)}.`,
  });
}

interface Side {
  stretch: SeamStretch;
  level: Estimate;
  probability: number;
}

/** Null where one level explains the seams. */
function judgeSide(f: Facts, stretch: SeamStretch): Side | null {
  const level = stretch.recorded.alternating;
  if (!level || stretch.recorded.alternatingM === null || isLopsided(f, stretch)) return null;
  return { stretch, level, probability: seamPosterior(level, 'side-offset') };
}

/** Same-way seams, which no side offset moves, that show where seams lie without one; and seams of one kind that are more than a last pass. */
const FEWEST_SAME_WAY = 3;
const FEWEST_OF_A_KIND = 2;
/** The middle of both kinds lies within this part of their distance of where seams lie without an offset. */
const LOPSIDED = 0.25;

/**
 * A side offset moves the seams of both kinds by the same distance, one way and the other. Where one kind lies as it should and the other far from it, the passes of
 * the other fill the rest of the field: in the middle of rounds, or at its edge.
 */
function isLopsided(f: Facts, { seams, sides, segment }: SeamStretch): boolean {
  const of = (side: number): number[] => seams.flatMap((i, k) => (sides[k] === side ? [f.seams[i].recordedM] : []));
  const [left, right, sameWay] = [of(1), of(-1), of(0)];
  if (left.length === 0 || right.length === 0) return false;
  // Without the direction of travel the seams of neither level are those that lie far off.
  const isKnown = f.passes.travelFrom !== 'unknown' && sameWay.length >= FEWEST_SAME_WAY;
  if (!isKnown && Math.min(left.length, right.length) >= FEWEST_OF_A_KIND) return false;
  const [l, r] = [median(left), median(right)];
  // Steered by what the display records, or at the declared distance.
  const usual = isKnown ? [median(sameWay)] : [0, expectedOf(f) - f.bands.segments[segment].widthM];
  return usual.every((m) => Math.abs((l + r) / 2 - m) > LOPSIDED * Math.abs(l - r));
}

/** Seams that open and close with the direction of travel. */
function diagnoseSide(
  f: Facts,
  out: Findings,
  { stretch, level, probability }: Side,
  layouts: readonly SegmentLayout[],
): void {
  const u = f.planter.unit;
  const { recorded: r } = stretch;
  const known = f.passes.travelFrom !== 'unknown';
  const alt = r.alternatingM!;
  const limit = seamToleranceM(f.accuracyM);
  const half = half95(level);
  const kinds = known
    ? `${plural(r.leftLeft, 'left-to-left seam')}, ${r.rightRight} right-to-right`
    : `${r.leftLeft} wide, ${r.rightRight} narrow`;
  const id = addObservation(out, {
    kind: 'seam-alternating',
    says: `Seams alternate ${known ? 'with the direction of travel' : 'from pass to pass'}, in turn ${gap(Math.abs(alt), u)} wider and narrower (${kinds}).`,
    measuredM: alt,
    expectedM: 0,
    n: r.leftLeft + r.rightRight,
    share: (r.leftLeft + r.rightRight) / r.count,
    passes: passesAlong(f, stretch),
  });
  if (Math.abs(alt) <= limit || Math.abs(level.value) <= limit) return;
  if (explainedByLayout(f, alt, Math.max(limit, half), known)) return;
  // Where nothing explains the bands, their middle may be that of anything: a part of a pass alternates too.
  const enough = r.leftLeft + r.rightRight >= FEWEST_ALTERNATING && !layouts[stretch.segment].unknown;
  if (enough && probability >= NAMED) {
    out.diagnoses.push({
      setting: 'side-offset',
      confidence: Math.min(MOST_SURE, probability),
      ...sideOffsetWords(gap(Math.abs(alt / 2), u), gap(Math.abs(alt), u), known ? (alt > 0 ? 'right' : 'left') : null),
      because: [id],
      predicts: groundOf(f, stretch, Math.abs(alt)),
    });
  } else if (
    probability >= DOUBTED ||
    (Math.abs(level.value) + half > 2 * Math.max(2.5 * limit, FAR_SEAM_M) && !restsOnOne(f, stretch, limit))
  ) {
    out.undecided.push({
      what: `Seams alternate with the direction of travel by ${gap(Math.abs(alt), u)}, give or take ${gap(half, u)}, over ${kinds}: too few or too uneven to show whether the side offset is wrong.`,
      wouldDecide: `At least four passes side by side, driven back and forth, each ${distanceText(50, u)} or longer.`,
    });
  }
}

/** Ground that seams which alternate by `altM` leave open in turn, and cover twice: a map whose passes were misread does not have it. */
function groundOf(f: Facts, stretch: SeamStretch, altM: number): { openM2: number; twiceM2: number } {
  let [openM2, twiceM2] = [0, 0];
  if (altM < SHOWN_M) return { openM2, twiceM2 };
  for (const i of stretch.seams) {
    const { recordedM, lengthM } = f.seams[i];
    if (Math.abs(recordedM - altM) < altM / 2) openM2 += recordedM * lengthM;
    if (Math.abs(recordedM + altM) < altM / 2) twiceM2 -= recordedM * lengthM;
  }
  return { openM2, twiceM2 };
}

/** True when one seam makes up all of the alternation: a last pass that fills the rest of the field lies where it must. */
function restsOnOne(f: Facts, stretch: SeamStretch, limit: number): boolean {
  return stretch.seams.some((out) => {
    const [l, r] = (['left-left', 'right-right'] as const).map((kind) =>
      stretch.seams.flatMap((i) => (i !== out && f.seams[i].facing === kind ? [f.seams[i].recordedM] : [])),
    );
    return l.length > 0 && r.length > 0 && Math.abs(median(l) - median(r)) / 2 <= limit;
  });
}

/**
 * A display with a wrong working center draws every pass to one side by that distance, and the passes alternate by twice
 * that: an effect of the layout, corrected with it. So does one that keeps the frame's center on the line while it believes in a wrong layout.
 */
function explainedByLayout(f: Facts, alternatingM: number, toleranceM: number, known: boolean): boolean {
  return f.fits.some(({ ranked }) =>
    ranked.some(({ hypothesis, probability }) => {
      // Its probability rests on the same seams already: one that would not be named explains nothing.
      if (hypothesis.setting === null || probability < NAMED_BESIDE) return false;
      return [hypothesis.centerM - f.layout.centerM, hypothesis.centerM].some(
        (off) => Math.abs(off) >= 1e-3 && Math.abs(alternatingM - 2 * (known ? off : Math.abs(off))) <= toleranceM,
      );
    }),
  );
}

/** True when a steady seam far beyond the tolerance cannot be ruled out: the passes do not show their spacing. */
function reachesFar(level: Estimate, limit: number): boolean {
  return Math.abs(level.value) + half95(level) > Math.max(2.5 * limit, FAR_SEAM_M);
}

function widthOfRows(f: Facts, rows: number[]): number {
  const step = rows.length > 1 ? rows[1] - rows[0] : 1;
  return (rows[rows.length - 1] - rows[0] + step) * f.planter.rowSpacingM;
}

function guessRow(f: Facts, spacing: number): number {
  const rows = f.layout.rows;
  return spacing - (rows[rows.length - 1] - rows[0]) * f.planter.rowSpacingM;
}
