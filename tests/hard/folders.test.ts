/** Pages that are sent to others name files and no folders of whoever made them. Those of an audit: tests/audit. */
import { copyFileSync, mkdirSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { homedir, tmpdir } from 'node:os';
import { join, relative, resolve } from 'node:path';
import { afterAll, expect, it } from 'vitest';
import { guessrow } from '../cli/run.ts';

const dir = mkdtempSync(join(tmpdir(), 'guessrow-'));
afterAll(() => rmSync(dir, { recursive: true }));
const own = join(dir, 'of-jane-doe', 'spring');
mkdirSync(own, { recursive: true });
for (const name of ['before.geojson', 'after.geojson', 'test-strips.planter.json'])
  copyFileSync(join('sample-data/test-strips', name), join(own, name));
const [map, planter] = [join(own, 'before.geojson'), join(own, 'test-strips.planter.json')];

/** The folders that made a text must not name. */
const PRIVATE = ['of-jane-doe', dir, resolve('.'), `${homedir()}/`];

function expectNone(name: string, text: string): void {
  for (const folder of PRIVATE) expect([name, text.includes(folder)]).toEqual([name, false]);
}

it.each([
  ['of a check', ['check', map, '--planter', planter, '--planting', 'narrow', '--boundary', 'BOUNDARY']],
  [
    'of a check by a relative path',
    ['check', relative('.', map), '--planter', relative('.', planter), '--planting', 'narrow'],
  ],
])('the report %s', async (_what, args) => {
  const out = join(dir, 'report.html');
  // The map stands for a boundary of itself: polygons are polygons.
  const { status } = await guessrow(
    ...args.map((a) => a.replace('BOUNDARY', join(own, 'after.geojson'))),
    ...['--format', 'html', '--out', out],
  );
  expect(status).not.toBe(2);
  const html = readFileSync(out, 'utf8');
  expect(html).toContain('before.geojson');
  expectNone('report.html', html);
});
