import type { Finding } from '../answer.ts';
import { median } from '../geometry/stats.ts';
import type { End, SlotStates } from '../observe/index.ts';
import { listNumbers, runText } from '../planter/index.ts';
import { areaText, distanceText, gapText as gap, lengthText as length } from '../planter/units.ts';
import { groupBy } from '../shared/groups.ts';
import {
  DOUBTED,
  FEWEST_PASSES,
  FEWEST_PLACES,
  LEAST_ALIKE,
  LEAST_DELAY_S,
  LEAST_DROPPED,
  LEAST_OFFSET_M,
  LEAST_SPARED,
  LEAST_STUCK_M,
  LOOKS_AHEAD_S,
  MOST_DROPPED,
  MOST_SURE,
  NAMED,
  NAMED_BESIDE,
  UNSEEN_EARLY_M,
} from './decide.ts';
import { dropoutProbabilities } from './dropouts.ts';
import { addObservation, type Facts, type Findings, scaleOf, withRivals } from './facts.ts';
import { USUAL_INTERVAL_M } from './noise.ts';
import { plural } from './phrases.ts';
import { type Behavior, judgeSections, type SectionsPosterior } from './sections.ts';
import { inlineOffsetWords } from './settings/inline-offset.ts';
import { controlOffWords } from './settings/section-control-off.ts';
import { orderWords } from './settings/section-order.ts';
import { stuckOnWords } from './settings/section-stuck-on.ts';
import { switchDelayWords } from './settings/switch-delay.ts';
import { CHECK_SECTION } from './settings/wording.ts';
import { type TimingPosterior, timingPosterior, usualSpeed } from './timing.ts';
import { timingEitherWay } from './travel.ts';

/** Diagnoses about when sections switch: section control, their order, one that stays on or drops out, an offset along travel, a delay. */
export function diagnoseSwitching(f: Facts, out: Findings): void {
  if (f.bands.segments.length === 0) return;
  const strips = f.grain === 'strip';
  const travelKnown = f.passes.travelFrom !== 'unknown';
  if (!travelKnown && !strips) return;
  const rides = ridingSlots(f);
  let ends = f.ends.filter((e) => !rides[f.bands.segment[e.bar]]?.includes(e.slot));
  let explained = false;
  f.bands.segments.forEach((_, i) => {
    const mine = ends.flatMap((e) => (f.bands.segment[e.bar] !== i ? [] : strips ? { ...e, ...UNSEEN_LOG } : e));
    const judged = judgeSegment(f, i, mine, rides[i]);
    const best = judged?.ranked[0];
    const named = judged && best && isNamed(f, i, mine, judged) ? best.of : null;
    if (judged && named) {
      sectionFinding(f, out, { segment: i, ends: mine, of: named, judged });
      // If all sections switch together, or each in the place of another, the places do not show the timing.
      if (named.kind === 'control-off' || named.kind === 'order') explained = true;
      else if (named.kind === 'stuck-on')
        ends = ends.filter((e) => e.slot !== named.slot || f.bands.segment[e.bar] !== i);
    }
    if (judged && named?.kind !== 'control-off') doubtControl(f, out, i, judged, mine);
    if (judged && !named) doubtStuck(f, out, i, judged, mine);
    // In a wrong order sections are off where they should be on: that is not a dropout.
    if (named?.kind !== 'order') diagnoseDropouts(f, out, i);
  });
  if (explained) return;
  const byHand = f.bands.segments.every((s) => s.bands.length === 1);
  const scaled = strips ? toScale(f, ends).flatMap((e) => (e.corner ? [] : { ...e, ...UNSEEN_LOG })) : toScale(f, ends);
  const l = travelKnown ? timingPosterior(scaled, byHand) : timingEitherWay(f.passes, scaled, byHand);
  if (l) diagnoseLateness(f, out, l, scaled);
}

