import type { Finding } from '../answer.ts';
import { logT, median, medianHalf95, robustSd } from '../geometry/stats.ts';
import { runText } from '../planter/index.ts';
import { distanceText, gapText as gap, lengthText as length } from '../planter/units.ts';
import { priorOf } from '../priors.ts';
import type { End } from '../switching/index.ts';
import { type Facts, type Findings, NO_EFFECT, observe } from './facts.ts';
import { percent, plural } from './words.ts';

/** Fewest ends of passes, of each kind, that say anything about starting and stopping. */
const FEWEST_ENDS = 4;
/** An end is known no better than one log interval, and no offset below this shows; metres. */
const LEAST_OFFSET_M = 0.5;
/** Starts and stops that both reach less than this onto covered ground overlap on purpose; metres. */
const LEAST_THROUGH_M = 1.5;
/** A section that is wholly on covered ground for less than this over the whole map does not stay on, metres. */
const LEAST_DOUBLED_M = 15;

interface EndPair {
  /** What starts and stops reach onto covered ground alike, metres, and half of its 95 % interval. */
  bothM: number;
  leastM: number;
  barM: number;
  /** Half of (stop - start): how much later than it should every switch comes, metres. */
  lateM: number;
  half95M: number;
  starts: number;
  stops: number;
  limitM: number;
}

/** What beginnings and stops share: offset along travel, delay, and sections that do not switch as they should. */
export function diagnoseSwitching(f: Facts, out: Findings): void {
  if (f.passes.travelFrom === 'unknown' || f.bands.epochs.length === 0) return;
  const facts = besideOverlap(f);
  const l = late(facts);
  const explained = diagnoseSlant(facts, out) || diagnoseControl(facts, out, l);
  if (!explained) diagnoseLate(facts, out, l);
}

/** Part of an outer section over which a seam may overlap before the neighbouring pass, and no headland, is what its ends meet. */
const OVERLAP_SHARE = 0.4;

/** The facts without the ends of outer sections that ride on the neighbouring pass. */
function besideOverlap(f: Facts): Facts {
  const overlapM = Math.abs(f.recordedKinds.alternatingM ?? 0) - f.recordedKinds.steadyM;
  if (!(overlapM > 0)) return f;
  const rides = f.bands.epochs.map(({ bands }) =>
    [0, bands.length - 1].filter((k) => overlapM > OVERLAP_SHARE * (bands[k].rightM - bands[k].leftM)),
  );
  return { ...f, ends: f.ends.filter((e) => !rides[f.bands.epoch[e.bar]]?.includes(e.slot)) };
}

/** Median over the sections of one end of a pass: sections that switch at one edge are one observation, not sixteen. */
function byBar(ends: End[]): { overlapM: number; speed: number; barM: number; pass: number }[] {
  const groups = new Map<number, End[]>();
  for (const e of ends) {
    const g = groups.get(e.bar);
    if (g) g.push(e);
    else groups.set(e.bar, [e]);
  }
  return [...groups.values()].map((g) => ({
    overlapM: median(g.map((e) => e.overlapM)),
    speed: median(g.map((e) => e.speedMPerS)),
    barM: g[0].barM,
    pass: g[0].pass + 1,
  }));
}

type Ends = EndPair & { list: { x: number; speed: number; barM: number; pass: number }[] };

function late(f: Facts): Ends | null {
  const starts = byBar(f.ends.filter((e) => e.kind === 'start'));
  const stops = byBar(f.ends.filter((e) => e.kind === 'stop'));
  if (starts.length < FEWEST_ENDS || stops.length < FEWEST_ENDS) return null;
  const a = starts.map((e) => e.overlapM);
  const b = stops.map((e) => e.overlapM);
  const ma = median(a);
  const mb = median(b);
  const bar = median([...starts, ...stops].map((e) => e.barM));
  // What all ends share both ways (a policy of overlapping or skipping a little) is no fault; only what is late at one end and at the other is.
  const half =
    Math.hypot(
      medianHalf95(Math.max(robustSd(a, ma), 0.02), a.length),
      medianHalf95(Math.max(robustSd(b, mb), 0.02), b.length),
    ) / 2;
  const both = (ma + mb) / 2;
  return {
    bothM: both,
    leastM: Math.min(ma, mb),
    barM: bar,
    lateM: (mb - ma) / 2,
    half95M: half,
    starts: a.length,
    stops: b.length,
    limitM: Math.max(LEAST_OFFSET_M, 0.75 * bar),
    list: [
      ...starts.map((e) => ({ x: both - e.overlapM, speed: e.speed, barM: e.barM, pass: e.pass })),
      ...stops.map((e) => ({ x: e.overlapM - both, speed: e.speed, barM: e.barM, pass: e.pass })),
    ],
  };
}

