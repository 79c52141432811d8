import { describe, expect, test } from 'vitest';
import { Random } from '../generator/random.ts';
import { type Driving, drive, type Writing, write } from './draw.ts';
import { planterOf, readDrawn, type Score, score } from './score.ts';

const ROUTES: readonly Driving['route'][] = ['back-and-forth', 'every-other', 'one-way', 'round', 'contours'];

interface Drawing {
  driving: Driving;
  writing: Writing;
  rowM: number;
}

/** A map drawn at random; `over` fixes what the family is about. */
function drawing(seed: number, driving: Partial<Driving>, writing: Partial<Writing>, rowM = 0.381): Drawing {
  const random = new Random(seed);
  const pick = <T>(list: readonly T[]): T => list[Math.floor(random.next() * list.length)];
  const sections = pick([6, 8, 12]);
  const edgesM = Array.from({ length: sections + 1 }, (_, k) => (k - sections / 2) * 2 * rowM);
  return {
    driving: {
      seed,
      edgesM,
      route: pick(ROUTES),
      passes: 4,
      lengthM: 120,
      everyM: random.between(1.2, 3.4),
      speedMPerS: 2,
      breakS: 25,
      directionDeg: random.between(0, 360),
      turnBars: 0,
      restarts: 0,
      off: 'never',
      ...driving,
    },
    writing: {
      seed,
      edgesM,
      grain: 'section',
      digits: 7,
      jitterDeg: null,
      extraPoints: 0,
      columns: [],
      order: 'log',
      ...writing,
    },
    rowM,
  };
}

async function scoreOf({ driving, writing, rowM }: Drawing): Promise<Score> {
  const drawn = write(drive(driving), writing);
  return score(drawn, await readDrawn(drawn, planterOf(writing.edgesM, rowM)));
}

/** All ground is placed, every bar is one instant, every pass one run, in the direction driven. */
function expectRead(s: Score, runs = s.runs): void {
  expect(s.placed).toBeGreaterThan(0.995);
  expect(s.placed).toBeLessThan(1.005);
  expect(s.mixed).toBe(0);
  expect(s.torn).toBe(0);
  expect(s.passes).toBe(runs);
  expect(s.mixedPasses).toBe(0);
  expect(s.travel).toBe(1);
  expect(s.order).toBe(1);
}

describe.each(ROUTES)('driven %s', (route) => {
  // A bow of short steps: a turn of more than a corner from one bar to the next begins a pass of its own.
  const everyM = 1.2;

  test.each(['section', 'bar', 'parts'] as const)('%s records, without any column', async (grain) => {
    expectRead(await scoreOf(drawing(1, { route, everyM }, { grain })));
  });

  test('whole-width records keep their pass where sections go off and on', async () => {
    expectRead(await scoreOf(drawing(2, { route, everyM, off: 'point-rows' }, { grain: 'bar' })));
  });

  test('one polygon to a pass: the strip to its very ends', async () => {
    const s = await scoreOf(drawing(3, { route, everyM }, { grain: 'strip' }));
    expect(s.mixedPasses).toBe(0);
    // Known limit: a bow whose inner side turns within 2 m is cut into pieces that leave some of it out.
    expect(Math.abs(s.placed - 1)).toBeLessThan(route === 'round' ? 0.05 : 0.001);
    if (route !== 'round') expect(s.passes).toBe(s.runs);
  });
});

test.each([
  ['section', 7],
  ['bar', 6],
  ['parts', 7],
  ['bar', 9],
] as const)('%s records with points on their sides and corners written twice, %i digits', async (grain, digits) => {
  for (const extraPoints of [2, 9])
    expectRead(
      await scoreOf(drawing(11, { route: 'back-and-forth', everyM: 2.2 }, { grain, digits, extraPoints }, 0.508)),
    );
});

test('one polygon to a section and pass: the strips to their very ends', async () => {
  const s = await scoreOf(drawing(5, { route: 'back-and-forth' }, { grain: 'strip-section' }));
  expect(Math.abs(s.placed - 1)).toBeLessThan(0.001);
  expect(s.passes).toBe(s.runs);
});

describe('records as long as wide', () => {
  const square = { route: 'back-and-forth', everyM: 1.016, off: 'point-rows' } as const;

  test.each([['log'], ['by-section']] as const)('without columns, in the order %s', async (order) => {
    expectRead(await scoreOf(drawing(7, square, { order }, 0.508)));
  });

  test.each([
    [6, 0.3],
    [7, 1.5],
  ])('shuffled, %i digits, headings off by %f degrees: section, time and heading lead', async (digits, jitterDeg) => {
    const s = await scoreOf(
      drawing(7, square, { order: 'shuffled', digits, jitterDeg, columns: ['time', 'section', 'heading'] }, 0.508),
    );
    expect(s.placed).toBeGreaterThan(0.995);
    expect(s.mixed).toBe(0);
    expect(s.torn).toBeLessThan(0.005);
    expect(s.mixedPasses).toBe(0);
    expect(s.travel).toBeGreaterThan(0.99);
    expect(s.order).toBeGreaterThan(0.99);
  });
});

test('stops, backing up, and a second start in the same place', async () => {
  for (const columns of [[], ['time']] as const)
    expectRead(
      await scoreOf(drawing(8, { route: 'back-and-forth', restarts: 2, everyM: 2 }, { grain: 'section', columns })),
    );
});

test('a column that never changes is no evidence of anything', async () => {
  const d = drawing(9, { route: 'back-and-forth' }, { grain: 'bar', columns: ['constant', 'time'] });
  const drawn = write(drive(d.driving), d.writing);
  const read = await readDrawn(drawn, planterOf(d.writing.edgesM, d.rowM));
  expect(read.columns.roles.section).toBeUndefined();
  expectRead(score(drawn, read));
});