/** What the sections of one segment did at covered ground; those in `rides` overlap the neighboring pass and show nothing. */
function judgeSegment(f: Facts, i: number, ends: readonly End[], rides: readonly number[]): SectionsPosterior | null {
  const visits = f.states.visits
    .filter((v) => v.segment === i)
    .map((v) => ({ ...v, onShare: v.onShare.map((s, k) => (rides.includes(k) ? Number.NaN : s)) }));
  const edges = f.fieldEnds.filter((e) => f.bands.segment[e.bar] === i);
  return judgeSections(f.passes, f.bands.segments[i].bands, visits, ends, edges, f.planter.sections.length);
}

/** Whether the likeliest behavior is a fault that enough places and enough ground show. */
function isNamed(f: Facts, i: number, ends: readonly End[], judged: SectionsPosterior): boolean {
  const { of, probability } = judged.ranked[0];
  if (probability < NAMED || !isBorne(judged, of)) return false;
  if (of.kind === 'control-off') {
    // Records of the whole width show section control at the ends of passes alone: a pass that lies wholly on covered ground is planted over.
    const shows = f.bands.segments[i].bands.length > 1 || ends.length > 0;
    return shows && sparedM2(f, i, ends) >= LEAST_SPARED * f.coveredM2;
  }
  // Two sections that are exchanged can be named only where left and right are known; a mirrored order is the same from both sides.
  if (of.kind === 'order') return of.mirrored || f.passes.travelFrom !== 'unknown';
  return of.kind !== 'stuck-on' || stuckM(f, i, of.slot, ends) >= LEAST_STUCK_M;
}

/** Section control that may have been off, less likely than not, leaves the verdict open where it would explain ground. */
function doubtControl(f: Facts, out: Findings, segment: number, j: SectionsPosterior, ends: readonly End[]): void {
  const { probability = 0 } = j.ranked.find((r) => r.of.kind === 'control-off') ?? {};
  const m2 = sparedM2(f, segment, ends);
  if (probability < DOUBTED || m2 < LEAST_SPARED * f.coveredM2) return;
  out.undecided.push({
    what: `Passes begin and stop on covered ground, ${areaText(m2, f.planter.unit)} in all: section control may have been off, or the overlap was intentional.`,
    wouldDecide:
      'Ask whether section control was on and which overlap was set; or drive one pass into covered ground and watch the sections shut off.',
  });
}

/** A section that may stay on, less likely than not, leaves the verdict open where it would explain ground. */
function doubtStuck(f: Facts, out: Findings, segment: number, j: SectionsPosterior, ends: readonly End[]): void {
  const likeliest = j.ranked.find((r) => r.of.kind === 'stuck-on');
  if (likeliest?.of.kind !== 'stuck-on' || likeliest.probability < DOUBTED) return;
  const { slot } = likeliest.of;
  const onM = stuckM(f, segment, slot, ends);
  if (onM < LEAST_STUCK_M) return;
  out.undecided.push({
    what: `${sectionName(f, slot, f.bands.segments[segment].bands.length)} records over covered ground where the others have shut off, ${distanceText(onM, f.planter.unit)} in all: it may stay on.`,
    wouldDecide: 'Drive into covered ground and watch whether that section shuts off with its neighbors.',
  });
}

/** The ends as they lie on the ground: where the map is drawn in the wrong unit, its distances and speeds are too. */
function toScale(f: Facts, ends: readonly End[]): readonly End[] {
  const scale = scaleOf(f);
  if (scale === 1) return ends;
  return ends.map((e) => ({
    ...e,
    overlapM: e.overlapM / scale,
    speedMPerS: e.speedMPerS / scale,
    intervalBeforeM: e.intervalBeforeM / scale,
    intervalAfterM: e.intervalAfterM / scale,
  }));
}

/** Strips were cut by us and not by the log: nothing is known of its intervals. */
const UNSEEN_LOG = {
  speedMPerS: Number.NaN,
  intervalBeforeM: USUAL_INTERVAL_M,
  intervalAfterM: USUAL_INTERVAL_M,
  cutShare: Number.NaN,
};

const isBorne = (j: SectionsPosterior, of: Behavior): boolean =>
  of.kind !== 'right' && of.kind !== 'other' && j.bearing >= FEWEST_PLACES && j.bearingPasses.length >= FEWEST_PASSES;

