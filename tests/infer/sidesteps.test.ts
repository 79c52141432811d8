/**
 * Steps aside in the middle of a pass. Drawn at random: passes that are straight or bend, with rounding, headings that jitter and hands that wander;
 * in some of them the whole map is drawn aside from one bar on. Arithmetic: the middle of the bars moves by exactly that much.
 */
import { describe, expect, it } from 'vitest';
import type { Facts, Findings } from '../../src/core/infer/facts.ts';
import { diagnoseSidesteps } from '../../src/core/infer/sidesteps.ts';
import { findSidesteps, type RecordedBands } from '../../src/core/observe/index.ts';
import type { Passes } from '../../src/core/track/types.ts';
import { Random } from '../generator/random.ts';

interface Drawn {
  found: Findings['diagnoses'];
  open: number;
  measuredM: number[];
}

/**
 * `steps`: bars at which everything moves aside by `asideM`, of passes back and forth. An offset of the planter moves the passes to the right of their travel, so that the seams after it
 * open and close by twice that in turn; a position that `jumps` moves them all one way, and their seams stay.
 */
function draw(random: Random, steps: readonly number[], asideM: number, jumps = false): Drawn {
  const [count, per] = [8, 60];
  const everyM = random.between(1, 3);
  const bend = random.next() < 0.5 ? 0 : random.between(-1, 1) / 500;
  const jitter = random.between(0, 0.004);
  const wanderM = random.between(0, 0.01);
  const stepM = random.next() < 0.3 ? 0.05 : 0.001;
  const bars = count * per;
  const center = new Float64Array(2 * bars);
  const right = new Float64Array(2 * bars);
  let aside = 0;
  let wander = 0;
  for (let b = 0; b < bars; b++) {
    const [pass, k] = [Math.floor(b / per), b % per];
    const way = pass % 2 ? -1 : 1;
    const s = way > 0 ? k * everyM : (per - k) * everyM;
    if (steps.includes(b)) aside += asideM;
    wander = 0.9 * wander + 0.4 * wanderM * random.normal();
    const heading = Math.PI / 2 - 2 * bend * s + (way < 0 ? Math.PI : 0) + jitter * random.normal();
    const [rx, ry] = [Math.sin(heading), -Math.cos(heading)];
    const e = aside + wander;
    const place = [10 * pass + bend * s * s + rx * e, s + ry * e];
    center[2 * b] = Math.round(place[0] / stepM) * stepM;
    center[2 * b + 1] = Math.round(place[1] / stepM) * stepM;
    right[2 * b] = rx;
    right[2 * b + 1] = ry;
  }
  const passes = {
    passStart: Uint32Array.from({ length: count + 1 }, (_, p) => p * per),
    number: Uint32Array.from({ length: count }, (_, p) => p + 1),
    bars,
    center,
    right,
    lengthM: new Float64Array(bars).fill(everyM),
    timeMs: new Float64Array(bars).fill(Number.NaN),
  } as unknown as Passes;
  const sidesteps = findSidesteps(
    passes,
    { middleM: new Float64Array(bars), full: new Uint8Array(bars).fill(1) } as unknown as RecordedBands,
    0,
    false,
  );
  const out: Findings = { observations: [], diagnoses: [], undecided: [] };
  const seams = Array.from({ length: count - 1 }, (_, p) => {
    const isLeft = p % 2 === 1;
    const moved = steps.filter((b) => b < p * per).length * (jumps ? 0 : asideM);
    return {
      passA: p,
      passB: p + 1,
      facing: isLeft ? 'left-left' : 'right-right',
      recordedM: (isLeft ? 2 : -2) * moved + 0.01 * random.normal(),
    };
  });
  const facts = {
    passes,
    sidesteps,
    seams,
    planter: { unit: 'cm' },
    columns: { timeIsClock: false },
  } as unknown as Facts;
  diagnoseSidesteps(facts, out);
  return {
    found: out.diagnoses,
    open: out.undecided.length,
    measuredM: out.observations.map((o) => o.measuredM ?? 0),
  };
}

/** One pass whose bars follow one another end to end; here and there it swings one way and then the other, by up to 6 degrees from bar to bar. */
function drawBends(random: Random): { bar: number; asideM: number }[] {
  const bars = 400;
  const everyM = random.between(3, 5);
  const bend = Math.floor(random.between(8, 17));
  const center = new Float64Array(2 * bars);
  const right = new Float64Array(2 * bars);
  let [x, y, heading, most] = [0, 0, 1, 0];
  for (let b = 0; b < bars; b++) {
    if (b % bend === 0) most = random.next() < 0.2 ? (random.between(3, 6) * Math.PI) / 180 : 0;
    heading += most * Math.cos((Math.PI * (b % bend)) / bend);
    const [dx, dy] = [Math.cos(heading), Math.sin(heading)];
    center[2 * b] = x + (dx * everyM) / 2;
    center[2 * b + 1] = y + (dy * everyM) / 2;
    right[2 * b] = dy;
    right[2 * b + 1] = -dx;
    x += dx * everyM;
    y += dy * everyM;
  }
  const passes = { bars, center, right, lengthM: new Float64Array(bars).fill(everyM) } as unknown as Passes;
  const bands = { middleM: new Float64Array(bars), full: new Uint8Array(bars).fill(1) } as unknown as RecordedBands;
  return findSidesteps(passes, bands, 0, false).steps;
}

const rounds = 100;

describe('steps aside in the middle of a pass, drawn at random', () => {
  it('are none where nothing steps', () => {
    const random = new Random(71);
    for (let k = 0; k < rounds; k++) expect(draw(random, [], 0).found).toEqual([]);
  });

  it('are found from 25 cm on, by their size and their pass', () => {
    const random = new Random(72);
    for (let k = 0; k < rounds; k++) {
      const bar = 60 * Math.floor(random.between(1, 6)) + Math.floor(random.between(10, 50));
      const asideM = random.between(0.25, 0.5) * (random.next() < 0.5 ? -1 : 1);
      const { found, measuredM } = draw(random, [bar], asideM);
      expect(found.map((d) => d.setting)).toEqual(['changed-midway']);
      expect(found[0].says).toContain(`pass ${Math.floor(bar / 60) + 1} `);
      expect(Math.abs(measuredM[0] - asideM)).toBeLessThan(0.06);
    }
  });

  it('are open questions where the seams after them stay as they were, or there are none: the position may have jumped', () => {
    const random = new Random(75);
    for (let k = 0; k < rounds; k++) {
      const jumps = k % 2 === 0;
      const bar = 60 * Math.floor(jumps ? random.between(1, 6) : 7) + Math.floor(random.between(10, 50));
      const { found, open } = draw(random, [bar], random.between(0.25, 0.5), jumps);
      expect({ found, open }).toEqual({ found: [], open: 1 });
    }
  });

  it('are none where a bend begins or ends', () => {
    // Along a creek: a straight pass with bends now and then, each bar on the end of the one before it.
    const random = new Random(76);
    for (let k = 0; k < rounds; k++) expect(drawBends(random)).toEqual([]);
  });

  it('are a turn misread as one pass, not a setting, where they are wider than any offset', () => {
    const random = new Random(74);
    for (let k = 0; k < rounds; k++) expect(draw(random, [205], random.between(1.1, 15)).found).toEqual([]);
  });

  it('are positioning that jumps, not a setting, where there are many', () => {
    const random = new Random(73);
    expect(draw(random, [30, 100, 150, 220, 330], 0.3).found).toEqual([]);
  });
});
