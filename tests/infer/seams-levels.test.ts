/**
 * Seams on two levels. Arithmetic: a pass drawn e to the right of its travel leaves seams that are 2e wider and 2e narrower in turn where
 * neighbors run opposite ways, whatever the map says of its direction.
 */
import { describe, expect, it } from 'vitest';
import { check } from '../../src/core/check.ts';
import { named } from '../../src/core/intake/index.ts';
import { estimateSeams } from '../../src/core/observe/estimate.ts';
import { seamSides } from '../../src/core/observe/sides.ts';
import type { Seam } from '../../src/core/observe/types.ts';
import { drawField, toGeoJson } from '../generator/index.ts';
import { PLANTERS } from '../generator/planters.ts';
import { Random } from '../generator/random.ts';
import type { FieldSpec } from '../generator/spec.ts';
import { field, planterOf, settingsOf } from '../settings/help.ts';

/** Passes side by side, each off its line by its own error (meters), seams on `steadyM` plus what the side shift `asideM` makes of them. */
function drawSeams(
  random: Random,
  passes: number,
  sigmaM: number,
  steadyM: number,
  asideM: number,
): [Seam[], number[]] {
  const off = Array.from({ length: passes }, () => sigmaM * random.normal());
  const m = Array.from(
    { length: passes - 1 },
    (_, i) => steadyM + (i % 2 ? 2 : -2) * asideM + off[i + 1] - off[i] + 0.003 * random.normal(),
  );
  const seams = m.map(
    (recordedM, i): Seam => ({
      passA: i,
      passB: i + 1,
      opposite: true,
      // What a map without a direction says: nothing that holds.
      facing: random.next() < 0.5 ? 'same-way' : 'left-left',
      recordedM,
      samples: 40,
      spreadM: 0.01,
      lengthM: random.between(80, 300),
    }),
  );
  return [seams, m];
}

describe('levels of seams where nothing shows the direction of travel', () => {
  const random = new Random(20261129);
  const rounds = 300;

  it('two levels are found, and neither is cut off: the steady part stays near zero', () => {
    let found = 0;
    let worst = 0;
    for (let k = 0; k < rounds; k++) {
      const asideM = random.between(0.08, 0.4) * (random.next() < 0.5 ? -1 : 1);
      const [seams, m] = drawSeams(
        random,
        7 + Math.floor(random.between(0, 12)),
        random.between(0.005, 0.02),
        0,
        asideM,
      );
      const { steady, alternating } = estimateSeams(seams, m, 0.025, seamSides(seams, m, 0.025, false));
      if (alternating && Math.abs(alternating.value - 2 * Math.abs(asideM)) < 0.04) found++;
      worst = Math.max(worst, Math.abs(steady!.value));
    }
    expect(found / rounds).toBeGreaterThan(0.97);
    expect(worst).toBeLessThan(0.08);
  });

  it('one level stays one', () => {
    let split = 0;
    for (let k = 0; k < rounds; k++) {
      const [seams, m] = drawSeams(
        random,
        5 + Math.floor(random.between(0, 25)),
        random.between(0.005, 0.05),
        random.between(-0.5, 0.5),
        0,
      );
      if (seamSides(seams, m, 0.025, false).some((s) => s !== 0)) split++;
    }
    expect(split / rounds).toBeLessThan(0.02);
  });
});

describe('whole maps without a column, records in any order', () => {
  const random = new Random(7);
  const p = PLANTERS.fifteen;
  const run = async (rest: Partial<FieldSpec>) => {
    const spec = field(p, 'narrow', {
      seed: Math.floor(random.between(1, 1e6)),
      shape: { kind: 'strip', lengthM: 120, passes: 8 + Math.floor(random.between(0, 5)) },
      columns: {},
      order: 'shuffled',
      ...rest,
    });
    return check({
      map: [named('field.geojson', toGeoJson(drawField(spec)))],
      planter: planterOf(p),
      planting: 'narrow',
    });
  };

  it.each(['strip', 'bar', 'section'] as const)('%s: a side offset is one, and never a pass spacing', async (grain) => {
    const e = random.between(0.1, 0.35) * (random.next() < 0.5 ? -1 : 1);
    const a = await run({ grain, sideShiftM: e });
    expect(settingsOf(a)).toEqual(['side-offset']);
    expect(Math.abs(Math.abs(a.report.seams.alternatingM!) - 2 * Math.abs(e))).toBeLessThan(0.04);
    expect(Math.abs(a.report.seams.recordedM!)).toBeLessThan(0.03);
  });

  it.each(['strip', 'bar'] as const)('%s: a pass spacing is one level, and so is a healthy map', async (grain) => {
    const by = random.between(0.15, 0.4);
    const wide = await run({ grain, passSpacingM: 225 * 0.0254 + by });
    expect(settingsOf(wide)).toEqual(['pass-spacing']);
    expect(wide.report.seams.alternatingM).toBeNull();
    const healthy = await run({ grain });
    expect(settingsOf(healthy)).toEqual([]);
    expect(healthy.report.seams.alternatingM).toBeNull();
  });
});
