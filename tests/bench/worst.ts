/**
 * `npx tsx tests/bench/worst.ts [SHAPE[:SIZE]…]`: processor time and peak memory of the built command on the worst shapes, each at sizes that double
 * and at the largest that a limit or patience allows, in processes of their own, beside what is promised: 20 s and 2 s for each MB, 400 MB and six times
 * the file. Prints Markdown and, when all shapes ran, keeps it in `worst.md`. Ends with status 1 where a promise does not hold.
 */
import { spawnSync } from 'node:child_process';
import { copyFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { cpus } from 'node:os';
import { join } from 'node:path';
import { builtCommand } from '../audit/built.ts';
import { counting } from './counted.ts';
import { SHAPES, WORST } from './worst-shapes.ts';

/** Processor time after which a run is ended, as a multiple of what is promised. */
const PATIENCE = 2;

const HEAD = `| shape | size | MB | seconds | promised | s a MB | peak MB | promised | ends in |
|---|---|---|---|---|---|---|---|---|`;

const wanted = process.argv.slice(2).map((w) => w.split(':'));
const { dir, command } = await builtCommand();
const { env, counted } = counting(dir);
const planter = join(dir, 'p.planter.json');
copyFileSync('sample-data/test-strips/test-strips.planter.json', planter);
const map = join(dir, 'map.geojson');

function run(shape: keyof typeof WORST, size: number): { row: string; holds: boolean } {
  writeFileSync(map, WORST[shape].draw(size));
  const mb = statSync(map).size / 1e6;
  const [mostS, mostMb] = [20 + 2 * mb, 400 + 6 * mb];
  const args = ['check', map, '--planter', planter, '--planting', 'narrow', '--format', 'json'];
  const script = `ulimit -t ${Math.ceil(PATIENCE * mostS)}; exec "$0" "$@"`;
  const r = spawnSync('sh', ['-c', script, process.execPath, command, ...args], {
    env,
    encoding: 'utf8',
    maxBuffer: 1 << 30,
  });
  const name = `| ${shape} | ${size} | ${mb.toFixed(mb < 1 ? 3 : 1)}`;
  if (r.status === null) {
    const row = `${name} | > ${Math.ceil(PATIENCE * mostS)} | ${mostS.toFixed(0)} | | | ${mostMb.toFixed(0)} | not ended |`;
    return { row, holds: false };
  }
  const { allS, peakMb } = counted();
  const end = r.stdout === '' ? r.stderr.trim().split('\n').at(-1)! : JSON.parse(r.stdout).verdict;
  const code = /\[([a-z-]+)\]$/.exec(end)?.[1] ?? end.slice(0, 200);
  const cells = [allS.toFixed(1), mostS.toFixed(0), (allS / mb).toFixed(1), peakMb.toFixed(0), mostMb.toFixed(0), code];
  return { row: `${name} | ${cells.join(' | ')} |`, holds: allS <= mostS && peakMb <= mostMb };
}

const rows: string[] = [];
let broken = 0;
process.stdout.write(`${HEAD}\n`);
for (const shape of SHAPES) {
  const own = wanted.filter(([name]) => name === shape);
  if (wanted.length > 0 && own.length === 0) continue;
  const named = own.flatMap(([, size]) => (size ? [Number(size)] : []));
  for (const size of named.length > 0 ? named : WORST[shape].sizes) {
    const { row, holds } = run(shape, size);
    if (!holds) broken++;
    rows.push(holds ? row : `${row} **broken**`);
    process.stdout.write(`${rows.at(-1)}\n`);
  }
}
rmSync(dir, { recursive: true });
if (wanted.length === 0) {
  const list = SHAPES.map((s) => `- **${s}**: ${WORST[s].what}`).join('\n');
  const text = `# Worst shapes

Written by \`npx tsx tests/bench/worst.ts\` with Node ${process.version} on ${cpus()[0]?.model.trim()}. Processor seconds and peak memory of the built command, of all threads; a code names the
sentence that a check ended in.

${list}

${HEAD}
${rows.join('\n')}

${broken} of ${rows.length} broke the promise.
`;
  writeFileSync(new URL('worst.md', import.meta.url), text);
}
process.exitCode = broken > 0 ? 1 : 0;
