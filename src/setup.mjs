// `npm start` on a fresh clone: installs what is missing, builds what is out of date, checks a sample field in the terminal, then
// serves the page with the same check open. With "build" (also before "npm pack"): builds the page, the command line and the library
// where they are out of date, and no more. Plain Node without packages, for there may be none yet.
import { spawn, spawnSync } from 'node:child_process';
import { chmodSync, existsSync, readdirSync, readFileSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath, pathToFileURL } from 'node:url';

export const root = fileURLToPath(new URL('..', import.meta.url));
const SAMPLE = 'narrow-as-wide';

/** Stops with one sentence. */
export function stop(sentence) {
  process.stderr.write(`${sentence}\n`);
  process.exit(1);
}

/** Runs a program to its end, its output on the screen; its exit status, or null when it could not be started. */
export function run(program, args, options = {}) {
  const done = spawnSync(program, args, {
    cwd: root,
    stdio: 'inherit',
    shell: process.platform === 'win32' && program === 'npm',
    ...options,
  });
  return done.error ? null : (done.status ?? 1);
}

/** Runs a package's own program with this Node. */
export function runTool(path, args, options) {
  return run(process.execPath, [join(root, 'node_modules', path), ...args], options);
}

export function requireNode() {
  const [major, minor] = process.versions.node.split('.').map(Number);
  const runs = (major === 20 && minor >= 19) || (major === 22 && minor >= 12) || major >= 24;
  if (!runs)
    stop(
      `Guessrow needs Node 22.12, 24 or newer, or 20.19; this is ${process.versions.node}. Take the current LTS line.`,
    );
}

/** Packages of the lock file that are not installed, or in another version. Optional ones belong to other computers. */
function missingPackages() {
  const held = join(root, 'node_modules', '.package-lock.json');
  const wanted = JSON.parse(readFileSync(join(root, 'package-lock.json'), 'utf8')).packages;
  const have = existsSync(held) ? JSON.parse(readFileSync(held, 'utf8')).packages : {};
  return Object.keys(wanted).filter((k) => {
    if (k === '') return false;
    if (wanted[k].optional && !(k in have)) return false;
    return have[k]?.version !== wanted[k].version || !existsSync(join(root, k));
  });
}

export function ensurePackages() {
  const missing = missingPackages();
  if (missing.length === 0) return;
  process.stdout.write(`Installing ${missing.length} packages (npm ci) ...\n`);
  const status = run('npm', ['ci', '--no-audit', '--no-fund', '--loglevel=error']);
  if (status === null) stop('The program "npm" was not found. Install Node with npm, then run this again.');
  if (status !== 0)
    stop(
      'The packages could not be installed; see the message of npm above. A connection to the npm registry is needed once.',
    );
}

function newest(path) {
  const s = statSync(path, { throwIfNoEntry: false });
  if (!s) return 0;
  if (!s.isDirectory()) return s.mtimeMs;
  return Math.max(s.mtimeMs, ...readdirSync(path).map((n) => newest(join(path, n))));
}

/** Builds the page and the command line, and with `all` the library, where a source is newer than they are; with `always`, in any case. */
export function ensureBuilt(always = false, all = false) {
  const sources = ['src', 'public', 'package-lock.json', 'tsconfig.json', 'vite.config.ts'];
  const changed = Math.max(...sources.map((p) => newest(join(root, p))));
  const parts = [
    { what: 'page', made: join(root, 'dist', 'web', 'index.html'), args: ['build', '--logLevel', 'warn'] },
    {
      what: 'command line',
      made: join(root, 'dist', 'cli', 'guessrow.js'),
      args: ['build', '--logLevel', 'warn', '--mode', 'cli'],
      // npx links to this file once and makes it a program only then: a later build would not be one.
      program: true,
    },
  ];
  if (all) {
    const lib = join(root, 'dist', 'lib');
    parts.push(
      {
        what: 'library',
        made: join(lib, 'guessrow.js'),
        args: ['build', '--logLevel', 'warn', '--mode', 'lib'],
      },
      {
        what: "library's types",
        made: join(lib, 'types', 'core', 'index.d.ts'),
        tool: 'typescript/bin/tsc',
        args: ['-p', 'src/core/tsconfig.types.json'],
      },
    );
  }
  for (const p of parts) {
    if (!always && newest(p.made) > changed) continue;
    // What this prints may stand before the answer of another command, as with "npm pack --json".
    process.stderr.write(`Building the ${p.what} ...\n`);
    // A build is the same whoever asks for it: a test runner's environment would make one for development.
    const env = { ...process.env, NODE_ENV: 'production' };
    if (runTool(p.tool ?? 'vite/bin/vite.js', p.args, { env }) !== 0)
      stop(`The ${p.what} could not be built; see above.`);
    if (p.program) chmodSync(p.made, 0o755);
  }
}

/** The sample to show: by its id, or the first one. */
function sampleToShow() {
  const list = join(root, 'sample-data', 'index.json');
  if (!existsSync(list))
    stop(
      'The sample fields are missing: there is no sample-data/index.json. Run "npm run samples" to write them again.',
    );
  const json = JSON.parse(readFileSync(list, 'utf8'));
  const samples = Array.isArray(json) ? json : json.samples;
  return samples.find((s) => s.id === SAMPLE) ?? samples[0];
}

function start() {
  requireNode();
  ensurePackages();
  ensureBuilt();
  const sample = sampleToShow();
  const at = (name) => join('sample-data', name);
  const map = Array.isArray(sample.map) ? sample.map[0] : sample.map;
  const args = [
    'check',
    at(map),
    '--planter',
    at(sample.planter),
    ...(sample.planting ? ['--planting', sample.planting] : []),
  ];
  const command = join('dist', 'cli', 'guessrow.js');
  process.stdout.write(`\n$ guessrow ${args.map((a) => (/\s/.test(a) ? `"${a}"` : a)).join(' ')}\n\n`);
  const status = run(process.execPath, [command, ...args]);
  if (status === null || status === 2) stop('The sample field could not be checked; see above.');

  process.stdout.write('\nThe same check in the page:\n');
  const served = spawn(process.execPath, [command, 'serve', '--sample', sample.id], { cwd: root, stdio: 'inherit' });
  // The child hears Ctrl+C from the terminal itself; a signal sent to this process alone is passed on.
  process.on('SIGINT', () => {});
  process.on('SIGTERM', () => served.kill('SIGTERM'));
  served.on('exit', (code) => process.exit(code ?? 0));
}

if (process.argv[1] && import.meta.url === pathToFileURL(process.argv[1]).href) {
  if (process.argv[2] === 'build') ensureBuilt(false, true);
  else start();
}
