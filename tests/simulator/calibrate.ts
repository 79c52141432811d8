/**
 * `npm run calibrate`: many simulated maps, checked, and how often the answers are right, by kind of recording and by setting.
 *
 *   npm run calibrate -- --count 500 --seed 1            a round; the table goes to the screen, every map to a file with --out FILE
 *   npm run calibrate -- --read FILE,FILE                the table over rounds that were written so
 *   npm run calibrate -- --only "strips" --count 60      one kind of recording
 *   npm run calibrate -- --setting side-offset           one fault; --setting healthy, or two names with a comma
 *   npm run calibrate -- --closing                       open ground by GEOS beside the reported gaps; a second or two more for each map
 *   npm run calibrate -- --map 4711 --dump DIR           one map and its answer as files for a map viewer
 */
import { fork } from 'node:child_process';
import { appendFileSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { parseArgs } from 'node:util';
import { type Setting, toText } from '../../src/core/index.ts';
import { SETTINGS, simulate } from './index.ts';
import { answerTo, kindOf, type Outcome, outcomeOf, type Wish } from './outcome.ts';
import { tables } from './tables.ts';

const { values } = parseArgs({
  options: {
    count: { type: 'string', default: '500' },
    seed: { type: 'string', default: '1' },
    only: { type: 'string' },
    setting: { type: 'string' },
    map: { type: 'string' },
    dump: { type: 'string' },
    out: { type: 'string' },
    read: { type: 'string' },
    closing: { type: 'boolean', default: false },
    processes: { type: 'string', default: '2' },
  },
});

function wishOf(): Wish {
  const wish: Wish = {};
  if (values.only) wish.kind = kindOf(values.only);
  if (values.setting) {
    const list = values.setting === 'healthy' ? [] : values.setting.split(',');
    const unknown = list.find((s) => !SETTINGS.includes(s as Setting));
    if (unknown) throw new Error(`No setting is called "${unknown}". There are: healthy, ${SETTINGS.join(', ')}.`);
    wish.settings = list as Setting[];
  }
  return wish;
}

async function dump(seed: number, folder: string): Promise<void> {
  const map = simulate(seed, wishOf());
  mkdirSync(folder, { recursive: true });
  writeFileSync(join(folder, 'map.geojson'), map.map);
  writeFileSync(join(folder, 'yard.planter.json'), map.planter);
  if (map.boundary) writeFileSync(join(folder, 'edge.geojson'), map.boundary);
  const told = map.faults.map(
    (f) =>
      `${f.setting} (${f.since}): ${f.says}. Shows: ${f.shows}, ${f.why}. Rivals: ${f.rivals.join(', ') || 'none'}.`,
  );
  const answer = await answerTo(map);
  const text = [`Seed ${seed}. ${map.story}`, ...told, `Truth: ${JSON.stringify(map.truth)}`, '', toText(answer)].join(
    '\n',
  );
  writeFileSync(join(folder, 'story.txt'), text);
  writeFileSync(join(folder, 'report.json'), JSON.stringify(answer.report, null, 1));
  process.stdout.write(
    `${text}\nFiles in ${folder}; check again with: guessrow check ${join(folder, 'map.geojson')} --planter ${join(folder, 'yard.planter.json')} --planting "${map.planting}"\n`,
  );
}

/** Seeds are shared out over the processes one by one, so that all end at about the same time. */
async function round(seeds: number[], processes: number): Promise<Outcome[]> {
  const outcomes: Outcome[] = [];
  const queue = [...seeds];
  const started = performance.now();
  const worker = (): Promise<void> =>
    new Promise((resolve, reject) => {
      const child = fork(fileURLToPath(import.meta.url), process.argv.slice(2), {
        execArgv: ['--import', 'tsx'],
        env: { ...process.env, CALIBRATE_CHILD: '1' },
      });
      const give = (): void => {
        const seed = queue.shift();
        if (seed === undefined) child.disconnect();
        else child.send(seed);
      };
      child.on('message', (m) => {
        if (m !== 'ready') {
          outcomes.push(m as Outcome);
          if (values.out) appendFileSync(values.out, `${JSON.stringify(m)}\n`);
          if (outcomes.length % 20 === 0) {
            const s = (performance.now() - started) / 1000;
            process.stderr.write(
              `${outcomes.length} of ${seeds.length} maps, ${s.toFixed(0)} s, about ${((s / outcomes.length) * (seeds.length - outcomes.length)).toFixed(0)} s to go\n`,
            );
          }
        }
        give();
      });
      child.on('exit', (code) => (code === 0 ? resolve() : reject(new Error(`a process ended with ${code}`))));
    });
  await Promise.all(Array.from({ length: processes }, worker));
  return outcomes.sort((a, b) => a.seed - b.seed);
}

if (process.env.CALIBRATE_CHILD) {
  const wish = wishOf();
  process.on('message', async (seed: number) => process.send!(await outcomeOf(seed, wish, values.closing)));
  process.on('disconnect', () => process.exit(0));
  process.send!('ready');
} else if (values.map) {
  await dump(Number(values.map), values.dump ?? join('/tmp', `map-${values.map}`));
} else if (values.read) {
  // Rounds that were written with --out, one table over all of them.
  const lines = values.read.split(',').flatMap((path) => readFileSync(path, 'utf8').trim().split('\n'));
  const outcomes = lines.map((line) => JSON.parse(line) as Outcome).sort((a, b) => a.seed - b.seed);
  process.stdout.write(tables(outcomes, `${outcomes.length} maps, from ${values.read}`));
} else {
  const [first, count] = [Number(values.seed) * 1e5, Number(values.count)];
  if (values.out) writeFileSync(values.out, '');
  const outcomes = await round(
    Array.from({ length: count }, (_, i) => first + i),
    Math.min(2, Number(values.processes)),
  );
  process.stdout.write(
    tables(
      outcomes,
      `${count} maps, seed ${values.seed}${values.only ? `, ${kindOf(values.only)}` : ''}${values.setting ? `, ${values.setting}` : ''}`,
    ),
  );
}
