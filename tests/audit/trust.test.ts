/** Journals, results and jobs are data from elsewhere: what is wrong in them costs a line, a row or a try, never the audit. */
import { type ChildProcess, spawn, spawnSync } from 'node:child_process';
import { existsSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { hostname, tmpdir } from 'node:os';
import { join } from 'node:path';
import { beforeAll, describe, expect, it } from 'vitest';
import { Journal } from '../../src/audit/journal.ts';
import { ENTRY, shaped } from '../../src/audit/schema.ts';
import { open, readSecret, seal } from '../../src/audit/seal.ts';
import type { Job } from '../../src/audit/types.ts';
import { pack, unpack } from '../../src/audit/wire.ts';
import { check } from '../../src/core/check.ts';
import { readPlanter } from '../../src/core/planter/index.ts';
import { htmlReport, toJson, toText } from '../../src/core/report/index.ts';
import { mapPaths, namedFile } from '../../src/files.ts';
import { builtCommand, run, start, until } from './built.ts';
import { season } from './season.ts';

/** JSON that a test spoils. */
// biome-ignore lint/suspicious/noExplicitAny: that it may be anything is the point
type Json = any;

let at: { dir: string; command: string };
const inDir = (...names: string[]) => join(at.dir, ...names);
beforeAll(async () => {
  at = await builtCommand();
  season(inDir('maps'), 14, 1);
}, 120_000);

const frame = ['--planter', 'maps/fifteen.planter.json', '--planting', 'narrow'];
const audit = (out: string, ...more: string[]) => run(at, 'audit', 'maps', ...frame, '--out', out, ...more);
const journal = (out: string): string[] => readFileSync(inDir(out, 'journal.jsonl'), 'utf8').trimEnd().split('\n');

describe('a line of the journal', () => {
  /** Each breaks one promise of the shape, and what the audit did with it: drew it, sorted by it, or followed it. */
  const POISON: readonly (readonly [string, (e: Json) => void])[] = [
    ['a setting that does not exist', (e) => e.row.settings.push('toString')],
    ['a setting that is markup', (e) => e.row.settings.push('<script>')],
    ['settings that are no list', (e) => (e.row.settings = 'all')],
    ['a verdict of its own', (e) => (e.row.verdict = 'perfect')],
    ['a unit of its own', (e) => (e.row.unit = 'furlong')],
    ['a day beyond the calendar', (e) => (e.row.firstMs = e.row.lastMs = 9e15)],
    ['one time without the other', (e) => (e.row.lastMs = null)],
    ['an area that is a text', (e) => (e.row.affectedM2 = '12')],
    ['an area below zero', (e) => (e.row.affectedM2 = -1)],
    ['an area too large for a number', (e) => (e.row.affectedM2 = 'INFINITE')],
    ['no row', (e) => delete e.row],
    ['a row that is a list', (e) => (e.row = [])],
    ['a key more', (e) => (e.row.__proto__2 = 1)],
    ['a picture of texts', (e) => (e.picture.covered = [['M0 0', '<b>', 1, 2]])],
    ['a picture a mile wide', (e) => (e.picture.covered = [[1, 2, 3, 1e9]])],
    ['a name of megabytes', (e) => (e.row.planter = 'x'.repeat(3e6))],
    ['a report elsewhere', (e) => (e.reports = ['../../etc/passwd'])],
    ["another field's report", (e) => (e.reports = [`fields/${'0'.repeat(20)}.html`])],
    ['a key that is none', (e) => (e.key = 'constructor')],
    ['null', () => {}],
  ];

  beforeAll(() => {
    const first = audit('poison');
    expect([first.stderr, first.status]).toEqual(['', 1]);
  }, 120_000);

  it('that this program did not write is reported and left out, and its field is checked again', () => {
    const tables = ['index.html', 'fields.jsonl', 'findings.json'].map((n) => readFileSync(inDir('poison', n), 'utf8'));
    const good = journal('poison');
    const differing = good.find((l) => JSON.parse(l).row.verdict === 'differs')!;
    for (const [what, spoil] of POISON) {
      const entry = JSON.parse(differing);
      spoil(entry);
      const text =
        what === 'null'
          ? 'null'
          : JSON.stringify(entry).replace('"INFINITE"', '1e999').replace('__proto__2', '__proto__');
      const lines = good.map((l) => (l === differing ? text : l));
      writeFileSync(inDir('poison', 'journal.jsonl'), `${lines.join('\n')}\n`);
      const r = audit('poison');
      expect([what, r.stderr, r.status]).toEqual([what, '', 1]);
      expect(r.stdout.replace(/\s+/g, ' '), what).toMatch(
        /Lines of the journal that this program did not write; their fields were checked again - line \d+: /,
      );
      expect(
        ['index.html', 'fields.jsonl', 'findings.json'].map((n) => readFileSync(inDir('poison', n), 'utf8')),
      ).toEqual(tables);
      expect([...journal('poison')].sort(), what).toEqual([...good].sort());
    }
  }, 300_000);

  it('is measured by the schema that names where it fails', () => {
    const fault = (spoil: (e: Json) => void): string => {
      const entry = JSON.parse(journal('poison')[0]);
      spoil(entry);
      const found = shaped(ENTRY, entry);
      return 'fault' in found ? found.fault : '';
    };
    expect(fault(() => {})).toBe('');
    expect(fault((e) => (e.row.unit = 'furlong'))).toMatch(/^row\.unit: /);
    expect(fault((e) => (e.row.settings = [7]))).toMatch(/^row\.settings\.0: /);
  });
});

describe('the lock', () => {
  const stale = `4194303 ${hostname()} ${'ab'.repeat(12)}\n`;

  it('of an audit that is gone is taken over by one of many, and by that one only', async () => {
    const script = `import { Journal } from ${JSON.stringify(join(process.cwd(), 'src/audit/journal.ts'))};
      const wait = Number(process.argv[2]) - Date.now();
      await new Promise((r) => setTimeout(r, Math.max(0, wait)));
      try { const j = await Journal.open(process.argv[1], false); console.log('mine'); await new Promise((r) => setTimeout(r, 2500)); await j.close(); }
      catch (e) { console.log(e.detail?.code ?? String(e)); }`;
    for (let round = 0; round < 2; round++) {
      const dir = mkdtempSync(join(tmpdir(), 'guessrow-lock-'));
      writeFileSync(join(dir, 'audit.lock'), stale);
      const began = String(Date.now() + 4000);
      const said = await Promise.all(
        Array.from({ length: 5 }, () => {
          const child = spawn(process.execPath, ['--import', 'tsx', '--input-type=module', '-e', script, dir, began]);
          let out = '';
          child.stdout.on('data', (c) => {
            out += c;
          });
          return new Promise<string>((r) => child.on('close', () => r(out.trim())));
        }),
      );
      expect(said.sort()).toEqual(['audit-running', 'audit-running', 'audit-running', 'audit-running', 'mine']);
      expect(readdirSync(dir)).toEqual(['journal.jsonl']);
    }
  }, 120_000);

  it('is not taken from an audit that took it over meanwhile', async () => {
    const dir = mkdtempSync(join(tmpdir(), 'guessrow-lock-'));
    writeFileSync(join(dir, 'audit.lock'), stale);
    const one = await Journal.open(dir, false);
    // What is left of one that was too late and ended in between does no harm.
    expect(readFileSync(join(dir, 'audit.lock'), 'utf8')).toContain(`${process.pid} `);
    await one.close();
    expect(readdirSync(dir)).toEqual(['journal.jsonl']);
  });
});

describe('an answer sent over the queue', () => {
  const folder = 'sample-data/test-strips/';
  const planterText = readFileSync(`${folder}test-strips.planter.json`, 'utf8');
  const job: Job = {
    map: ['before.geojson'],
    boundary: [],
    planter: planterText,
    planterFile: 'test-strips.planter.json',
    settings: {},
    seconds: 60,
  };
  const solved = async () => ({
    answer: await check({
      map: mapPaths(`${folder}before.geojson`).map(namedFile),
      planter: readPlanter(planterText, 'p.planter.json'),
      planting: 'narrow',
    }),
    machine: null,
  });

  it('gives the same files as a local check', async () => {
    const home = await solved();
    const text = pack(home);
    const there = unpack(text, job);
    if ('fault' in there) throw new Error(there.fault);
    for (const write of [toJson, toText, htmlReport]) expect(write(there.answer) === write(home.answer)).toBe(true);
  });

  it.each([
    [
      'no report',
      (r: Json) => {
        delete r.report;
      },
      /^report: /,
    ],
    [
      'a figure that is a text',
      (r: Json) => {
        r.report.area.gapM2 = '1';
      },
      /^report\.area\.gapM2: /,
    ],
    [
      'a setting of its own',
      (r: Json) => {
        r.report.diagnoses[0].setting = 'constructor';
      },
      /^report\.diagnoses\.0\.setting: /,
    ],
    [
      'a planter of its own',
      (r: Json) => {
        r.report.declared.planter = 'Other';
      },
      /another planter/,
    ],
    [
      'a planting of its own',
      (r: Json) => {
        r.report.declared.planting = 'sideways';
      },
      /no planting/,
    ],
    [
      'a billion bars',
      (r: Json) => {
        r.report.map.bars = 1e9;
      },
      /more bars than records/,
    ],
    [
      'a bar beyond its records',
      (r: Json) => {
        const bars = Buffer.from(r.evidence.recordBar.i32, 'base64');
        bars.writeInt32LE(2 ** 31 - 1, 0);
        r.evidence.recordBar.i32 = bars.toString('base64');
      },
      /more bars than records/,
    ],
    [
      'a record without a section',
      (r: Json) => {
        r.evidence.recordSection = { i16: 'AAA=' };
      },
      /a section/,
    ],
    [
      'rings beyond the points',
      (r: Json) => {
        r.evidence.covered.ringStart = { u32: 'AAAAAP///38=' };
      },
      /polygons/,
    ],
    [
      'a track of one number',
      (r: Json) => {
        r.evidence.passes[0].track = { f64: 'AAAAAAAA8D8=' };
      },
      /points/,
    ],
    [
      'a script',
      (r: Json) => {
        r.html = '<script>';
      },
      /html/,
    ],
  ] as const)('with %s is refused, with the place of it', async (_what, spoil, says) => {
    const { gunzipSync, gzipSync } = await import('node:zlib');
    const json = JSON.parse(gunzipSync(Buffer.from(pack(await solved()), 'base64')).toString());
    spoil(json);
    const found = unpack(gzipSync(JSON.stringify(json)).toString('base64'), job);
    expect('fault' in found ? found.fault : 'taken').toMatch(says);
  });

  it('keeps its cautions whatever its text', async () => {
    const home = await solved();
    const there = unpack(
      pack({ ...home, answer: { ...home.answer, report: { ...home.answer.report, cautions: [] } } }),
      job,
    );
    expect('fault' in there ? [] : there.answer.report.cautions).toEqual(home.answer.report.cautions);
  });
});

describe('a seal', () => {
  const [mine, other] = ['a long secret text', 'another secret text'].map((t) => Buffer.from(t));
  it('is HMAC-SHA256 as RFC 4231 has it', async () => {
    // Test case 2 of RFC 4231: key "Jefe", data "what do ya want for nothing?". The seal's own text is longer; the primitive is the same.
    const { createHmac } = await import('node:crypto');
    expect(createHmac('sha256', 'Jefe').update('what do ya want for nothing?').digest('hex')).toBe(
      '5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843',
    );
    expect(seal(mine, 'job', 'f', 'x').mac).toMatch(/^[0-9a-f]{64}$/);
  });
  it('is valid only for its kind, its field, its text, its version and its key', () => {
    const sealed = seal(mine, 'result', 'field', 'text');
    expect(open(mine, 'result', 'field', sealed)).toEqual({ text: 'text' });
    const fault = (...a: Parameters<typeof open>): string => {
      const o = open(...a);
      return 'fault' in o ? o.fault : 'taken';
    };
    expect(fault(mine, 'job', 'field', sealed)).toMatch(/signature is wrong/);
    expect(fault(mine, 'result', 'other', sealed)).toMatch(/signature is wrong/);
    expect(fault(mine, 'result', 'field', { ...sealed, text: 'Text' })).toMatch(/signature is wrong/);
    expect(fault(other, 'result', 'field', sealed)).toMatch(/signature is wrong/);
    expect(fault(mine, 'result', 'field', { ...sealed, mac: '' })).toMatch(/not signed/);
    expect(fault(mine, 'result', 'field', { ...sealed, runs: '9.9.9 x' })).toMatch(/signature is wrong/);
    expect(fault(null, 'result', 'field', { ...sealed, runs: '9.9.9 x' })).toMatch(
      /another version of the program \(9\.9\.9 x;/,
    );
    for (const v of [null, 7, 'x', {}, [], { ...sealed, more: 1 }])
      expect(fault(null, 'result', 'field', v)).toMatch(/it is no result/);
    expect(open(null, 'result', 'field', sealed)).toEqual({ text: 'text' });
  });
  it('needs a key longer than a word', () => {
    writeFileSync(inDir('short.key'), 'secret\n');
    expect(() => readSecret(inDir('short.key'))).toThrow(/fewer than 16/);
  });
});

/** Processes of a pool that are alive, by the audit that started them. */
function children(pid: number): number[] {
  return readdirSync('/proc')
    .filter((n) => /^\d+$/.test(n))
    .map(Number)
    .filter((p) => {
      try {
        return / (\d+) /.exec(readFileSync(`/proc/${p}/stat`, 'utf8').replace(/^.*\) \S/, ''))?.[1] === String(pid);
      } catch {
        return false;
      }
    });
}
const alive = (pid: number): boolean =>
  existsSync(`/proc/${pid}`) && !/\) Z /.test(readFileSync(`/proc/${pid}/stat`, 'utf8'));

