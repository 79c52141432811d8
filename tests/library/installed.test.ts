/** `npm pack`, an install elsewhere, and there: the command, the library, its types and the page. */
import { type ChildProcess, spawn, spawnSync } from 'node:child_process';
import { cpSync, existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { built, root } from '../supply/built.ts';
import { examples, promised } from './examples.ts';

// Room for a machine that does much else; alone, all of it takes 20 s.
const ROOM_MS = 150_000;
const away = mkdtempSync(join(tmpdir(), 'guessrow-away-'));
const sample = `${root}sample-data/test-strips/`;
const pkg = JSON.parse(readFileSync(`${root}package.json`, 'utf8'));
const command = join(away, 'node_modules', '.bin', 'guessrow');
let packed: string[] = [];

function run(program: string, args: string[], cwd = away): { status: number | null; stdout: string; stderr: string } {
  return spawnSync(program, args, { cwd, encoding: 'utf8', maxBuffer: 1 << 26 });
}

beforeAll(async () => {
  await built();
  const pack = run('npm', ['pack', '--json', '--ignore-scripts', '--pack-destination', away], root);
  expect(pack.status, pack.stderr).toBe(0);
  const [tarball] = JSON.parse(pack.stdout) as { filename: string; files: { path: string }[] }[];
  packed = tarball.files.map((f) => f.path);
  writeFileSync(join(away, 'package.json'), '{ "name": "elsewhere", "private": true, "type": "module" }');
  const quiet = ['--ignore-scripts', '--prefer-offline', '--no-audit', '--no-fund', '--loglevel=error'];
  const install = run('npm', ['install', ...quiet, `./${tarball.filename}`]);
  expect(install.status, install.stderr).toBe(0);
  cpSync(join(sample, 'before.geojson'), join(away, 'field.geojson'));
  cpSync(join(sample, 'test-strips.planter.json'), join(away, 'fifteen-row.planter.json'));
}, 2 * ROOM_MS);

afterAll(() => rmSync(away, { recursive: true, force: true }));

test('the package holds what is built, the samples, the license and no source or tests', () => {
  for (const path of ['LICENSE', 'README.md', 'dist/cli/guessrow.js', 'dist/lib/guessrow.js', 'dist/web/index.html'])
    expect(packed).toContain(path);
  expect(packed.filter((p) => /^(src|tests|node_modules)\/|screenshots|\.map$|tsconfig/.test(p))).toEqual([]);
  expect(packed).toContain('dist/web/third-party-notices.txt');
  // "npm pack" and "npm publish" by hand build first.
  expect(pkg.scripts.prepack).toBe(pkg.scripts.build);
});

test('an install brings no other package; an audit over a queue says which ones it needs', () => {
  const queue = ['audit', 'field.geojson', '--planter', 'fifteen-row.planter.json', '--out', 'season'];
  const r = run(command, [...queue, '--queue', 'redis://127.0.0.1:1', '--maps-from', '.']);
  expect([r.status, r.stdout]).toEqual([2, '']);
  expect(r.stderr).toMatch(/packages that a queue needs are not installed here\. Run "npm install bullmq ioredis"/);
  expect(Object.keys(pkg.peerDependencies).every((n) => pkg.peerDependenciesMeta[n].optional)).toBe(true);
  const alone = run(command, [...queue, '--planting', 'narrow']);
  expect([alone.status, alone.stderr]).toEqual([1, '']);
  for (const name of Object.keys(pkg.devDependencies))
    expect(existsSync(join(away, 'node_modules', name)), name).toBe(false);
  const count = readdirSync(join(away, 'node_modules')).filter((n) => !n.startsWith('.')).length;
  expect(count).toBe(1);
});

test(
  'the command checks a map',
  () => {
    const r = run(command, ['check', 'field.geojson', '--planter', 'fifteen-row.planter.json', '--planting', 'narrow']);
    expect([r.status, r.stderr]).toEqual([1, '']);
    expect(r.stdout).toMatch(/^DIFFERS /);
  },
  ROOM_MS,
);

test(
  'the examples of the read-me run, print what they say, and give what the command gives',
  () => {
    const [code, , ...more] = examples('js');
    expect(more).toEqual([]);
    const same = `
import { writeFileSync } from 'node:fs';
writeFileSync('by-library.json', JSON.stringify(files));`;
    writeFileSync(join(away, 'example.js'), code + same);
    const r = run(process.execPath, ['example.js']);
    expect([r.status, r.stderr]).toEqual([0, '']);
    const says = promised(code);
    expect(says.length).toBeGreaterThan(3);
    const lines = r.stdout.split('\n');
    for (const words of says) {
      if (/^what /.test(words)) continue;
      expect(lines).toContain(words);
    }
    const files: string[] = JSON.parse(readFileSync(join(away, 'by-library.json'), 'utf8'));
    const byCommand = (format: string): string =>
      run(command, [
        ...['check', 'field.geojson', '--planter', 'fifteen-row.planter.json', '--planting', 'narrow'],
        ...['--format', format],
      ]).stdout;
    for (const [i, format] of ['json', 'geojson', 'csv'].entries())
      expect(files[i] === byCommand(format), format).toBe(true);
    expect(r.stdout).toContain(byCommand('text'));
  },
  ROOM_MS,
);

test(
  'the example that rebuilds runs, prints what it says, and writes what the command writes',
  () => {
    const [, code] = examples('js');
    writeFileSync(join(away, 'rebuilds.js'), code);
    const r = run(process.execPath, ['rebuilds.js']);
    expect([r.status, r.stderr]).toEqual([0, '']);
    const says = promised(code);
    expect(says.length).toBe(3);
    expect(r.stdout.trimEnd().split('\n')).toEqual(says);
    const args = ['rebuild', 'field.geojson', '--planter', 'fifteen-row.planter.json', '--planting', 'narrow', '--out'];
    for (const out of ['rebuilt.geojson', 'rebuilt.zip']) {
      const byLibrary = readFileSync(join(away, out));
      rmSync(join(away, out));
      expect(run(command, [...args, out]).stderr).toBe('');
      expect(readFileSync(join(away, out)).equals(byLibrary), out).toBe(true);
    }
  },
  ROOM_MS,
);

/** Every kind of import of the public surface, and two mistakes that the types must catch. */
const CONSUMER = `
import {
  type Answer, CAUTIONS, type CheckInput, check, type Comparison, compare, type Diagnosis, geoJson, geoJsonParts, htmlReport, layoutOf, named,
  type Planter, proposeSections, readPlanter, type Rebuilt, rebuild, type Report, type Setting, shapefileZip, toText, UserError, type UserErrorCode,
} from 'guessrow';
import { check as checkInWorker, type WorkerHooks } from 'guessrow/worker';
import about from 'guessrow/package.json' with { type: 'json' };

const planter: Planter = readPlanter('{}', 'a.planter.json');
const input: CheckInput = { map: [named('a.geojson', new Uint8Array(0))], planter };
const answer: Answer = await check(input, { progress: (stage: string, done: number) => void [stage, done] });
const report: Report = answer.report;
const hooks: WorkerHooks = { progress: () => {} };
const apart: Promise<Answer> = checkInWorker(input, hooks);
const code: UserErrorCode = 'not-geojson';
const settings: Setting[] = report.diagnoses.map((d: Diagnosis) => d.setting);
const both: Comparison = compare(answer, answer);
const widthM: number = layoutOf(planter, 'all').workingWidthM;
const rows: number | undefined = proposeSections(planter, 8).sections?.[0]?.first;
const page: string = htmlReport(answer, { command: 'guessrow check' });
const area: number = report.area.gapM2 + answer.evidence.records.xy.length;
const rebuilt: Rebuilt = await rebuild({ ...input, by: 'pass', correctRate: true });
const layers: [Iterable<string>, Uint8Array] = [geoJson(rebuilt.layer), shapefileZip(rebuilt.layer)];
for (const part of geoJsonParts(answer)) part.toUpperCase();
const fault: unknown = new UserError('not-geojson', 'Sentence.', { file: 'a' }, 'Do.').detail.place.record;
export const all = [apart, code, settings, both.verdict, widthM, rows, area, page, layers, toText(answer), CAUTIONS.length, fault, about.version];

// @ts-expect-error there is no such figure
report.area.gapAcres;
// @ts-expect-error a planter is needed
await check({ map: [] });
`;

test(
  'strict TypeScript compiles against it, as a bundler and as Node resolve',
  () => {
    writeFileSync(join(away, 'consumer.ts'), CONSUMER);
    const tsc = (module: string, moduleResolution: string, lib: string[]) => {
      const compilerOptions = {
        ...{
          strict: true,
          noEmit: true,
          exactOptionalPropertyTypes: true,
          skipLibCheck: false,
          resolveJsonModule: true,
        },
        ...{ target: 'es2022', lib, types: [], module, moduleResolution },
      };
      writeFileSync(join(away, 'tsconfig.json'), JSON.stringify({ compilerOptions, files: ['consumer.ts'] }));
      const r = run(process.execPath, [join(root, 'node_modules/typescript/bin/tsc'), '-p', '.']);
      return `${r.stdout}${r.stderr}`;
    };
    // Without the types of browsers and Node: the library's own types need neither.
    expect(tsc('esnext', 'bundler', ['es2022'])).toBe('');
    expect(tsc('node20', 'node16', ['es2022', 'dom'])).toBe('');
  },
  ROOM_MS,
);

test(
  'the page is served, with its script, its worker and a sample',
  async () => {
    let served: ChildProcess | null = null;
    try {
      // The program itself, not npm's link to it, so that the signal reaches it.
      const program = join(away, 'node_modules/guessrow', pkg.bin.guessrow);
      served = spawn(process.execPath, [program, 'serve', '--port', '0'], { cwd: away });
      const address = await new Promise<string>((resolve, reject) => {
        served?.stdout?.on('data', (c) => {
          const found = /http:\/\/\S+/.exec(String(c));
          if (found) resolve(found[0]);
        });
        served?.on('close', () => reject(new Error('serve ended before it printed an address')));
      });
      const get = async (path: string) => {
        const r = await fetch(new URL(path, address));
        return { status: r.status, type: r.headers.get('content-type') ?? '', text: await r.text() };
      };
      const page = await get('');
      expect([page.status, page.type]).toEqual([200, 'text/html; charset=utf-8']);
      const [script] = /assets\/index-[\w-]+\.js/.exec(page.text) ?? [''];
      const code = await get(script);
      expect([code.status, code.type]).toEqual([200, 'text/javascript; charset=utf-8']);
      const [worker] = /assets\/worker-index-[\w-]+\.js/.exec(code.text) ?? [''];
      expect((await get(worker)).status).toBe(200);
      const planter = await get('sample-data/test-strips/test-strips.planter.json');
      expect(planter.text).toBe(readFileSync(join(sample, 'test-strips.planter.json'), 'utf8'));
      expect((await get('third-party-notices.txt')).status).toBe(200);
    } finally {
      served?.kill('SIGTERM');
    }
  },
  ROOM_MS,
);
