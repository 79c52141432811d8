/**
 * `npx tsx tests/bench/worst.ts [SHAPE…]`: processor time and peak memory of a check of the worst shapes at three sizes and more, each in a process of
 * its own, beside what is promised: 20 s and 2 s for each MB, 400 MB and six times the file. Prints Markdown.
 */
import { spawnSync } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { check } from '../../src/core/check.ts';
import { named } from '../../src/core/intake/index.ts';
import { UserError } from '../../src/core/messages.ts';
import { readPlanter } from '../../src/core/planter/index.ts';
import { WORST } from './worst-shapes.ts';

type Shape = keyof typeof WORST;

const SIZES: Readonly<Record<Shape, readonly number[]>> = {
  strips: [50, 100, 200, 800, 1600],
  comb: [50, 100, 200, 400],
  near: [500, 1000, 2000, 20_000],
  spot: [5000, 10_000, 20_000, 50_000],
  nested: [500, 1000, 2000, 80_000],
  long: [1, 2, 4],
};

async function one(shape: Shape, size: number): Promise<void> {
  const folder = 'sample-data/test-strips';
  const planter = readPlanter(readFileSync(`${folder}/test-strips.planter.json`, 'utf8'), 'planter.json');
  const bytes = new TextEncoder().encode(WORST[shape](size));
  const from = process.cpuUsage();
  let end: string;
  try {
    end = (await check({ map: [named('worst.geojson', bytes)], planter, planting: 'narrow' })).report.verdict;
  } catch (e) {
    if (!(e instanceof UserError)) throw e;
    end = e.detail.code;
  }
  const { user, system } = process.cpuUsage(from);
  const mb = bytes.length / 1e6;
  const cells = [
    shape,
    String(size),
    mb.toFixed(2),
    ((user + system) / 1e6).toFixed(1),
    (20 + 2 * mb).toFixed(0),
    (process.resourceUsage().maxRSS / 1024).toFixed(0),
    (400 + 6 * mb).toFixed(0),
    end,
  ];
  process.stdout.write(`| ${cells.join(' | ')} |\n`);
}

const own = fileURLToPath(import.meta.url);
const [first, size] = process.argv.slice(2);
if (size !== undefined && /^\d+$/.test(size)) await one(first as Shape, Number(size));
else {
  const wanted = process.argv.slice(2);
  process.stdout.write('| shape | size | MB | processor s | promised | peak MB | promised | ends in |\n');
  process.stdout.write('|---|---|---|---|---|---|---|---|\n');
  for (const shape of Object.keys(SIZES) as Shape[]) {
    if (wanted.length > 0 && !wanted.includes(shape)) continue;
    for (const n of SIZES[shape])
      spawnSync(process.execPath, ['--import', 'tsx', own, shape, String(n)], { stdio: 'inherit' });
  }
}
