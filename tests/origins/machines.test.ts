import { describe, expect, test } from 'vitest';
import type { Answer } from '../../src/core/answer.ts';
import { check } from '../../src/core/check.ts';
import { named } from '../../src/core/intake/index.ts';
import type { CheckInput, DeclaredPlanter } from '../../src/core/steps/job.ts';
import { drawField, toGeoJson } from '../generator/index.ts';
import { type InventedPlanter, PLANTERS, rowsOf } from '../generator/planters.ts';
import { Random } from '../generator/random.ts';
import type { DrawnField, FieldSpec } from '../generator/spec.ts';
import { workTogether } from '../generator/together.ts';
import { field, metersOf, planterOf } from '../settings/help.ts';
import { refusal } from './refusal.ts';

const LAT = 47.2;
const LON = 8.1;
/** Meters in a degree of longitude on WGS84 (series of the Geographer's tables, from memory; good to 1 cm at this latitude). */
const METRES_PER_DEGREE =
  111_412.84 * Math.cos((LAT * Math.PI) / 180) -
  93.5 * Math.cos((3 * LAT * Math.PI) / 180) +
  0.118 * Math.cos((5 * LAT * Math.PI) / 180);
const DAY_MS = 86_400_000;

interface Job {
  name: string;
  planter: InventedPlanter;
  planting: string;
  passes: number;
  lengthM?: number;
  startsMs?: number;
  /** Left open before the block, meters. */
  apartM?: number;
  more?: Partial<FieldSpec>;
}

const widthOf = (j: Job): number => j.planter.file.passSpacing[j.planting] * metersOf(j.planter);

/** Jobs side by side from west to east, each a block of passes back and forth. `owner` is the job of every record. */
function sideBySide(jobs: readonly Job[], seed: number, column?: string): { map: DrawnField; owner: number[] } {
  let west = 0;
  const marked = jobs.map((j, i) => {
    west += j.apartM ?? 0;
    const middleM = west + (j.passes * widthOf(j)) / 2;
    west += j.passes * widthOf(j);
    const drawn = drawField(
      field(j.planter, j.planting, {
        seed: seed + 31 * i,
        origin: { lat: LAT, lon: LON + middleM / METRES_PER_DEGREE },
        headingDeg: 0,
        shape: { kind: 'strip', lengthM: j.lengthM ?? 130, passes: j.passes },
        columns: { time: { name: 'logged', as: 'epoch-ms' }, section: { name: 'sec' } },
        ...j.more,
      }),
    );
    for (const f of drawn.features.features) f.properties = { ...f.properties, job: i };
    return { name: j.name, drawn, drives: () => true, startsMs: j.startsMs ?? 15_000 * i };
  });
  const map = workTogether(marked, 'logged', column);
  const owner = map.features.features.map((f) => (f.properties as { job: number }).job);
  for (const f of map.features.features) delete (f.properties as { job?: number }).job;
  return { map, owner };
}

const checked = (map: DrawnField, planters: DeclaredPlanter[], rest: Partial<CheckInput> = {}): Promise<Answer> =>
  check({ map: [named('m.geojson', toGeoJson(map))], planter: planters[0].planter, planters, ...rest });

/** Machine of every record as the report has it: index into `report.machines`, -1 where it lies in no pass. */
function machineOf({ report, evidence }: Answer): Int32Array {
  const of = new Map(report.machines.flatMap((m, i) => m.passes.map((p) => [p, i] as const)));
  return Int32Array.from(evidence.recordPass, (p) => of.get(p) ?? -1);
}

/** Every job is one machine of its own. */
function expectParted(answer: Answer, owner: readonly number[], jobs: number): void {
  expect(answer.report.machines).toHaveLength(jobs);
  const found = machineOf(answer);
  const pairs = new Set(owner.flatMap((o, r) => (found[r] < 0 ? [] : [`${o} ${found[r]}`])));
  expect([...pairs].sort()).toHaveLength(jobs);
}

const right = (name: string, passes = 4): Job => ({ name, planter: PLANTERS.sixteen, planting: 'corn', passes });
const twelve = { rows: 12, planted: rowsOf(12, 'all'), sections: PLANTERS.sixteen.as('corn').sections.slice(0, 6) };
const wrong = (name: string, passes = 4): Job => ({ ...right(name, passes), more: { belief: twelve } });
const narrow = (name: string, passes = 5): Job => ({ name, planter: PLANTERS.fifteen, planting: 'narrow', passes });
const sixteen = planterOf(PLANTERS.sixteen);
const fifteen = planterOf(PLANTERS.fifteen);

