import type { Setting } from '../answer.ts';
import type { Segment } from '../observe/types.ts';
import { evenGapM, listNumbers } from '../planter/index.ts';
import { gapText as gap, lengthText as length } from '../planter/units.ts';
import { passesOf } from '../track/span.ts';
import {
  FEWEST_STRIP_SEAMS,
  MISREAD_SHARE,
  MOST_SURE,
  NAMED,
  NAMED_ALIKE,
  NAMED_BESIDE,
  PART_WIDTH,
  SECTION_WIDTH,
  TOUCHES_M,
} from './decide.ts';
import {
  addObservation,
  type Facts,
  type Findings,
  type FindingWithPrediction,
  whenWords,
  withRivals,
} from './facts.ts';
import { findChanges } from './findings-changes.ts';
import type { Hypothesis } from './hypothesis.ts';
import { recordsTheSame } from './layout-fits.ts';
import { plural } from './phrases.ts';
import { holeBefore, sectionObservations } from './section-observations.ts';
import { changeProbability, type SegmentPosterior } from './segment-posteriors.ts';
import { definitionOf } from './settings/index.ts';
import { sideText } from './settings/wording.ts';

/** Settings that leave a strip empty on every pass; they show in any planting. */
const STRIPS_EMPTY: readonly Setting[] = ['section-idle', 'section-across-drives', 'section-stuck-off'];

/** A setting that is named, with the segments of the map in which it is wrong. */
interface Named {
  finding: FindingWithPrediction;
  segments: Segment[];
}

/** Layouts whose widths differ by more than this are not one layout read from both sides, meters. */
const OTHER_WIDTH_M = 0.15;

/** Findings about the layout that the display believed: rows, spacing, planting, sections. */
export function diagnoseLayout(f: Facts, out: Findings, verdicts: SegmentPosterior[]): void {
  const u = f.planter.unit;
  // Records in random order are not in order of time, and passes read from behind look like another layout, as wide.
  const inOrder = f.grain === 'strip' || f.passes.travelFrom !== 'unknown';
  const mayBeMirrored = (v: SegmentPosterior): boolean =>
    verdicts.some((w) => w !== v && Math.abs(w.segment.widthM - v.segment.widthM) < OTHER_WIDTH_M);
  if (verdicts.length > 1 && !inOrder && verdicts.some(mayBeMirrored)) {
    out.undecided.push({
      what: 'The passes record different layouts, and nothing in the map shows in which order or which way they were driven.',
      wouldDecide:
        'An export of the same map with the time of each record, or with the records in the order in which they were logged.',
    });
    return;
  }
  if (stripsMisreadAsPasses(f, verdicts)) {
    out.undecided.push({
      what: 'Strips recorded side by side in one pass could not be joined: narrow passes may be sections of wide ones.',
      wouldDecide: 'An export of the same map with one polygon for each section and log interval.',
    });
    return;
  }
  const seen = new Map<Setting, Named>();
  for (const v of verdicts) {
    const e = v.segment;
    const span = passesOf(f.passes, e.from, e.to);
    const width = addObservation(out, {
      kind: 'width',
      says: `Recorded width ${length(e.widthM, u)} over ${plural(e.fullBars, 'full bar')}; ${length(f.layout.workingWidthM, u)} declared.`,
      measuredM: e.widthM,
      expectedM: f.layout.workingWidthM,
      n: e.fullBars,
      share: e.fullBars / Math.max(1, e.to - e.from),
      passes: span,
    });
    if (v.agrees) continue;
    const because = [width, ...sectionObservations(f, out, e, span)];
    if ((v.share.get('other') ?? 0) > NAMED || !v.best) {
      out.undecided.push({
        what: `The recorded layout (${length(e.widthM, u)}, ${plural(e.bands.length, 'section')}) matches no frame that was tried.`,
        wouldDecide:
          'Read the frame, its rows and its sections off the display and check the map with a planter file that declares the same.',
      });
      continue;
    }
    nameSettings(f, v, because, seen);
  }
  const changes = inOrder ? findChanges(f, out, verdicts) : [];
  const agrees = verdicts.some((v) => v.agrees);
  // A change in the middle of the work explains a layout that is wrong from there on; between two jobs or two machines it explains nothing.
  const named = [...seen.values()];
  const foldedIntoChanges = changes.length > 0 && agrees ? named : [];
  for (const n of named) n.finding.says += ` ${sinceWords(f, n.segments, inOrder)}`;
  // On a map of the wrong scale nothing on the ground can be measured.
  if (named.length > 0 && !seen.has('map-units')) named[0].finding.says += guessRowWords(f);
  for (const c of changes) {
    const mine = foldedIntoChanges.filter((n) => n.segments.includes(c.segment) || n.segments.includes(c.before));
    // What is wrong comes before what it was when it changed.
    for (const { finding } of [...mine].reverse()) c.finding.says = `${finding.says} ${c.finding.says}`;
    for (const { finding } of mine) {
      c.finding.check += ` ${finding.check}`;
      c.finding.because.push(...finding.because);
    }
  }
  out.diagnoses.push(
    ...changes.map((c) => c.finding),
    ...named.filter((n) => !foldedIntoChanges.includes(n)).map((n) => n.finding),
  );
}