function diagnoseLate(f: Facts, out: Findings, l: Ends | null): void {
  const u = f.planter.unit;
  if (!l || Math.abs(l.lateM) < l.half95M || Math.abs(l.lateM) < 0.2) return;
  const passes = [...new Set(l.list.map((e) => e.pass))].sort((a, b) => a - b);
  const lateWord = l.lateM > 0;
  const gapId = observe(out, {
    kind: lateWord ? 'end-gap' : 'end-overlap',
    says: `Sections start ${length(Math.abs(l.lateM), u)} ${lateWord ? 'late' : 'early'} (${plural(l.starts, 'start')}).`,
    measuredM: Math.abs(l.lateM),
    expectedM: 0,
    n: l.starts,
    share: 1,
    passes,
  });
  const overId = observe(out, {
    kind: lateWord ? 'end-overlap' : 'end-gap',
    says: `Sections stop ${length(Math.abs(l.lateM), u)} ${lateWord ? 'late' : 'early'} (${plural(l.stops, 'stop')}).`,
    measuredM: Math.abs(l.lateM),
    expectedM: 0,
    n: l.stops,
    share: 1,
    passes,
  });
  if (Math.abs(l.lateM) < l.limitM || Math.abs(l.lateM) < 1.5 * l.half95M) return;
  const how = tellDelay(l.list);
  const d = Math.abs(l.lateM);
  const offset: Finding = {
    setting: 'inline-offset',
    confidence: how.offset,
    says: `Every pass starts and stops ${length(d, u)} too ${lateWord ? 'late' : 'early'}, whatever the speed${how.told ? '' : '; the speeds in this map are too even to tell a distance from a delay. The map fits switch-delay as well'}.`,
    check: `Look at the distance along travel from the antenna or hitch to the row units: it is off by ${length(d, u)}. Measure it on the machine, then record a short strip into a headland and see both ends again.`,
    because: [gapId, overId],
    effect: NO_EFFECT,
  };
  const delay: Finding = {
    setting: 'switch-delay',
    confidence: 1 - how.offset,
    says: `Switching comes ${how.seconds.toFixed(1)} s too ${lateWord ? 'late' : 'early'}: the distance at the ends grows with speed${how.told ? '' : ', or is a fixed distance; the speeds in this map are too even to tell. The map fits inline-offset as well'}.`,
    check: `Look at the times that the display allows for switching on and off: they are off by about ${how.seconds.toFixed(1)} s. Drive into the headland at two speeds and compare the ends.`,
    because: [gapId, overId],
    effect: NO_EFFECT,
  };
  for (const x of [offset, delay])
    if (x.confidence >= 0.15) out.diagnoses.push({ ...x, confidence: Math.min(0.97, x.confidence) });
}

/** What ends that are told apart say less for being neighbours in one pass: the part of their likelihood that counts. */
const TEMPER = 0.7;

/**
 * Probability that the ends are one distance rather than one time: the likelihoods of x = distance and of x = time × speed, both with
 * the spread of switching at log intervals (in proportion to the bar) as a Student t with 4 degrees of freedom, so that wild ends count little.
 */
function tellDelay(list: { x: number; speed: number; barM: number }[]): {
  offset: number;
  seconds: number;
  told: boolean;
} {
  const use = list.filter((e) => e.speed > 0.2);
  if (use.length < 8) return { offset: 0.5, seconds: 0, told: false };
  const weigh = (z: (e: { speed: number }) => number): { value: number; spread: number } => {
    let value = median(use.map((e) => e.x / z(e)));
    let spread = 0;
    for (let round = 0; round < 6; round++) {
      spread = Math.max(
        0.05,
        robustSd(
          use.map((e) => (e.x - value * z(e)) / e.barM),
          0,
        ),
      );
      let top = 0;
      let bottom = 0;
      for (const e of use) {
        const s = spread * e.barM;
        const w = 5 / (4 + ((e.x - value * z(e)) / s) ** 2) / (s * s);
        top += w * z(e) * e.x;
        bottom += w * z(e) ** 2;
      }
      value = top / bottom;
    }
    return { value, spread };
  };
  const distance = weigh(() => 1);
  const time = weigh((e) => e.speed);
  const spread = Math.min(distance.spread, time.spread);
  let odds = 0;
  for (const e of use) {
    const s = spread * e.barM;
    odds += logT((e.x - distance.value) / s, 4) - logT((e.x - time.value * e.speed) / s, 4);
  }
  const offset = 1 / (1 + Math.exp(Math.max(-5, Math.min(5, -TEMPER * odds))));
  return { offset, seconds: Math.abs(time.value), told: offset > 0.85 || offset < 0.15 };
}

