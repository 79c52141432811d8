/**
 * Planting days that were once answered wrongly, each as a few passes. What must be answered is common practice: a headland of the day before is no replant, a pass that fills
 * the rest of a field lies where it must, a spacing can be typed as any number, no display records its sections twice over in one bar.
 */
import { expect, test } from 'vitest';
import { type Answer, check, named, readPlanter } from '../../src/core/index.ts';
import { drawPasses, type Pass, planterJson } from './draw.ts';

const answer = (map: string, planter: string): Promise<Answer> =>
  check({
    map: [named('day.geojson', new TextEncoder().encode(map))],
    planter: readPlanter(planter, 'day.planter.json'),
    planting: 'all',
  });
const settingsOf = ({ report }: Answer): string[] => report.diagnoses.map((d) => d.setting);

const SECTIONS = [1.5, 1.5, 1.5, 1.5];
const EIGHT_ROWS = planterJson(8, 75, 'cm', [2, 2, 2, 2]);
const DAY_S = 86_400;

/** A headland run across each end of the field on the first day; back and forth between them from `startS` on, `aheadM` ahead of where it was planted. */
function betweenHeadlands(startS: number, aheadM: number): Pass[] {
  const ends = [5, 205].map((y, i): Pass => ({ from: [-6, y], to: [66, y], atS: 30_000 + 300 * i }));
  const field = Array.from({ length: 10 }, (_, i): Pass => {
    const [x, south, north] = [3 + 6 * i, 8, 202];
    const speedMPerS = 1.6 + 0.15 * (i % 5);
    const [from, to]: [number, number][] =
      i % 2
        ? [
            [x, north],
            [x, south],
          ]
        : [
            [x, south],
            [x, north],
          ];
    return { from, to, atS: startS + 240 * i, speedMPerS, everyM: speedMPerS, firstM: 0.4 + 0.1 * (i % 7), aheadM };
  });
  return [...ends, ...field];
}

test.each([
  ['the same day', 31_000],
  ['the day after its headland', 31_000 + DAY_S],
])('an offset along travel shows where a field was planted on %s', async (_, startS) => {
  const a = await answer(drawPasses(betweenHeadlands(startS, 2.4), { sectionsM: SECTIONS }), EIGHT_ROWS);
  expect(settingsOf(a)[0]).toBe('inline-offset');
  expect(a.report.account.filter((l) => l.cause === 'replant')).toEqual([]);
  expect(
    settingsOf(await answer(drawPasses(betweenHeadlands(startS, 0), { sectionsM: SECTIONS }), EIGHT_ROWS)),
  ).toEqual([]);
});

test('passes planted over an earlier day are a replant, and blame nothing', async () => {
  const again = Array.from({ length: 4 }, (_, i): Pass => {
    const x = 16 + 6 * i;
    return { from: [x, 60], to: [x, 140], atS: 31_000 + 5 * DAY_S + 200 * i };
  });
  const map = drawPasses([...betweenHeadlands(31_000, 0), ...again], { sectionsM: SECTIONS });
  const a = await answer(map, EIGHT_ROWS);
  expect(settingsOf(a)).toEqual([]);
  const overlap = a.report.account.filter((l) => l.fact === 'overlap').sort((p, q) => q.areaM2 - p.areaM2)[0];
  expect(overlap.cause).toBe('replant');
  // Arithmetic: four passes of 6 m over 80 m, side by side.
  expect(overlap.areaM2).toBeGreaterThan(0.95 * 4 * 6 * 80);
});

test('passes that fill what is left between others, driven the other way, are no side offset', async () => {
  // Driven north at x = 0, 6, 11.5 …: between the second and the third of each four lies a pass south, half a meter too narrow.
  const passes: Pass[] = [];
  const add = (from: [number, number], to: [number, number], firstM: number): void => {
    passes.push({ from, to, firstM, atS: 30_000 + 200 * passes.length });
  };
  for (const x of [0, 23.5, 47]) for (const at of [0, 6, 17.5]) add([x + at, 0], [x + at, 200], 0.7);
  for (const x of [12, 35.5, 59]) add([x, 200], [x, 0], 1.1);
  expect(settingsOf(await answer(drawPasses(passes, { sectionsM: SECTIONS }), EIGHT_ROWS))).not.toContain(
    'side-offset',
  );
});

