/** The command lines of the README, unchanged, with files of the repository under the names that they use. */
import { spawnSync } from 'node:child_process';
import { cpSync, existsSync, mkdirSync, readFileSync, symlinkSync, writeFileSync } from 'node:fs';
import { join, resolve } from 'node:path';
import { beforeAll, expect, test } from 'vitest';
import { builtCommand } from '../audit/built.ts';

const README = readFileSync('README.md', 'utf8');
const blocks = [...README.matchAll(/^```sh\n([\s\S]*?)^```$/gm)].flatMap((m) => m[1].trimEnd().split('\n'));
const lines = blocks.filter((l) => l.startsWith('npx guessrow '));
let at: { dir: string; command: string };

beforeAll(async () => {
  at = await builtCommand();
  const put = (from: string, to: string): void => cpSync(join('sample-data', from), join(at.dir, to));
  symlinkSync(resolve('sample-data'), join(at.dir, 'sample-data'));
  put('test-strips/test-strips.planter.json', 'fifteen-row.planter.json');
  put('other-pass-spacing/windbreak-forty.zip', 'field.zip');
  mkdirSync(join(at.dir, 'maps'));
  for (const [from, to] of [
    ['before', 'before'],
    ['after', 'after'],
    ['before', 'maps/north'],
    ['after', 'maps/south'],
  ])
    put(`test-strips/${from}.geojson`, `${to}.geojson`);
  // The display of this field recorded the population too.
  let record = 0;
  const strips = readFileSync('sample-data/test-strips/before.geojson', 'utf8');
  const field = strips.replaceAll('"sec":', () => `"seeds_ac":${34_000 + (record++ % 7)},"sec":`);
  writeFileSync(join(at.dir, 'field.geojson'), field);
  writeFileSync(
    join(at.dir, 'season.csv'),
    'map,planter,planting\nmaps/north.geojson,fifteen-row.planter.json,narrow\nmaps/south.geojson,fifteen-row.planter.json,narrow\n',
  );
}, 120_000);

test('there are command lines, and each command of the read-me is among them', () => {
  expect(lines.length).toBeGreaterThan(5);
  for (const name of ['check', 'audit', 'rebuild', 'compare'])
    expect(lines.some((l) => l.startsWith(`npx guessrow ${name} `))).toBe(true);
});

test.each(lines)(
  '%s',
  (line) => {
    const [program, name, ...args] = line.split(/\s+/);
    expect([program, name]).toEqual(['npx', 'guessrow']);
    const r = spawnSync(process.execPath, [at.command, ...args], { cwd: at.dir, encoding: 'utf8', timeout: 100_000 });
    // 0 and 1 are verdicts, 3 is an open one; 2 would be a refusal.
    expect([r.stderr, r.status]).toEqual(['', expect.toSatisfy((s: number) => [0, 1, 3].includes(s))]);
    expect(r.stdout.length).toBeGreaterThan(20);
    const out = args[args.indexOf('--out') + 1];
    if (args.includes('--out'))
      expect(existsSync(join(at.dir, out.endsWith('/') ? join(out, 'index.html') : out))).toBe(true);
  },
  120_000,
);
