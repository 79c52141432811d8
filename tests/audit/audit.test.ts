import { spawnSync } from 'node:child_process';
import {
  appendFileSync,
  chmodSync,
  existsSync,
  mkdirSync,
  readdirSync,
  readFileSync,
  statSync,
  writeFileSync,
} from 'node:fs';
import { dirname, join } from 'node:path';
import { DuckDBInstance } from '@duckdb/node-api';
import { beforeAll, expect, test } from 'vitest';
import { CAUTIONS } from '../../src/core/shared/messages.ts';
import { builtCommand, run, start, until } from './built.ts';
import { season, type Truth } from './season.ts';

const FIELDS = 60;
const BAD = 8;
const OUTPUTS = ['fields.csv', 'fields.jsonl', 'fields.parquet', 'findings.json', 'index.html', 'weeks.csv'];

interface Line {
  field: string;
  verdict: string;
  settings: string;
  affected_m2: number;
  machine: string;
  says: string;
  same_as: string | null;
  report: string;
  key: string;
}

let at: { dir: string; command: string };
let truth: Truth[];
const inDir = (...names: string[]) => join(at.dir, ...names);
const read = (...names: string[]) => readFileSync(inDir(...names), 'utf8');
const lines = (...names: string[]): Line[] =>
  read(...names)
    .trimEnd()
    .split('\n')
    .map((l) => JSON.parse(l));
const audit = (out: string, ...more: string[]) =>
  run(at, 'audit', 'maps', '--planter', 'maps/fifteen.planter.json', '--planting', 'narrow', '--out', out, ...more);

beforeAll(async () => {
  at = await builtCommand();
  truth = season(inDir('maps'), FIELDS, BAD);
  expect(truth.filter((t) => t.is === 'bad').length).toBe(BAD);
  expect(truth.filter((t) => t.is === 'planted-rows').length).toBe(9);
}, 120_000);

test('every field has one row, bad files do not stop the others, and the table is sorted by the area affected', async () => {
  const r = audit('one', '--at-once', '2');
  expect([r.stderr, r.status]).toEqual(['', 1]);
  expect(r.stdout).toContain('60 fields: 9 differ, 43 agree, 8 could not be checked.');
  expect(r.stdout).toContain(
    '1 other file was not taken for a map:\n  - readme.txt: ".txt" is not the ending of a map',
  );
  for (const c of CAUTIONS) expect(r.stdout.replace(/\s+/g, ' ')).toContain(c);

  const rows = lines('one', 'fields.jsonl');
  expect(rows.map((l) => l.field).sort()).toEqual(truth.map((t) => t.name).sort());
  const verdict = { right: 'agrees', 'planted-rows': 'differs', bad: 'not checked' };
  for (const t of truth) {
    const row = rows.find((l) => l.field === t.name)!;
    expect([t.name, row.verdict]).toEqual([t.name, verdict[t.is]]);
    if (t.is === 'planted-rows') expect(row.settings.split(' ')[0]).toBe('planted-rows');
    if (t.is !== 'bad') expect([row.machine, existsSync(inDir('one', row.report))]).toEqual([t.machine, true]);
    // One sentence that names the file, and no fault of the program.
    else expect(row.says).toMatch(/^[^ ]*field-\d+.*\[[a-z-]+\]$/);
  }
  const areas = rows.map((l) => l.affected_m2);
  expect(areas).toEqual([...areas].sort((a, b) => b - a));
  expect(areas[8]).toBeGreaterThan(0);
  // Each report of a checked field, three ways.
  expect(readdirSync(inDir('one', 'fields')).length).toBe(3 * (FIELDS - BAD));
  const worst = rows[0].report.replace(/\.[a-z]+$/, '');
  expect(read('one', `${worst}.txt`).startsWith('DIFFERS')).toBe(true);
  expect(JSON.parse(read('one', `${worst}.json`)).verdict).toBe('differs');
});

test('pages of an audit name files, and no folder of whoever ran it', () => {
  const maps = truth.filter((t) => t.is !== 'bad').slice(0, 3);
  const planter = ['--planter', inDir('maps', 'fifteen.planter.json'), '--planting', 'narrow'];
  const r = run(at, 'audit', ...maps.map((t) => inDir('maps', t.name)), ...planter, '--out', inDir('abroad'));
  expect([r.stderr, r.status === 2]).toEqual(['', false]);
  const pages = readdirSync(inDir('abroad'), { recursive: true, encoding: 'utf8' }).filter((f) => f.endsWith('.html'));
  expect(pages.length).toBe(1 + maps.length);
  for (const page of pages) {
    const text = read('abroad', page);
    expect(text).toContain('field-');
    expect([page, text.includes(at.dir)]).toEqual([page, false]);
  }
});