/** Recording on over covered ground, all sections or one, and one section that drops out. True when one of these explains the ends. */
function diagnoseControl(f: Facts, out: Findings, l: Ends | null): boolean {
  const u = f.planter.unit;
  let found = false;
  f.bands.epochs.forEach((e, i) => {
    const slots = f.runs[i] ?? [];
    if (slots.length === 0) return;
    const over = slots.map((s) => (s.visits >= 3 ? s.doubledRuns / s.visits : 0));
    // Where sections did shut off they met covered ground too: those places count against.
    const met = slots.map((s, k) => s.doubledRuns / Math.max(1, s.visits, f.ends.filter((x) => x.slot === k).length));
    const on = met.filter((v, k) => v > 0.5 && slots[k].visits >= 3).length;
    const name = (k: number): string => sectionName(f, k, e.bands.length);
    const meters = (k: number): number => slots[k].doubledM;
    // Starts and stops that both reach well over covered ground are no offset: that would cost one what it gives the other.
    const through = l !== null && l.leastM > 0.6 * l.barM && l.bothM - l.half95M > Math.max(LEAST_THROUGH_M, l.barM);
    if (through || (on > 0 && on >= 0.8 * slots.length)) {
      const m2 = slots.reduce((a, s, k) => a + s.doubledM * (e.bands[k].rightM - e.bands[k].leftM), 0);
      const passes = [...new Set(slots.flatMap((s) => s.doubledPasses))].sort((a, b) => a - b);
      const id = observe(out, {
        kind: 'double-coverage',
        says: through
          ? `Starts and stops both reach ${length(l.bothM, u)} over covered ground (${plural(l.starts, 'start')}, ${plural(l.stops, 'stop')}).`
          : `All sections went on recording over covered ground in ${percent(median(met))} of the places where they met it.`,
        measuredM: null,
        expectedM: null,
        n: slots.reduce((a, s) => a + s.doubledRuns, 0),
        share: through ? 1 : median(met),
        passes,
      });
      out.diagnoses.push({
        setting: 'section-control-off',
        confidence: through ? 0.95 : Math.min(0.97, median(met)),
        says: `No section shuts off over covered ground: section control was off, or the headland was not known to it.`,
        check:
          'Look whether automatic section control is on and whether it knows the headland; then drive one pass into covered ground and watch the sections shut off.',
        because: [id],
        effect: { acreCountPct: f.coveredM2 > 0 ? (100 * m2) / f.coveredM2 : null, unplantedM2: null, doubledM2: m2 },
      });
      found = true;
    } else {
      // Where everything stops late, the outer sections reach over covered ground now and then.
      const fewest = l !== null && Math.abs(l.lateM) > l.limitM ? 8 : 3;
      over.forEach((v, k) => {
        // An outer section lies along covered ground wherever a pass does: only its ends tell.
        const outer = k === 0 || k === over.length - 1;
        const rest = median(slots.filter((_, n) => n !== k).map((o) => o.doubledM));
        const runs =
          !outer &&
          slots[k].doubledRuns >= fewest &&
          slots[k].doubledPasses.length >= 2 &&
          meters(k) >= LEAST_DOUBLED_M &&
          rest <= 0.2 * meters(k);
        if (!runs && (fewest > 3 || !overruns(f, k))) return;
        const id = observe(out, {
          kind: 'double-coverage',
          says: `${name(k)} recorded over covered ground in ${slots[k].doubledRuns} of ${plural(slots[k].visits, 'place')}, ${distanceText(meters(k), u)} in all.`,
          measuredM: null,
          expectedM: null,
          n: slots[k].doubledRuns,
          share: v,
          passes: slots[k].doubledPasses,
        });
        out.diagnoses.push({
          setting: 'section-stuck-on',
          confidence: Math.min(
            0.97,
            1 - 0.5 ** Math.max(slots[k].doubledRuns, f.ends.filter((x) => x.slot === k).length / 2),
          ),
          says: `${name(k)} does not shut off over covered ground while the others do.`,
          check: `Look at that section's switch, valve, clutch or motor and at its override on the display; then drive into covered ground and watch whether it shuts off with its neighbours.`,
          because: [id],
          effect: { ...NO_EFFECT, doubledM2: meters(k) * (e.bands[k].rightM - e.bands[k].leftM) },
        });
      });
    }
    slots.forEach((s, k) => {
      if (s.longestDropM < 15 || s.droppedM < 0.02 * (s.recordedM + s.droppedM)) return;
      const width = e.bands[k].rightM - e.bands[k].leftM;
      const id = observe(out, {
        kind: 'section-dropout',
        says: `${name(k)} is off between two sections that are on over ${distanceText(s.droppedM, u)} (${plural(s.droppedRuns, 'stretch', 'stretches')}, the longest ${distanceText(s.longestDropM, u)}).`,
        measuredM: s.droppedM,
        expectedM: 0,
        n: s.droppedRuns,
        share: s.droppedM / (s.recordedM + s.droppedM),
        passes: s.droppedPasses,
      });
      out.diagnoses.push({
        setting: 'section-stuck-off',
        confidence: 0.95,
        says: `${name(k)} drops out over long runs of open ground; its strip, ${gap(width, u)} wide, stays empty there.`,
        check: `Look at that section's wiring, switch, clutch or motor, and at its override on the display. Dig behind its rows: if seed lies there, only the map is wrong.`,
        because: [id],
        effect: { ...NO_EFFECT, unplantedM2: s.droppedM * width },
      });
    });
  });
  return found;
}

