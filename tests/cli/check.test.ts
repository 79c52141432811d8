import {
  existsSync,
  linkSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  symlinkSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { beforeAll, expect, test } from 'vitest';
import { layoutOf } from '../../src/core/planter/index.ts';
import { fifteen } from '../planter/frames.ts';
import { field } from './field.ts';
import { guessrow } from './run.ts';

const dir = mkdtempSync(join(tmpdir(), 'guessrow-'));
const at = (name: string) => join(dir, name);
const planterFile = at('fifteen.planter.json');

beforeAll(() => {
  const planter = fifteen();
  writeFileSync(planterFile, JSON.stringify(planter.file));
  const edges = (name: string) => {
    const bands = layoutOf(planter, name).sectionBands.map((b) => b!);
    return [bands[0].leftM, ...bands.map((b) => b.rightM)];
  };
  writeFileSync(at('narrow.geojson'), field({ edgesM: edges('narrow'), passSpacingM: 5.715 }));
  writeFileSync(at('wide.geojson'), field({ edgesM: edges('wide'), passSpacingM: 6.096 }));
  writeFileSync(at('short.geojson'), field({ edgesM: edges('narrow'), passSpacingM: 5.715, passes: 1, bars: 5 }));
  writeFileSync(at('broken.geojson'), '{"type":"FeatureCollection","features":[');
});

test('status 0: the map agrees', async () => {
  const r = await guessrow('check', at('narrow.geojson'), '--planter', planterFile, '--planting', 'narrow');
  expect(r.err).toBe('');
  expect(r.out.startsWith('AGREES ')).toBe(true);
  expect(r.status).toBe(0);
});

test('status 1: the map differs, and the rows that plant are named', async () => {
  const r = await guessrow(
    'check',
    at('wide.geojson'),
    '--planter',
    planterFile,
    '--planting',
    'narrow',
    '--format',
    'json',
  );
  expect(r.err).toBe('');
  expect(r.status).toBe(1);
  const report = JSON.parse(r.out);
  expect(report.verdict).toBe('differs');
  expect(report.diagnoses.map((d: { setting: string }) => d.setting)).toContain('planted-rows');
  expect(report.recorded.workingWidthM).toBeCloseTo(6.096, 2);
});

test('without --planting the answer is given for each planting, and undecided where they differ', async () => {
  const r = await guessrow('check', at('wide.geojson'), '--planter', planterFile, '--format=json');
  const { verdict, declared, ifPlanted, diagnoses } = JSON.parse(r.out);
  expect([r.status, verdict, declared.planting, diagnoses]).toEqual([3, 'undecided', 'wide', []]);
  expect(ifPlanted.map((p: { planting: string; verdict: string }) => [p.planting, p.verdict])).toEqual([
    ['narrow', 'differs'],
    ['wide', 'agrees'],
  ]);
});

test('status 3: too little to decide', async () => {
  const r = await guessrow('check', at('short.geojson'), '--planter', planterFile, '--planting', 'narrow');
  expect(r.status).toBe(3);
  expect(r.out).toMatch(/^UNDECIDED /);
  expect(r.out).toContain('What would decide it:');
});

test('status 2: nothing is written, the reason is on standard error', async () => {
  const out = at('never.json');
  const r = await guessrow('check', at('broken.geojson'), '--planter', planterFile, '--out', out, '--format', 'json');
  expect(r.status).toBe(2);
  expect(r.out).toBe('');
  expect(r.err).toMatch(/^guessrow: broken\.geojson/);
  expect(existsSync(out)).toBe(false);
  expect(readdirSync(dir).filter((n) => n.endsWith('.part'))).toEqual([]);
});

test.each([
  [['chek'], /no command "chek"\. Did you mean "guessrow check"\?/],
  [['check', '--planter', planterFile], /needs MAP/],
  [['check', at('narrow.geojson')], /Add "--planter FILE"/],
  [['check', at('narrow.geojson'), '--plantr', planterFile], /no option "--plantr"\. Did you mean "--planter"\?/],
  [['check', at('narrow.geojson'), '--planter', planterFile, '--planting', 'narow'], /Did you mean "narrow"\?/],
  [
    ['check', at('narrow.geojson'), '--planter', planterFile, '--format', 'docx'],
    /"docx" is not a value of "--format"/,
  ],
  [
    ['check', at('narrow.geojson'), '--planter', planterFile, '--pass-accuracy', '2.5'],
    /number and its unit, such as 2\.5cm/,
  ],
  [['check', at('narrow.geojson'), '--planter', planterFile, '--columns', 'tme=Time'], /Did you mean "time"\?/],
  [['check', at('narrow.geojson'), '--planter', planterFile, '--columns', 'time=Tim'], /Tim/],
  [['check', at('narrow.geojson'), '--planter'], /"--planter" needs a value/],
  [['check', at('narrow.geojson'), at('wide.geojson'), '--planter', planterFile], /does not know what to do with/],
  [['check', at('missing.geojson'), '--planter', planterFile], /There is no file/],
  [['check', dir, '--planter', planterFile], /There are 4 layers/],
  [['check', at('narrow.geojson'), '--planter', at('narrow.geojson')], /narrow\.geojson/],
  [['check', planterFile, '--planter', planterFile], /fifteen\.planter\.json/],
  [['layout'], /needs FILE/],
  [['layout', planterFile, '--propose', 'x'], /"x" is not a number of sections/],
  [['serve', '--sample', 'foo'], /no sample "foo"\. The samples are healthy-field, .* and test-strips-after\./],
  [['serve', '--port', '99999'], /"99999" is not a port/],
])('status 2: %j', async (args, reason) => {
  const r = await guessrow(...args);
  expect(r.err).toMatch(reason);
  expect(r.err).not.toContain('bug in the program');
  expect([r.status, r.out]).toEqual([2, '']);
});

test('an input is never overwritten, by another name or link either', async () => {
  const map = at('narrow.geojson');
  const before = readFileSync(map);
  mkdirSync(at('sub'), { recursive: true });
  linkSync(map, at('hard.geojson'));
  symlinkSync(map, at('soft.geojson'));
  for (const out of [map, planterFile, at('sub/../narrow.geojson'), at('hard.geojson'), at('soft.geojson')]) {
    const r = await guessrow('check', map, '--planter', planterFile, '--out', out);
    expect(r.err).toMatch(/would overwrite an input/);
    expect(r.status).toBe(2);
  }
  expect(readFileSync(map).equals(before)).toBe(true);
});

test.each(['text', 'json', 'geojson', 'csv'])('--out holds what the screen shows: %s', async (format) => {
  const args = ['check', at('wide.geojson'), '--planter', planterFile, '--planting', 'narrow', '--format', format];
  const screen = await guessrow(...args);
  const file = await guessrow(...args, '--out', at(`out.${format}`));
  expect(file.status).toBe(1);
  expect(file.out).toContain('Written to');
  expect(readFileSync(at(`out.${format}`), 'utf8')).toBe(screen.out);
});

test('a column named by the user is used, also with commas in its name', async () => {
  const text = readFileSync(at('narrow.geojson'), 'utf8').replaceAll('"Time"', '"When, UTC"');
  writeFileSync(at('named.geojson'), text);
  const r = await guessrow(
    'check',
    at('named.geojson'),
    '--planter',
    planterFile,
    '--planting',
    'narrow',
    '--format',
    'json',
    '--columns',
    'time=When, UTC,section=Section',
  );
  expect(r.err).toBe('');
  const { columns } = JSON.parse(r.out).map;
  expect([columns.time.name, columns.section.name]).toEqual(['When, UTC', 'Section']);
});

test('help lists every command and option', async () => {
  const r = await guessrow('--help');
  expect(r.status).toBe(0);
  expect((await guessrow('check', '--help')).out).toContain('--pass-accuracy LENGTH');
  expect((await guessrow('check', '-h')).out).toBe((await guessrow('check', '--help')).out);
  expect((await guessrow()).status).toBe(2);
});

test('layout draws the frame', async () => {
  const r = await guessrow('layout', planterFile, '--propose', '8');
  expect([r.status, r.err]).toEqual([0, '']);
  expect(r.out).toContain('8: 1-2 3-4 5-6 7 8-9 10-11 12-13 14-15');
});
