import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, test } from 'vitest';
import { MACHINES, type Machine, twoMachines } from '../generator/two-machines.ts';
import { guessrow } from './run.ts';

const folder = mkdtempSync(join(tmpdir(), 'compare-machines-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const at = (name: string): string => join(folder, name);
const DAY_MS = 86_400_000;

async function compared(
  before: Machine[],
  after: Machine[],
): Promise<{
  status: number;
  told: {
    verdict: string;
    machines: { machine: string; planter: string; verdict: string }[];
    settings: { machine: string; setting: string; outcome: string }[];
  };
}> {
  writeFileSync(at('before.geojson'), twoMachines(before));
  writeFileSync(at('after.geojson'), twoMachines(after, DAY_MS));
  const planters = Object.entries(MACHINES).flatMap(([name, { planter }]) => {
    writeFileSync(at(`${name}.planter.json`), JSON.stringify(planter.file));
    return ['--planter', `${name}=${at(`${name}.planter.json`)}`];
  });
  const plantings = Object.entries(MACHINES).flatMap(([name, { planting }]) => ['--planting', `${name}=${planting}`]);
  const files = [at('before.geojson'), at('after.geojson')];
  const { status, out, err } = await guessrow('compare', ...files, ...planters, ...plantings, '--format', 'json');
  expect(err).toBe('');
  return { status, told: JSON.parse(out) };
}

describe('two machines before and after a fix', () => {
  test('each has a verdict of its own: one is fixed, at the other nothing was wrong', async () => {
    const { status, told } = await compared(['North'], []);
    expect(told.machines.map((m) => [m.machine, m.planter, m.verdict])).toEqual([
      ['North', MACHINES.North.planter.file.name, 'fixed'],
      ['South', MACHINES.South.planter.file.name, 'nothing to fix'],
    ]);
    expect([told.verdict, status]).toEqual(['fixed', 0]);
    expect(told.settings.map((s) => [s.machine, s.setting, s.outcome])).toEqual([['North', 'frame-rows', 'fixed']]);
  });

  test('what is new on one machine is not lost behind what is fixed on the other', async () => {
    const { status, told } = await compared(['North'], ['South']);
    expect(told.machines.map((m) => [m.machine, m.verdict])).toEqual([
      ['North', 'fixed'],
      ['South', 'not fixed'],
    ]);
    expect([told.verdict, status]).toEqual(['not fixed', 1]);
    expect(told.settings.find((s) => s.machine === 'South')).toMatchObject({ setting: 'frame-rows', outcome: 'new' });
  });
});