describe('processes', () => {
  it.each(['SIGKILL', 'SIGTERM', 'SIGHUP', 'SIGINT'] as const)(
    'that are busy with a field end with their audit when %s takes it',
    async (signal) => {
      const child: ChildProcess = start(at, 'audit', 'maps', ...frame, '--out', `ended-${signal}`, '--again');
      expect(await until(() => children(child.pid!).length > 0, 30_000)).toBe(true);
      const workers = children(child.pid!);
      // A process that receives nothing at all: stopped in the middle of its work, then resumed when the audit is gone.
      for (const w of workers) process.kill(w, 'SIGSTOP');
      child.kill(signal);
      await new Promise((r) => child.on('close', r));
      for (const w of workers) if (alive(w)) process.kill(w, 'SIGCONT');
      expect(await until(() => !workers.some(alive), 5000)).toBe(true);
    },
    60_000,
  );
});

describe('the tables', () => {
  it('are rewritten while the audit runs, and say how much is left', async () => {
    const child = start(at, 'audit', 'maps', ...frame, '--out', 'renewed', '--at-once', '1');
    const findings = inDir('renewed', 'findings.json');
    expect(await until(() => existsSync(findings), 60_000)).toBe(true);
    const { open: left, count } = JSON.parse(readFileSync(findings, 'utf8'));
    expect(left).toBeGreaterThan(0);
    const done = Object.values<number>(count).reduce((a, b) => a + b, 0);
    expect(left + done).toBe(14);
    expect(await new Promise((r) => child.on('close', r))).toBe(1);
    expect(JSON.parse(readFileSync(findings, 'utf8')).open).toBe(0);
    expect(readFileSync(inDir('renewed', 'index.html'), 'utf8')).not.toContain('so far');
  }, 120_000);
});

