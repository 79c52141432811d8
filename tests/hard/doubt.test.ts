/**
 * A map that agrees, changed so that its sums are in doubt: above 1 % of its records or area it is undecided, and says what and
 * how much. Below that there is a note. An equivalent change (a ring run the other way) changes nothing.
 */
import { readFileSync } from 'node:fs';
import { expect, it } from 'vitest';
import { doubtsOf } from '../../src/core/account/index.ts';
import type { Report } from '../../src/core/answer.ts';
import { check } from '../../src/core/check.ts';
import { named } from '../../src/core/intake/index.ts';
import { readPlanter } from '../../src/core/planter/index.ts';
import { seeded } from '../intake/helpers.ts';

type Ring = number[][];
interface Feature {
  geometry: { coordinates: Ring[] };
}

const FOLDER = 'sample-data/test-strips';
const planter = readPlanter(readFileSync(`${FOLDER}/test-strips.planter.json`, 'utf8'), 'planter.json');
const text = readFileSync(`${FOLDER}/after.geojson`, 'utf8');
const count = (JSON.parse(text) as { features: Feature[] }).features.length;

/** The map with `share` of its records changed. */
async function after(share: number, change: (f: Feature) => void): Promise<Report> {
  const map = JSON.parse(text) as { features: Feature[] };
  const next = seeded(20);
  const some = new Set<number>();
  while (some.size < share * count) some.add(Math.floor(next() * count));
  for (const r of some) change(map.features[r]);
  const file = named('after.geojson', new TextEncoder().encode(JSON.stringify(map)));
  return (await check({ map: [file], planter, planting: 'narrow' })).report;
}

const M_EAST = 1 / 82_850;
const bowTie = ({ geometry: { coordinates: c } }: Feature): void => {
  [c[0][1], c[0][2]] = [c[0][2], c[0][1]];
};
const ringTwice = ({ geometry: { coordinates: c } }: Feature): void => {
  c.push([...c[0]]);
};
/** A hole in the middle of the record, as wide as half of it; `reach` of it along the record, 1 beyond both ends. */
const holeOf = (ring: Ring, reach: number): Ring => {
  const [a, b, c, d] = ring;
  const at = (u: number, v: number): number[] =>
    [0, 1].map((k) => (1 - v) * ((1 - u) * a[k] + u * b[k]) + v * ((1 - u) * d[k] + u * c[k]));
  const [from, to] = [0.5 - 0.75 * reach, 0.5 + 0.75 * reach];
  const hole = [at(0.25, from), at(0.25, to), at(0.75, to), at(0.75, from)];
  return [...hole, hole[0]];
};
const holeTwice = ({ geometry: { coordinates: c } }: Feature): void => {
  const hole = holeOf(c[0], 0.4);
  c.push(hole, [...hole]);
};
const holeAcross = ({ geometry: { coordinates: c } }: Feature): void => {
  c.push(holeOf(c[0], 1));
};
const corner =
  (eastM: number) =>
  ({ geometry: { coordinates: c } }: Feature): void => {
    c[0][1] = [c[0][1][0] + eastM * M_EAST, c[0][1][1]];
  };
const move =
  (eastM: number) =>
  ({ geometry }: Feature): void => {
    geometry.coordinates = geometry.coordinates.map((r) => r.map(([x, y]) => [x + eastM * M_EAST, y]));
  };
const codes = (r: Report): string[] => r.notes.map((n) => n.code);

it('unchanged, it agrees; a ring run the other way, or begun at another point, changes nothing', async () => {
  const before = await after(0, () => {});
  expect(before.verdict).toBe('agrees');
  const turned = await after(0.3, ({ geometry: { coordinates: c } }) => {
    const [a, b, d, e] = c[0].reverse();
    c[0] = [b, d, e, a, b];
  });
  expect(turned.area.recordedM2).toBeCloseTo(before.area.recordedM2, 6);
  expect({ ...turned, area: 0 }).toEqual({ ...before, area: 0 });
});

it.each([
  ['rings that cross themselves', { change: bowTie, words: 'invalid rings', code: 'ring-crosses-itself' }],
  ['rings written twice', { change: ringTwice, words: 'invalid rings', code: 'ring-repeated' }],
  ['holes written twice', { change: holeTwice, words: 'invalid rings', code: 'ring-repeated' }],
  ['holes that cross their shells', { change: holeAcross, words: 'invalid rings', code: 'ring-hole-crosses' }],
  ['records moved 40 m', { change: move(40), words: 'an unusual size or position', code: 'record-off-track' }],
] as const)('%s: a few are a note, 2 %% leave the verdict open', async (_, { change, words, code }) => {
  const few = await after(0.004, change);
  expect([few.verdict, codes(few).includes(code)]).toEqual(['agrees', true]);
  const many = await after(0.02, change);
  expect(many.verdict).toBe('undecided');
  expect(many.says).toMatch(
    new RegExp(`\\d+ of ${count} records \\([\\d.]+ ac, [\\d.]+ % of the recorded area\\) have ${words}`),
  );
  expect(many.wouldDecide.join(' ')).toContain('Export the map again');
});

it('one corner 100 m off: 1 % of the area, though of one record', async () => {
  const wrong = await after(1 / count, corner(100));
  expect(wrong.verdict).toBe('undecided');
  expect(wrong.says).toMatch(/1 of \d+ records/);
});

it('one corner a degree off: skipped and reported, and its area is in no sum', async () => {
  const before = await after(0, () => {});
  const wrong = await after(1 / count, corner(82_850));
  expect(codes(wrong)).toContain('record-far-corner');
  expect(Math.abs(wrong.area.recordedM2 - before.area.recordedM2)).toBeLessThan(5);
});

it('recorded area and width times travel agree, or the verdict is undecided', () => {
  const sound = { invalidRings: [], misfits: [], total: 500 };
  expect(doubtsOf(sound, 1000, { placedM2: 1000, traveledM2: 1015 }, 'cm')).toEqual([]);
  for (const traveledM2 of [970, 1030]) {
    const [doubt] = doubtsOf(sound, 1000, { placedM2: 1000, traveledM2 }, 'cm');
    expect(doubt.what).toContain(
      `(0.100 ha) and recorded width times distance traveled (0.${traveledM2 === 970 ? '097' : '103'} ha)`,
    );
  }
});

it.each(['constructor', '__proto__', 'toString'])(
  'a planting may be called %s: the verdict is the same',
  async (name) => {
    const sound = JSON.parse(readFileSync(`${FOLDER}/test-strips.planter.json`, 'utf8')) as object;
    const called = readPlanter(JSON.stringify(sound).replaceAll('"narrow"', `"${name}"`), 'planter.json');
    const file = () => named('after.geojson', new TextEncoder().encode(text));
    const [as, now] = [
      await check({ map: [file()], planter, planting: 'narrow' }),
      await check({ map: [file()], planter: called, planting: name }),
    ];
    expect(as.report.verdict).toBe('agrees');
    expect(JSON.stringify(now.report).replaceAll(name, 'narrow')).toBe(JSON.stringify(as.report));
  },
);
