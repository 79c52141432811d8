import type { Finding, Setting } from '../answer.ts';
import type { Segment } from '../observe/types.ts';
import { gapText as gap, lengthText as length } from '../planter/units.ts';
import { passesOf } from '../track/span.ts';
import { MOST_CHANGES, MOST_SURE, NAMED } from './decide.ts';
import { addObservation, type Facts, type Findings, whenWords } from './facts.ts';
import { beliefOf } from './hypothesis.ts';
import { plural } from './phrases.ts';
import { changeProbability, type SegmentPosterior } from './segment-posteriors.ts';

/** Under these the display's belief has not changed. */
const SAME_SETTINGS = new Set<Setting | null>([null, 'section-stuck-off']);

/** Probability that two neighboring segments come of different settings; `main` is the segment of most bars. */
function changeOf(a: SegmentPosterior, b: SegmentPosterior, main: SegmentPosterior): number {
  const kept = (v: SegmentPosterior): number =>
    v.ranked.reduce((s, r) => s + (SAME_SETTINGS.has(r.hypothesis.setting) ? r.probability : 0), 0);
  // Or the belief of the main segment, right or wrong, with sections off.
  const believed = main.best ? beliefOf(main.best.hypothesis) : '';
  const off = (v: SegmentPosterior): number =>
    v.segment.layout === main.segment.layout
      ? 1
      : v.ranked.reduce(
          (s, { hypothesis: h, probability }) => s + (h.off && beliefOf(h) === believed ? probability : 0),
          0,
        );
  return changeProbability(b.segment) * (1 - Math.max(kept(a) * kept(b), off(a) * off(b), sameWithOff(a, b)));
}

const fitsNothing = ({ share, best }: SegmentPosterior): boolean => best === null || (share.get('other') ?? 0) > NAMED;

/** Probability that both come of one wrong belief, in one of them with sections off. */
function sameWithOff(a: SegmentPosterior, b: SegmentPosterior): number {
  let sum = 0;
  for (const { hypothesis: h, probability } of a.ranked)
    for (const r of b.ranked)
      if (h.setting !== null && (h.off || r.hypothesis.off) && beliefOf(h) === beliefOf(r.hypothesis))
        sum += probability * r.probability;
  return sum;
}

/** Two places of a map further apart in time than this are two jobs, milliseconds; without times, further apart on the ground, meters. */
const NEW_JOB_MS = 45 * 60_000;
const NEW_JOB_M = 400;

/** True when the work stopped before bar `b`, and continued later or elsewhere. */
function beginsJob(f: Facts, b: number): boolean {
  const { timeMs, center } = f.passes;
  const pause = timeMs[b] - timeMs[b - 1];
  if (f.columns.timeIsClock && !Number.isNaN(pause)) return pause > NEW_JOB_MS;
  return Math.hypot(center[2 * b] - center[2 * b - 2], center[2 * b + 1] - center[2 * b - 1]) > NEW_JOB_M;
}

/** A change of the recorded layout, and the segments before and after it. */
export interface Change {
  finding: Finding;
  before: Segment;
  segment: Segment;
}

/** Changes of the recorded layout between two bars or passes: when, from what, to what. */
export function findChanges(f: Facts, out: Findings, verdicts: SegmentPosterior[]): Change[] {
  const u = f.planter.unit;
  const list: Change[] = [];
  if (verdicts.length < 2) return list;
  const bars = (v: SegmentPosterior): number => v.segment.to - v.segment.from;
  const main = verdicts.reduce((m, v) => (bars(v) > bars(m) ? v : m));
  for (let i = 1; i < verdicts.length; i++) {
    const a = verdicts[i - 1];
    const b = verdicts[i];
    const when = whenWords(f, b.segment.from);
    const name = (v: SegmentPosterior): string =>
      v.best
        ? `${v.best.hypothesis.rows} rows at ${gap(v.best.hypothesis.rowSpacingM, u)}, ${plural(v.segment.bands.length, 'section')}`
        : `${length(v.segment.widthM, u)}, ${plural(v.segment.bands.length, 'section')}`;
    const id = addObservation(out, {
      kind: 'change',
      says: `Recorded ${length(a.segment.widthM, u)} wide in ${plural(a.segment.bands.length, 'section')} up to there; from ${when} on ${length(b.segment.widthM, u)} in ${plural(b.segment.bands.length, 'section')}.`,
      measuredM: b.segment.widthM,
      expectedM: a.segment.widthM,
      n: b.segment.fullBars,
      share: (b.segment.to - b.segment.from) / Math.max(1, f.passes.bars),
      passes: passesOf(f.passes, b.segment.from, b.segment.to),
    });
    const sure = changeOf(a, b, main);
    // What fits no frame may be misread: it leaves the verdict open, and is no change.
    if (sure < NAMED || beginsJob(f, b.segment.from) || fitsNothing(a) || fitsNothing(b)) continue;
    const right =
      a.agrees === b.agrees
        ? 'compare both with the planter'
        : a.agrees
          ? 'the first part agrees with the planter'
          : 'the second part agrees with the planter';
    const finding: Finding = {
      setting: 'changed-midway',
      confidence: Math.min(MOST_SURE, sure),
      says: `The recorded layout changed: ${name(a)} at first, and from ${when} on ${name(b)}; ${right}.`,
      check:
        'Ask what was entered, loaded or reset on the display at that moment, and read the frame, the rows that plant and the sections off its setup screens now.',
      because: [id],
    };
    list.push({ finding, before: a.segment, segment: b.segment });
  }
  return list.length > MOST_CHANGES ? [] : list;
}