describe.each([
  ['a machine column', 'unit_no'],
  ['a column called machine', 'machine'],
  ['times alone', undefined],
])('two machines at work at one time, told apart by %s', (_, column) => {
  test.each([1, 2])('both recorded right: each is its own, and the field agrees (drawing %i)', async (seed) => {
    const random = new Random(seed);
    const jobs = [right('A', 3 + Math.floor(3 * random.next())), right('B', 3 + Math.floor(3 * random.next()))];
    const { map, owner } = sideBySide(jobs, 100 * seed, column);
    const answer = await checked(map, [{ planter: sixteen }]);
    expectParted(answer, owner, 2);
    expect(answer.report.verdict).toBe('agrees');
    expect(answer.report.machines.map((m) => m.verdict)).toEqual(['agrees', 'agrees']);
  });

  test('one of them recorded 12 rows: it alone differs, with the size of it', async () => {
    const jobs = [right('A', 4), wrong('B', 5)];
    const { map, owner } = sideBySide(jobs, 77, column);
    const answer = await checked(map, [{ planter: sixteen }]);
    expectParted(answer, owner, 2);
    const { report } = answer;
    expect(report.verdict).toBe('differs');
    expect(report.machines.map((m) => [m.verdict, m.settings[0] ?? ''])).toEqual([
      ['agrees', ''],
      ['differs', 'frame-rows'],
    ]);
    // Arithmetic: four seams of B, and the one to A, stay open by 120 in or half of it, 130 m long.
    const openM2 = 130 * 120 * 0.0254 * 4.5;
    const gaps = report.account.filter(
      (l) => l.fact === 'gap' && l.picture === 'recorded' && l.setting === 'frame-rows',
    );
    const sum = gaps.reduce((s, l) => s + l.areaM2, 0);
    expect(Math.abs(sum / openM2 - 1)).toBeLessThan(0.05);
    const own = new Set(report.machines[1].passes);
    expect(gaps.every((l) => l.passes.some((p) => own.has(p)))).toBe(true);
  });
});

describe('two planters', () => {
  test.each([
    ['with a machine column', 'rig'],
    ['by times', undefined],
  ])('are each compared with their own passes, %s', async (_, column) => {
    const { map, owner } = sideBySide([right('Big', 3), narrow('Small', 5)], 5, column);
    const answer = await checked(map, [{ planter: fifteen }, { planter: sixteen }], { planting: 'narrow' });
    expectParted(answer, owner, 2);
    expect(answer.report.machines.map((m) => [m.planter, m.planting, m.verdict])).toEqual([
      [sixteen.name, 'corn', 'agrees'],
      [fifteen.name, 'narrow', 'agrees'],
    ]);
    expect(answer.report.machines.every((m) => m.why !== '')).toBe(true);
    expect(answer.report.verdict).toBe('agrees');
  });

  test('one after the other, with nothing in the file to distinguish them but their widths', async () => {
    const { map, owner } = sideBySide([right('Big', 4), { ...narrow('Small', 6), startsMs: 3_600_000 }], 9);
    const answer = await checked(map, [{ planter: sixteen }, { planter: fifteen }], { planting: 'narrow' });
    expectParted(answer, owner, 2);
    expect(answer.report.machines.map((m) => [m.planter, m.verdict])).toEqual([
      [sixteen.name, 'agrees'],
      [fifteen.name, 'agrees'],
    ]);
  });

  test('assigned by name, and one assigned wrongly differs', async () => {
    const { map } = sideBySide([right('Big', 3), narrow('Small', 5)], 5, 'machine');
    const good = await checked(
      map,
      [
        { planter: sixteen, machine: 'big' },
        { planter: fifteen, machine: 'Small' },
      ],
      {
        plantings: { small: 'narrow' },
      },
    );
    expect(good.report.machines.map((m) => [m.name, m.planter, m.verdict])).toEqual([
      ['Big', sixteen.name, 'agrees'],
      ['Small', fifteen.name, 'agrees'],
    ]);
    const swapped = await checked(
      map,
      [
        { planter: fifteen, machine: 'Big' },
        { planter: sixteen, machine: 'Small' },
      ],
      {
        planting: 'narrow',
      },
    );
    expect(swapped.report.machines.map((m) => m.verdict)).not.toContain('agrees');
  });

  test('a name that is not in the map, and a machine without a planter, are refused with what there is', async () => {
    const { map } = sideBySide([right('Big', 3), narrow('Small', 5)], 5, 'machine');
    const unknown = await refusal(checked(map, [{ planter: sixteen, machine: 'Bigg' }, { planter: fifteen }]));
    expect([unknown.code, unknown.todo]).toEqual([
      'planter-machine',
      'Did you mean "Big"? Its machines are "Big" and "Small".',
    ]);
    const missing = await refusal(checked(map, [{ planter: sixteen, machine: 'Big' }]));
    expect([missing.code, missing.sentence]).toEqual([
      'planter-missing',
      'The map has passes of the machine "Small", for which no planter is given.',
    ]);
  });

  test('where one planter has two plantings and none is named, its own verdict waits, and the other one holds', async () => {
    const { map } = sideBySide([right('Big', 3), narrow('Small', 5)], 5, 'machine');
    const { report } = await checked(map, [{ planter: sixteen }, { planter: fifteen }]);
    expect(report.machines.map((m) => m.verdict)).toEqual(['agrees', 'undecided']);
    expect(report.machines[1].ifPlanted.map((p) => [p.planting, p.verdict])).toEqual([
      ['narrow', 'agrees'],
      ['wide', 'differs'],
    ]);
    expect(report.verdict).toBe('undecided');
  });
});

