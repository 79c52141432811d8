import { describe, expect, test } from 'vitest';
import { named } from '../../src/core/intake/index.ts';
import { type RebuildInput, rebuild } from '../../src/core/repair/index.ts';
import { UserError } from '../../src/core/shared/messages.ts';
import { drawField, toGeoJson } from '../generator/index.ts';
import { type InventedPlanter, PLANTERS, rowsOf } from '../generator/planters.ts';
import type { FieldSpec } from '../generator/spec.ts';
import { workTogether } from '../generator/together.ts';
import { field, metersOf, planterOf } from '../settings/help.ts';

const LENGTH_M = 130;
const PASSES = 4;
const widthOf = (p: InventedPlanter, planting: string): number => p.file.passSpacing[planting] * metersOf(p);
const { sixteen, fifteen } = PLANTERS;

/** Two machines in one field, side by side: North with sixteen rows, whose display was left on twelve, and South with fifteen rows of narrow spacing, recorded right. */
function twoMachines(): Uint8Array {
  const job = (p: InventedPlanter, planting: string, lon: number, more: Partial<FieldSpec>) =>
    drawField(
      field(p, planting, {
        seed: 5,
        origin: { lat: 47.2, lon },
        headingDeg: 0,
        shape: { kind: 'strip', lengthM: LENGTH_M, passes: PASSES },
        columns: { time: { name: 'logged', as: 'epoch-ms' }, section: { name: 'sec' } },
        ...more,
      }),
    );
  const twelve = { rows: 12, planted: rowsOf(12, 'all'), sections: sixteen.as('corn').sections.slice(0, 6) };
  const jobs = [
    { name: 'North', drawn: job(sixteen, 'corn', 8.1, { belief: twelve }), drives: () => true, startsMs: 0 },
    { name: 'South', drawn: job(fifteen, 'narrow', 8.102, {}), drives: () => true, startsMs: 15_000 },
  ];
  return toGeoJson(workTogether(jobs, 'logged', 'unit_no'));
}

const input = (planters: RebuildInput['planters']): RebuildInput => ({
  map: [named('m.geojson', twoMachines())],
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
    const areaOf = (name: string): number =>
      built.changes.reduce((s, c) => (c.planter === name ? s + c.outM2 : s), 0);
    // Width times length times passes; a pass is up to one log interval longer. Twelve of sixteen rows would be 25 % less.
    const north = widthOf(sixteen, 'corn') * LENGTH_M * PASSES;
    const south = widthOf(fifteen, 'narrow') * LENGTH_M * PASSES;
    expect(Math.abs(areaOf(sixteen.file.name) / north - 1)).toBeLessThan(0.02);
    expect(Math.abs(areaOf(fifteen.file.name) / south - 1)).toBeLessThan(0.02);
    // Only the one that was wrong is redrawn.
    const done = (name: string): Set<string> => new Set(built.changes.filter((c) => c.planter === name).map((c) => c.done));
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
