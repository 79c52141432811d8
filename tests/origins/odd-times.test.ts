/**
 * Times as odd exports hold them. Maps are rectangles in meters, drawn here: passes back and forth that touch, two fields of one size with passes long and short. The speed of 2 m/s and the
 * turn of 20 bars are common practice.
 */
import { expect, test } from 'vitest';
import type { Answer } from '../../src/core/answer.ts';
import { check } from '../../src/core/check.ts';
import { named } from '../../src/core/intake/index.ts';
import { readPlanter } from '../../src/core/planter/index.ts';

const planter = readPlanter(
  JSON.stringify({
    name: 'Eight rows',
    unit: 'in',
    rows: 8,
    rowSpacing: 30,
    plantings: { all: 'all' },
    sections: ['1-2', '3-4', '5-6', '7-8'],
  }),
  'p.planter.json',
);
const WIDTH_M = 8 * 30 * 0.0254;
const TURN = 20;
const START = Date.UTC(2026, 4, 4, 8, 33, 12);
// Meters in a degree of a sphere: the map need not lie to the centimeter.
const [LAT, LON] = [42, -93.5];
const NORTH = 111_195;
const EAST = NORTH * Math.cos((LAT * Math.PI) / 180);

interface Drawn {
  passes: number;
  bars: number;
  stepM: number;
  sections: number;
}

/** Properties of each record from its bar, counted over the field with the bars that a turn takes, and its number in the file. */
function answerOf(
  { passes, bars, stepM, sections }: Drawn,
  properties: (bar: number, record: number) => object,
): Promise<Answer> {
  const features: object[] = [];
  const wide = WIDTH_M / sections;
  for (let p = 0; p < passes; p++)
    for (let k = 0; k < bars; k++)
      for (let s = 0; s < sections; s++) {
        const up = p % 2 === 0;
        const [x, y] = [p * WIDTH_M + (up ? s : sections - 1 - s) * wide, (up ? k : bars - 1 - k) * stepM];
        const ring = [
          [x, y],
          [x + wide, y],
          [x + wide, y + stepM],
          [x, y + stepM],
          [x, y],
        ].map(([e, n]) => [Number((LON + e / EAST).toFixed(7)), Number((LAT + n / NORTH).toFixed(7))]);
        const own = properties(p * (bars + TURN) + k, features.length);
        features.push({ type: 'Feature', properties: own, geometry: { type: 'Polygon', coordinates: [ring] } });
      }
  const map = new TextEncoder().encode(JSON.stringify({ type: 'FeatureCollection', features }));
  return check({ map: [named('m.geojson', map)], planter, planting: 'all' });
}

const iso = (ms: number): string => new Date(ms).toISOString().slice(0, 19);
const digits = (text: string): number => Number(text.replace(/\D/g, ''));
const long: Drawn = { passes: 4, bars: 100, stepM: 2, sections: 4 };

test.each([
  ['numbers', (v: number) => v],
  ['texts', (v: number) => String(v).padStart(6, '0')],
])('a date and a time of day as digits in columns of any name, %s', async (_, as) => {
  const { report, evidence } = await answerOf(long, (bar) => {
    const [day, clock] = iso(START + 1000 * bar).split('T');
    return { d: as(digits(day)), h: as(digits(clock)), no: bar % 7 };
  });
  expect(report.map.columns.time?.name).toBe('d + h');
  expect(report.map.travelFrom).toBe('time');
  expect(evidence.passes.map((p) => p.startMs)).toEqual([0, 1, 2, 3].map((p) => START + 1000 * 120 * p));
});

test('digits that are no time of day are not taken for one beside a date', async () => {
  const { report } = await answerOf(long, (bar) => ({ d: 20260504, h: 83_312 + bar }));
  expect(report.map.columns.time).toBeUndefined();
});

test.each<[string, (bar: number, record: number) => boolean]>([
  ['one record in 50', (_, record) => record % 50 === 7],
  ['one bar in 50', (bar) => bar % 50 === 7],
  ['the first bar of each pass', (bar) => bar % 120 === 0],
  ['the last bar of each pass', (bar) => bar % 120 === 99],
])('%s without a time: it takes that of its place', async (_, isWithout) => {
  const all = await answerOf(long, (bar) => ({ time: iso(START + 1000 * bar) }));
  const some = await answerOf(long, (bar, record) => ({
    time: isWithout(bar, record) ? null : iso(START + 1000 * bar),
  }));
  expect(all.report.map).toMatchObject({ passes: 4, bars: 400, travelFrom: 'time' });
  expect(some.report.map).toMatchObject({ passes: 4, bars: 400, travelFrom: 'time' });
  expect([...some.evidence.recordBar]).toEqual([...all.evidence.recordBar]);
  expect([...some.evidence.recordPass]).toEqual([...all.evidence.recordPass]);
  expect(some.report.map.columns.time?.evidence).toMatch(/; \d+ records without a time take that of their place/);
});

/** Four bars a second at 2 m/s; the fields are wider than their passes are long, so that the lengths of rows of records do not show travel. */
const wide: [string, Drawn][] = [
  ['bars of the whole width', { passes: 6, bars: 30, stepM: 0.5, sections: 1 }],
  ['sections', { passes: 6, bars: 30, stepM: 0.5, sections: 4 }],
  ['sections, passes of four seconds', { passes: 6, bars: 16, stepM: 0.5, sections: 4 }],
];
const clocks: [string, (ms: number) => object][] = [
  ['ISO', (ms) => ({ when: iso(ms) })],
  ['a clock', (ms) => ({ clock: iso(ms).slice(11) })],
  ['a count', (ms) => ({ time: Math.floor((ms - START) / 1000) })],
];
test.each(wide.flatMap(([shape, drawn]) => clocks.map(([clock, of]) => [shape, clock, drawn, of] as const)))(
  'whole seconds at four bars a second, %s, %s',
  async (_shape, _clock, drawn, of) => {
    const { report } = await answerOf(drawn, (bar) => of(START + 250 * bar));
    expect(report.map).toMatchObject({ travelFrom: 'time', passes: drawn.passes, bars: drawn.passes * drawn.bars });
  },
);

test('a count of seconds, four bars to each, is a time by the name of its unit', async () => {
  const { report } = await answerOf({ ...long, stepM: 0.5 }, (bar) => ({ sec: Math.floor(bar / 4) }));
  expect(report.map.columns.time?.name).toBe('sec');
  expect(report.map).toMatchObject({ travelFrom: 'time', passes: 4, bars: 400 });
});