/**
 * Ground that sections of a segment covered again where they could have been off, square meters: over the whole width of a section, and where passes
 * begin and stop on covered ground.
 */
function sparedM2(f: Facts, segment: number, ends: readonly End[]): number {
  const { bands } = f.bands.segments[segment];
  const widthM = (k: number): number => bands[k].rightM - bands[k].leftM;
  const atVisits = (f.states.slots[segment] ?? []).reduce((a, s, k) => a + s.doubledM * widthM(k), 0);
  return atVisits + ends.reduce((a, e) => a + Math.max(0, e.overlapM) * widthM(e.slot), 0);
}

/** Travel over which one section recorded on covered ground where the others had shut off, meters. */
function stuckM(f: Facts, segment: number, slot: number, ends: readonly End[]): number {
  const keyOf = (e: End): string => `${e.pass} ${e.kind}`;
  const others = groupBy(
    ends.filter((e) => e.slot !== slot),
    keyOf,
  );
  return ends.reduce((sum, e) => {
    const beside = e.slot === slot ? others.get(keyOf(e)) : undefined;
    if (!beside) return sum;
    return sum + Math.max(0, e.overlapM - Math.max(0, median(beside.map((o) => o.overlapM))));
  }, f.states.slots[segment]?.[slot]?.doubledM ?? 0);
}

/** Probability of all ways of one setting together: any wrong order counts for the setting. */
const kindProbability = (j: SectionsPosterior, of: Behavior): number =>
  j.ranked.reduce((s, r) => s + (r.of.kind === of.kind ? r.probability : 0), 0);

/** Part of an outer section over which a seam may overlap before the neighboring pass, instead of a headland, is what its ends meet. */
const OVERLAP_SHARE = 0.4;

/** Outer sections that overlap the neighboring pass, by segment: what they meet there is a seam. */
function ridingSlots(f: Facts): number[][] {
  return f.bands.segments.map(({ bands }, segment) => {
    const recorded = f.stretches.find((s) => s.segment === segment)?.recorded;
    const overlapM = recorded ? Math.abs(recorded.alternatingM ?? 0) - recorded.steadyM : 0;
    return [0, bands.length - 1].filter((k) => overlapM > OVERLAP_SHARE * (bands[k].rightM - bands[k].leftM));
  });
}

export const passWords = (passes: number[]): string =>
  `${passes.length === 1 ? 'pass' : 'passes'} ${listNumbers(passes)}`;

/** What a map shows where section control was off. Records of the whole width show how far passes reach onto covered ground, and no section. */
function controlWords(f: Facts, bands: number, ends: readonly End[]): [found: string, seen: string] {
  if (bands > 1)
    return [
      'All sections went on recording where they met covered ground, or started and stopped together at its slanted edge',
      'No section shut off over covered ground',
    ];
  const reachM = median(ends.map((e) => e.overlapM));
  if (!(reachM > 0)) return ['Passes lie on covered ground', 'Passes record covered ground'];
  const reach = length(reachM, f.planter.unit);
  return [`Passes start and stop ${reach} onto covered ground`, `Passes reach ${reach} onto covered ground`];
}

