import { describe, expect, it } from 'vitest';
import { tQuantile975 } from '../../src/core/geometry/stats.ts';
import { findStretches } from '../../src/core/infer/index.ts';
import { meanOfPasses } from '../../src/core/observe/estimate.ts';
import type { BarKinds, Match } from '../../src/core/observe/index.ts';
import type { Passes } from '../../src/core/track/types.ts';
import { Random } from '../generator/random.ts';

/** Kinds of bars: 0 is the wide layout, 1 another one, 2 the wide one with a section off, 3 a bar that was misread. */
const MATCH: Match[][] = [
  ['whole', 'strange', 'partly', 'strange'],
  ['strange', 'whole', 'strange', 'strange'],
];

interface Drawn {
  passes: Passes;
  kinds: BarKinds;
}

/** Recorded width of each kind of bar, meters, and the length of a bar. */
const WIDTH_M = [12, 9, 8, 1];
const BAR_M = 2;

/** Straight passes, driven back and forth, with the middle of what they record at `x(pass)`, meters. */
function passesAt(passStart: number[], kindOf: number[], x: (pass: number) => number): Passes {
  const bars = kindOf.length;
  const out = {
    bars,
    passStart: Uint32Array.from(passStart),
    center: new Float64Array(2 * bars),
    right: new Float64Array(2 * bars),
    lengthM: new Float64Array(bars).fill(BAR_M),
    barStart: Uint32Array.from({ length: bars + 1 }, (_, b) => b),
    leftM: Float64Array.from(kindOf, (k) => -WIDTH_M[k] / 2),
    rightM: Float64Array.from(kindOf, (k) => WIDTH_M[k] / 2),
  };
  for (let p = 0; p + 1 < passStart.length; p++)
    for (let b = passStart[p]; b < passStart[p + 1]; b++) {
      const along = p % 2 === 0 ? b - passStart[p] : passStart[p + 1] - 1 - b;
      out.center.set([x(p), BAR_M * along], 2 * b);
      out.right.set([p % 2 === 0 ? 1 : -1, 0], 2 * b);
    }
  return out as Passes;
}

/** Passes of `layout(pass)`: sections off at the ends of most, off all along in a few, and one bar in fifty misread. */
function draw(random: Random, count: number, layout: (pass: number) => number): Drawn {
  const kindOf: number[] = [];
  const passStart = [0];
  for (let p = 0; p < count; p++) {
    const bars = 15 + Math.floor(random.next() * 60);
    const of = layout(p);
    const offAllAlong = of === 0 && random.next() < 0.04;
    const off = Math.floor(random.next() * 4);
    for (let b = 0; b < bars; b++) {
      const end = b < off || b >= bars - off;
      const whole = of === 0 && (offAllAlong || end) ? 2 : of;
      kindOf.push(random.next() < 0.02 ? 3 : whole);
    }
    passStart.push(kindOf.length);
  }
  // Too far apart to meet.
  const passes = passesAt(passStart, kindOf, (p) => 100 * p);
  return { passes, kinds: { kindOf: Int16Array.from(kindOf), layouts: [0, 1], match: MATCH, sameM: 0.045 } };
}

const SEEDS = Array.from({ length: 60 }, (_, i) => 7100 + i);

