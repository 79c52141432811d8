import { describe, expect, test } from 'vitest';
import type { Answer } from '../../src/core/answer.ts';
import { check } from '../../src/core/check.ts';
import { named } from '../../src/core/intake/index.ts';
import type { CheckInput } from '../../src/core/steps/job.ts';
import { drawField, toGeoJson } from '../generator/index.ts';
import { PLANTERS } from '../generator/planters.ts';
import { Random } from '../generator/random.ts';
import type { DrawnField } from '../generator/spec.ts';
import { field, planterOf } from '../settings/help.ts';
import { refusal } from './refusal.ts';

/** How a display may write the moment `ms`: its columns, and the moment that a reader can know from them (null: no date). */
type Writer = (ms: number) => { cells: Record<string, string | number>; known: number | null };

const two = (n: number): string => String(n).padStart(2, '0');
const parts = (ms: number) => {
  const d = new Date(ms);
  return {
    y: d.getUTCFullYear(),
    mo: two(d.getUTCMonth() + 1),
    d: two(d.getUTCDate()),
    h: two(d.getUTCHours()),
    mi: two(d.getUTCMinutes()),
    s: two(d.getUTCSeconds()),
    f: String(d.getUTCMilliseconds()).padStart(3, '0'),
  };
};
const whole = (ms: number): number => 1000 * Math.floor(ms / 1000);
const minute = (ms: number): number => 60_000 * Math.floor(ms / 60_000);
const MONTHS = 'Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec'.split(' ');

/** ISO 8601 in its extended and basic forms, POSIX time, and the orders of day and month that people write (common practice). */
const WRITERS: Record<string, Writer> = {
  'ISO with milliseconds': (ms) => ({ cells: { When: new Date(ms).toISOString() }, known: ms }),
  'ISO with an offset': (ms) => {
    const local = parts(ms - 5 * 3_600_000);
    const cell = `${local.y}-${local.mo}-${local.d}T${local.h}:${local.mi}:${local.s}.${local.f}-05:00`;
    return { cells: { stamp: cell }, known: ms };
  },
  'compact ISO': (ms) => {
    const { y, mo, d, h, mi, s } = parts(ms);
    return { cells: { logged: `${y}${mo}${d}T${h}${mi}${s}Z` }, known: whole(ms) };
  },
  'fourteen digits as a number': (ms) => {
    const { y, mo, d, h, mi, s } = parts(ms);
    return { cells: { Stamp: Number(`${y}${mo}${d}${h}${mi}${s}`) }, known: whole(ms) };
  },
  'epoch seconds': (ms) => ({ cells: { t: whole(ms) / 1000 }, known: whole(ms) }),
  'epoch milliseconds': (ms) => ({ cells: { t: ms }, known: ms }),
  'epoch milliseconds as text': (ms) => ({ cells: { t: String(ms) }, known: ms }),
  'day-month-year': (ms) => {
    const { y, mo, d, h, mi, s } = parts(ms);
    return { cells: { Time: `${d}.${mo}.${y} ${h}:${mi}:${s}` }, known: whole(ms) };
  },
  'month-day-year with AM and PM': (ms) => {
    const { y, mo, d, h, mi, s } = parts(ms);
    const half = Number(h) < 12 ? 'AM' : 'PM';
    return {
      cells: { Time: `${Number(mo)}/${Number(d)}/${y} ${Number(h) % 12 || 12}:${mi}:${s} ${half}` },
      known: whole(ms),
    };
  },
  'month by name': (ms) => {
    const { y, mo, d, h, mi, s } = parts(ms);
    return { cells: { Time: `${d}-${MONTHS[Number(mo) - 1]}-${y} ${h}:${mi}:${s}` }, known: whole(ms) };
  },
  'no seconds': (ms) => {
    const { y, mo, d, h, mi } = parts(ms);
    return { cells: { Time: `${y}-${mo}-${d} ${h}:${mi}` }, known: minute(ms) };
  },
  'date and clock in two columns': (ms) => {
    const { y, mo, d, h, mi, s } = parts(ms);
    return { cells: { Day: `${y}-${mo}-${d}`, Clock: `${h}:${mi}:${s}` }, known: whole(ms) };
  },
  'date as digits and clock as digits, two columns': (ms) => {
    const { y, mo, d, h, mi, s } = parts(ms);
    return { cells: { date: Number(`${y}${mo}${d}`), time: Number(`${h}${mi}${s}`) }, known: whole(ms) };
  },
  'day-month-year and clock, two columns': (ms) => {
    const { y, mo, d, h, mi, s, f } = parts(ms);
    return { cells: { Date: `${d}/${mo}/${y}`, Clock: `${h}:${mi}:${s}.${f}` }, known: ms };
  },
  'a clock alone': (ms) => {
    const { h, mi, s } = parts(ms);
    return { cells: { Clock: `${h}:${mi}:${s}` }, known: null };
  },
};

