// `npm test`: installs what is missing, then types, lint, all tests, the build and the built page in a browser. Ends with one line
// that counts every test. Plain Node without packages, for there may be none yet.
import { spawnSync } from 'node:child_process';
import { existsSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { ensureBuilt, ensurePackages, requireNode, run, runTool } from '../src/setup.mjs';

const count = { passed: 0, failed: 0 };

/** A step without tests of its own counts as one. */
function step(title, status) {
  const good = status === 0;
  count[good ? 'passed' : 'failed']++;
  process.stdout.write(`${good ? 'ok    ' : 'FAILED'}  ${title}\n`);
}

/** Debian programs that tests hold the product against: a browser, general geometry libraries, and a queue's server. */
const PROGRAMS = [
  { package: 'chromium', there: () => answers('chromium', ['--version']) },
  { package: 'python3-shapely', there: () => answers('/usr/bin/python3', ['-c', 'import shapely']) },
  { package: 'gdal-bin', there: () => answers('ogrinfo', ['--version']) },
  { package: 'redis-server', there: () => answers('redis-server', ['--version']) },
];

function answers(program, args) {
  return spawnSync(program, args, { stdio: 'ignore', timeout: 60_000 }).status === 0;
}

function ensurePrograms() {
  const missing = PROGRAMS.filter((p) => !p.there()).map((p) => p.package);
  if (missing.length === 0) return true;
  const list = missing.join(' ');
  if (process.platform !== 'linux' || process.getuid?.() !== 0 || !answers('apt-get', ['--version'])) {
    process.stdout.write(
      `Some tests need ${list}. Install them with "apt-get install ${list}" as root (Debian), then run "npm test" again.\n`,
    );
    return false;
  }
  process.stdout.write(`Installing ${list} (apt-get) ...\n`);
  const env = { ...process.env, DEBIAN_FRONTEND: 'noninteractive' };
  const quiet = { env, stdio: ['ignore', 'ignore', 'inherit'] };
  run('apt-get', ['update', '-qq'], quiet);
  run('apt-get', ['install', '-y', '-qq', '--no-install-recommends', ...missing], quiet);
  const still = PROGRAMS.filter((p) => !p.there()).map((p) => p.package);
  if (still.length > 0)
    process.stdout.write(
      `apt-get could not install ${still.join(' ')}; see above. The tests that need them will fail.\n`,
    );
  return still.length === 0;
}

/** Runs vitest and adds its counts; a run that ends without counts is one failure. */
function vitest(title, ...projects) {
  const folder = mkdtempSync(join(tmpdir(), 'guessrow-'));
  const file = join(folder, 'results.json');
  const status = runTool('vitest/vitest.mjs', [
    'run',
    ...projects.flatMap((name) => ['--project', name]),
    '--reporter=default',
    '--reporter=json',
    `--outputFile.json=${file}`,
  ]);
  if (existsSync(file)) {
    const r = JSON.parse(readFileSync(file, 'utf8'));
    // A file that does not load has no tests, and a test that is skipped proves nothing: both are failures.
    const broken = r.testResults.filter((t) => t.status === 'failed' && t.assertionResults.length === 0).length;
    const skipped = r.numPendingTests + r.numTodoTests;
    count.passed += r.numPassedTests;
    count.failed += r.numFailedTests + broken + skipped;
    if (skipped > 0) process.stdout.write(`${skipped} tests of ${title} were skipped.\n`);
    if (status !== 0 && r.numTotalTests > 0 && r.numFailedTests + broken === 0)
      step(`${title}: ended with status ${status}`, 1);
    if (r.numTotalTests === 0) step(`${title}: no test was found`, 1);
  } else {
    step(`${title}: did not run`, 1);
  }
  rmSync(folder, { recursive: true, force: true });
}

requireNode();
ensurePackages();
step('programs that tests need', ensurePrograms() ? 0 : 1);
step('types', runTool('typescript/bin/tsc', ['--noEmit', '-p', '.']));
step('types of the core, without browser and Node', runTool('typescript/bin/tsc', ['--noEmit', '-p', 'src/core']));
step('lint and format', runTool('@biomejs/biome/bin/biome', ['check', '--error-on-warnings']));
ensureBuilt(true, true);
vitest('tests', 'tests', 'pure');
vitest('the built page', 'page');
process.stdout.write(`\n${count.passed} passed, ${count.failed} failed\n`);
process.exitCode = count.failed === 0 ? 0 : 1;