test.each([29, 31, 16])('a spacing typed as %i in for 30 in is the row spacing, not another frame', async (typedIn) => {
  const sectionsM = [2, 2, 2, 2, 2, 2].map((n) => n * typedIn * 0.0254);
  const widthM = 12 * typedIn * 0.0254;
  const passes = Array.from({ length: 8 }, (_, i): Pass => {
    const [from, to]: [number, number][] =
      i % 2
        ? [
            [widthM * i, 200],
            [widthM * i, 0],
          ]
        : [
            [widthM * i, 0],
            [widthM * i, 200],
          ];
    return { from, to, atS: 30_000 + 200 * i, firstM: 0.3 + 0.2 * (i % 6) };
  });
  const a = await answer(drawPasses(passes, { sectionsM }), planterJson(12, 30, 'in', [2, 2, 2, 2, 2, 2]));
  expect(settingsOf(a)[0]).toBe('row-spacing');
});

test('two passes logged in phase, with a closed seam, are two passes: in a map without times or order', async () => {
  // Each pass begins at another part of an interval, but for the fifth and sixth, which lie side by side to the last digit.
  const x = [0, 6.03, 12.06, 18.09, 24.12, 30.12, 36.15, 42.18];
  const first = [0.3, 1.1, 0.7, 1.7, 0.9, 0.9, 1.4, 0.5];
  const passes = x.map((at, i): Pass => ({ from: [at, 0], to: [at, 150], firstM: first[i] }));
  const a = await answer(
    drawPasses(passes, { sectionsM: [2.25, 1.5, 2.25], shuffle: 3701 }),
    planterJson(8, 75, 'cm', [3, 2, 3]),
  );
  expect(a.report.map.passes).toBe(8);
  expect(settingsOf(a)).toEqual([]);
  expect(a.report.account.filter((l) => l.fact === 'width')).toEqual([]);
});

test('feet in a zone of meters are the unit of the map', async () => {
  // UTM zone 15 north near 42 degrees: x and y in feet where meters are declared lie beyond the pole.
  const FOOT = 0.3048;
  const place = (x: number, y: number): [number, number] => [
    Number(((449_000 + x) / FOOT).toFixed(4)),
    Number(((4_653_000 + y) / FOOT).toFixed(4)),
  ];
  const passes = betweenHeadlands(31_000, 0);
  const a = await answer(drawPasses(passes, { sectionsM: SECTIONS, place, crs: 'EPSG:32615' }), EIGHT_ROWS);
  expect(settingsOf(a)[0]).toBe('map-units');
});

test('a run along an edge that is not parallel to the passes is no seam of theirs', async () => {
  // Four passes with closed seams, and on either side a run along the edge that converges with them by two meters in 200 and lies over them all along.
  const passes = Array.from({ length: 4 }, (_, i): Pass => {
    const x = 3 + 6 * i;
    const [south, north]: [number, number][] = [
      [x, 0],
      [x, 200],
    ];
    return i % 2
      ? { from: north, to: south, atS: 31_000 + 200 * i }
      : { from: south, to: north, atS: 31_000 + 200 * i };
  });
  // Driven so that their left sides face the field's outer passes on their left.
  const edges: Pass[] = [
    { from: [-0.6, 200], to: [-2.6, 0], atS: 30_000 },
    { from: [26.6, 0], to: [24.6, 200], atS: 30_300 },
  ];
  const a = await answer(drawPasses([...edges, ...passes], { sectionsM: [6] }), EIGHT_ROWS);
  expect(settingsOf(a)).toEqual([]);
});