/** Slopes at slanted edges scatter by this about 1, 0 and -1: bars are as long as the slants that show. */
const SLOPE_BLUR = 0.2;

/** How the places where sections switch follow a slanted edge: 1 each at its own place, 0 all together, -1 in mirrored order. */
interface Slant {
  slope: number;
  /** Standard error of the slope. */
  se: number;
  edges: number;
  passes: number[];
}

/** Over every beginning and stop where the edge of covered ground is slanted by more than a log interval across the planter. */
function slantOf(f: Facts): Slant | null {
  const groups = new Map<string, Map<number, End>>();
  for (const e of f.ends) {
    const key = `${e.pass} ${e.kind}`;
    let g = groups.get(key);
    if (!g) {
      g = new Map();
      groups.set(key, g);
    }
    // The first beginning and the last stop of each section bound the pass.
    if (!g.has(e.slot) || e.kind === 'stop') g.set(e.slot, e);
  }
  const list: { slope: number; weight: number; pass: number }[] = [];
  for (const g of groups.values()) {
    const ends = [...g.values()];
    if (ends.length < 3) continue;
    const sign = ends[0].kind === 'stop' ? 1 : -1;
    const along = ends.map((e) => sign * placeAlong(f, e));
    const edge = ends.map((e, i) => along[i] - e.overlapM);
    const bar = median(ends.map((e) => e.barM));
    if (Math.max(...edge) - Math.min(...edge) < 0.9 * bar) continue;
    const ma = along.reduce((x, v) => x + v, 0) / along.length;
    const me = edge.reduce((x, v) => x + v, 0) / edge.length;
    let cov = 0;
    let vari = 0;
    edge.forEach((v, i) => {
      cov += (along[i] - ma) * (v - me);
      vari += (v - me) ** 2;
    });
    list.push({ slope: cov / vari, weight: vari / (bar * bar), pass: ends[0].pass + 1 });
  }
  // A few slanted corners in a square field say nothing about its edges.
  if (list.length < 4 || list.length < 0.3 * groups.size) return null;
  // Longer slants tell more. The weighted middle one: a corner where two runs of the headland meet may give any slope.
  list.sort((x, y) => x.slope - y.slope);
  const half = list.reduce((x, v) => x + v.weight, 0) / 2;
  let sum = 0;
  const slope = list.find((v) => {
    sum += v.weight;
    return sum >= half;
  })!.slope;
  const se =
    medianHalf95(
      robustSd(
        list.map((v) => v.slope),
        slope,
      ),
      list.length,
    ) / 1.96;
  return { slope, se, edges: list.length, passes: [...new Set(list.map((v) => v.pass))].sort((x, y) => x - y) };
}

