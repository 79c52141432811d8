/**
 * Open ground of many simulated maps beside closing by GEOS (and JTS), all kinds of recording in turn; a third of the maps have no fault.
 *
 *   npx tsx tests/ground/round.ts --seed 15 --count 120 --out FILE    maps 1500000 and on, a line of JSON each; some 15 maps a minute
 *   npx tsx tests/ground/round.ts --read FILE                         the table, as Markdown
 *   npx tsx tests/ground/round.ts --map 1500026 --keep DIR            one map, both measures as GeoJSON for a map viewer
 */
import { appendFileSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { KINDS, type Simulated, simulate } from '../simulator/index.ts';
import { agreementOf, type Compared, compareWithClosing, NOISE_SHARE } from './against-closing.ts';

const { values } = parseArgs({
  options: {
    count: { type: 'string', default: '120' },
    seed: { type: 'string', default: '15' },
    from: { type: 'string', default: '0' },
    out: { type: 'string' },
    read: { type: 'string' },
    map: { type: 'string' },
    keep: { type: 'string' },
  },
});

const ACCURACY_M = 0.025;
const BATCH = 3;
const MAPS_OF_A_SEED = 100_000;
const ONE_IN = 3;
/** JTS takes some seconds for each map. */
const JTS_ONE_IN = 10;

interface Row extends Compared {
  kind: string;
  healthy: boolean;
  story: string;
}

function mapOf(number: number): Simulated {
  const k = number % MAPS_OF_A_SEED;
  const healthy = Math.floor(k / KINDS.length) % ONE_IN === 0;
  return simulate(number, { kind: KINDS[k % KINDS.length], ...(healthy ? { settings: [] } : {}) });
}

async function rowsOf(numbers: readonly number[], keep?: string): Promise<Row[]> {
  const maps = numbers.map(mapOf);
  const jts = numbers.map((n) => n % JTS_ONE_IN === 0);
  const named = maps.map((m) => ({ ...m, name: `${m.seed}` }));
  const found = await compareWithClosing(named, ACCURACY_M, { jts, ...(keep ? { keep } : {}) });
  return found.map((c, i) => ({
    kind: maps[i].kind,
    healthy: maps[i].faults.length === 0 && maps[i].neverAgrees === null,
    ...c,
    story: maps[i].story,
  }));
}

/** A map that could not be measured, in the words of what threw. */
interface Unmeasured {
  name: string;
  failed: string;
}

/** One map that cannot be measured takes no other with it. */
async function rowsOrWhy(numbers: readonly number[]): Promise<(Row | Unmeasured)[]> {
  try {
    return await rowsOf(numbers);
  } catch (e) {
    if (numbers.length === 1) return [{ name: `${numbers[0]}`, failed: String(e) }];
    return (await Promise.all(numbers.map((n) => rowsOrWhy([n])))).flat();
  }
}

function table(all: readonly (Row | Unmeasured)[]): string {
  const unmeasured = all.filter((r): r is Unmeasured => 'failed' in r);
  const rows = all.filter((r): r is Row => !('failed' in r));
  const cells = (list: readonly Row[]): string => {
    const is = (what: string): number => list.filter((r) => agreementOf(r) === what).length;
    const none = list.filter((r) => agreementOf(r) === 'none').length;
    return `${list.length} | ${is('within 5 %')} | ${none} | ${is('between')} | ${is('above')} | ${is('below')}`;
  };
  const kinds = [...new Set(rows.map((r) => r.kind))];
  const jts = rows.filter((r) => typeof r.jtsM2 === 'number');
  const failed = rows.filter((r) => typeof r.jtsM2 === 'string').length;
  const apart = jts.filter(({ jtsM2, stripsM2, pocketsM2, coveredM2 }) => {
    const kept = stripsM2 + pocketsM2;
    return Math.abs(Number(jtsM2) - kept) > Math.max(0.01 * kept, NOISE_SHARE * coveredM2);
  });
  const short = rows.filter((r) => r.leftOut > 0);
  const left = rows.filter((r) => ['above', 'below'].includes(agreementOf(r)));
  const m2 = (v: number): string => v.toFixed(0);
  return [
    '| maps | number | within 5 % | nothing open in either | between kept and all | above | below |',
    '|---|---|---|---|---|---|---|',
    ...kinds.map((k) => `| ${k} | ${cells(rows.filter((r) => r.kind === k))} |`),
    `| without a fault | ${cells(rows.filter((r) => r.healthy))} |`,
    `| all | ${cells(rows)} |`,
    '',
    `JTS beside GEOS: ${jts.length} maps, ${apart.length} differ by more than 1 %${apart.map((r) => `; ${r.name}`).join('')}; on ${failed} more JTS throws.`,
    `Not measured: ${unmeasured.length}${unmeasured.map((r) => `; ${r.name}: ${r.failed.trim().split('\n').at(-1)}`).join('')}.`,
    `Records without an area, which GEOS leaves out: ${short.reduce((n, r) => n + r.leftOut, 0)} on ${short.length} maps.`,
    `Largest residual of the account: ${Math.max(...rows.map((r) => Math.max(Math.abs(r.gapResidualM2), Math.abs(r.overlapResidualM2)))).toExponential(1)} m².`,
    '',
    '| map | kind | ours, m² | kept | all | covered |',
    '|---|---|---|---|---|---|',
    ...left.map(
      (r) =>
        `| ${r.name} | ${r.kind} | ${m2(r.gapM2)} | ${m2(r.stripsM2 + r.pocketsM2)} | ${m2(r.stripsM2 + r.pocketsM2 + r.droppedM2)} | ${m2(r.coveredM2)} |`,
    ),
  ].join('\n');
}

if (values.read) {
  const lines = values.read.split(',').flatMap((f) => readFileSync(f, 'utf8').trim().split('\n'));
  console.log(table(lines.map((l) => JSON.parse(l) as Row | Unmeasured)));
} else if (values.map) {
  const keep = values.keep ?? '.';
  mkdirSync(keep, { recursive: true });
  const m = mapOf(Number(values.map));
  writeFileSync(join(keep, 'map.geojson'), m.map);
  writeFileSync(join(keep, 'yard.planter.json'), m.planter);
  if (m.boundary) writeFileSync(join(keep, 'edge.geojson'), m.boundary);
  console.log(JSON.stringify((await rowsOf([Number(values.map)], keep))[0], null, 1));
} else {
  const from = Number(values.seed) * MAPS_OF_A_SEED + Number(values.from);
  const count = Number(values.count);
  for (let k = 0; k < count; k += BATCH) {
    const rows = await rowsOrWhy(Array.from({ length: Math.min(BATCH, count - k) }, (_, i) => from + k + i));
    const text = rows.map((r) => `${JSON.stringify(r)}\n`).join('');
    if (values.out) appendFileSync(values.out, text);
    else process.stdout.write(text);
  }
}