test('a general database reads the same table from Parquet, CSV and JSON Lines', async () => {
  const db = await (await DuckDBInstance.create(':memory:')).connect();
  const sql = (from: string) =>
    `select field, verdict, settings, round(affected_m2, 2) as affected, records, says from ${from} order by field`;
  const rows = async (from: string) => (await db.runAndReadAll(sql(from))).getRowsJson().map((r) => r.map(String));
  const parquet = await rows(`read_parquet('${inDir('one', 'fields.parquet')}')`);
  expect(parquet.length).toBe(FIELDS);
  expect(await rows(`read_json('${inDir('one', 'fields.jsonl')}', format='newline_delimited')`)).toEqual(parquet);
  const csv = await rows(`read_csv('${inDir('one', 'fields.csv')}', header=true, nullstr='(none)')`);
  expect(csv).toEqual(parquet);
});

test('the audit says since when a machine was wrong', () => {
  const { stretches } = JSON.parse(read('one', 'findings.json'));
  const mine = stretches.filter((s: { setting: string }) => s.setting === 'planted-rows');
  expect(mine.length).toBe(1);
  expect(mine[0].says).toBe(
    'Machine "North 2" with planter "Fifteen-row split frame": "Rows planted" was wrong from May 3, 2026 on, nine fields; right in the five before.',
  );
  expect([...mine[0].fields].sort()).toEqual(
    truth
      .filter((t) => t.is === 'planted-rows')
      .map((t) => t.name)
      .sort(),
  );
});

test('a killed run resumes where it was: no field lost, none checked twice, the same bytes in the end', async () => {
  const child = start(
    at,
    'audit',
    'maps',
    '--planter',
    'maps/fifteen.planter.json',
    '--planting',
    'narrow',
    '--out',
    'two',
    '--at-once',
    '1',
  );
  const journal = inDir('two', 'journal.jsonl');
  const done = () => (existsSync(journal) ? readFileSync(journal, 'utf8').split('\n').length - 1 : 0);
  expect(await until(() => done() >= 10)).toBe(true);
  // One audit at a time in a folder.
  const second = audit('two');
  expect([second.status, second.stdout]).toEqual([2, '']);
  expect(second.stderr).toMatch(/Another audit is writing into this folder/);
  child.kill('SIGKILL');
  await new Promise((r) => child.on('close', r));
  const before = readFileSync(journal, 'utf8').split('\n').slice(0, -1);
  expect(before.length).toBeLessThan(FIELDS);
  // The file is complete, and says that fields are missing.
  expect(JSON.parse(read('two', 'findings.json')).open).toBeGreaterThan(0);
  expect(lines('two', 'fields.jsonl').length).toBeLessThan(FIELDS);
  // What a crash in the middle of a write leaves behind.
  appendFileSync(journal, `${before[0].slice(0, 200)}`);

  const r = audit('two');
  expect([r.stderr, r.status]).toEqual(['', 1]);
  expect(r.stdout).toContain(`${before.length} of them were finished by an earlier run.`);
  for (const name of OUTPUTS)
    expect([name, readFileSync(inDir('two', name))]).toEqual([name, readFileSync(inDir('one', name))]);
  const keys = readFileSync(journal, 'utf8')
    .split('\n')
    .filter((l) => l.endsWith('}') && l.startsWith('{'))
    .map((l) => JSON.parse(l).key);
  expect(new Set(keys).size).toBe(keys.length);
  const rows = lines('two', 'fields.jsonl').filter((l) => l.key !== '' && l.same_as === null);
  expect([...keys].sort()).toEqual(rows.map((l) => l.key).sort());
  for (const [i, line] of before.entries()) expect(readFileSync(journal, 'utf8').split('\n')[i]).toBe(line);
}, 120_000);

test('a third run checks nothing; a map that changed is checked again, and it alone', () => {
  expect(audit('two').stdout).toContain(
    `${lines('two', 'fields.jsonl').filter((l) => l.key !== '').length} of them were`,
  );
  const name = truth.find((t) => t.is === 'right')!.name;
  const old = readFileSync(inDir('maps', name), 'utf8');
  writeFileSync(inDir('maps', name), `${old}\n`);
  const count = () => readFileSync(inDir('two', 'journal.jsonl'), 'utf8').split('\n').length;
  const before = count();
  expect(audit('two').status).toBe(1);
  expect(count()).toBe(before + 1);
  writeFileSync(inDir('maps', name), old);
});