describe('changepoints, compared with the layouts that were drawn', () => {
  it('none where the layout stays, whatever sections were off', () => {
    for (const seed of SEEDS) {
      const random = new Random(seed);
      const { passes, kinds } = draw(random, 4 + Math.floor(random.next() * 40), () => 0);
      expect(
        findStretches(passes, kinds).map((s) => s.layout),
        `seed ${seed}`,
      ).toEqual([0]);
    }
  });

  it('one, at the bar where it lies, down to the last pass alone, when its records are new', () => {
    for (const seed of SEEDS) {
      const random = new Random(seed);
      const count = 4 + Math.floor(random.next() * 40);
      const from = seed % 3 === 0 ? count - 1 : 1 + Math.floor(random.next() * (count - 1));
      const { passes, kinds } = draw(random, count, (p) => (p < from ? 0 : 1));
      const out = findStretches(passes, kinds);
      expect(
        out.map((s) => s.layout),
        `seed ${seed}`,
      ).toEqual([0, 1]);
      // Bars beside the change that were misread, or had sections off, belong to either side.
      expect(Math.abs(out[1].from - passes.passStart[from])).toBeLessThanOrEqual(8);
      expect(out[1].logOdds).toBeGreaterThan(3);
    }
  });

  it('two, where it was another for a while', () => {
    for (const seed of SEEDS) {
      const random = new Random(seed);
      const count = 9 + Math.floor(random.next() * 30);
      const [from, to] = [2 + Math.floor(random.next() * 3), count - 2 - Math.floor(random.next() * 2)];
      const { passes, kinds } = draw(random, count, (p) => (p < from || p >= to ? 0 : 1));
      expect(
        findStretches(passes, kinds).map((s) => s.layout),
        `seed ${seed}`,
      ).toEqual([0, 1, 0]);
    }
  });
});

describe('two passes side by side with the same sections off', () => {
  // The kind of narrower bars is a layout too.
  const match: Match[][] = [
    ['whole', 'strange', 'partly', 'strange'],
    ['strange', 'strange', 'whole', 'strange'],
  ];
  const ofPass = [0, 0, 0, 2, 2, 0, 0, 0];
  const passStart = ofPass.map((_, p) => 40 * p).concat(40 * ofPass.length);
  const kindOf = ofPass.flatMap((k) => Array.from({ length: 40 }, () => k));
  const layoutsAt = (x: (p: number) => number): number[] =>
    findStretches(passesAt(passStart, kindOf, x), {
      kindOf: Int16Array.from(kindOf),
      layouts: [0, 1],
      match,
      sameM: 0.045,
    }).map((s) => s.layout);

  it('have another layout where nothing stays open beside them', () => {
    const edge = (p: number): number => ofPass.slice(0, p).reduce((sum, k) => sum + WIDTH_M[k], 0);
    expect(layoutsAt((p) => edge(p) + WIDTH_M[ofPass[p]] / 2)).toEqual([0, 1, 0]);
  });

  it('have sections off where they lie as far apart as the others', () => {
    expect(layoutsAt((p) => 12 * p)).toEqual([0]);
  });
});

describe('the standard error of a mean along passes', () => {
  // Passes that err as a whole, and a wander along them; 95 % by the definition of a confidence interval, 400 draws within 3 sigma.
  it.each([
    [4, 0.02, 0.01],
    [12, 0.02, 0.01],
    [12, 0, 0.02],
    [40, 0.03, 0.005],
  ])('%i passes that err by %f m as a whole and %f m along', (count, passM, alongM) => {
    const random = new Random(count * 1000 + Math.round(1e4 * alongM));
    const gauss = (): number => Math.sqrt(-2 * Math.log(1 - random.next())) * Math.cos(2 * Math.PI * random.next());
    let held = 0;
    const rounds = 400;
    for (let r = 0; r < rounds; r++) {
      const values: number[] = [];
      const start = [0];
      for (let p = 0; p < count; p++) {
        const off = passM * gauss();
        let wander = alongM * gauss();
        for (let b = 0; b < 30; b++) {
          // Neighbors are alike by half.
          wander = 0.5 * wander + Math.sqrt(0.75) * alongM * gauss();
          values.push(6 + off + wander);
        }
        start.push(values.length);
      }
      const e = meanOfPasses(Float64Array.from(values), start, 0);
      if (Math.abs(e.value - 6) <= e.standardError * tQuantile975(e.degreesOfFreedom)) held++;
    }
    expect(held / rounds).toBeGreaterThan(0.88);
    expect(held / rounds).toBeLessThan(0.995);
  });
});