describe('a field that takes too long', () => {
  it('gets a row and is given up, and the others are checked', () => {
    mkdirSync(inDir('slow'));
    const dense = spawnSync(process.execPath, ['-e', BIG], { maxBuffer: 1 << 30 }).stdout;
    writeFileSync(inDir('slow', 'long.geojson'), dense);
    writeFileSync(inDir('slow', 'short.geojson'), readFileSync(inDir('maps', 'farm-0', 'field-000.geojson')));
    const r = run(at, 'audit', 'slow', ...frame, '--out', 'slow-out', '--limit', 'seconds=2', '--at-once', '1');
    expect(r.stdout).toMatch(/Given up\n {2}- long\.geojson: .*took longer than 2 s/);
    const rows = readFileSync(inDir('slow-out', 'fields.jsonl'), 'utf8')
      .trimEnd()
      .split('\n')
      .map((l) => JSON.parse(l));
    expect(rows.map((x) => [x.field, x.verdict, x.given_up]).sort()).toEqual([
      ['long.geojson', 'not checked', 'yes'],
      ['short.geojson', 'agrees', ''],
    ]);
    for (const bad of ['seconds=0', 'seconds=soon', 'seconds'])
      expect(run(at, 'audit', 'slow', ...frame, '--out', 'x', '--limit', bad).stderr).toMatch(
        /is not a number for "--limit seconds"/,
      );
  }, 120_000);
});

/** Prints a sound map of 400,000 records: some ten seconds of work. */
const BIG = `
  const rows = [];
  for (let p = 0; p < 40; p++) for (let b = 0; b < 1250; b++) for (let s = 0; s < 8; s++) {
    const x = 8 + p * 7.5e-5 + s * 9.3e-6, y = 47 + b * 1.35e-5;
    const c = [[x, y], [x + 9.3e-6, y], [x + 9.3e-6, y + 1.35e-5], [x, y + 1.35e-5], [x, y]].map(([a, b]) => [+a.toFixed(8), +b.toFixed(8)]);
    rows.push(JSON.stringify({ type: 'Feature', properties: { section: s + 1 }, geometry: { type: 'Polygon', coordinates: [c] } }));
  }
  process.stdout.write('{"type":"FeatureCollection","features":[' + rows.join(',') + ']}');
`;