test('a list names planter, planting, boundary and machine of each map; a copy is checked once; nothing in it becomes code', async () => {
  const esc = '\u001B[31m';
  const map = truth.find((t) => t.is === 'planted-rows')!.name;
  const other = truth.find((t) => t.is === 'right')!.name;
  mkdirSync(inDir('odd'), { recursive: true });
  const name = '<img src=x onerror=alert(1)>.geojson';
  writeFileSync(inDir('odd', name), read('maps', map));
  writeFileSync(
    inDir('odd', '=1+2.geojson'),
    read('maps', other).replaceAll('"Machine":"North 2"', '"Machine":"@SUM(A1)"'),
  );
  const list = [
    'map,planter,planting,machine',
    `${map},fifteen.planter.json,narrow,=HYPERLINK("http://x.invalid")`,
    `../odd/${name},fifteen.planter.json,narrow,"<script>alert(1)</script>${esc}"`,
    '../odd/=1+2.geojson,fifteen.planter.json,narrow,',
    '../../../../../../etc/passwd,fifteen.planter.json,,',
    `${other},no-such.planter.json,,`,
    `${other},fifteen.planter.json,sideways,`,
    'missing.geojson,fifteen.planter.json,,',
  ];
  writeFileSync(inDir('maps', 'list.csv'), `${list.join('\r\n')}\r\n`);
  const r = run(at, 'audit', 'maps/list.csv', '--out', 'three');
  expect([r.stderr, r.status]).toEqual(['', 1]);
  expect(r.stdout).not.toContain('\u001B');
  const rows = lines('three', 'fields.jsonl');
  expect(rows.length).toBe(7);
  expect(rows.filter((l) => l.same_as !== null).length).toBe(1);
  const says = (part: string) => rows.filter((l) => l.says.includes(part)).length;
  expect([says('no-such.planter.json'), says('sideways'), says('There is no file')].every((n) => n >= 1)).toBe(true);

  const page = read('three', 'index.html');
  expect(page.match(/<script>/g)?.length).toBe(1);
  expect(page).not.toContain('<img');
  expect(page).not.toContain('\u001B');
  expect(page).toContain('&lt;script&gt;');
  expect(page).not.toMatch(/(src|href)="(?!fields\/|#fields")/);
  const csv = read('three', 'fields.csv') + read('three', 'weeks.csv');
  expect(csv).not.toContain('\u001B');
  for (const cell of csv.split(/,|\r\n/)) expect(cell).not.toMatch(/^"?[=+@]/);
  expect(csv).toContain("'@SUM(A1)");
  expect(readdirSync(inDir('three', 'fields')).every((n) => /^[0-9a-f]{20}\.(html|json|txt)$/.test(n))).toBe(true);
}, 120_000);

test('reports that the journal does not list are removed, and nothing else', () => {
  const maps = truth
    .filter((t) => t.is === 'right')
    .slice(0, 2)
    .map((t) => inDir('maps', t.name));
  const again = (...more: string[]): string[] => {
    const frame = ['--planter', 'maps/fifteen.planter.json', '--planting', 'narrow', '--out', 'left'];
    expect(run(at, 'audit', ...maps, ...frame, ...more).status).toBe(0);
    return readdirSync(inDir('left', 'fields')).sort();
  };
  const first = again();
  expect(first.length).toBe(6);
  const foreign = ['0123456789abcdef0123.pdf', '0123456789abcdef.html', 'notes.txt'];
  for (const name of [...foreign, '0123456789abcdef0123.html']) writeFileSync(inDir('left', 'fields', name), 'x');
  // Both sets of options are in the journal, and either is available again without a check.
  const both = again('--seed-cost', '95/ac');
  expect(both.length).toBe(12 + foreign.length);
  expect(both).toEqual(expect.arrayContaining([...first, ...foreign]));
  const forgotten = again('--seed-cost', '95/ac', '--again');
  expect(forgotten).toEqual(both.filter((name) => !first.includes(name)));
}, 120_000);

