/**
 * Hypotheses about the display's belief, from the bands of every segment, ranked by their posterior probability.
 */

import type { MeasuredBand, RecordedBands, SeamEstimates, Segment } from '../observe/types.ts';
import { layoutOf } from '../planter/index.ts';
import type { Band, Planter } from '../planter/types.ts';
import { LOG_CHANGE_COST, SHORT_SEGMENT } from './decide.ts';
import { hypothesesAbout } from './hypotheses.ts';
import { bandsOf, beliefOf, centered, type Hypothesis } from './hypothesis.ts';
import { inReach, type Ranking, rank } from './likelihood.ts';
import { BOTH_ENDS, NEVER_WHOLE, OFF_ON_PURPOSE, ONE_PASS_MORE, SHUT_BY_CONTROL } from './noise.ts';
import { seamLikelihood, seamsOfAny } from './steering.ts';

export interface LayoutFits {
  planting: string;
  /** Per segment of the bands. */
  fits: Ranking[];
  /** Probability of the declared layout over the whole map, weighted by bars. */
  declared: number;
  /** Probability, likewise, of the hypotheses in which this planting was chosen, whatever else was wrong. */
  chosen: number;
  /** Logarithm of the marginal probability of all bands of the map. */
  logEvidence: number;
  /** Other plantings of the planter with the same bands. */
  twins: string[];
}

/** No map distinguishes two predictions within this at every edge, meters. */
const SAME_EDGE_M = 0.002;

/**
 * Ranks the hypotheses about the display's belief while `planting` was planted. `sections` false: the records hold the whole width.
 * `seams`: the recorded seams of each segment. `travelKnown`: the direction of travel is known, so that left is left in every segment.
 */
export function fitLayouts(
  bands: RecordedBands,
  planter: Planter,
  planting: string,
  sections: boolean,
  seams: readonly SeamEstimates[],
  travelKnown: boolean,
): LayoutFits {
  const all = hypothesesAbout({
    planter,
    planting,
    sections,
    inReach: (widthM) => bands.segments.some((e) => inReach(e, widthM)),
  });
  const asDeclared = all[0];
  const twins = planter.plantings
    .filter((p) => p.name !== planting && sameBands(planter, planting, p.name, sections))
    .map((p) => p.name);
  const useful = all.filter((b) => b === asDeclared || !recordsTheSame(b, asDeclared, sections));
  const spacingM = planter.plantings.find((p) => p.name === planting)?.passSpacingM ?? asDeclared.widthM;
  const posteriorOf = (i: number, hypotheses: Hypothesis[]): Ranking =>
    rank(bands.segments[i], hypotheses, sections, (h) =>
      h ? seamLikelihood(h, seams[i], spacingM) : seamsOfAny(seams[i]),
    );
  const candidates = sections ? [...useful, ...neverWhole(useful, asDeclared, bands.segments)] : useful;
  const independentFits = bands.segments.map((_, i) => posteriorOf(i, candidates));
  // Where nothing shows the direction of travel, passes are turned so that what they record lies alike: without one of its sections a pass may look better the other way.
  const turned = travelKnown ? [] : candidates.filter((h) => h.setting === 'section-stuck-off').flatMap(otherWay);
  const bars = bands.segments.reduce((sum, e) => sum + barsOf(e), 0);
  // Which segment shows all that the display believed in is not candidates: the one that explains the others best.
  const fits = mainSegments(bands.segments, sections)
    .map((main) => {
      const { hypothesis: believed = asDeclared } = independentFits[main]?.ranked[0] ?? {};
      const out = [...independentFits];
      bands.segments.forEach((e, i) => {
        if (i === main) return;
        const off = sectionsOff(e, bands.segments[main], believed, asDeclared, {
          sections,
          travelKnown,
          apartOf: (asideM) => apartOf(e, seams[i], asideM),
        });
        // After a change, what was on may be part of the new layout.
        const before = i > 0 ? bands.segments[i - 1] : null;
        const changed = i - 1 !== main ? out[i - 1]?.ranked[0]?.hypothesis : undefined;
        if (sections && before && changed && changed.setting !== null && isRunOf(e.bands, before.bands))
          off.push(...sectionsOff(e, before, changed, asDeclared, { sections, travelKnown, apartOf: () => null }));
        // A short stretch beside a layout that is right is more often driving than a setting that was changed and changed back.
        const isChange = believed.setting !== null || barsOf(e) < SHORT_SEGMENT * bars;
        out[i] = posteriorOf(i, [...(isChange ? changedFrom(believed, candidates) : candidates), ...off, ...turned]);
      });
      return out;
    })
    .reduce((best, other) => (evidenceOf(other) > evidenceOf(best) ? other : best));
  const anyWidth = (): Hypothesis[] =>
    wider(
      hypothesesAbout({ planter, planting, sections, inReach: (widthM) => widthM <= WIDEST * asDeclared.widthM }),
      asDeclared,
    );
  if (sections) mixJointBelief(fits, anyWidth, posteriorOf, bands.segments);
  let declared = 0;
  let chosen = 0;
  bands.segments.forEach((e, i) => {
    const n = barsOf(e);
    declared += n * fits[i].ranked.reduce((s, r) => s + (r.hypothesis.setting === null ? r.probability : 0), 0);
    chosen += n * fits[i].ranked.reduce((s, r) => s + (r.hypothesis.planting === planting ? r.probability : 0), 0);
  });
  return {
    planting,
    fits,
    declared: bars ? declared / bars : 0,
    chosen: bars ? chosen / bars : 0,
    logEvidence: evidenceOf(fits),
    twins,
  };
}