/** At slanted edges sections shut off one after the other; all at once means no section control, the other way round a mirrored order. */
function diagnoseSlant(f: Facts, out: Findings): boolean {
  if (f.bands.epochs.length !== 1 || f.bands.epochs[0].bands.length < 3) return false;
  const s = slantOf(f);
  if (!s) return false;
  // Sections in order follow the edge with slope 1, all together with 0, in mirrored order with -1; quantised to bars, seldom exactly.
  const blur = Math.hypot(s.se, SLOPE_BLUR);
  const likely = (slope: number, prior: number): number => prior * Math.exp(-0.5 * ((s.slope - slope) / blur) ** 2);
  const off = likely(0, priorOf('section-control-off'));
  const mirrored = likely(-1, priorOf('section-order'));
  const all = off + mirrored + likely(1, 1);
  const together = off > mirrored;
  const sure = Math.max(off, mirrored) / all;
  if (sure < 0.75) return false;
  const id = observe(out, {
    kind: together ? 'double-coverage' : 'end-gap',
    says: `At ${plural(s.edges, 'slanted edge')} the sections shut off ${together ? 'all together instead of one after the other' : 'in the opposite order to the one in which they reach it'}.`,
    measuredM: null,
    expectedM: null,
    n: s.edges,
    share: 1,
    passes: s.passes,
  });
  out.diagnoses.push(
    together
      ? {
          setting: 'section-control-off',
          confidence: Math.min(0.97, sure),
          says: 'At slanted edges all sections start and stop together: section control was off, or the sections were not switched one by one.',
          check:
            'Look whether automatic section control is on and whether it knows the headland; then drive one pass into a slanted edge and watch the sections shut off one after the other.',
          because: [id],
          effect: NO_EFFECT,
        }
      : {
          setting: 'section-order',
          confidence: Math.min(0.97, sure),
          says: 'The sections shut off in mirrored order: section 1 is taken for the last one.',
          check:
            'Look at the order of the sections in the section setup and at the plugs of the section wiring: section 1 must be the leftmost facing travel. Switch section 1 alone and see which rows stop.',
          because: [id],
          effect: NO_EFFECT,
        },
  );
  return true;
}

/** Place of an end along travel, metres from the pass's first bar, on a straight line through the end's own bar. */
function placeAlong(f: Facts, e: End): number {
  const p = f.passes;
  const first = p.passStart[e.pass];
  const tx = -p.right[2 * e.bar + 1];
  const ty = p.right[2 * e.bar];
  return (
    (p.centre[2 * e.bar] - p.centre[2 * first]) * tx +
    (p.centre[2 * e.bar + 1] - p.centre[2 * first + 1]) * ty +
    e.alongM
  );
}

/** Fewest ends at which a section is held against the others of the same bar, and the part of them that must reach further. */
const FEWEST_PAIRED = 6;
const PAIRED_SHARE = 0.8;

/** True when one section reaches further over covered ground than the others at the same end of a pass, by a log interval and nearly always. */
function overruns(f: Facts, slot: number): boolean {
  if (f.bands.epochs.length !== 1) return false;
  const rest = new Map<string, number[]>();
  for (const e of f.ends) {
    if (e.slot === slot) continue;
    const key = `${e.pass} ${e.kind}`;
    rest.set(key, [...(rest.get(key) ?? []), e.overlapM]);
  }
  const further = { start: [] as number[], stop: [] as number[] };
  const seen = new Set<string>();
  for (const e of f.ends) {
    const key = `${e.pass} ${e.kind}`;
    const others = rest.get(key);
    if (e.slot !== slot || !others || others.length < 2 || seen.has(key)) continue;
    seen.add(key);
    further[e.kind].push((e.overlapM - median(others)) / e.barM);
  }
  const all = [...further.start, ...further.stop];
  return (
    all.length >= FEWEST_PAIRED &&
    Math.min(further.start.length, further.stop.length) >= 2 &&
    median(all) > 1 &&
    all.filter((d) => d > 0.5).length >= PAIRED_SHARE * all.length
  );
}

/** "Section 3 (rows 5-6)" when the recorded sections are as many as the declared ones, else "The 3rd recorded section from the left". */
function sectionName(f: Facts, k: number, count: number): string {
  const planting = f.layout.sectionBands.flatMap((b, i) => (b ? [i] : []));
  if (planting.length !== count) return `Recorded section ${k + 1} from the left`;
  const s = f.planter.sections[planting[k]];
  return `Section ${planting[k] + 1} (${runText(s)})`;
}
