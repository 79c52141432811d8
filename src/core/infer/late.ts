import type { Finding } from '../answer.ts';
import { logT, median, medianHalf95, robustSd } from '../geometry/stats.ts';
import type { End } from '../observe/index.ts';
import { lengthText as length } from '../planter/units.ts';
import { type Facts, type Findings, NO_EFFECT, observe } from './facts.ts';
import { plural } from './words.ts';

/** Fewest ends of passes, of each kind, that say anything about starting and stopping. */
export const FEWEST_ENDS = 4;
/** An end is known no better than one log interval, and no offset below this shows; metres. */
const LEAST_OFFSET_M = 0.5;

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

export type Ends = EndPair & { list: { x: number; speed: number; barM: number; pass: number }[] };

/** What the beginnings and the stops of the passes share; null where there are too few of either. */
export function late(f: Facts): Ends | null {
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

/** Sections that switch early or late throughout: an offset along travel, or a delay. */
export function diagnoseLate(f: Facts, out: Findings, l: Ends | null): void {
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
    says: `Every pass starts and stops ${length(d, u)} too ${lateWord ? 'late' : 'early'}, whatever the speed${how.told ? '' : '; the speeds in this map are too even to tell a distance from a delay. The map would look the same with another cause: the switching delay'}.`,
    check: `Look at the distance along travel from the antenna or hitch to the row units: it is off by ${length(d, u)}. Measure it on the machine, then record a short strip into a headland and see both ends again.`,
    because: [gapId, overId],
    effect: NO_EFFECT,
  };
  const delay: Finding = {
    setting: 'switch-delay',
    confidence: 1 - how.offset,
    says: `Switching comes ${how.seconds.toFixed(1)} s too ${lateWord ? 'late' : 'early'}: the distance at the ends grows with speed${how.told ? '' : ', or is a fixed distance; the speeds in this map are too even to tell. The map would look the same with another cause: the offset along travel'}.`,
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