/** How far passes of one segment lie apart at most (two standard errors) whose recorded part lies `asideM` from the line, meters; null where their seams do not show it. */
function apartOf(e: Segment, { steady, only }: SeamEstimates, asideM: number): number | null {
  if (!steady) return null;
  // Seams of one kind join the same sides: what was off lies between the passes, or beyond both.
  const between = only === undefined ? 0 : only === 0 ? Math.abs(asideM) : -only * asideM;
  return e.widthM + steady.value + 2 * steady.standardError + 2 * between;
}

const barsOf = (e: Segment): number => e.to - e.from;

const evidenceOf = (fits: readonly Ranking[]): number => fits.reduce((sum, f) => sum + f.logEvidence, 0);

/** Segments that may show the whole layout: that of most sections, and where records hold the whole width, the widest as well. */
function mainSegments(segments: readonly Segment[], sections: boolean): number[] {
  const main = wholeSegment(segments, sections);
  if (sections) return [main];
  const widest = segments.reduce((m, e, i) => (e.width.value > segments[m].width.value ? i : m), main);
  return widest === main ? [main] : [main, widest];
}

/** The segment of most bars; or, where its bands are some of those of a wider one, the widest such segment: there more sections were on. */
function wholeSegment(segments: readonly Segment[], sections: boolean): number {
  let main = segments.reduce((m, e, i) => (barsOf(e) > barsOf(segments[m]) ? i : m), 0);
  if (!sections) return main;
  segments.forEach((e, i) => {
    if (e.bands.length > segments[main].bands.length && isRunOf(segments[main].bands, e.bands)) main = i;
  });
  return main;
}

/** Whether bands are some of `all`, side by side. */
function isRunOf(some: readonly Band[], all: readonly Band[]): boolean {
  for (let i = 0; i + some.length <= all.length; i++) {
    const shift = all[i].leftM - some[0].leftM;
    const same = (a: number, b: number): boolean => Math.abs(a + shift - b) < SAME_RUN_M;
    if (some.every((b, k) => same(b.leftM, all[i + k].leftM) && same(b.rightM, all[i + k].rightM))) return true;
  }
  return false;
}

/** Measured edges of one layout lie within this of each other in two segments, meters: far below the closest row spacing. */
const SAME_RUN_M = 0.06;

/** A belief is wider than what plants by more than this, meters: rounding of a spacing is less. */
const WIDER_M = 0.15;
/** No display believes in more than this many times the width. */
const WIDEST = 2.2;

/** Hypotheses of a planter wider than the one that plants, whose sections are known. */
const wider = (all: readonly Hypothesis[], own: Hypothesis): Hypothesis[] =>
  all.filter(
    (h) =>
      h.bands &&
      h.setting !== null &&
      !h.mistyped &&
      h.widthM >= own.widthM + WIDER_M &&
      h.widthM <= WIDEST * own.widthM,
  );

/** Hypotheses of a wider planter of which some sections side by side were on. */
function neverWhole(all: readonly Hypothesis[], own: Hypothesis, segments: readonly Segment[]): Hypothesis[] {
  return wider(all, own).flatMap((h) => {
    const share = Math.log(NEVER_WHOLE);
    return runsOf(h)
      .filter((run) => segments.some((e) => shows(e, run)))
      .map(({ hypothesis, shareOfRuns }) => ({ ...hypothesis, logPrior: h.logPrior + share + shareOfRuns }));
  });
}

/** Some sections of a hypothesis, side by side; all of them are none. */
interface Run {
  hypothesis: Hypothesis;
  count: number;
  /** Logarithm of one part in as many as there are runs. */
  shareOfRuns: number;
}

function runsOf(h: Hypothesis): Run[] {
  const bands = h.bands!();
  const out: Run[] = [];
  const shareOfRuns = -Math.log(Math.max(1, (bands.length * (bands.length + 1)) / 2 - 1));
  for (let i = 0; i < bands.length; i++)
    for (let j = i; j < bands.length; j++) {
      const on = bands.slice(i, j + 1);
      if (on.length < bands.length)
        out.push({ hypothesis: { ...someOn(h, on), bands: () => centered(on) }, count: on.length, shareOfRuns });
    }
  return out;
}

