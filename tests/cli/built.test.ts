import { spawn, spawnSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { build } from 'vite';
import { beforeAll, expect, test } from 'vitest';
import { layoutOf } from '../../src/core/planter/index.ts';
import { makeShapefile, makeZip, partsOf, type Ring, WGS84_PRJ } from '../intake/make-shapefile.ts';
import { fifteen } from '../planter/frames.ts';
import { field } from './field.ts';

const dir = mkdtempSync(join(tmpdir(), 'guessrow-'));
const command = join(dir, 'dist', 'cli', 'guessrow.js');
const guessrow = (...args: string[]) => spawnSync(process.execPath, [command, ...args], { cwd: dir, encoding: 'utf8' });

beforeAll(async () => {
  await build({ mode: 'cli', logLevel: 'warn', build: { outDir: join(dir, 'dist', 'cli') } });
  const planter = fifteen();
  writeFileSync(join(dir, 'p.planter.json'), JSON.stringify(planter.file));
  const bands = layoutOf(planter, 'wide').sectionBands.map((b) => b!);
  const text = field({ edgesM: [bands[0].leftM, ...bands.map((b) => b.rightM)], passSpacingM: 6.096 });
  writeFileSync(join(dir, 'wide.geojson'), text);
  const features: { geometry: { coordinates: Ring[] }; properties: { Section: number } }[] = JSON.parse(text).features;
  const file = makeShapefile({
    records: features.map((f) => f.geometry.coordinates.map((r) => [...r].reverse())),
    fields: [{ name: 'SECTION', type: 'N', length: 4, decimals: 0 }],
    rows: features.map((f) => [f.properties.Section]),
    prj: WGS84_PRJ,
  });
  const parts = partsOf('wide', file);
  writeFileSync(join(dir, 'wide.zip'), makeZip(parts));
  mkdirSync(join(dir, 'loose'));
  // Parts in another case than the .shp, as some exports write them.
  for (const [name, bytes] of Object.entries(parts))
    writeFileSync(join(dir, 'loose', name.endsWith('.shp') ? name : name.toUpperCase()), bytes);
}, 120_000);

test('one file runs by itself, away from the repository', () => {
  const r = guessrow('check', 'wide.geojson', '--planter', 'p.planter.json', '--planting', 'narrow');
  expect(r.stderr).toBe('');
  expect(r.status).toBe(1);
  expect(r.stdout.startsWith('DIFFERS ')).toBe(true);
  expect(Math.max(...r.stdout.split('\n').map((l) => [...l].length))).toBeLessThanOrEqual(100);
  expect(r.stdout).not.toContain('\u001B');
});

test('a shapefile gives one answer, zipped or loose, by any of its parts', () => {
  const check = (map: string) => {
    const r = guessrow('check', map, '--planter', 'p.planter.json', '--planting', 'narrow', '--format', 'json');
    expect([r.stderr, r.status]).toEqual(['', 1]);
    const report = JSON.parse(r.stdout);
    return { ...report, map: { ...report.map, source: '' } };
  };
  const zipped = check('wide.zip');
  expect(zipped.map.columns.section?.name).toBe('SECTION');
  expect(check(join('loose', 'wide.shp'))).toEqual(zipped);
  expect(check(join('loose', 'WIDE.DBF'))).toEqual(zipped);
});

test('a reader that stops early is not a failure', async () => {
  const child = spawn(
    process.execPath,
    [command, 'check', 'wide.geojson', '--planter', 'p.planter.json', '--planting', 'wide', '--format', 'geojson'],
    { cwd: dir },
  );
  let err = '';
  child.stderr.on('data', (c) => {
    err += c;
  });
  child.stdout.once('data', () => child.stdout.destroy());
  const status = await new Promise((resolve) => child.on('close', resolve));
  expect([status, err]).toEqual([0, '']);
});

test('serve answers on the printed address until it is stopped', async () => {
  expect(guessrow('serve').stderr).toMatch(/The page is not built yet/);
  mkdirSync(join(dir, 'dist', 'web'), { recursive: true });
  writeFileSync(join(dir, 'dist', 'web', 'index.html'), 'the page');
  mkdirSync(join(dir, 'sample-data'));
  writeFileSync(join(dir, 'sample-data', 'index.json'), JSON.stringify({ samples: [{ id: 'a b' }] }));
  const child = spawn(process.execPath, [command, 'serve', '--port', '0', '--sample', 'a b'], { cwd: tmpdir() });
  try {
    const address = await new Promise<string>((resolve, reject) => {
      child.stdout.on('data', (c) => {
        const m = /http:\/\/\S+/.exec(String(c));
        if (m) resolve(m[0]);
      });
      child.on('close', () => reject(new Error('serve ended before it printed an address')));
    });
    expect(address).toMatch(/^http:\/\/127\.0\.0\.1:\d+\/\?sample=a%20b$/);
    expect(await (await fetch(address)).text()).toBe('the page');
  } finally {
    child.kill('SIGTERM');
  }
  expect(await new Promise((resolve) => child.on('close', resolve))).toBe(0);
});
