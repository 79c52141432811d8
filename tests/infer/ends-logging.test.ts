/**
 * Ends of passes as displays log them, drawn from common practice and not from the code: a record is cut where a section
 * switches, or the state of a whole interval is that of its beginning or its end; a display looks ahead by up to a second; some planters
 * are lifted anywhere. How late an end is drawn is then arithmetic.
 */
import { describe, expect, it } from 'vitest';
import { timingPosterior } from '../../src/core/infer/timing.ts';
import type { End } from '../../src/core/observe/index.ts';
import { Random } from '../generator/random.ts';

interface Way {
  logged: 'cut' | 'beginning' | 'end';
  everyS: number;
  lookAheadS: number;
  /** Spread of the speed over the passes, a factor either way. */
  speeds: number;
  plannedM: number;
  offsetM: number;
  delayS: number;
  passes: number;
}

function drawEnds(random: Random, w: Way): End[] {
  const ends: End[] = [];
  for (let pass = 0; pass < w.passes; pass++) {
    const speed = 2.2 * Math.exp(random.between(-1, 1) * Math.log(w.speeds));
    for (const kind of ['start', 'stop'] as const) {
      const bar = 100 * pass + (kind === 'stop' ? 50 : 0);
      const interval = speed * w.everyS;
      // Phase of the log at the true switch: sampled states wait for the next instant, or are carried back to the last one.
      const phase = random.next();
      const logged = w.logged === 'cut' ? 0 : w.logged === 'beginning' ? phase * interval : -phase * interval;
      const late = w.offsetM + (w.delayS - w.lookAheadS) * speed + logged + 0.08 * random.normal();
      const wild = random.next() < 0.08;
      ends.push({
        pass,
        slot: 0,
        kind,
        bar,
        corner: false,
        alongM: 0,
        overlapM: wild ? random.between(-8, 8) : w.plannedM + (kind === 'stop' ? late : -late),
        speedMPerS: speed * (1 + 0.03 * random.normal()),
        intervalBeforeM: interval,
        intervalAfterM: interval,
        cutShare: w.logged === 'cut' ? random.between(0.05, 1) : 1 + 0.04 * random.normal(),
      });
    }
  }
  return ends;
}

const drawWay = (random: Random): Way => ({
  logged: (['cut', 'beginning', 'end'] as const)[Math.floor(random.between(0, 3))],
  everyS: random.between(0.2, 1.5),
  lookAheadS: random.next() < 0.5 ? 0 : random.between(0, 1),
  speeds: 1.5,
  plannedM: random.between(-0.3, 0.8),
  offsetM: 0,
  delayS: 0,
  passes: 8 + Math.floor(random.between(0, 25)),
});

const rounds = 60;
/** A 95 % interval holds the truth in this part of the rounds at least: three standard deviations of a binomial count below 95 %. */
const HELD = 0.95 - 3 * Math.sqrt((0.95 * 0.05) / rounds);

describe('ends of healthy maps, however they were logged', () => {
  it('name neither an offset nor a delay', () => {
    const random = new Random(41);
    let blamed = 0;
    for (let k = 0; k < rounds; k++) {
      const l = timingPosterior(drawEnds(random, drawWay(random)), false)!;
      if (l.offset + l.delay >= 0.5) blamed++;
    }
    expect(blamed).toBeLessThanOrEqual(2);
  });

  it('name neither where the display leaves a tenth of a second or two of what clutch and hydraulics take', () => {
    // At 3 m/s that is half a meter at every end (common practice); records are cut at the switch, so that nothing hides it.
    const random = new Random(47);
    let blamed = 0;
    for (let k = 0; k < rounds; k++) {
      const way: Way = {
        ...drawWay(random),
        logged: 'cut',
        lookAheadS: 0,
        speeds: 1.2,
        delayS: random.between(0.05, 0.2),
      };
      const l = timingPosterior(drawEnds(random, way), false)!;
      if (l.offset + l.delay >= 0.5) blamed++;
    }
    expect(blamed).toBeLessThanOrEqual(2);
  });
});

describe('an offset along travel beyond what logging and look-ahead explain', () => {
  it('is found, and its interval holds it', () => {
    const random = new Random(42);
    let found = 0;
    let held = 0;
    for (let k = 0; k < rounds; k++) {
      const way = drawWay(random);
      const interval = 2.2 * way.speeds * way.everyS;
      const isLate = random.next() < 0.5;
      way.offsetM = isLate
        ? way.lookAheadS * 2.2 + interval + random.between(0.8, 3)
        : -(2.2 * way.speeds + interval + random.between(0.8, 2));
      const l = timingPosterior(drawEnds(random, way), false)!;
      if (l.offset + l.delay >= 0.5) found++;
      if (l.offsetM.low <= way.offsetM && way.offsetM <= l.offsetM.high) held++;
    }
    expect(found / rounds).toBeGreaterThan(0.95);
    expect(held / rounds).toBeGreaterThan(HELD);
  });
});

describe('a delay', () => {
  it('is distinguished from a distance where speeds differ, and its interval holds it', () => {
    const random = new Random(43);
    let named = 0;
    let held = 0;
    for (let k = 0; k < rounds; k++) {
      const way = { ...drawWay(random), speeds: 1.8, passes: 25 };
      way.everyS = random.between(0.2, 0.6);
      way.delayS = way.lookAheadS + random.between(1.2, 2.2);
      const l = timingPosterior(drawEnds(random, way), false)!;
      if (l.delay > l.offset && l.delay >= 0.5) named++;
      if (l.delayS.low <= way.delayS && way.delayS <= l.delayS.high) held++;
    }
    expect(named / rounds).toBeGreaterThan(0.9);
    expect(held / rounds).toBeGreaterThan(HELD);
  });

  it('looks like a distance without times: both are left', () => {
    const random = new Random(44);
    const way = {
      ...drawWay(random),
      logged: 'cut' as const,
      lookAheadS: 0,
      everyS: 0.5,
      delayS: 1.5,
      speeds: 1.01,
      passes: 20,
    };
    const ends = drawEnds(random, way).map((e) => ({ ...e, speedMPerS: Number.NaN }));
    const l = timingPosterior(ends, false)!;
    expect(l.offset + l.delay).toBeGreaterThan(0.9);
    expect(Math.min(l.offset, l.delay)).toBeGreaterThan(0.15);
  });
});