/**
 * True where strips of one pass were read as passes: they touch, and have several widths; or they are as narrow as sections, and nothing could have joined them.
 * Sections of one pass touch where they lie side by side. Where passes meet, a driver leaves more, one way or the other.
 */
export function stripsMisreadAsPasses(f: Facts, verdicts: readonly SegmentPosterior[]): boolean {
  const { grain, seams, bands, passes } = f;
  if (grain !== 'strip') return false;
  // Every edge of several sections lies where another unit puts it: parts of passes are parts of those.
  const isScaled = ({ best, segment }: SegmentPosterior): boolean =>
    best?.hypothesis.setting === 'map-units' && segment.bands.length > 1 && best.probability >= NAMED;
  if (verdicts.some(isScaled)) return false;
  const isSection = (v: SegmentPosterior): boolean =>
    !v.agrees && v.segment.widthM < SECTION_WIDTH * f.layout.workingWidthM;
  const touching = seams.filter((s) => Math.abs(s.recordedM) < TOUCHES_M && s.spreadM < TOUCHES_M);
  const apart = touching.length === 0 && seams.length >= FEWEST_STRIP_SEAMS;
  if (!f.tellsStripsApart && !apart && f.planter.sections.length > 1 && verdicts.some(isSection)) return true;
  if (verdicts.length < 2 || verdicts.every((v) => v.agrees)) return false;
  const widest = Math.max(...bands.segments.map((e) => e.widthM));
  // A part of a pass is narrower than the pass.
  const isPart = (p: number): boolean =>
    bands.segments[bands.segment[passes.passStart[p]]].widthM < PART_WIDTH * widest;
  return touching.filter((s) => isPart(s.passA) || isPart(s.passB)).length > MISREAD_SHARE * seams.length;
}

/** Names what one segment blames, each setting once for the whole map; settings that record the same name each other. */
function nameSettings(f: Facts, v: SegmentPosterior, because: string[], seen: Map<Setting, Named>): void {
  const e = v.segment;
  // A narrower stretch may also be sections that were off on purpose.
  const sure = changeProbability(e);
  const alike = (setting: Setting): boolean => {
    const rival = v.ranked.find((r) => r.hypothesis.setting === setting)!.hypothesis;
    return recordsTheSame(rival, v.best!.hypothesis, f.grain === 'section');
  };
  const settings = [...v.share]
    .filter((s): s is [Setting, number] => s[0] !== 'none' && s[0] !== 'other')
    .filter(([k, p]) => p >= NAMED_BESIDE || (p >= NAMED_ALIKE && alike(k)))
    .sort((a, b) => b[1] - a[1]);
  // Settings that record the same share one fault: together they must be more likely than not.
  if (sure * settings.reduce((a, [, p]) => a + p, 0) < NAMED) return;
  for (const [setting, p] of settings) {
    const known = seen.get(setting);
    if (known) {
      known.segments.push(e);
      known.finding.because.push(...because);
      known.finding.confidence = Math.max(known.finding.confidence, Math.min(MOST_SURE, p * sure));
      continue;
    }
    const hypothesis = likeliest(v, setting).best;
    const { namesSections } = definitionOf(setting);
    const words = definitionOf(setting).words!(f, hypothesis, e);
    const turned = namesSections && f.passes.travelFrom === 'unknown' ? sideText(f, hypothesis.sections) : '';
    const rivals = settings.filter(([k]) => k !== setting).map(([k]) => k);
    const finding = withRivals(
      {
        setting,
        confidence: Math.min(MOST_SURE, p * sure),
        says: words.says + turned,
        check: words.check,
        because,
        ...(STRIPS_EMPTY.includes(setting) ? { predicts: { openM2: stripsM2(f, e, hypothesis) } } : {}),
      },
      rivals,
    );
    if (STRIPS_EMPTY.includes(setting) && hypothesis.planting !== f.planting.name && !seen.has('planted-rows')) {
      // The empty strips are those of another planting: two settings are wrong, and the rows that plant come first.
      const rows = definitionOf('planted-rows').words!(f, hypothesis, e);
      const { or: _, ...alone } = finding;
      const second: FindingWithPrediction = { ...alone, setting: 'planted-rows', says: rows.says, check: rows.check };
      seen.set('planted-rows', { finding: second, segments: [e] });
    }
    seen.set(setting, { finding, segments: [e] });
  }
}