/** Four passes, logged at some rate, their times written by `writer` from `startMs` on. */
function written(
  writer: Writer,
  startMs: number,
  seed: number,
  hz = 1,
  lengthM = 110,
): { map: DrawnField; first: Map<number, number | null> } {
  const map = drawField(
    field(PLANTERS.fifteen, 'narrow', {
      seed,
      hz,
      shape: { kind: 'strip', lengthM, passes: 4 },
      columns: { time: { name: 'ms', as: 'epoch-ms' } },
    }),
  );
  const first = new Map<number, number | null>();
  map.features.features.forEach((f, i) => {
    const ms = (f.properties as { ms: number }).ms - map.truth.startMs + startMs;
    const { cells, known } = writer(ms);
    f.properties = cells;
    if (!first.has(map.truth.pass[i])) first.set(map.truth.pass[i], known);
  });
  return { map, first };
}

const checked = (map: DrawnField, rest: Partial<CheckInput> = {}): Promise<Answer> =>
  check({
    map: [named('m.geojson', toGeoJson(map))],
    planter: planterOf(PLANTERS.fifteen),
    planting: 'narrow',
    ...rest,
  });

/** 13th to 28th, so that the order of day and month shows. */
const plainDay = (random: Random): number =>
  Date.UTC(2021 + Math.floor(random.between(0, 6)), 3, 13 + Math.floor(random.between(0, 16)), 13, 4, 0) +
  Math.floor(random.between(0, 4 * 3_600_000));

describe.each(Object.entries(WRITERS))('%s', (_, writer) => {
  test.each([1, 5])('is read at %i Hz: direction, order and dates of the passes', async (hz) => {
    const random = new Random(hz * 71 + 5);
    const { map, first } = written(writer, plainDay(random), 400 + hz, hz);
    const { report, evidence } = await checked(map);
    expect(report.map.travelFrom).toBe('time');
    expect(report.verdict).toBe('agrees');
    expect(report.map.passes).toBe(4);
    evidence.passes.forEach((p, i) => {
      const known = first.get(i + 1);
      if (known === null) expect(p.startMs).toBeNull();
      else expect(Math.abs((p.startMs as number) - (known as number))).toBeLessThanOrEqual(1000);
    });
  });
});

