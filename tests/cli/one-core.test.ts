import { spawnSync } from 'node:child_process';
import { copyFileSync, mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { beforeAll, expect, it } from 'vitest';
import { builtCommand } from '../audit/built.ts';

let at: { dir: string; command: string };

beforeAll(async () => {
  at = await builtCommand();
  mkdirSync(join(at.dir, 'maps'));
  for (const name of ['before.geojson', 'test-strips.planter.json'])
    copyFileSync(join('sample-data/test-strips', name), join(at.dir, 'maps', name));
}, 120_000);

// The flag that the command passes to its engine is not an option of Node's own: an engine without it would report it on the error stream.
it.skipIf(process.platform !== 'linux')(
  'held to one core, a check and an audit say what they say on two, and nothing else',
  () => {
    const run = (first: string[], ...args: string[]) => {
      const [program, ...rest] = [...first, process.execPath, at.command, ...args];
      const r = spawnSync(program, rest, { cwd: at.dir, encoding: 'utf8' });
      return [r.status, r.stdout, r.stderr];
    };
    const one = ['taskset', '-c', '0'];
    const check = ['check', 'maps/before.geojson', '--planter', 'maps/test-strips.planter.json'];
    const free = run([], ...check);
    expect(free[2]).toBe('');
    expect(run(one, ...check)).toEqual(free);
    const audit = [
      'audit',
      'maps/before.geojson',
      '--planter',
      'maps/test-strips.planter.json',
      '--planting',
      'narrow',
      '--out',
    ];
    const [status, , err] = run(one, ...audit, 'season');
    // The strips from before the fix differ.
    expect([status, err]).toEqual([1, '']);
  },
);