const shows = (e: Segment, { hypothesis, count }: Run): boolean =>
  e.bands.length === count && inReach(e, hypothesis.widthM);

/**
 * One belief in a wider planter, never recorded whole, explains segments of which each by itself looks like another fault: on one side of the field section control shuts the sections at
 * one end, on the other side those at the other end. Compared with a belief for each segment and a change between them; mixed into `fits` by its probability.
 */
function mixJointBelief(
  fits: Ranking[],
  beliefs: () => readonly Hypothesis[],
  posteriorOf: (segment: number, hypotheses: Hypothesis[]) => Ranking,
  segments: readonly Segment[],
): void {
  const likeliest = (i: number): Hypothesis | undefined => fits[i].ranked[0]?.hypothesis;
  const isChange = (i: number): boolean => i > 0 && likeliest(i)?.setting !== likeliest(i - 1)?.setting;
  const changes = fits.filter((_, i) => isChange(i)).length;
  // Segments that agree need nothing wider.
  if (changes === 0 || fits.some((_, i) => likeliest(i)?.setting === null)) return;
  const apart = evidenceOf(fits) - changes * LOG_CHANGE_COST;
  let best: { together: number; joint: Ranking[] } | null = null;
  for (const h of beliefs()) {
    const runs = runsOf(h);
    if (!segments.every((e) => runs.some((run) => shows(e, run)))) continue;
    const joint = fits.map((_, i) =>
      posteriorOf(
        i,
        runs.map(({ hypothesis, shareOfRuns }) => ({ ...hypothesis, logPrior: shareOfRuns })),
      ),
    );
    const together = evidenceOf(joint) + h.logPrior + Math.log(NEVER_WHOLE);
    if (!best || together > best.together) best = { together, joint };
  }
  if (!best) return;
  const p = 1 / (1 + Math.exp(apart - best.together));
  best.joint.forEach((j, i) => {
    fits[i] = mixed(fits[i], j, p);
  });
}

/** Two rankings of one segment, the second with probability `p`. */
function mixed(a: Ranking, b: Ranking, p: number): Ranking {
  const ranked = [
    ...a.ranked.map((r) => ({ ...r, probability: (1 - p) * r.probability })),
    ...b.ranked.map((r) => ({ ...r, probability: p * r.probability })),
  ].sort((x, y) => y.probability - x.probability);
  const logEvidence = Math.max(a.logEvidence, b.logEvidence);
  return { ranked, other: (1 - p) * a.other + p * b.other, logEvidence };
}

/** `h` with only the sections of these bands on. */
function someOn(h: Hypothesis, on: readonly Band[]): Hypothesis {
  const asideM = (on[0].leftM + on[on.length - 1].rightM) / 2;
  return {
    ...h,
    off: true,
    widthM: on[on.length - 1].rightM - on[0].leftM,
    centerM: h.centerM + asideM,
    asideM: h.asideM + asideM,
    edges: null,
  };
}

/** The same hypothesis for passes that were turned the other way. */
function otherWay(h: Hypothesis): Hypothesis[] {
  const { bands, centerM, asideM } = h;
  if (!bands) return [];
  return [
    { ...h, bands: () => mirrored(bands()), centerM: -centerM, asideM: -asideM, logPrior: h.logPrior - Math.LN2 },
  ];
}

interface SectionsOff {
  sections: boolean;
  travelKnown: boolean;
  /** How far the passes lie apart at most whose recorded part lies this far from the line, meters; null where that is not known. */
  apartOf: (asideM: number) => number | null;
}

/**
 * Hypotheses for `e` in which the display's belief is that of the main segment, and sections at the ends were off. Where the direction of travel is not `travelKnown`, passes are turned so
 * that their sections lie alike; those with sections off may have been turned the wrong way.
 */