function sectionFinding(
  f: Facts,
  out: Findings,
  { segment, ends, of, judged: j }: { segment: number; ends: readonly End[]; of: Behavior; judged: SectionsPosterior },
): void {
  const u = f.planter.unit;
  const { bands } = f.bands.segments[segment];
  const confidence = kindProbability(j, of);
  const places = plural(j.bearing, 'place');
  const where = `${places} in ${passWords(j.bearingPasses)}`;
  const observation = (kind: 'double-coverage' | 'end-gap', says: string): string =>
    addObservation(out, {
      kind,
      says,
      measuredM: null,
      expectedM: null,
      n: j.bearing,
      share: j.bearing / Math.max(1, j.visits + j.slantedEnds),
      passes: j.bearingPasses,
    });
  if (of.kind === 'control-off') {
    const [found, seen] = controlWords(f, bands.length, ends);
    out.diagnoses.push({
      setting: 'section-control-off',
      confidence: Math.min(MOST_SURE, confidence),
      ...controlOffWords(found, where),
      predicts: { twiceM2: sparedM2(f, segment, ends) },
      because: [observation('double-coverage', `${seen} in ${places}.`)],
    });
  } else if (of.kind === 'order') {
    const moved = of.order.flatMap((to, k) => (to === k ? [] : [k]));
    const pair: [string, string] | null =
      moved.length === 2
        ? [sectionName(f, moved[0], bands.length), sectionName(f, moved[1], bands.length, false)]
        : null;
    out.diagnoses.push({
      setting: 'section-order',
      confidence: Math.min(MOST_SURE, confidence),
      ...orderWords(of.mirrored, pair, where),
      because: [
        observation(
          'end-gap',
          `At ${places} sections shut off in another order than the one in which they reach the edge.`,
        ),
      ],
    });
  } else if (of.kind === 'stuck-on') {
    const k = of.slot;
    const name = sectionName(f, k, bands.length);
    const other = bands.length - 1 - k;
    const orOther = f.passes.travelFrom === 'unknown' && other !== k ? sectionName(f, other, bands.length, false) : '';
    const beyondM = stuckM(f, segment, k, ends);
    out.diagnoses.push({
      setting: 'section-stuck-on',
      confidence: Math.min(MOST_SURE, confidence),
      ...stuckOnWords(name, where, orOther),
      predicts: { twiceM2: beyondM * (bands[k].rightM - bands[k].leftM) },
      because: [
        observation(
          'double-coverage',
          `${name} recorded over covered ground at ${places}, ${distanceText(beyondM, u)} in all.`,
        ),
      ],
    });
  }
}

function diagnoseDropouts(f: Facts, out: Findings, segment: number): void {
  const u = f.planter.unit;
  const slots: SlotStates[] = f.states.slots[segment] ?? [];
  const { bands } = f.bands.segments[segment];
  const confidences = dropoutProbabilities(slots.map((s) => s.drops));
  const dropped = slots.map(({ recordedM, drops }) => {
    const droppedM = drops.reduce((a, d) => a + d.lengthM, 0);
    return {
      droppedM,
      share: droppedM / (recordedM + droppedM),
      longestM: Math.max(0, ...drops.map((d) => d.lengthM)),
      passes: [...new Set(drops.map((d) => d.pass))],
    };
  });
  const isOut = (k: number): boolean => confidences[k] >= NAMED && dropped[k].share >= LEAST_DROPPED;
  if (slots.filter((_, k) => isOut(k)).length > MOST_DROPPED) return;
  slots.forEach((s, k) => {
    if (!isOut(k)) return;
    const { droppedM, share, longestM, passes } = dropped[k];
    const name = sectionName(f, k, bands.length);
    const width = bands[k].rightM - bands[k].leftM;
    const id = addObservation(out, {
      kind: 'section-dropout',
      says: `${name} is off over ${distanceText(droppedM, u)} of ground that stayed open between covered ground (${plural(s.drops.length, 'stretch', 'stretches')}, the longest ${distanceText(longestM, u)}).`,
      measuredM: droppedM,
      expectedM: 0,
      n: s.drops.length,
      share,
      passes,
    });
    out.diagnoses.push({
      setting: 'section-stuck-off',
      confidence: Math.min(MOST_SURE, confidences[k]),
      says: `${name} drops out over long runs of open ground in ${passWords(passes)}; its strip, ${gap(width, u)} wide, stays empty there.`,
      check: CHECK_SECTION,
      because: [id],
      predicts: { openM2: droppedM * width },
    });
  });
}

