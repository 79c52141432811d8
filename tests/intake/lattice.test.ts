import { describe, expect, it } from 'vitest';
import { codeOf, collection, degrees, feature, noteCodes, readJson, seeded, square } from './helpers.ts';

const at = (x: number, y = 42, side = 1e-4): unknown => feature([square(x, y, side)]);

describe('the lattice', () => {
  it('is coarser where the map is too wide for the decimals, and says so beyond two degrees', async () => {
    // 32-bit steps reach over 2.147 degrees at 1e-9 (arithmetic: 2^31 / 1e9).
    const narrow = await readJson(collection([at(-93.600000001), at(-92.6)]));
    expect([narrow.lattice.stepsPerDegree, noteCodes(narrow)]).toEqual([1e9, []]);
    const wide = await readJson(collection([at(-93.600000001), at(-91.3)]));
    expect([wide.lattice.stepsPerDegree, noteCodes(wide)]).toEqual([1e8, ['map-wide']]);
    expect(await codeOf(readJson(collection([at(-93.6), at(-70)])))).toBe('map-too-wide');
  });

  it('keeps every difference of two coordinates within 32 bits', async () => {
    const set = await readJson(collection([at(-93.600000001), at(-91.5)]));
    const x = Array.from(set.shapes.xy.filter((_, i) => i % 2 === 0));
    expect(Math.max(...x) - Math.min(...x)).toBeLessThan(2 ** 31);
    expect(Math.max(...x.map(Math.abs))).toBeLessThan(2 ** 30);
  });

  it('gives back any coordinate of up to 9 decimals digit for digit', async () => {
    const random = seeded(4);
    for (let round = 0; round < 40; round++) {
      const decimals = 5 + (round % 5);
      const x0 = random() * 340 - 170;
      const y0 = random() * 140 - 70;
      const rings = Array.from({ length: 20 }, () => {
        const q = (v: number): number => Number(v.toFixed(decimals));
        const x = x0 + random() * 0.02;
        const y = y0 + random() * 0.02;
        return [
          [q(x), q(y)],
          [q(x + 0.001), q(y)],
          [q(x + 0.001), q(y + 0.001)],
        ] as [number, number][];
      });
      const set = await readJson(collection(rings.map((r) => feature([[...r, r[0]]]))));
      rings.forEach((ring, i) => {
        expect(degrees(set, i)).toEqual([ring]);
      });
    }
  });

  it('does not change with the order of the records', async () => {
    const random = seeded(6);
    const features = Array.from({ length: 50 }, () =>
      at(-93.6 + Math.round(random() * 1e5) / 1e7, 42 + Math.round(random() * 1e5) / 1e7),
    );
    const one = await readJson(collection(features));
    const other = await readJson(collection([...features].reverse()));
    expect(other.lattice).toEqual(one.lattice);
    expect(features.map((_, i) => degrees(other, 49 - i))).toEqual(features.map((_, i) => degrees(one, i)));
  });

  it('two records far apart are not called strays, a third one settles it', async () => {
    expect((await readJson(collection([at(-93.6), at(-90.6)]))).skipped).toEqual([]);
    const set = await readJson(collection([at(-93.6), at(-93.5999), at(-90.6)]));
    expect(set.skipped).toEqual([{ reason: 'more than 200 km from the rest of the map', count: 1, firstRecord: 3 }]);
    expect(set.notes[0].sentence).toContain('248 km');
  });
});
