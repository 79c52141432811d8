import { spawn, spawnSync } from 'node:child_process';
import {
  appendFileSync,
  chmodSync,
  closeSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  openSync,
  readdirSync,
  readFileSync,
  rmSync,
  truncateSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { check } from '../../src/core/check.ts';
import { readPlanter } from '../../src/core/planter/index.ts';
import { UserError } from '../../src/core/shared/messages.ts';
import { mapPaths, namedFile, writeOutput, writeOutputs } from '../../src/files.ts';
import { guessrow } from '../cli/run.ts';

/** Faults of the machine while a check runs: a sentence, no half file, earlier outputs intact. */
const dir = mkdtempSync(join(tmpdir(), 'guessrow-'));
const map = 'sample-data/test-strips/before.geojson';
const planter = 'sample-data/test-strips/test-strips.planter.json';
const earlier = 'an earlier answer';
beforeAll(() => chmodSync(dir, 0o755));
afterAll(() => rmSync(dir, { recursive: true, force: true }));

const refusal = async (work: () => unknown): Promise<UserError['detail']> => {
  try {
    await work();
  } catch (e) {
    if (e instanceof UserError) return e.detail;
    throw e;
  }
  throw new Error('no refusal');
};

/** The built command would do as well; this one needs no build. `before` runs in a shell in the same process. */
function shell(script: string, ...args: string[]): { status: number | null; stdout: string; stderr: string } {
  const r = spawnSync('sh', ['-c', script, process.execPath, ...args], { encoding: 'utf8', maxBuffer: 1 << 28 });
  return { status: r.status, stdout: r.stdout, stderr: r.stderr };
}
const command = ['--import', 'tsx', 'src/cli/guessrow.ts', 'check', map, '--planter', planter, '--planting', 'narrow'];

describe('the output', () => {
  it('that cannot be finished leaves the earlier one as it was', async () => {
    const out = join(dir, 'report.json');
    writeFileSync(out, earlier);
    function* half(): Generator<string> {
      yield 'x'.repeat(3 << 20);
      throw Object.assign(new Error('no space left on device'), { code: 'ENOSPC' });
    }
    const said = await refusal(() => writeOutput(out, half()));
    expect([said.code, said.sentence]).toEqual(['file-access', 'The disk is full.']);
    expect([readFileSync(out, 'utf8'), readdirSync(dir)]).toEqual([earlier, ['report.json']]);
  });

  it('of several files that belong together appears as a whole or not at all', async () => {
    const [one, two] = [join(dir, 'one.csv'), join(dir, 'two.json')];
    for (const f of [one, two]) writeFileSync(f, earlier);
    function* half(): Generator<string> {
      yield 'x'.repeat(3 << 20);
      throw Object.assign(new Error('no space left on device'), { code: 'ENOSPC' });
    }
    const said = await refusal(() =>
      writeOutputs([
        [one, ['new']],
        [two, half()],
      ]),
    );
    expect([said.code, said.place.file]).toEqual(['file-access', 'two.json']);
    expect([one, two].map((f) => readFileSync(f, 'utf8'))).toEqual([earlier, earlier]);
    expect(readdirSync(dir).filter((n) => n.endsWith('.part'))).toEqual([]);
    for (const f of [one, two]) rmSync(f);
  });

  it.each(['SIGINT', 'SIGTERM', 'SIGHUP'] as const)(
    'is taken away with what stands beside it on %s',
    async (signal) => {
      const folder = mkdtempSync(join(dir, 'told-'));
      // Half of an output is written when the signal comes; the process ends as it would have without an output.
      const script = `import { writeOutputs } from '${join(process.cwd(), 'src/files.ts')}';
      function* slow() { yield 'x'.repeat(3 << 20); console.log('half'); for (;;) yield 'x'.repeat(3 << 20).slice(0, 2 << 20); }
      await writeOutputs([['${join(folder, 'one.csv')}', ['done']], ['${join(folder, 'two.csv')}', slow()]]);`;
      const child = spawn(process.execPath, ['--import', 'tsx', '--input-type=module', '-e', script]);
      await new Promise((r) => child.stdout.once('data', r));
      expect(readdirSync(folder).filter((n) => n.endsWith('.part')).length).toBe(2);
      child.kill(signal);
      const [, by] = await new Promise<[number | null, string | null]>((r) => child.on('close', (c, s) => r([c, s])));
      expect([by, readdirSync(folder)]).toEqual([signal, []]);
    },
    60_000,
  );

  it('on a full disk: one sentence, status 2, the earlier answer intact', () => {
    // A limit on the size of files (ulimit, in blocks of 512 bytes) is met in the middle of the writing, as the end of a disk is.
    const out = join(dir, 'map.geojson');
    writeFileSync(out, earlier);
    const r = shell('trap "" XFSZ; ulimit -f 100; exec "$0" "$@"', ...command, '--format', 'geojson', '--out', out);
    expect([r.status, r.stdout, r.stderr]).toEqual([
      2,
      '',
      'guessrow: map.geojson: The output is larger than the file system allows. Choose another folder. [file-access]\n',
    ]);
    expect(readFileSync(out, 'utf8')).toBe(earlier);
    expect(readdirSync(dir).filter((n) => n.endsWith('.part'))).toEqual([]);
  }, 60_000);

  it('on the screen, where the screen is a full disk', () => {
    if (!existsSync('/dev/full')) throw new Error('this test needs /dev/full');
    const r = shell('exec "$0" "$@" > /dev/full', ...command);
    expect([r.status, r.stderr]).toEqual([
      2,
      'guessrow: The answer could not be written: the disk is full. Free some room, or use "--out". [output]\n',
    ]);
  }, 60_000);

  it('into a reader that has gone keeps its exit status', () => {
    const r = shell('{ "$0" "$@"; echo "status $?" >&2; } | true', ...command, '--format', 'geojson');
    expect(r.stderr).toBe('status 1\n');
  }, 60_000);

  it('below a file, or under too long a name', async () => {
    const file = join(dir, 'plain');
    writeFileSync(file, '');
    for (const [out, sentence] of [
      [join(file, 'out.json'), 'The folder of the output is a file.'],
      [join(dir, 'x'.repeat(300)), 'The name of the output is too long.'],
      ['/proc/guessrow.json', null],
    ] as const) {
      const said = await refusal(() => writeOutput(out, ['x']));
      expect(said.code).toBe('file-access');
      if (sentence !== null) expect(said.sentence).toBe(sentence);
    }
  });

  it('into a read-only folder', () => {
    const folder = join(dir, 'kept');
    mkdirSync(folder, { recursive: true });
    writeFileSync(join(folder, 'out.json'), earlier);
    chmodSync(folder, 0o555);
    try {
      // Rights do not bind the root user: the writing is done as somebody else then.
      const script = `import { writeOutput } from '${join(process.cwd(), 'src/files.ts')}';
        if (process.getuid() === 0) process.setuid(65534);
        try { await writeOutput(process.argv[1], ['x']); } catch (e) { console.log(e.detail?.sentence ?? String(e)); }`;
      const r = spawnSync(
        process.execPath,
        ['--import', 'tsx', '--input-type=module', '-e', script, join(folder, 'out.json')],
        { encoding: 'utf8' },
      );
      expect([r.stdout, r.stderr]).toEqual(['There is no permission to write the output there.\n', '']);
      expect([readFileSync(join(folder, 'out.json'), 'utf8'), readdirSync(folder)]).toEqual([earlier, ['out.json']]);
    } finally {
      chmodSync(folder, 0o755);
    }
  });
});

describe('a pipe', () => {
  it.each([
    ['for the map', ['check', 'PIPE', '--planter', planter]],
    ['for the planter', ['check', map, '--planter', 'PIPE']],
    ['for the boundary', ['check', map, '--planter', planter, '--boundary', 'PIPE']],
    ['for the map after', ['compare', map, 'PIPE', '--planter', planter]],
    ['to rebuild', ['rebuild', 'PIPE', '--planter', planter, '--out', 'OUT.geojson']],
    ['for the frame', ['layout', 'PIPE']],
    ['for a list', ['audit', 'LIST', '--out', 'OUT']],
    ['for the output', ['check', map, '--planter', planter, '--out', 'PIPE']],
    [
      'for the key of a queue',
      ['audit', map, '--out', 'OUT', '--queue', 'redis://127.0.0.1:1', '--maps-from', '.', '--queue-key', 'PIPE'],
    ],
  ])(
    '%s is refused at once, not waited for',
    (_what, args) => {
      const folder = mkdtempSync(join(dir, 'pipe-'));
      const pipe = join(folder, 'map.geojson');
      spawnSync('mkfifo', [pipe]);
      spawnSync('mkfifo', [join(folder, 'list.csv')]);
      const named = args.map((a) =>
        a.replace('PIPE', pipe).replace('LIST', join(folder, 'list.csv')).replace('OUT', join(folder, 'out')),
      );
      const r = spawnSync(process.execPath, ['--import', 'tsx', 'src/cli/guessrow.ts', ...named], {
        encoding: 'utf8',
        timeout: 60_000,
      });
      expect([r.status, r.stdout]).toEqual([2, '']);
      expect(r.stderr).toMatch(/not a plain file.*\[not-a-file\]\n$/);
    },
    90_000,
  );
});

describe('the input', () => {
  const text = readFileSync(map);
  const declared = readPlanter(readFileSync(planter, 'utf8'), 'test-strips.planter.json');
  const copy = (name: string): string => {
    const path = join(dir, name);
    writeFileSync(path, text);
    return path;
  };
  it.each([
    ['taken away before it is read', (path: string) => rmSync(path)],
    ['cut off', (path: string) => truncateSync(path, 200_000)],
    ['written on', (path: string) => appendFileSync(path, ' '.repeat(3 << 20))],
  ])('%s while the check runs', async (_what, happens) => {
    const path = copy('moving.geojson');
    const files = mapPaths(path).map(namedFile);
    happens(path);
    const said = await refusal(() => check({ map: files, planter: declared }));
    // A map that is cut is known by its own text before its size is.
    expect(['file-changed', 'json-truncated']).toContain(said.code);
  });

  it('removed while it is read is read to its end or refused', async () => {
    const path = copy('leaving.geojson');
    let told = 0;
    const answer = await check(
      { map: mapPaths(path).map(namedFile), planter: declared },
      { progress: () => void (told++ === 1 && rmSync(path)) },
    );
    // The system keeps a file that is open: nothing is lost.
    expect(answer.report.map.records).toBeGreaterThan(100);
    expect(existsSync(path)).toBe(false);
  });
});

describe('memory', () => {
  it('or a process killed at any moment leaves no half file', async () => {
    const out = join(dir, 'ended.json');
    for (const afterMs of [600, 1500, 3000]) {
      writeFileSync(out, earlier);
      const child = spawn(process.execPath, [...command, '--format', 'geojson', '--out', out], { stdio: 'ignore' });
      setTimeout(() => child.kill('SIGKILL'), afterMs);
      await new Promise((resolve) => child.on('close', resolve));
      const now = readFileSync(out, 'utf8');
      if (now !== earlier) expect(JSON.parse(now).type).toBe('FeatureCollection');
    }
  }, 60_000);

  it('that the map needs in one piece is refused in a sentence', async () => {
    const path = join(dir, 'claims.shp');
    const fd = openSync(path, 'w');
    closeSync(fd);
    // A header and one record that say 1.9 GB, in a file that is as long as it says and empty: it takes no room on the disk.
    const head = new DataView(new ArrayBuffer(152));
    const size = 1_900_000_000;
    head.setInt32(0, 9994);
    head.setInt32(24, size / 2);
    head.setInt32(32, 5, true);
    head.setInt32(100, 1);
    head.setInt32(104, (size - 108) / 2);
    head.setInt32(108, 5, true);
    writeFileSync(path, new Uint8Array(head.buffer));
    truncateSync(path, size);
    const r = await guessrow('check', path, '--planter', planter);
    expect([r.status, r.out]).toEqual([2, '']);
    expect(r.err).toMatch(
      /^guessrow: claims\.shp: One record is larger than 512 MB, .*--limit record-size=.*\[record-too-big\]\n$/,
    );
    rmSync(path);
  }, 120_000);
});