/** Sections that switch early or late throughout: an offset along travel, or a delay. */
function diagnoseLateness(f: Facts, out: Findings, l: TimingPosterior, ends: readonly End[]): void {
  const u = f.planter.unit;
  // What a display that looks ahead may draw is no fault by itself, however well something else explains it.
  const mayBeEarly = l.lateM < 0 || f.passes.travelFrom === 'unknown';
  const unseenM = f.grain === 'strip' ? UNSEEN_EARLY_M : 0;
  const looksAhead = mayBeEarly && Math.abs(l.lateM) < LOOKS_AHEAD_S * usualSpeed(ends) + unseenM;
  const isNamed = l.offset + l.delay >= NAMED && l.alike >= LEAST_ALIKE && !looksAhead;
  const distance = Math.abs(l.offsetM.mean);
  const seconds = Math.abs(l.delayS.mean);
  if (distance < LEAST_OFFSET_M && seconds < LEAST_DELAY_S) return;
  const isLate = l.lateM > 0;
  const word = isLate ? 'late' : 'early';
  if (!isNamed) {
    if (l.offset + l.delay >= (l.alike >= LEAST_ALIKE ? DOUBTED : NAMED))
      out.undecided.push({
        what: `Passes start and stop ${length(Math.abs(l.lateM), u)} ${word} (${plural(l.starts, 'start')}, ${plural(l.stops, 'stop')}): an offset along travel or a switching delay may be wrong, or ${isLate ? 'the operator switched' : 'it is the look-ahead of the display, or the operator switched'} them so on purpose.`,
        wouldDecide:
          'Measure the distance from the antenna or hitch to the row units and compare it with the display; or drive into the headland at two speeds and compare the ends.',
      });
    return;
  }
  const observation = (kind: 'start' | 'stop', n: number): string =>
    addObservation(out, {
      kind: isLate === (kind === 'start') ? 'end-gap' : 'end-overlap',
      says: `Sections ${kind} ${length(Math.abs(l.lateM), u)} ${word} (${plural(n, kind)}).`,
      measuredM: Math.abs(l.lateM),
      expectedM: 0,
      n,
      share: 1,
      passes: l.passes.map((p) => f.passes.number[p]),
    });
  const because = [observation('start', l.starts), observation('stop', l.stops)];
  const alike = l.offset >= NAMED_BESIDE && l.delay >= NAMED_BESIDE;
  const hasTimes = ends.some((e) => !Number.isNaN(e.speedMPerS));
  const why = hasTimes
    ? 'the speeds in this map are too even to distinguish a distance from a delay'
    : 'without times a distance looks like a delay';
  const either = f.passes.travelFrom === 'unknown';
  const orLate = either
    ? ` Nothing in the map shows which way the passes were driven: it could be too ${isLate ? 'early' : 'late'} by the same amount.`
    : '';
  const between = (low: number, high: number, text: (v: number) => string): string =>
    `between ${text(Math.min(Math.abs(low), Math.abs(high)))} and ${text(Math.max(Math.abs(low), Math.abs(high)))}`;
  const time = (s: number): string => `${s.toFixed(1)} s`;
  const offset: Finding = {
    setting: 'inline-offset',
    confidence: Math.min(MOST_SURE, l.offset),
    ...inlineOffsetWords(
      length(distance, u),
      isLate,
      between(l.offsetM.low, l.offsetM.high, (v) => length(v, u)),
      alike ? why : '',
      orLate,
    ),
    because,
  };
  const delay: Finding = {
    setting: 'switch-delay',
    confidence: Math.min(MOST_SURE, l.delay),
    ...switchDelayWords(time(seconds), isLate, between(l.delayS.low, l.delayS.high, time), alike ? why : '', orLate),
    because,
  };
  const named = [offset, delay].filter((d) => d.confidence >= NAMED_BESIDE);
  for (const d of named)
    out.diagnoses.push(
      withRivals(
        d,
        named.flatMap(({ setting }) => (setting === d.setting ? [] : [setting])),
      ),
    );
}

/** "Section 3 (rows 5-6)" when the recorded sections are as many as the declared ones, else "Recorded section 3 from the left". */
export function sectionName(f: Facts, k: number, count: number, first = true): string {
  const planting = f.layout.sectionBands.flatMap((b, i) => (b ? [i] : []));
  const name =
    planting.length !== count
      ? `Recorded section ${k + 1} from the left`
      : `Section ${planting[k] + 1} (${runText(f.planter.sections[planting[k]])})`;
  return first ? name : name[0].toLowerCase() + name.slice(1);
}
