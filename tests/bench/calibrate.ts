/**
 * `npm run calibrate [-- maps]`: random maps of random planters, with one fault or none, checked and counted. Says how often the first
 * setting is the seeded one, how often a clean map raises an alarm, and whether a confidence of 0.9 is right nine times in ten.
 * The planters, shapes and sizes drawn here are not those of the tests.
 */
import { writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { check } from '../../src/core/check.ts';
import { named } from '../../src/core/intake/index.ts';
import { readPlanter } from '../../src/core/planter/index.ts';
import { drawField, toGeoJson } from '../generator/index.ts';
import { rowsOf, runs } from '../generator/planters.ts';
import { Random } from '../generator/random.ts';
import type { FieldSpec, Run, Truth } from '../generator/spec.ts';

interface Drawn {
  spec: FieldSpec;
  planter: string;
  planting: string;
  fault: string | null;
  /** Settings that cannot be told from the seeded one in this grain. */
  also: string[];
}

const maps = Number(process.argv[2] ?? 2000);
const random = new Random(77_000_017);
const pick = <T>(list: readonly T[]): T => list[Math.floor(random.next() * list.length)];
const between = (a: number, b: number): number => a + (b - a) * random.next();

/** Pairs, with one single row beside the centre line of an odd frame. */
function pairs(rows: number): Run[] {
  const out: Run[] = [];
  const middle = (rows + 1) / 2;
  const single = rows % 2 ? (middle % 2 ? middle : middle - 1) : 0;
  for (let r = 1; r <= rows; ) {
    const last = r === single || r === rows ? r : r + 1;
    out.push([r, last]);
    r = last + 1;
  }
  return out;
}

const text = (r: Run): string => (r[0] === r[1] ? `${r[0]}` : `${r[0]}-${r[1]}`);

function draw(seed: number): Drawn {
  const metric = random.next() < 0.4;
  const rows = pick([9, 11, 13, 16, 19, 20, 21, 27, 31]);
  const spacing = metric ? pick([45, 50]) : pick([15, 20]);
  const unitM = metric ? 0.01 : 0.0254;
  const split = rows > 8;
  const sections = pairs(rows);
  const planting = split && random.next() < 0.4 ? 'wide' : 'narrow';
  const step = planting === 'wide' ? 2 : 1;
  const planted = rowsOf(rows, planting === 'wide' ? 'odd' : 'all');
  const width = planted.length * step * spacing;
  const other = planting === 'wide' ? rows * spacing : rowsOf(rows, 'odd').length * 2 * spacing;
  const file = {
    name: `Frame of ${rows}`,
    unit: metric ? 'cm' : 'in',
    rows,
    rowSpacing: spacing,
    plantings: { narrow: 'all', wide: 'odd' },
    sections: sections.map(text),
    drives: [`1-${rows}`],
  };
  const truth: Truth = { rows, rowSpacingM: spacing * unitM, planted, sections, drives: [[1, rows]] };
  const noise = Math.exp(between(Math.log(0.005), Math.log(0.05)));
  const strip = random.next() < 0.5;
  const slant = random.next() < 0.5;
  const spec: FieldSpec = {
    seed,
    origin: { lat: between(-45, 55), lon: between(-120, 140) },
    headingDeg: between(0, 360),
    truth,
    passSpacingM: width * unitM,
    shape: strip
      ? { kind: 'strip', lengthM: between(80, 160), passes: 4 + Math.floor(random.next() * 4) }
      : {
          kind: 'field',
          lengthM: between(130, 200),
          widthM: between(80, 120),
          headlandLaps: pick([1, 2] as const),
          ...(slant ? { pointRowsDeg: between(8, 30) } : {}),
        },
    noise: { wanderM: noise, passBiasM: noise / 2 },
    sectionControl: true,
    hz: pick([1, 1, 2]),
    speedMPerS: between(1.6, 3.2),
    corners: pick(['shared', 'independent'] as const),
    grain: pick(['section', 'section', 'section', 'bar', 'strip'] as const),
    order: pick(['log', 'log', 'section-major'] as const),
    columns: random.next() < 0.5 ? { time: { name: 'stamp', as: 'epoch-s' } } : {},
  };
  const rest = { spec, planter: JSON.stringify(file), planting };
  const bySection = spec.grain === 'section';
  const even = rows % 2 === 0;
  const kinds = [
    'none',
    'none',
    'pass-spacing',
    ...(spec.grain === 'strip' ? [] : ['side-offset']),
    'row-spacing',
    'frame-rows',
    ...(even ? [] : ['planted-rows']),
    ...(bySection ? ['sections-merged'] : []),
    ...(bySection && planting === 'narrow' ? ['section-rows'] : []),
  ];
  const fault = pick(kinds);
  if (fault === 'pass-spacing') spec.passSpacingM = (Math.abs(other - width) > 1 ? other : width + spacing) * unitM;
  if (fault === 'side-offset') spec.sideShiftM = pick([-1, 1]) * between(Math.max(0.07, 2.5 * noise), 0.2);
  if (fault === 'row-spacing') {
    const s = pick(metric ? [37.5, 55] : [14, 18]);
    spec.belief = { rowSpacingM: s * unitM };
    spec.passSpacingM = planted.length * step * s * unitM;
  }
  if (fault === 'frame-rows') {
    // An odd frame and its even neighbour of the same wide width record alike: that one is left to `planted-rows`.
    const n = rows + (even || planting === 'wide' ? pick([-1, 1]) : -1) * (planting === 'wide' ? 2 : 1);
    spec.belief = {
      rows: n,
      planted: rowsOf(n, planting === 'wide' ? 'odd' : 'all'),
      sections: pairs(n),
      drives: [[1, n]],
    };
    spec.passSpacingM = spec.belief.planted!.length * step * spacing * unitM;
  }
  if (fault === 'planted-rows') {
    spec.belief = { planted: rowsOf(rows, planting === 'wide' ? 'all' : 'odd') };
    spec.passSpacingM = other * unitM;
  }
  if (fault === 'sections-merged') {
    const joined: Run[] = [];
    for (let i = 0; i < sections.length; i += 2)
      joined.push([sections[i][0], sections[Math.min(i + 1, sections.length - 1)][1]]);
    spec.belief = { sections: joined };
  }
  if (fault === 'section-rows')
    spec.belief = {
      sections: runs(sections.map(text).join(' ')).map(
        (r, i, all): Run => (i === 0 ? [1, r[1] + 1] : i === 1 ? [all[0][1] + 2, Math.max(r[1], all[0][1] + 2)] : r),
      ),
    };
  const also = bySection
    ? []
    : ['planted-rows', 'frame-as-wide', 'frame-rows', 'row-spacing'].filter(
        (s) => ['planted-rows', 'frame-rows', 'row-spacing'].includes(fault) && s !== fault,
      );
  return { ...rest, fault: fault === 'none' ? null : fault, also };
}

const bins = Array.from({ length: 10 }, () => ({ n: 0, said: 0, right: 0 }));
let clean = 0;
let alarms = 0;
let faults = 0;
let top = 0;
let undecided = 0;
const missed = new Map<string, number>();
for (let i = 0; i < maps; i++) {
  const d = draw(1000 + i);
  const a = await check({
    map: [named('m.geojson', toGeoJson(drawField(d.spec)))],
    planter: readPlanter(d.planter, 'calibrate.planter.json'),
    planting: d.planting,
  });
  const first = a.report.diagnoses[0];
  if (a.report.verdict === 'undecided') undecided++;
  if (d.fault === null) {
    clean++;
    if (first) {
      alarms++;
      const key = `clean (${d.spec.grain}) -> ${first.setting}`;
      missed.set(key, (missed.get(key) ?? 0) + 1);
      console.error(i, key, first.says);
    }
  } else if (a.report.verdict !== 'undecided') {
    faults++;
    const right = first?.setting === d.fault || (first !== undefined && d.also.includes(first.setting));
    if (right) top++;
    else {
      const key = `${d.fault} (${d.spec.grain}) -> ${first?.setting ?? a.report.verdict}`;
      missed.set(key, (missed.get(key) ?? 0) + 1);
      console.error(i, key, first?.says ?? '');
    }
  }
  for (const x of a.report.diagnoses) {
    const bin = bins[Math.min(9, Math.floor(x.confidence * 10))];
    bin.n++;
    bin.said += x.confidence;
    if (x.setting === d.fault) bin.right++;
  }
  if ((i + 1) % 50 === 0) console.error(`${i + 1} of ${maps}`);
}
const pct = (a: number, b: number): string => (b ? `${((100 * a) / b).toFixed(2)} %` : '-');
const lines = [
  '# Calibration',
  '',
  `${maps} random maps, seed 77000017, Node ${process.version}. Command: \`npm run calibrate\`. Noise 0.5 to 5 cm, frames of 9 to 31 rows, test strips and fields, records of a section, a bar or a pass.`,
  '',
  '| | |',
  '|---|---:|',
  `| false alarms on clean maps | ${pct(alarms, clean)} (${alarms} of ${clean}) |`,
  `| seeded setting named first, decided maps with one fault | ${pct(top, faults)} (${top} of ${faults}) |`,
  `| undecided | ${pct(undecided, maps)} |`,
  '',
  '| said | diagnoses | mean said | right |',
  '|---|---:|---:|---:|',
  ...bins.map(
    (b, k) =>
      `| ${(k / 10).toFixed(1)} to ${((k + 1) / 10).toFixed(1)} | ${b.n} | ${b.n ? (b.said / b.n).toFixed(3) : '-'} | ${b.n ? (b.right / b.n).toFixed(3) : '-'} |`,
  ),
  '',
  ...(missed.size
    ? ['Misses:', '', ...[...missed].sort((a, b) => b[1] - a[1]).map(([k, n]) => `- ${n} x ${k}`), '']
    : []),
];
console.log(lines.join('\n'));
if (maps >= 500)
  writeFileSync(fileURLToPath(new URL('./calibration.md', import.meta.url)), `${lines.join('\n').trimEnd()}\n`);
