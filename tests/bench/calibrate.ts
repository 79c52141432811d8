/**
 * `npm run calibrate [-- maps [seed]]`: random maps of random planters, with one setting wrong or none, checked and counted. Says how
 * often the seeded setting is named first, how often a clean map raises an alarm, how often nothing is decided, and whether a
 * confidence of 0.9 is right nine times in ten. `-- --only N [seed]` checks one map and prints its report.
 *
 * Maps are checked in child processes, as many as there are cores, a hundred maps each, so that a long run stays small in memory.
 */
import { spawn } from 'node:child_process';
import { writeFileSync } from 'node:fs';
import { availableParallelism } from 'node:os';
import { createInterface } from 'node:readline';
import { fileURLToPath } from 'node:url';
import type { Answer } from '../../src/core/answer.ts';
import { check } from '../../src/core/check.ts';
import { settingsInWords } from '../../src/core/infer/index.ts';
import { named } from '../../src/core/intake/index.ts';
import { readPlanter } from '../../src/core/planter/index.ts';
import { toText } from '../../src/core/report/index.ts';
import { drawField, toGeoJson } from '../generator/index.ts';
import type { DrawnField } from '../generator/spec.ts';
import { type Drawn, draw } from './calibrate-draw.ts';
import { untraceable } from './calibrate-trace.ts';

/** Seed of the last table; confidences were fitted on others. */
const SEED = 20_261_128;
const CHUNK = 100;
const MD = fileURLToPath(new URL('./calibration.md', import.meta.url));
const ME = fileURLToPath(import.meta.url);

interface Line {
  i: number;
  fault: string | null;
  wrong: string[];
  grain: string;
  kind: string;
  noiseM: number;
  told: boolean;
  /** Why the map cannot show its fault; null when it can. */
  untraceable: string | null;
  verdict: string;
  named: { setting: string; confidence: number; rivals: boolean }[];
}

function stretched(d: Drawn, field: DrawnField): DrawnField {
  if (d.scale === 1) return field;
  const { lat, lon } = d.spec.origin;
  for (const f of field.features.features)
    f.geometry.coordinates = JSON.parse(JSON.stringify(f.geometry.coordinates), function (this: unknown[], key, v) {
      if (typeof v !== 'number') return v;
      const o = key === '0' ? lon : lat;
      return Math.round((o + (v - o) * d.scale) * 1e8) / 1e8;
    });
  return field;
}

function run(d: Drawn, field: DrawnField): Promise<Answer> {
  return check({
    map: [named('m.geojson', toGeoJson(stretched(d, field)))],
    planter: readPlanter(d.planter, 'calibrate.planter.json'),
    planting: d.planting,
    ...(d.passAccuracyM === undefined ? {} : { passAccuracyM: d.passAccuracyM }),
  });
}

async function lineOf(i: number, seed: number): Promise<Line> {
  const d = draw(i, seed);
  const field = drawField(d.spec);
  const a = await run(d, field);
  return {
    i,
    fault: d.fault,
    wrong: d.wrong,
    grain: d.spec.grain ?? 'section',
    kind: d.kind,
    noiseM: d.noiseM,
    told: d.passAccuracyM !== undefined,
    untraceable: untraceable(d, field),
    verdict: a.report.verdict,
    named: a.report.diagnoses.map((x) => ({
      setting: x.setting,
      confidence: x.confidence,
      rivals: a.report.diagnoses.some((y) => y !== x && y.says.includes(settingsInWords([x.setting]))),
    })),
  };
}

/**
 * The seeded setting is named, and first, or after one that is wrong as well (what changed midway comes with what it changed to), or
 * together with those that the map fits equally.
 */
function right(l: Line): boolean {
  const mine = l.named.find((n) => n.setting === l.fault);
  if (!mine) return false;
  return l.wrong.includes(l.named[0].setting) || (l.named[0].rivals && mine.rivals);
}

const pct = (a: number, b: number): string => (b ? `${((100 * a) / b).toFixed(2)} %` : '-');

