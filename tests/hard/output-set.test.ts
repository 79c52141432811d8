/** Every step of writing a set of outputs fails once: nothing of the set may be new then, and nothing left beside it. */
import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, test, vi } from 'vitest';
import { UserError } from '../../src/core/shared/messages.ts';

/** Steps of the file system that are made to fail, and which of them, counted from 1. */
const fault = vi.hoisted(() => ({ step: 0, at: 0, code: '', only: '', always: '' }));
vi.mock('node:fs', async (original) => {
  const fs = await original<typeof import('node:fs')>();
  const failing = (name: string): boolean => {
    if (fault.always === name) return true;
    if (fault.only !== '' && fault.only !== name) return false;
    return ++fault.step === fault.at;
  };
  const trouble = (): Error => Object.assign(new Error(fault.code), { code: fault.code });
  const wrap =
    <A extends unknown[], R>(name: string, real: (...a: A) => R) =>
    (...a: A): R => {
      if (failing(name)) throw trouble();
      return real(...a);
    };
  return {
    ...fs,
    openSync: wrap('open', fs.openSync),
    writeSync: wrap('write', fs.writeSync as (...a: unknown[]) => number),
    linkSync: wrap('link', fs.linkSync),
    renameSync: wrap('rename', fs.renameSync),
    fsync: (fd: number, done: (e: Error | null) => void): void =>
      failing('sync') ? done(trouble()) : fs.fsync(fd, done),
  };
});
const { writeOutputs } = await import('../../src/files.ts');
const { guessrow } = await import('../cli/run.ts');
const { field } = await import('../cli/field.ts');

const NAMES = ['index.html', 'fields.csv', 'fields.jsonl', 'fields.parquet', 'weeks.csv', 'findings.json'];
const contents = (dir: string): Record<string, string> =>
  Object.fromEntries(readdirSync(dir).map((n) => [n, readFileSync(join(dir, n), 'utf8')]));

test.each([
  ['where all of them stood before', NAMES],
  ['where none stood before', []],
  ['where some stood before', ['fields.csv', 'findings.json']],
] as const)('a set of six, %s, is new as a whole or not at all', async (_what, before) => {
  const dir = mkdtempSync(join(tmpdir(), 'guessrow-set-'));
  let failed = 0;
  for (const code of ['ENOSPC', 'EIO', 'EACCES'])
    for (let at = 1; ; at++) {
      for (const n of readdirSync(dir)) rmSync(join(dir, n));
      for (const n of before) writeFileSync(join(dir, n), `old ${n}`);
      const old = contents(dir);
      Object.assign(fault, { step: 0, at, code, only: '' });
      const said = await writeOutputs(NAMES.map((n) => [join(dir, n), [`new ${n}`]] as const)).then(
        () => null,
        (e) => e,
      );
      fault.at = 0;
      if (said === null) {
        expect(contents(dir)).toEqual(Object.fromEntries(NAMES.map((n) => [n, `new ${n}`])));
        // Past the last step; or a hard link failed, and a copy replaced it.
        if (fault.step < at) break;
        continue;
      }
      failed++;
      expect([at, code, said instanceof UserError]).toEqual([at, code, true]);
      expect([at, code, contents(dir)]).toEqual([at, code, old]);
    }
  // Six files: opened, written, synced and renamed, each once, with three kinds of trouble.
  expect(failed).toBe(3 * 6 * 4);
});

test('on a disk without hard links a set is kept by copies', async () => {
  const dir = mkdtempSync(join(tmpdir(), 'guessrow-set-'));
  for (const n of NAMES) writeFileSync(join(dir, n), `old ${n}`);
  const old = contents(dir);
  fault.always = 'link';
  for (let at = 1; at <= NAMES.length; at++) {
    Object.assign(fault, { step: 0, at, code: 'EPERM', only: 'rename' });
    const said = await writeOutputs(NAMES.map((n) => [join(dir, n), [`new ${n}`]] as const)).catch((e) => e);
    fault.at = 0;
    expect(said).toBeInstanceOf(UserError);
    expect(contents(dir)).toEqual(old);
  }
  fault.always = '';
});

test('a rebuilt map and its two logs are new together or not at all, wherever the machine fails', async () => {
  const dir = mkdtempSync(join(tmpdir(), 'guessrow-set-'));
  const [from, to] = [mkdtempSync(join(dir, 'from-')), mkdtempSync(join(dir, 'to-'))];
  // 15 rows of 15 in were planted, and recorded as eight sections of 30 in.
  const edgesM = Array.from({ length: 9 }, (_, i) => (i - 4) * 0.762);
  writeFileSync(join(from, 'map.geojson'), field({ edgesM, passSpacingM: 6.096, passes: 4, bars: 40 }));
  const frame = { unit: 'in', rows: 15, rowSpacing: 15, plantings: { narrow: 'all' } };
  writeFileSync(join(from, 'p.planter.json'), JSON.stringify({ name: 'fifteen', ...frame }));
  const sources = contents(from);
  const rebuilt = ['map.changes.csv', 'map.changes.json', 'map.geojson'];
  const run = () =>
    guessrow(
      ...['rebuild', join(from, 'map.geojson'), '--planter', join(from, 'p.planter.json')],
      ...['--planting', 'narrow', '--out', join(to, 'map.geojson')],
    );
  const sound = await run();
  expect([sound.status, sound.err, Object.keys(contents(to)).sort()]).toEqual([0, '', rebuilt]);
  const fresh = contents(to);
  let failed = 0;
  for (const before of [rebuilt, ['map.changes.json'], []])
    for (let at = 1; ; at++) {
      for (const n of readdirSync(to)) rmSync(join(to, n));
      for (const n of before) writeFileSync(join(to, n), `old ${n}`);
      const old = contents(to);
      Object.assign(fault, { step: 0, at, code: 'EIO', only: '' });
      const { status, err } = await run();
      fault.at = 0;
      expect(contents(from)).toEqual(sources);
      if (status === 0) {
        expect(contents(to)).toEqual(fresh);
        if (fault.step < at) break;
        continue;
      }
      failed++;
      expect([at, status, contents(to)]).toEqual([at, 2, old]);
      expect(err).toMatch(/^guessrow: .*\[file-(access|read)\]\n$/);
    }
  // Three files opened, written, synced and renamed, three times over; and what is opened to be read.
  expect(failed).toBeGreaterThanOrEqual(3 * 3 * 4);
}, 240_000);
