import { describe, expect, test } from 'vitest';
import { named } from '../../src/core/intake/index.ts';
import { type RebuildInput, rebuild } from '../../src/core/rebuild/index.ts';
import { UserError } from '../../src/core/shared/messages.ts';
import { PLANTERS } from '../generator/planters.ts';
import { LENGTH_M, PASSES, twoMachines, widthOf } from '../generator/two-machines.ts';
import { planterOf } from '../settings/help.ts';

// North has sixteen rows, and its display was left on twelve; South has fifteen rows of narrow spacing, and was recorded right.
const { sixteen, fifteen } = PLANTERS;

const input = (planters: RebuildInput['planters']): RebuildInput => ({
  map: [named('m.geojson', twoMachines(['North']))],
  planter: planterOf(sixteen),
  ...(planters ? { planters, plantings: { South: 'narrow' } } : { planting: 'corn' }),
});
const both = [
  { planter: planterOf(sixteen), machine: 'North' },
  { planter: planterOf(fifteen), machine: 'South' },
];

describe('two machines in one map', () => {
  test('each is rebuilt by its own planter, and the log says which', async () => {
    const built = await rebuild(input(both));
    expect(built.planters).toEqual([sixteen.file.name, fifteen.file.name]);
    const areaOf = (name: string): number => built.changes.reduce((s, c) => (c.planter === name ? s + c.outM2 : s), 0);
    // Width times length times passes; a pass is up to one log interval longer. Twelve of sixteen rows would be 25 % less.
    const north = widthOf(sixteen, 'corn') * LENGTH_M * PASSES;
    const south = widthOf(fifteen, 'narrow') * LENGTH_M * PASSES;
    expect(Math.abs(areaOf(sixteen.file.name) / north - 1)).toBeLessThan(0.02);
    expect(Math.abs(areaOf(fifteen.file.name) / south - 1)).toBeLessThan(0.02);
    // Only the one that was wrong is redrawn.
    const done = (name: string): Set<string> =>
      new Set(built.changes.filter((c) => c.planter === name).map((c) => c.done));
    expect(done(sixteen.file.name)).not.toContain('kept');
    expect([...done(fifteen.file.name)].every((d) => d === 'kept' || d === 'cut')).toBe(true);
    const difference = built.changes.reduce((s, c) => s + c.differenceM2, 0);
    expect(Math.abs(difference - (built.outM2 - built.inM2))).toBeLessThan(1e-9 * built.outM2);
    expect(built.residualM2).toBeLessThan(1e-6 * built.outM2);
    // Both machines keep the name that the map gave them.
    const marks = built.layer.columns.find((c) => c.name === 'gr_layout');
    expect(marks?.kind === 'text' && new Set(Array.from(marks.codes, (c) => marks.words[c])).size).toBe(2);
  });

  test('with one planter for both it is refused, and the refusal says how to give one for each', async () => {
    const error = await rebuild(input(undefined)).catch((e: unknown) => e);
    expect(error).toBeInstanceOf(UserError);
    const { code, todo } = (error as UserError).detail;
    expect(code).toBe('several-machines');
    expect(todo).toContain('--planter');
  });
});
