/**
 * The order of sections in a field that has no headland: nothing was covered where its passes end. Arithmetic: the edge runs on a slope, a
 * section x meters from the middle of its pass meets it slope times x later, and the middles of the passes lie on the edge whatever the order.
 */
import { describe, expect, it } from 'vitest';
import { judgeSections, type SectionsPosterior } from '../../src/core/infer/sections.ts';
import { findFieldEnds, type MeasuredBand, type RecordedBands } from '../../src/core/observe/index.ts';
import type { Passes } from '../../src/core/track/types.ts';
import { Random } from '../generator/random.ts';

/** Passes back and forth between two slanted edges; section k switches where section `order[k]` should. */
function judge(random: Random, order: readonly number[]): SectionsPosterior {
  const n = order.length;
  const widths = Array.from(order, () => random.between(0.8, 2.5));
  const widthM = widths.reduce((a, b) => a + b, 0);
  let at = -widthM / 2;
  const bands = widths.map((w): MeasuredBand => {
    at += w;
    return { leftM: at - w, rightM: at, leftSeM: 0.003, rightSeM: 0.003 };
  });
  const middle = (k: number): number => (bands[k].leftM + bands[k].rightM) / 2;
  const everyM = random.between(0.8, 2);
  const count = 8 + Math.floor(random.between(0, 6));
  const slopes = [0, 1].map(() => random.between(0.5, 1) * (random.next() < 0.5 ? -1 : 1));
  const bars: { north: number; x: number; y: number; on: number[] }[] = [];
  const passStart = [0];
  for (let p = 0; p < count; p++) {
    const north = p % 2 === 0 ? 1 : -1;
    const x = p * widthM;
    const due = (k: number, top: number): number => 150 * top + slopes[top] * (x + north * middle(order[k]));
    const reach = 2 * widthM * (count + 1);
    const list: typeof bars = [];
    for (let y = -reach + random.between(0, everyM); y < 150 + reach; y += everyM) {
      const on = order.flatMap((_, k) => (y > due(k, 0) && y < due(k, 1) ? [k] : []));
      if (on.length > 0) list.push({ north, x, y, on });
    }
    bars.push(...(north > 0 ? list : list.reverse()));
    passStart.push(bars.length);
  }
  const records = bars.flatMap((b) => b.on.map((k) => ({ b, k })));
  let start = 0;
  const passes = {
    passStart: Uint32Array.from(passStart),
    number: Uint32Array.from({ length: count }, (_, p) => p + 1),
    bars: bars.length,
    center: Float64Array.from(bars.flatMap((b) => [b.x, b.y])),
    right: Float64Array.from(bars.flatMap((b) => [b.north, 0])),
    lengthM: new Float64Array(bars.length).fill(everyM),
    barStart: Uint32Array.from([0, ...bars.map((b) => (start += b.on.length))]),
    corner: Float64Array.from(
      records.flatMap(({ b, k }) =>
        // Back left, back right, front right, front left.
        [
          [bands[k].leftM, -1],
          [bands[k].rightM, -1],
          [bands[k].rightM, 1],
          [bands[k].leftM, 1],
        ].flatMap(([u, v]) => [b.x + b.north * u, b.y + (b.north * v * everyM) / 2]),
      ),
    ),
  } as unknown as Passes;
  const recorded = {
    segments: [{ bands, widthM }],
    segment: new Uint16Array(bars.length),
    slot: Int16Array.from(records, (r) => r.k),
  } as unknown as RecordedBands;
  return judgeSections(passes, bands, [], [], findFieldEnds(passes, recorded, { ever: () => false }), n)!;
}

const straight = (n: number): number[] => Array.from({ length: n }, (_, k) => k);
const rounds = 30;

describe('the order of sections at the edge of a field without headlands, drawn at random', () => {
  it('is right where they end as the edge meets them', () => {
    const random = new Random(61);
    for (let k = 0; k < rounds; k++) {
      const j = judge(random, straight(5 + Math.floor(random.between(0, 8))));
      expect(j.ranked[0].of.kind).toBe('right');
    }
  });

  it('is found where it is mirrored or two of them are swapped', () => {
    const random = new Random(62);
    for (let k = 0; k < rounds; k++) {
      const order = straight(4 + Math.floor(random.between(0, 8)));
      if (k % 2) order.reverse();
      else [order[0], order[order.length - 1]] = [order[order.length - 1], order[0]];
      const { of, probability } = judge(random, order).ranked[0];
      expect(of.kind === 'order' && of.order).toEqual(order);
      expect(probability).toBeGreaterThan(0.9);
    }
  });
});
