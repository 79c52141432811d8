/** Records that do not fit the others of their map are reported with their area; sound maps of every kind have none. */
import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { type Driving, drive, type Run, write } from '../track/draw.ts';
import { noteCodes, readText, seeded } from './helpers.ts';

const SAMPLES = [
  'across-drives/hilltop',
  'healthy-field/north-bottom',
  'narrow-as-wide/creek-eighty',
  'test-strips/before',
  'test-strips/after',
  'wide-one-section-per-row/lane-field',
];
const textOf = (name: string): string => readFileSync(`sample-data/${name}.geojson`, 'utf8');

interface Feature {
  geometry: { type: string; coordinates: number[][][] };
}
const edited = (text: string, edit: (features: Feature[]) => void): string => {
  const map = JSON.parse(text) as { features: Feature[] };
  edit(map.features);
  return JSON.stringify(map);
};
const moved = (p: number[], east: number, north = 0): number[] => [p[0] + east, p[1] + north];

describe('sound maps have no misfits', () => {
  it.each(SAMPLES)('%s', async (name) => {
    expect((await readText(textOf(name))).misfits).toEqual([]);
  });

  const edges = Array.from({ length: 9 }, (_, k) => (k - 4) * 0.762);
  const driving = (seed: number, over: Partial<Driving>): Run[] =>
    drive({
      seed,
      edgesM: edges,
      route: 'back-and-forth',
      passes: 10,
      lengthM: 250,
      everyM: 2,
      speedMPerS: 2,
      breakS: 20,
      directionDeg: 20,
      turnBars: 6,
      restarts: 2,
      off: 'point-rows',
      ...over,
    });
  const writing = (seed: number) => ({ seed, edgesM: edges, digits: 8, jitterDeg: null, extraPoints: 0, columns: [] });

  it.each(['back-and-forth', 'every-other', 'one-way', 'round', 'contours'] as const)(
    'drawn %s, in records of every kind and order',
    async (route) => {
      const runs = driving(7, { route });
      for (const grain of ['section', 'bar', 'parts', 'strip', 'strip-section'] as const) {
        for (const order of ['log', 'by-section', 'shuffled'] as const) {
          const { geojson } = write(runs, { ...writing(7), grain, order });
          expect((await readText(geojson)).misfits, `${grain} ${order}`).toEqual([]);
        }
      }
    },
  );

  it('of bars and strips mixed, with few strips or many', async () => {
    const runs = driving(11, {});
    const of = (some: Run[], grain: 'bar' | 'strip'): Feature[] =>
      JSON.parse(write(some, { ...writing(11), grain, order: 'log' }).geojson).features;
    for (const strips of [1, 3, 8]) {
      const features = [...of(runs.slice(strips), 'bar'), ...of(runs.slice(0, strips), 'strip')];
      expect((await readText(JSON.stringify({ type: 'FeatureCollection', features }))).misfits, `${strips}`).toEqual(
        [],
      );
    }
  });
});

describe('one record that is wrong', () => {
  const text = textOf('test-strips/after');
  const count = JSON.parse(text).features.length as number;

  it('with a corner 1 degree east is skipped, and nothing else changes', async () => {
    const before = await readText(text);
    const next = seeded(1);
    for (let round = 0; round < 5; round++) {
      const r = Math.floor(next() * count);
      const set = await readText(
        edited(text, (f) => {
          f[r].geometry.coordinates[0][1] = moved(f[r].geometry.coordinates[0][1], 1);
        }),
      );
      expect(set.misfits.map((m) => [m.kind, m.used, m.count, m.firstRecord])).toEqual([
        ['far-corner', false, 1, r + 1],
      ]);
      // The two long sides of a triangle 1 degree long, 82.8 km at 42 degrees, over a record some meters wide.
      expect(set.misfits[0].areaM2).toBeGreaterThan(10_000);
      expect(set.skipped).toEqual([{ reason: 'a corner far out of the field', count: 1, firstRecord: r + 1 }]);
      expect(noteCodes(set)).toEqual([...noteCodes(before), 'record-far-corner']);
      expect([set.shapes.shapeStart.length, set.lattice.stepsPerDegree]).toEqual([
        before.shapes.shapeStart.length - 1,
        before.lattice.stepsPerDegree,
      ]);
    }
  });

  it('with a corner across the field is used, and reported with its area', async () => {
    const set = await readText(
      edited(text, (f) => {
        const box = f.flatMap((one) => one.geometry.coordinates[0]);
        const far = [Math.min(...box.map((p) => p[0])), Math.max(...box.map((p) => p[1]))];
        f[900].geometry.coordinates[0][2] = far;
      }),
    );
    expect(set.misfits.map((m) => [m.kind, m.used, m.count, m.firstRecord])).toEqual([['spike', true, 1, 901]]);
    expect(set.misfits[0].areaM2).toBeGreaterThan(5);
    expect(noteCodes(set)).toContain('record-spike');
  });

  it('that lies in another field is used, and reported with its area', async () => {
    const set = await readText(
      edited(text, (f) => {
        f[700].geometry.coordinates[0] = f[700].geometry.coordinates[0].map((p) => moved(p, 0, 0.1));
      }),
    );
    expect(set.misfits.map((m) => [m.kind, m.used, m.count, m.firstRecord])).toEqual([['far-away', true, 1, 701]]);
  });

  it('and more than a few of them are used, and reported', async () => {
    const set = await readText(
      edited(text, (f) => {
        for (let r = 0; r < 90; r++)
          f[(20 * r) % count].geometry.coordinates[0][1] = moved(f[(20 * r) % count].geometry.coordinates[0][1], 1);
      }),
    );
    expect(set.misfits.map((m) => m.used)).toEqual([true]);
    expect(set.misfits[0].count).toBeGreaterThan(0.04 * count);
  });
});
