import { describe, expect, test } from 'vitest';
import { drawField } from '../generator/index.ts';

import type { FieldSpec, Run } from '../generator/spec.ts';
import { KINDS, simulate } from '../simulator/index.ts';
import { Random } from '../simulator/random.ts';
import { agreementOf, compareWithClosing, type MapToMeasure } from './against-closing.ts';

// The measure beside ours: covered ground closed by half a working width, less covered ground (GEOS, `tests/outside/closing.ts`).
const ACCURACY_M = 0.025;
/** Seed of the first map of the share. */
const SHARE = 1_500_600;
const INCH_M = 0.0254;

const rows = (n: number): number[] => Array.from({ length: n }, (_, i) => i + 1);
const pairs = (n: number): Run[] => rows(n / 2).map((i) => [2 * i - 1, 2 * i]);

/** Strips that a viewer shows at a glance: a frame that narrows for the last passes, and an outer section that is off for some. */
function openStrips(seed: number): MapToMeasure {
  const random = new Random(seed);
  const n = 2 * random.int(4, 8);
  const spacing = random.pick([20, 22, 30]);
  const passes = random.int(7, 10);
  const at = random.int(3, passes - 2);
  const spec: FieldSpec = {
    seed,
    origin: { lat: 41.9, lon: -93.6 },
    headingDeg: random.int(0, 359),
    shape: { kind: 'strip', lengthM: random.int(150, 260), passes },
    truth: { rows: n, rowSpacingM: spacing * INCH_M, planted: rows(n), sections: pairs(n) },
    passSpacingM: n * spacing * INCH_M,
    noise: { wanderM: 0.015, passBiasM: 0.01 },
    columns: { time: { name: 'logged', as: 'iso' } },
    ...(seed % 2 === 0
      ? { change: { pass: at, belief: { rows: n - 2, planted: rows(n - 2), sections: pairs(n - 2) } } }
      : { belief: { stuckOff: { section: random.pick([1, n / 2]), from: at, to: Math.min(passes, at + 2) } } }),
  };
  const planter = {
    name: 'Yard',
    unit: 'in',
    rows: n,
    rowSpacing: spacing,
    plantings: { all: 'all' },
    sections: pairs(n).map(([a, b]) => `${a}-${b}`),
  };
  return {
    name: `open strips, seed ${seed}`,
    map: JSON.stringify(drawField(spec).features),
    planter: JSON.stringify(planter),
    planting: 'all',
    boundary: null,
  };
}

describe('gaps beside closing by GEOS', () => {
  test('open strips agree within 5 %, and a map that has them never agrees with its planter', async () => {
    const found = await compareWithClosing([1, 2, 3, 4, 5, 6].map(openStrips), ACCURACY_M);
    for (const c of found) {
      const closed = c.stripsM2 + c.pocketsM2;
      expect(closed, c.name).toBeGreaterThan(100);
      expect(Math.abs(c.gapM2 - closed) / closed, c.name).toBeLessThan(0.05);
      expect(c.verdict, c.name).not.toBe('agrees');
    }
  });

  // A share of `round.ts`, whose last table is in README.md: one map of every kind of recording.
  test('maps of an independent simulator agree with closing, and their lines add up', async () => {
    const maps = KINDS.map((kind, k): MapToMeasure => {
      const healthy = k % 3 === 0 ? { settings: [] } : {};
      return { name: kind, ...simulate(SHARE + k, { kind, ...healthy }) };
    });
    for (const c of await compareWithClosing(maps, ACCURACY_M, { jts: [true] })) {
      expect([c.name, agreementOf(c)]).toEqual([c.name, expect.stringMatching(/^(none|within 5 %|between)$/)]);
      expect(Math.abs(c.gapResidualM2), c.name).toBeLessThan(1e-6);
      expect(Math.abs(c.overlapResidualM2), c.name).toBeLessThan(1e-6);
      if (c.jtsM2 !== null) expect(c.jtsM2, c.name).toBeCloseTo(c.stripsM2 + c.pocketsM2, 0);
    }
  }, 120_000);
});
