/**
 * The same records twice with other decimals, as two exports of one field leave them: coordinates rounded to millionths of a degree move a point by up to 5.6 cm north and less east
 * (arithmetic: half of 1e-6 degree of 111.2 km). A planting along the same lines on another day was logged at other instants.
 */
import { describe, expect, it } from 'vitest';
import type { Shapes } from '../../src/core/geometry/shapes.ts';
import { findNearRepeats } from '../../src/core/track/near-repeats.ts';
import { Random } from '../generator/random.ts';

/** Lattice steps of a centimeter. */
const STEPS: [number, number] = [100, 100];

/** Records of four corners: `lines` of passes, each `count` records of `everyM` from `startM` on, 6 m wide and `dm` meters off their line. */
function passes(lines: number, count: number, everyM: number, start: () => number, off: () => number): number[][] {
  return Array.from({ length: lines }, (_, k) => {
    const [x, startM] = [6 * k, start()];
    return Array.from({ length: count }, (_, i) => {
      const y = startM + i * everyM;
      return [x, y, x + 6, y, x + 6, y + everyM, x, y + everyM].map((m) => m + off());
    });
  }).flat();
}

function shapesOf(records: readonly number[][]): Shapes {
  return {
    xy: Int32Array.from(records.flat().map((m) => Math.round(m * STEPS[0]))),
    ringStart: Uint32Array.from({ length: records.length + 1 }, (_, r) => 4 * r),
    shapeStart: Uint32Array.from({ length: records.length + 1 }, (_, r) => r),
  };
}

const none = (records: readonly number[][]): Uint8Array => new Uint8Array(records.length);

describe('records that are in the map twice with other decimals', () => {
  it('are found, each as a repeat of its own first copy, whatever part of the map is there twice', () => {
    const random = new Random(81);
    for (let k = 0; k < 40; k++) {
      const first = passes(
        6,
        40,
        random.between(0.8, 4),
        () => random.between(0, 3),
        () => 0,
      );
      const twice = first.slice(0, Math.floor(random.between(20, first.length)));
      const rounded = twice.map((r) => r.map((m) => m + random.between(-0.055, 0.055)));
      const { repeated, repeats } = findNearRepeats(
        shapesOf([...first, ...rounded]),
        STEPS,
        none([...first, ...rounded]),
      );
      expect(repeated).toEqual(twice.map((_, i) => first.length + i));
      expect(repeats).toEqual(twice.map((_, i) => i));
    }
  });

  it('are not the records of a replant along the same lines, which was logged at other instants', () => {
    const random = new Random(82);
    for (let k = 0; k < 40; k++) {
      const everyM = random.between(1, 4);
      const start = (): number => random.between(0, everyM);
      const off = (): number => 0.02 * random.normal();
      const all = [...passes(12, 40, everyM, start, off), ...passes(12, 40, everyM, start, off)];
      expect(findNearRepeats(shapesOf(all), STEPS, none(all)).repeated).toEqual([]);
    }
  });

  it('are not what is left of records that were cut at a switch, however short', () => {
    const random = new Random(83);
    const short = passes(
      6,
      400,
      0.1,
      () => random.between(0, 3),
      () => 0,
    );
    expect(findNearRepeats(shapesOf(short), STEPS, none(short)).repeated).toEqual([]);
  });

  it('are not asked of a record that repeats one exactly', () => {
    const one = passes(
      4,
      40,
      2,
      () => 0,
      () => 0,
    );
    const isRepeat = Uint8Array.from({ length: 2 * one.length }, (_, r) => (r < one.length ? 0 : 1));
    expect(findNearRepeats(shapesOf([...one, ...one]), STEPS, isRepeat).repeated).toEqual([]);
  });
});