test('a folder or file that cannot be read gets a row with the reason, and the audit goes on', () => {
  const good = truth.find((t) => t.is === 'right')!.name;
  for (const folder of ['shut/a', 'shut/b/locked', 'shut/c/deep']) mkdirSync(inDir(folder), { recursive: true });
  for (const name of ['a/one.geojson', 'a/held.geojson', 'a/held.json', 'b/locked/two.geojson', 'c/deep/three.geojson'])
    writeFileSync(inDir('shut', name), `${read('maps', good)}${' '.repeat(name.length)}`);
  const closed = ['b/locked', 'a/held.geojson', 'a/held.json'].map((name) => inDir('shut', name));
  for (const path of closed) chmodSync(path, 0);
  mkdirSync(inDir('told'));
  chmodSync(inDir('told'), 0o777);
  // Rights do not bind the root user: the audit is run as somebody else then.
  const root = process.getuid?.() === 0;
  if (root) for (const f of [at.dir, dirname(at.dir)]) chmodSync(f, statSync(f).mode | 0o055);
  const who = root ? { uid: 65534, gid: 65534 } : {};
  const rows = (out: string, ...paths: string[]): Record<string, string> => {
    const args = ['audit', ...paths, '--planter', 'maps/fifteen.planter.json', '--planting', 'narrow', '--out', out];
    const r = spawnSync(process.execPath, [at.command, ...args], { cwd: at.dir, encoding: 'utf8', ...who });
    expect([r.stderr, r.status]).toEqual(['', 3]);
    return Object.fromEntries(lines(out, 'fields.jsonl').map((l) => [l.field, `${l.verdict}: ${l.says}`]));
  };
  try {
    const all = rows('told/all', 'shut');
    expect(Object.keys(all).sort()).toEqual(
      ['a/held.geojson', 'a/held.json', 'a/one.geojson', 'b/locked', 'c/deep/three.geojson'].sort(),
    );
    expect(all['b/locked']).toBe(
      'not checked: locked: There is no permission to read the folder. Ask for permission to read it. [file-access]',
    );
    for (const name of ['a/held.geojson', 'a/held.json'])
      expect(all[name]).toMatch(/^not checked: .*There is no permission to read/);
    for (const name of ['a/one.geojson', 'c/deep/three.geojson']) expect(all[name]).toMatch(/^agrees/);
    // A pattern reports only folders in which it could have found something.
    expect(Object.keys(rows('told/deep', 'shut/**/t*.geojson')).sort()).toEqual(['b/locked', 'c/deep/three.geojson']);
    expect(Object.keys(rows('told/flat', 'shut/*/?e*.geojson', 'shut/a/one.geojson')).sort()).toEqual(
      ['held.geojson', 'one.geojson'].sort(),
    );
    // Named one by one, as a shell does with a pattern of its own.
    expect(Object.keys(rows('told/named', 'shut/a/held.geojson', 'shut/a/one.geojson')).sort()).toEqual(
      ['held.geojson', 'one.geojson'].sort(),
    );
  } finally {
    for (const path of closed) chmodSync(path, 0o700);
  }
}, 120_000);

test('nothing starts with bad arguments, and the exit status gives the result', () => {
  const bad = (part: RegExp, ...args: string[]) => {
    const r = run(at, 'audit', ...args);
    expect([args, r.status, r.stdout]).toEqual([args, 2, '']);
    expect(r.stderr).toMatch(part);
    expect(r.stderr.trimEnd().split('\n').length).toBe(1);
  };
  bad(/needs PATH/);
  bad(/--out FOLDER/, 'maps');
  bad(/no file "nowhere"/, 'nowhere', '--out', 'x');
  bad(/No map was found/, 'maps/*.xyz', '--planter', 'maps/fifteen.planter.json', '--out', 'x');
  bad(/--maps-from/, 'maps', '--out', 'x', '--queue', 'redis://127.0.0.1:1');
  bad(/queue does not answer/, 'maps', '--out', 'x', '--queue', 'redis://127.0.0.1:1', '--maps-from', 'maps');
  expect(existsSync(inDir('x'))).toBe(false);
  // A folder in which the system makes none.
  bad(
    /^guessrow: guessrow: .*\[file-access\]/,
    'maps',
    '--planter',
    'maps/fifteen.planter.json',
    '--out',
    '/proc/guessrow/x',
  );
  expect(audit('deep/er/out', '--limit', 'records=1').status).toBe(2);
  expect(existsSync(inDir('deep', 'er', 'out', 'index.html'))).toBe(true);
  writeFileSync(inDir('bad.csv'), 'map,plantr\na.geojson,b\n');
  bad(/Did you mean "planter"/, 'bad.csv', '--out', 'x');

  const one = (is: Truth['is']) => inDir('maps', truth.find((t) => t.is === is)!.name);
  const status = (...maps: string[]) =>
    run(at, 'audit', ...maps, '--planter', 'maps/fifteen.planter.json', '--planting', 'narrow', '--out', 'four').status;
  expect(status(one('right'))).toBe(0);
  expect(status(one('right'), one('bad'))).toBe(3);
  expect(status(one('bad'))).toBe(2);
  expect(status(one('right'), one('planted-rows'))).toBe(1);
}, 120_000);