describe('dates that can be read either way', () => {
  const slashed: Writer = (ms) => {
    const { y, mo, d, h, mi, s } = parts(ms);
    return { cells: { When: `${mo}/${d}/${y} ${h}:${mi}:${s}` }, known: whole(ms) };
  };
  const open = Date.UTC(2026, 3, 5, 14, 0, 0);

  test('are used in neither order, and the report says so', async () => {
    const { report, evidence } = await checked(written(slashed, open, 3).map);
    expect(report.notes.find((n) => n.code === 'dates-open')?.sentence).toMatch(
      /day first or month first, such as "04\/05\/2026/,
    );
    expect(evidence.passes.every((p) => p.startMs === null)).toBe(true);
  });

  test.each([
    ['month-first', open],
    ['day-first', Date.UTC(2026, 4, 4, 14, 0, 0)],
  ] as const)('are used %s when the user says so', async (dates, ms) => {
    const { report, evidence } = await checked(written(slashed, open, 3).map, { dates });
    expect(report.notes.map((n) => n.code)).not.toContain('dates-open');
    expect(evidence.passes[0].startMs).toBe(ms + 1000);
  });

  test('with several dates the time is not used at all, and naming it is refused with what to add', async () => {
    const late = Date.UTC(2026, 3, 5, 23, 58, 0);
    const { map } = written(slashed, late, 3);
    const { report, evidence } = await checked(map);
    expect(report.map.columns.time).toBeUndefined();
    expect(evidence.passes.every((p) => p.startMs === null)).toBe(true);
    const detail = await refusal(checked(map, { columns: { time: 'When' } }));
    expect([detail.code, detail.todo]).toEqual(['dates-open', 'Add "--dates day-first" or "--dates month-first".']);
  });

  test('the order that the dates rule out is refused with the first date that shows it', async () => {
    const { map } = written(slashed, Date.UTC(2026, 3, 25, 14, 0, 0), 3);
    const detail = await refusal(checked(map, { dates: 'day-first' }));
    expect(detail.sentence).toBe(
      'The dates in the column "When" are not day first: record 1 holds "04/25/2026 14:00:01".',
    );
  });
});

test('a clock without a date that runs over midnight keeps the passes in order, and no report says 1970', async () => {
  const { map } = written(WRITERS['a clock alone'], Date.UTC(2026, 3, 20, 23, 57, 30), 9);
  const { report, evidence } = await checked(map);
  expect(report.map.travelFrom).toBe('time');
  expect(JSON.stringify(report)).not.toContain('1970');
  const pass = evidence.recordPass;
  map.truth.pass.forEach((p, r) => {
    if (pass[r] > 0) expect(pass[r]).toBe(p);
  });
});

test('whole seconds at 5 Hz: bars stay in the order of the file, each with a time of its own', async () => {
  const plain: Writer = (ms) => ({ cells: { time: new Date(whole(ms)).toISOString().slice(0, 19) }, known: whole(ms) });
  const { map } = written(plain, Date.UTC(2026, 3, 20, 14, 0, 0), 12, 5, 60);
  const { report, evidence } = await checked(map);
  expect(report.map.travelFrom).toBe('time');
  expect(report.map.bars).toBe(map.truth.bars);
  const barOf = new Map<number, number>();
  map.truth.bar.forEach((b, r) => {
    const found = evidence.recordBar[r];
    if (barOf.has(b)) expect(found).toBe(barOf.get(b));
    else barOf.set(b, found);
  });
  const inOrder = [...barOf].sort((a, b) => a[0] - b[0]).map(([, b]) => b);
  expect(inOrder).toEqual([...inOrder].sort((a, b) => a - b));
});

describe('a column that the user named and that cannot be read in its role is an error', () => {
  const { map } = written(WRITERS['ISO with milliseconds'], Date.UTC(2026, 3, 20, 14, 0, 0), 21);
  map.features.features.forEach((f, i) => {
    Object.assign(f.properties as object, {
      words: i === 6 ? 'late' : '14:00',
      half: 0.5 + (i % 3),
      far: i === 4 ? 720 : 12.5,
      wrong: 1000 + (i % 7),
      zigzag: 1e9 + ((i * 7919) % 1000),
      none: null,
    });
  });
  test.each([
    ['time', 'words', 'record 7 holds "late"'],
    ['time', 'zigzag', 'runs back within a pass'],
    ['section', 'half', 'record 1 holds "0.5"'],
    ['width', 'words', 'record 1 holds "14:00"'],
    ['width', 'wrong', 'record 1 holds "1000"'],
    ['heading', 'far', 'record 5 holds "720"'],
    ['rate', 'words', 'record 1 holds "14:00"'],
    ['product', 'none', 'record 1 holds nothing'],
  ])('%s=%s', async (role, name, says) => {
    const { code, sentence } = await refusal(checked(map, { columns: { [role]: name } }));
    expect(code).toBe('columns-unreadable');
    expect(sentence).toContain(`"${name}"`);
    expect(sentence).toContain(says);
  });
});