function sectionsOff(
  e: Segment,
  main: Segment,
  believed: Hypothesis,
  own: Hypothesis,
  { sections, travelKnown, apartOf }: SectionsOff,
): Hypothesis[] {
  const out: Hypothesis[] = [];
  const priorAt = (asideM: number): number => {
    const apartM = apartOf(asideM);
    // Wider than what plants, or than passes lie apart, it overlaps, and section control shuts sections in any number of passes.
    const overlaps =
      (believed.setting !== null && believed.widthM > own.widthM + WIDER_M) ||
      (apartM !== null && believed.widthM > apartM + WIDER_M);
    return overlaps ? Math.log(SHUT_BY_CONTROL) : Math.log(OFF_ON_PURPOSE) + (e.passes - 1) * Math.log(ONE_PASS_MORE);
  };
  if (!sections) {
    // Bars drawn whole do not show which sections were off: any number of rows at one end, or nothing that fits rows.
    const shares = 2 * believed.rows;
    for (let k = 1; k < believed.rows; k++)
      for (const side of [-1, 1]) {
        const asideM = believed.asideM + (side * k * believed.rowSpacingM) / 2;
        out.push({
          ...believed,
          off: true,
          widthM: main.width.value - k * believed.rowSpacingM,
          centerM: believed.centerM + (side * k * believed.rowSpacingM) / 2,
          asideM,
          logPrior: own.logPrior + priorAt(asideM) + Math.log(1 / shares),
        });
      }
    out.push({ ...believed, off: true, belowM: main.width.value, logPrior: own.logPrior + priorAt(believed.asideM) });
  }
  if (!sections) return out;
  // As believed, they are exact; as measured they have an error that the other hypotheses do not have.
  const known = believed.bands?.() ?? [];
  const all = known.length === main.bands.length ? known : main.bands;
  const ways: [Hypothesis, readonly Band[]][] = [[believed, all]];
  if (!travelKnown) ways.push([{ ...believed, centerM: -believed.centerM }, mirrored(all)]);
  const n = all.length;
  const count = e.bands.length;
  for (const [h, bands] of ways)
    for (let i = 0; count < n && i + count <= n; i++) {
      const on = bands.slice(i, i + count);
      const both = i > 0 && i + count < n;
      const share = Math.log((both ? BOTH_ENDS : 1) / (n * ways.length));
      const part = someOn(h, on);
      out.push({ ...part, bands: () => centered(on), logPrior: own.logPrior + priorAt(part.asideM) + share });
    }
  return out;
}

/**
 * What is wrong elsewhere on the map was mended, or is another fault, where a segment shows something else: that is a change. A section that drops out where the rest of the map is as declared needs none.
 */
const changedFrom = (believed: Hypothesis, known: readonly Hypothesis[]): Hypothesis[] =>
  known.map((h) => {
    const isSame =
      beliefOf(h) === beliefOf(believed) || (believed.setting === null && h.setting === 'section-stuck-off');
    return isSame ? h : { ...h, logPrior: h.logPrior - LOG_CHANGE_COST };
  });

const mirrored = (bands: readonly Band[]): Band[] =>
  bands.map((b) => ({ leftM: -b.rightM, rightM: -b.leftM })).reverse();

/** Posterior probability that the map must be read from side `b` rather than `a`; both are equally likely a priori. */
export const probabilityMirrored = (a: LayoutFits, b: LayoutFits): number =>
  1 / (1 + Math.exp(a.logEvidence - b.logEvidence));

/** Posterior over both sides from which a map may be read, where nothing distinguishes left from right; `p` is the probability of `b`. */
export function mixMirrored(a: LayoutFits, b: LayoutFits, p: number): LayoutFits {
  const mix = (x: number, y: number): number => (1 - p) * x + p * y;
  const fits = a.fits.map((f, i) => mixed(f, b.fits[i], p));
  return { ...a, fits, declared: mix(a.declared, b.declared), chosen: mix(a.chosen, b.chosen) };
}

/** The bands read from behind, for maps that do not show which way they were driven. */
export function mirrorBands(bands: RecordedBands): RecordedBands {
  const turn = (b: MeasuredBand): MeasuredBand => ({
    leftM: -b.rightM,
    rightM: -b.leftM,
    leftSeM: b.rightSeM,
    rightSeM: b.leftSeM,
  });
  return { ...bands, segments: bands.segments.map((e) => ({ ...e, bands: e.bands.map(turn).reverse() })) };
}

/** Whether two hypotheses predict the same records; `sections` false: the whole width in each. */
export function recordsTheSame(b: Hypothesis, own: Hypothesis, sections: boolean): boolean {
  if (Math.abs(b.widthM - own.widthM) > SAME_EDGE_M) return false;
  if (!sections) return true;
  return b.bands !== null && own.bands !== null && alike(b.bands(), own.bands());
}

const alike = (p: Band[], q: Band[]): boolean =>
  p.length === q.length &&
  p.every((s, i) => Math.abs(s.leftM - q[i].leftM) < SAME_EDGE_M && Math.abs(s.rightM - q[i].rightM) < SAME_EDGE_M);

function sameBands(planter: Planter, a: string, b: string, sections: boolean): boolean {
  const x = layoutOf(planter, a);
  const y = layoutOf(planter, b);
  if (Math.abs(x.workingWidthM - y.workingWidthM) > SAME_EDGE_M) return false;
  if (!sections) return true;
  return alike(bandsOf(x.sectionBands), bandsOf(y.sectionBands));
}
