/**
 * Sections at slanted ends. Arithmetic: where the edge of covered ground runs at a slope, a section x meters from the middle reaches it
 * slope times x later; sections wired in another order switch where another one should, and without section control all switch at once.
 */
import { describe, expect, it } from 'vitest';
import { judgeSections, type SectionsPosterior } from '../../src/core/infer/sections.ts';
import type { End, MeasuredBand } from '../../src/core/observe/index.ts';
import type { Passes } from '../../src/core/track/types.ts';
import { Random } from '../generator/random.ts';

type Switching =
  | { kind: 'right' }
  | { kind: 'together' }
  | { kind: 'order'; order: number[] }
  | { kind: 'stuck'; slot: number };

/** Passes side by side to the north, each with a start and a stop at slanted edges; only what `judgeSections` reads is there. */
function judge(
  random: Random,
  sections: number,
  how: Switching,
  offsetM = 0,
  arranged = (ends: End[]): End[] => ends,
): SectionsPosterior {
  const passes = 8 + Math.floor(random.between(0, 8));
  const widthM = random.between(0.5, 3);
  const bands = Array.from({ length: sections }, (_, k): MeasuredBand => {
    const leftM = (k - sections / 2) * widthM;
    return { leftM, rightM: leftM + widthM, leftSeM: 0.003, rightSeM: 0.003 };
  });
  const slope = random.between(0.4, 1) * (random.next() < 0.5 ? -1 : 1);
  const everyM = random.next() < 0.5 ? 0 : random.between(0.3, 2);
  const ends: End[] = [];
  for (let pass = 0; pass < passes; pass++) {
    for (const kind of ['start', 'stop'] as const) {
      const at = kind === 'start' ? 0 : 200;
      const bumps = random.between(-1, 1);
      bands.forEach((_, slot) => {
        const edge = (k: number): number => at + bumps + (slope * (bands[k].leftM + bands[k].rightM)) / 2;
        const due = how.kind === 'order' ? edge(how.order[slot]) : how.kind === 'together' ? at : edge(slot);
        const sampled =
          everyM === 0 ? 0.1 * random.normal() : everyM * Math.ceil((due - at) / everyM + random.next()) - (due - at);
        const beyond =
          how.kind === 'stuck' && how.slot === slot ? random.between(2, 9) * (kind === 'stop' ? 1 : -1) : 0;
        const along = due + offsetM + sampled + beyond;
        ends.push({
          pass,
          slot,
          kind,
          bar: 2 * pass + (kind === 'stop' ? 1 : 0),
          corner: false,
          alongM: along,
          overlapM: kind === 'stop' ? along - edge(slot) : edge(slot) - along,
          speedMPerS: 2,
          intervalBeforeM: Math.max(everyM, 1),
          intervalAfterM: Math.max(everyM, 1),
          cutShare: 1,
        });
      });
    }
  }
  const bars = 2 * passes;
  const driven = {
    passStart: Uint32Array.from({ length: passes + 1 }, (_, p) => 2 * p),
    number: Uint32Array.from({ length: passes }, (_, p) => p + 1),
    bars,
    center: new Float64Array(2 * bars),
    right: Float64Array.from({ length: 2 * bars }, (_, i) => (i % 2 ? 0 : 1)),
  } as unknown as Passes;
  return judgeSections(driven, bands, [], arranged(ends), [], sections)!;
}

const rounds = 40;
const top = (j: SectionsPosterior) => j.ranked[0];

describe('sections at slanted ends, drawn at random', () => {
  it('are judged alike in whatever order the ends come, of few sections or of many', () => {
    // At every end other sections lie on open ground, and say nothing.
    const some = (ends: End[]): End[] =>
      ends.filter((e) => (7 * e.pass + 3 * e.slot + (e.kind === 'stop' ? 1 : 0)) % 4 !== 0);
    for (let seed = 0; seed < rounds; seed++) {
      const drawn = (arranged: (ends: End[]) => End[]) =>
        judge(new Random(seed), 5 + (seed % 8), { kind: 'stuck', slot: seed % 5 }, 0, arranged).ranked;
      const [there, back] = [drawn(some), drawn((ends) => some(ends).reverse())];
      const of = (list: typeof there) => new Map(list.map((r) => [JSON.stringify(r.of), r.probability]));
      for (const [behavior, probability] of of(there)) expect(of(back).get(behavior)).toBeCloseTo(probability, 6);
    }
  });

  it('that switch each in its place are right, with an offset along travel too', () => {
    const random = new Random(51);
    let wrong = 0;
    for (let k = 0; k < rounds; k++) {
      const j = judge(random, 3 + Math.floor(random.between(0, 12)), { kind: 'right' }, random.between(-4, 4));
      if (top(j).of.kind !== 'right') wrong++;
    }
    expect(wrong).toBe(0);
  });

  it('that switch all at once have no section control', () => {
    const random = new Random(52);
    let found = 0;
    for (let k = 0; k < rounds; k++)
      if (top(judge(random, 4 + Math.floor(random.between(0, 10)), { kind: 'together' })).of.kind === 'control-off')
        found++;
    expect(found / rounds).toBeGreaterThan(0.9);
  });

  it('that are wired in mirrored order, or two of them swapped, are an order and no offset', () => {
    const random = new Random(53);
    let found = 0;
    for (let k = 0; k < rounds; k++) {
      const n = 4 + Math.floor(random.between(0, 8));
      const order = Array.from({ length: n }, (_, i) => i);
      if (k % 2) order.reverse();
      else [order[0], order[n - 1]] = [order[n - 1], order[0]];
      const { of, probability } = top(judge(random, n, { kind: 'order', order }));
      if (of.kind === 'order' && of.order.join() === order.join() && probability > 0.5) found++;
    }
    expect(found / rounds).toBeGreaterThan(0.9);
  });

  it('of which one goes on where the others stop: that one, by its place', () => {
    const random = new Random(54);
    let found = 0;
    for (let k = 0; k < rounds; k++) {
      const n = 4 + Math.floor(random.between(0, 8));
      const slot = Math.floor(random.between(0, n));
      const { of } = top(judge(random, n, { kind: 'stuck', slot }));
      if (of.kind === 'stuck-on' && of.slot === slot) found++;
    }
    expect(found / rounds).toBeGreaterThan(0.95);
  });

  it('say nothing where the planter has one section', () => {
    expect(judge(new Random(55), 1, { kind: 'together' })).toBeNull();
  });
});
