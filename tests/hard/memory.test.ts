/** Memory that ends: in one array, in a process of an audit, in every process. A sentence, no half file; what is no lack of memory is not called so. */
import { spawnSync } from 'node:child_process';
import { copyFileSync, mkdirSync, readdirSync, readFileSync, truncateSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { beforeAll, describe, expect, it } from 'vitest';
import { named, read } from '../../src/core/intake/index.ts';
import { isOutOfMemory, UserError } from '../../src/core/shared/messages.ts';
import { builtCommand } from '../audit/built.ts';

const sample = 'sample-data/test-strips/';
const sound = readFileSync(`${sample}before.geojson`);
let dir = '';
let command = '';

beforeAll(async () => {
  ({ dir, command } = await builtCommand());
  mkdirSync(join(dir, 'maps'));
  copyFileSync(`${sample}before.geojson`, join(dir, 'maps', 'sound.geojson'));
  copyFileSync(`${sample}test-strips.planter.json`, join(dir, 'p.planter.json'));
  // One record with a million and a half of lists in a property: 6 MB of file, a hundred of heap.
  const first = JSON.stringify(JSON.parse(sound.toString()).features[0]);
  const heavy = first.replace('"properties":{', `"properties":{"x":[${'[0],'.repeat(1.5e6)}0],`);
  writeFileSync(join(dir, 'maps', 'heavy.geojson'), `{"type":"FeatureCollection","features":[${heavy}]}`);
}, 120_000);

const thrown = (work: () => unknown): unknown => {
  try {
    work();
  } catch (e) {
    return e;
  }
  throw new Error('nothing was thrown');
};

describe('what the engine throws', () => {
  const deep = (): number => 1 + deep();
  it.each<[string, () => unknown]>([
    ['an array of bytes without room', () => new ArrayBuffer(1e15)],
    ['more elements than an array can have', () => new Float64Array(1e12)],
    ['a text that is too long', () => 'x'.repeat(2 ** 30)],
    ['bytes that make too long a text', () => new TextDecoder().decode(new Uint8Array(6e8))],
  ])('%s is a lack of memory', (_, work) => {
    expect(isOutOfMemory(thrown(work))).toBe(true);
  });
  it.each<[string, () => unknown]>([
    ['a typed array of a length below zero', () => new Float64Array(-1)],
    ['an array of a length below zero', () => new Array(-1)],
    ['bytes of a length below zero', () => new ArrayBuffer(-1)],
    ['a view past the end of its bytes', () => new Float64Array(new ArrayBuffer(16), 8, 4)],
    ['reading past the end', () => new DataView(new ArrayBuffer(4)).getInt32(2)],
    ['copying into too short an array', () => new Uint8Array(4).set(new Uint8Array(5))],
    ['recursion without end', deep],
    ['digits that cannot be', () => (1).toFixed(200)],
  ])('%s is a fault', (_, work) => {
    const e = thrown(work);
    expect(e).toBeInstanceOf(RangeError);
    expect(isOutOfMemory(e)).toBe(false);
  });

  it('becomes a sentence while reading, or stays the bug it is', async () => {
    const failing = (e: unknown) =>
      read([named('field.geojson', sound)], {}, () => {
        throw e;
      }).catch((x: unknown) => x);
    const lack = await failing(thrown(() => new ArrayBuffer(1e15)));
    expect(lack).toBeInstanceOf(UserError);
    expect((lack as UserError).detail).toMatchObject({ code: 'out-of-memory', place: { file: 'field.geojson' } });
    const fault = thrown(() => new Float64Array(-1));
    expect(await failing(fault)).toBe(fault);
  });
});

const run = (env: NodeJS.ProcessEnv, ...args: string[]) =>
  spawnSync(process.execPath, [command, ...args], {
    cwd: dir,
    encoding: 'utf8',
    env: { ...process.env, ...env },
    timeout: 100_000,
  });

it('a check without room for one array: one sentence, status 2, the earlier answer intact', () => {
  // A record that says 1.9 GB, in a file that is as long as it says and takes no room on the disk; the process may have 2 GB of addresses.
  const size = 1_900_000_000;
  const head = new DataView(new ArrayBuffer(152));
  head.setInt32(0, 9994);
  head.setInt32(24, size / 2);
  head.setInt32(28, 1000, true);
  head.setInt32(32, 5, true);
  head.setInt32(100, 1);
  head.setInt32(104, (size - 108) / 2);
  head.setInt32(108, 5, true);
  writeFileSync(join(dir, 'claims.shp'), new Uint8Array(head.buffer));
  truncateSync(join(dir, 'claims.shp'), size);
  writeFileSync(join(dir, 'out.json'), 'an earlier answer');
  const args = [
    'check',
    'claims.shp',
    '--planter',
    'p.planter.json',
    '--limit',
    'record-size=4GB',
    '--out',
    'out.json',
  ];
  const r = spawnSync('sh', ['-c', 'ulimit -v 2000000; exec "$0" "$@"', process.execPath, command, ...args], {
    cwd: dir,
    encoding: 'utf8',
  });
  expect([r.status, r.stdout, r.stderr]).toEqual([
    2,
    '',
    'guessrow: claims.shp: The map does not fit into memory. Export one field at a time. [out-of-memory]\n',
  ]);
  expect(readFileSync(join(dir, 'out.json'), 'utf8')).toBe('an earlier answer');
  expect(readdirSync(dir).filter((n) => n.endsWith('.part'))).toEqual([]);
}, 120_000);

const auditArgs = (out: string): string[] => [
  ...['audit', 'maps', '--planter', 'p.planter.json', '--planting', 'narrow', '--out', out, '--at-once', '2'],
];

it('a process of an audit that dies of memory: its field is a row with a sentence, the others are checked, nothing is half', () => {
  const r = run({ NODE_OPTIONS: '--max-old-space-size=25' }, ...auditArgs('season'));
  expect([r.status, r.stdout.split('\n')[0]]).toEqual([1, '2 fields: 1 differs, 1 could not be checked.']);
  const rows = readFileSync(join(dir, 'season', 'fields.jsonl'), 'utf8')
    .trimEnd()
    .split('\n')
    .map((l) => JSON.parse(l));
  expect(rows.find((l) => l.field === 'heavy.geojson').says).toBe(
    'The field could not be finished: it crashed two processes, usually for lack of memory; export it in parts, or take "--at-once 1". Start the audit again to try it again.',
  );
  const left = readdirSync(join(dir, 'season'), { recursive: true, encoding: 'utf8' });
  expect(left.filter((n) => /\.part$|\.lock$/.test(n))).toEqual([]);
  expect(readdirSync(join(dir, 'season', 'fields')).length).toBe(3);
  // Not in the journal: with room, the next run checks it, and it alone.
  const again = run({}, ...auditArgs('season'));
  expect(again.stdout).toContain('One of them was finished by an earlier run.'.replace('One', '1'));
  expect(again.stdout).not.toContain('Given up');
}, 120_000);

it('an audit whose processes cannot even start ends in one sentence', () => {
  // What processes run is put in place of the real thing: it takes memory without end as soon as it is read.
  writeFileSync(join(dirname(command), 'audit-worker.js'), 'const a = []; for (;;) a.push([a.length]);');
  const r = run({ NODE_OPTIONS: '--max-old-space-size=40' }, ...auditArgs('none'));
  expect([r.status, r.stdout]).toEqual([2, '']);
  expect(r.stderr).toMatch(
    /^guessrow: The processes that check fields cannot be started: [^.]*memory\. Close other programs or take a smaller "--at-once", then start again: what is finished is kept\. \[processes\]\n$/,
  );
  expect(readdirSync(join(dir, 'none'))).toEqual(['fields', 'journal.jsonl']);
}, 120_000);