/** 95 % interval of a rate (Wilson's score interval). */
function interval(k: number, n: number): string {
  if (n === 0) return '-';
  const z = 1.96;
  const p = k / n;
  const mid = (p + (z * z) / (2 * n)) / (1 + (z * z) / n);
  const half = (z * Math.sqrt((p * (1 - p)) / n + (z * z) / (4 * n * n))) / (1 + (z * z) / n);
  return `${Math.max(0, mid - half).toFixed(3)} to ${Math.min(1, mid + half).toFixed(3)}`;
}

function table(lines: Line[], seed: number, maps: number, minutes: number): string {
  const clean = lines.filter((l) => l.fault === null);
  const faulty = lines.filter((l) => l.fault !== null);
  const decided = faulty.filter((l) => l.verdict !== 'undecided');
  const alarms = clean.filter((l) => l.named.length > 0);
  const top = decided.filter(right);
  const shown = decided.filter((l) => l.untraceable === null);
  const extra = lines.filter((l) => l.named.some((n) => !l.wrong.includes(n.setting) && !n.rivals));
  const all = lines.flatMap((l) => l.named.map((n) => ({ said: n.confidence, right: l.wrong.includes(n.setting) })));
  const bins = Array.from({ length: 10 }, (_, k) => all.filter((n) => Math.min(9, Math.floor(n.said * 10)) === k));
  const misses = new Map<string, number[]>();
  const miss = (key: string, i: number): void => {
    misses.set(key, [...(misses.get(key) ?? []), i]);
  };
  for (const l of alarms) miss(`clean (${l.grain}) -> ${l.named[0].setting}`, l.i);
  for (const l of decided.filter((x) => !right(x)))
    miss(
      `${l.fault} (${l.grain}${l.untraceable ? `, ${l.untraceable}` : ''}) -> ${l.named[0]?.setting ?? l.verdict}`,
      l.i,
    );
  for (const l of extra)
    for (const n of l.named)
      if (l.fault !== null && !l.wrong.includes(n.setting) && !n.rivals && n !== l.named[0])
        miss(`${l.fault} (${l.grain}) -> also ${n.setting}`, l.i);
  const settings = [...new Set(faulty.map((l) => l.fault!))].sort();
  return [
    '# Calibration',
    '',
    `${lines.length === maps ? maps : `${lines.length} of ${maps}`} random maps, seed ${seed}, Node ${process.version}, ${minutes.toFixed(0)} minutes on ${availableParallelism()} shared cores. Command: \`npm run calibrate -- ${maps} ${seed}\`.`,
    'Frames of 9 to 32 rows on one to three drives, inches and centimetres; fields (square, slanted, curved), test strips, and strips too',
    'short to decide; records of a section, a bar or a pass; position noise 0.5 to 20 cm, told to the check in half of the maps.',
    'Settings go wrong as often as `src/core/infer/priors.ts` says, so that two settings which record the same map are met at their prior rates.',
    '',
    '| | |',
    '|---|---:|',
    `| false alarms on clean maps | ${pct(alarms.length, clean.length)} (${alarms.length} of ${clean.length}) |`,
    `| seeded setting named first, or together with those that the map fits equally; decided maps that can show it | ${pct(shown.filter(right).length, shown.length)} (${shown.filter(right).length} of ${shown.length}) |`,
    `| the same, all decided maps | ${pct(top.length, decided.length)} (${top.length} of ${decided.length}) |`,
    `| maps with a setting named that is not wrong and shares with none | ${pct(extra.length, lines.length)} |`,
    `| undecided, clean maps | ${pct(clean.filter((l) => l.verdict === 'undecided').length, clean.length)} |`,
    `| undecided, maps that can show their fault | ${pct(faulty.filter((l) => l.untraceable === null && l.verdict === 'undecided').length, faulty.filter((l) => l.untraceable === null).length)} |`,
    `| undecided, other maps with a fault | ${pct(faulty.filter((l) => l.untraceable !== null && l.verdict === 'undecided').length, faulty.filter((l) => l.untraceable !== null).length)} |`,
    '',
    `Maps that cannot show their fault (\`tests/bench/calibrate-trace.ts\`, told from how they were drawn): ${reasons(faulty)}.`,
    '',
    'Every setting that was named counts, with its own confidence; it is right when it is wrong on the planter of that map.',
    '',
    '| said | diagnoses | mean said | right | 95 % interval |',
    '|---|---:|---:|---:|---|',
    ...bins.map((b, k) => {
      const n = b.length;
      const ok = b.filter((x) => x.right).length;
      const said = b.reduce((s, x) => s + x.said, 0) / n;
      return `| ${(k / 10).toFixed(1)} to ${((k + 1) / 10).toFixed(1)} | ${n} | ${n ? said.toFixed(3) : '-'} | ${n ? (ok / n).toFixed(3) : '-'} | ${interval(ok, n)} |`;
    }),
    '',
    '| seeded | maps | can show it | undecided of these | first or together, of the decided |',
    '|---|---:|---:|---:|---:|',
    ...settings.map((s) => {
      const mine = faulty.filter((l) => l.fault === s);
      const can = mine.filter((l) => l.untraceable === null);
      const d = can.filter((l) => l.verdict !== 'undecided');
      return `| ${s} | ${mine.length} | ${can.length} | ${can.length - d.length} | ${pct(d.filter(right).length, d.length)} |`;
    }),
    '',
    ...(misses.size
      ? [
          'Misses, with the numbers of the first maps (`npm run calibrate -- --only NUMBER SEED` shows one):',
          '',
          ...[...misses]
            .sort((a, b) => b[1].length - a[1].length)
            .map(([k, v]) => `- ${v.length} x ${k}: ${v.slice(0, 6).join(', ')}`),
          '',
        ]
      : []),
  ].join('\n');
}