/** Of one setting the frame that is likeliest, whatever its sections: where records show no sections, one frame has many ways to cut them. */
function likeliest(v: SegmentPosterior, setting: Setting): { best: Hypothesis; probability: number } {
  const frames = new Map<string, { best: Hypothesis; probability: number }>();
  for (const { hypothesis: h, probability } of v.ranked) {
    if (h.setting !== setting) continue;
    const key = [h.frameRows, h.frameSpacingM, h.planting, h.off, h.sections].join();
    const known = frames.get(key);
    if (known) known.probability += probability;
    else frames.set(key, { best: h, probability });
  }
  return [...frames.values()].reduce((a, b) => (b.probability > a.probability ? b : a));
}

/** What is missing at the ends shows as open ground up to this part of the width; a wider strip is a pass that was left out. */
const MOST_OUTER = 0.5;

/** Ground that sections which never record leave open beside the bands of whole bars, square meters. */
function stripsM2(f: Facts, e: Segment, { steersM, widthM }: Hypothesis): number {
  let lengthM = 0;
  for (let b = e.from; b < e.to; b++) if (f.bands.full[b] === 1) lengthM += f.passes.lengthM[b];
  // Between bands, and at the ends of the frame, which is steered at its whole width.
  const holesM = e.bands.reduce((sum, _, i) => sum + (i > 0 ? holeBefore(e, i) : 0), 0);
  const outerM = Math.max(0, steersM - widthM);
  return lengthM * (holesM + (outerM < MOST_OUTER * steersM ? outerM : 0));
}

/** The effect on every guess row of a wrong width that the steering followed, when the seams show it. */
function guessRowWords(f: Facts): string {
  const k = f.stretches[0].planted;
  const gapM = evenGapM(f.planter, f.planting);
  if (k.count < 2 || gapM === null || Math.abs(k.steadyM) < 0.05) return '';
  const u = f.planter.unit;
  const guess = gapM + k.steadyM;
  return guess > 0
    ? ` On the ground the guess rows are ${gap(guess, u)} where ${gap(gapM, u)} was meant.`
    : ` On the ground neighboring passes overlap; the guess row should be ${gap(gapM, u)}.`;
}

/** Since when a setting is wrong: the whole field, or from a place on, or between two. */
function sinceWords(f: Facts, segments: readonly Segment[], inOrder: boolean): string {
  const passes = [...new Set(segments.flatMap((e) => passesOf(f.passes, e.from, e.to)))].sort((a, b) => a - b);
  const bars = segments.reduce((n, e) => n + e.to - e.from, 0);
  if (bars === f.passes.bars) return 'The whole field.';
  const { from } = segments[0];
  const which = `${passes.length === 1 ? 'pass' : 'passes'} ${listNumbers(passes)}`;
  if (!inOrder) return `This affects ${which}.`;
  if (segments.length === 1 && segments[0].to === f.passes.bars) return `Since ${whenWords(f, from)}.`;
  return `This affects ${which}, since ${whenWords(f, from)}.`;
}