describe('days', () => {
  test.each([1, 14])(
    'ground planted again %i days later is a replant, and no fault of section control',
    async (days) => {
      const first = { ...right('A', 6), lengthM: 150 };
      const again = { ...right('A', 2), lengthM: 60, startsMs: days * DAY_MS };
      // The second job lies on the first: its own block is moved back over it.
      const shift = -(6 + 1 - 2.5) * widthOf(first);
      const { map } = sideBySide(
        [
          first,
          {
            ...again,
            more: { origin: { lat: LAT + 40 / 111_200, lon: LON + (7 * widthOf(first) + shift) / METRES_PER_DEGREE } },
          },
        ],
        40 + days,
      );
      const { report } = await checked(map, [{ planter: sixteen }]);
      const replant = report.account.filter((l) => l.cause === 'replant');
      const area = replant.reduce((s, l) => s + l.areaM2, 0);
      expect(Math.abs(area / (2 * 60 * widthOf(first)) - 1)).toBeLessThan(0.04);
      expect(report.diagnoses.map((d) => d.setting)).toEqual([]);
      expect(report.verdict).toBe('agrees');
      expect(report.machines).toHaveLength(1);
    },
  );

  test('another planting on another day is checked separately: unnamed it waits, named by its day it holds', async () => {
    const wide: Job = { name: 'A', planter: PLANTERS.fifteen, planting: 'wide', passes: 5, startsMs: 2 * DAY_MS };
    const { map } = sideBySide([{ ...narrow('A'), startsMs: 0 }, wide], 83);
    const open = (await checked(map, [{ planter: fifteen }])).report;
    expect(open.machines.map((m) => [m.planting, m.verdict])).toEqual([
      ['narrow', 'undecided'],
      ['wide', 'undecided'],
    ]);
    const plantings = { '2026-04-20': 'narrow', '2026-04-22': 'wide' };
    const { report } = await checked(map, [{ planter: fifteen }], { plantings });
    expect(report.machines.map((m) => [m.planting, m.verdict])).toEqual([
      ['narrow', 'agrees'],
      ['wide', 'agrees'],
    ]);
    expect(report.verdict).toBe('agrees');
    // The same map is a fault where every row was to be planted on both days.
    const fault = (await checked(map, [{ planter: fifteen }], { planting: 'narrow' })).report;
    expect(fault.verdict).toBe('differs');
    const day = await refusal(checked(map, [{ planter: fifteen }], { plantings: { '2026-04-23': 'wide' } }));
    expect(day.todo).toBe('Its days begin on 2026-04-20 and 2026-04-22.');
  });

  test('one machine on two days stays one', async () => {
    const { map } = sideBySide([right('A', 3), { ...right('A', 3), startsMs: DAY_MS }], 61);
    const { report } = await checked(map, [{ planter: sixteen }]);
    expect(report.machines).toHaveLength(1);
    expect(report.verdict).toBe('agrees');
  });
});

describe('what lies between two machines, or two widths', () => {
  test('a strip between their blocks is open ground of its own cause: no setting is to blame, and nothing agrees', async () => {
    const { map } = sideBySide([right('A', 4), { ...right('B', 4), apartM: 0.6 }], 21, 'machine');
    const { report } = await checked(map, [{ planter: sixteen }]);
    expect(report.verdict).toBe('undecided');
    expect(report.diagnoses).toEqual([]);
    const gap = report.account.filter((l) => l.fact === 'gap' && l.cause === 'between-machines');
    // Arithmetic: 0.6 m along 130 m.
    expect(Math.abs(gap.reduce((s, l) => s + l.areaM2, 0) / (0.6 * 130) - 1)).toBeLessThan(0.05);
    expect(report.says).toContain('between two machines');
  });

  test('with one planter given and nothing to distinguish them, the report says what would', async () => {
    const { map } = sideBySide([right('Big', 4), { ...narrow('Small', 6), startsMs: 3_600_000 }], 9);
    const one = await checked(map, [{ planter: sixteen }]);
    expect(one.report.verdict).toBe('differs');
    const note = one.report.notes.find((n) => n.code === 'two-widths');
    expect(note?.sentence).toContain('a second planter at work looks the same');
    expect(note?.todo).toContain('--planter');
    const both = await checked(map, [{ planter: sixteen }, { planter: fifteen }], { planting: 'narrow' });
    expect(both.report.notes.some((n) => n.code === 'two-widths')).toBe(false);
  });
});