function reasons(lines: Line[]): string {
  const n = new Map<string, number>();
  for (const l of lines) if (l.untraceable) n.set(l.untraceable, (n.get(l.untraceable) ?? 0) + 1);
  return (
    [...n]
      .sort((a, b) => b[1] - a[1])
      .map(([k, v]) => `${v} ${k}`)
      .join(', ') || 'none'
  );
}

/** Runs maps `from` up to `to` in a process of its own. */
function child(from: number, to: number, seed: number): Promise<Line[]> {
  return new Promise((resolve, reject) => {
    const p = spawn(process.execPath, [...process.execArgv, ME, '--child', `${from}`, `${to}`, `${seed}`], {
      stdio: ['ignore', 'pipe', 'inherit'],
    });
    const out: Line[] = [];
    createInterface({ input: p.stdout }).on('line', (s) => out.push(JSON.parse(s)));
    p.on('close', (code) =>
      code === 0 ? resolve(out) : reject(new Error(`maps ${from} to ${to} ended with ${code}`)),
    );
  });
}

const [first, second, third, fourth] = process.argv.slice(2);
if (first === '--child') {
  for (let i = Number(second); i < Number(third); i++)
    process.stdout.write(`${JSON.stringify(await lineOf(i, Number(fourth)))}\n`);
} else if (first === '--only') {
  const d = draw(Number(second), Number(third ?? SEED));
  console.log(`${JSON.stringify({ ...d, planter: undefined }, null, 1)}\n${d.planter}\n`);
  const field = drawField(d.spec);
  console.log(`the map can show it: ${untraceable(d, field) ?? 'yes'}`);
  const a = await run(d, field);
  console.log(toText(a));
  for (const x of a.report.diagnoses) console.log(x.confidence.toFixed(3), x.setting, x.says);
} else {
  const maps = Number(first ?? 2000);
  const seed = Number(second ?? SEED);
  const chunks: Line[][] = [];
  const start = performance.now();
  const minutes = (): number => (performance.now() - start) / 60_000;
  let next = 0;
  const work = async (): Promise<void> => {
    while (next < maps) {
      const from = next;
      next = Math.min(maps, from + CHUNK);
      chunks[from / CHUNK] = await child(from, next, seed);
      const lines = chunks.flat();
      console.error(`${lines.length} of ${maps}`);
      // Short runs are for looking, and leave the table alone; a long one that is stopped leaves what it has.
      if (maps >= 2000) writeFileSync(MD, `${table(lines, seed, maps, minutes()).trimEnd()}\n`);
    }
  };
  await Promise.all(Array.from({ length: availableParallelism() }, work));
  console.log(table(chunks.flat(), seed, maps, minutes()));
}
