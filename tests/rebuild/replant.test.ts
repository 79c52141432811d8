/** Ground that was planted again: the later record is kept; and what rebuilding does with areas, rates and bars that only section numbers place. */
import { describe, expect, it } from 'vitest';
import { named } from '../../src/core/intake/index.ts';
import type { Column } from '../../src/core/intake/types.ts';
import { type RebuildInput, type Rebuilt, rebuild } from '../../src/core/rebuild/index.ts';
import { rateColumns } from '../../src/core/redraw/index.ts';
import type { Columns } from '../../src/core/track/columns/index.ts';
import { drawField, toGeoJson } from '../generator/index.ts';
import { PLANTERS, rowsOf } from '../generator/planters.ts';
import type { FieldSpec } from '../generator/spec.ts';
import { workTogether } from '../generator/together.ts';
import { field, planterOf } from '../settings/help.ts';

const fifteen = PLANTERS.fifteen;
const DAY_MS = 86_400_000;
const still = { wanderM: 0, passBiasM: 0 };
const columns = { time: { name: 'logged', as: 'epoch-ms' as const }, section: { name: 'sec' } };
const strip = (lengthM: number, passes: number, more: Partial<FieldSpec> = {}) =>
  drawField(
    field(fifteen, 'narrow', {
      shape: { kind: 'strip', lengthM, passes },
      headingDeg: 0,
      noise: still,
      columns,
      seed: 7,
      ...more,
    }),
  );
const run = (map: Uint8Array | string, more: Partial<RebuildInput> = {}): Promise<Rebuilt> =>
  rebuild({
    map: [named('field.geojson', typeof map === 'string' ? new TextEncoder().encode(map) : map)],
    planter: planterOf(fifteen),
    planting: 'narrow',
    ...more,
  });
const numbers = (r: Rebuilt, name: string): Float64Array => {
  const c = r.layer.columns.find((x) => x.name === name);
  if (c?.kind !== 'number') throw new Error(`no numbers in "${name}"`);
  return c.values;
};

describe('a replant', () => {
  // A strip of six passes, and days later two passes of half its length on top of it.
  const replanted = (days: number) =>
    workTogether(
      [
        { name: 1, drawn: strip(150, 6), drives: () => true, startsMs: 0 },
        { name: 2, drawn: strip(70, 2), drives: () => true, startsMs: days * DAY_MS },
      ],
      'logged',
    );

  it.each([1, 9])(
    '%i days later stands whole; the stand under it is replaced, and no ground counts twice',
    async (days) => {
      const map = replanted(days);
      const again = map.truth.startMs + (days - 0.5) * DAY_MS;
      const isLater = map.features.features.map((f) => Date.parse(String(f.properties?.logged)) > again);
      const out = await run(toGeoJson(map));
      const later = new Set(isLater.flatMap((l, i) => (l ? [i + 1] : [])));
      const first = (from: string): number => Number(/^\d+/.exec(from)?.[0]);
      let laterM2 = 0;
      let replaced = 0;
      let lostM2 = 0;
      for (const c of out.changes) {
        if (later.has(first(c.from))) {
          expect([c.done, c.cutM2 < 1e-6]).toEqual(['kept', true]);
          laterM2 += c.outM2;
        } else if (c.done === 'replaced') {
          replaced++;
          expect([c.output, c.outM2]).toEqual([null, 0]);
          expect(c.why).toMatch(/planted again on a later day/);
          lostM2 += c.inM2;
        } else if (c.done === 'cut') {
          expect(c.why).toMatch(/planted again on a later day/);
          lostM2 += c.cutM2;
        } else expect(c.done).toBe('kept');
      }
      expect(replaced).toBeGreaterThan(50);
      // Two passes of 225 in, 70 m long (arithmetic; a bar more or less at the ends).
      expect(Math.abs(laterM2 / (2 * 225 * 0.0254 * 70) - 1)).toBeLessThan(0.05);
      expect(Math.abs(lostM2 / laterM2 - 1)).toBeLessThan(0.01);
      expect(out.residualM2).toBeLessThan(1e-9 * out.outM2);
      const sum = out.changes.reduce((s, c) => s + c.differenceM2, 0);
      expect(Math.abs(sum - (out.outM2 - out.inM2))).toBeLessThan(1e-9 * out.inM2);
    },
  );

  it('on the same day nothing is a replant: what was planted first stands', async () => {
    const map = JSON.parse(new TextDecoder().decode(toGeoJson(strip(100, 3)) as Uint8Array));
    const n = map.features.length;
    const out = await run(JSON.stringify(map));
    expect(out.changes.filter((c) => c.done === 'replaced')).toEqual([]);
    expect(out.changes).toHaveLength(n);
  });
});

describe('columns of the records', () => {
  const withColumns = (add: (m2: number, i: number) => Record<string, unknown>): string => {
    const map = JSON.parse(
      new TextDecoder().decode(toGeoJson(strip(100, 4, { belief: { planted: rowsOf(15, 'odd') } })) as Uint8Array),
    );
    map.features.forEach((f: { geometry: { coordinates: number[][][] }; properties: object }, i: number) => {
      f.properties = { ...f.properties, ...add(planeM2(f.geometry.coordinates[0]), i) };
    });
    return JSON.stringify(map);
  };

  it('areas are put right in their unit, amounts nobody can put right are said to be out of date', async () => {
    const text = withColumns((m2, i) => ({
      acres: Number((m2 / 4046.8564224).toFixed(5)),
      AREA_HA: m2 / 10_000,
      seed_count: Math.round(m2 * (9 + (i % 3))),
    }));
    const out = await run(text);
    const own = numbers(out, 'gr_area_m2');
    numbers(out, 'acres').forEach((v, i) => {
      expect(Math.abs((v * 4046.8564224) / own[i] - 1)).toBeLessThan(1e-5);
    });
    numbers(out, 'AREA_HA').forEach((v, i) => {
      expect(Math.abs((v * 10_000) / own[i] - 1)).toBeLessThan(1e-5);
    });
    expect(numbers(out, 'was_acres')).toBeDefined();
    expect(out.notes.map((n) => n.sentence).join('\n')).toMatch(
      /Column "seed_count" holds an amount for each record .* out of date/,
    );
  });

  it('of two rates the one that makes the total with the area is corrected, whatever it is called', async () => {
    const text = withColumns((m2, i) => {
      const perAc = 140_000 + 5000 * Math.sin(i);
      return { applied: perAc, rate_set: 140_000, seed_total: (perAc * m2) / 4046.8564224 };
    });
    const out = await run(text, { correctRate: true });
    expect(out.ratesCorrected).toEqual(['applied']);
    // 240 in recorded for 225 in planted (arithmetic).
    expect(out.rateMeans[0].after / out.rateMeans[0].before).toBeCloseTo(240 / 225, 2);
  });

  it('a fuel rate times area is fuel, not seed', () => {
    const m2 = Float64Array.from({ length: 40 }, (_, i) => 10 + (i % 5));
    const column = (name: string, of: (i: number) => number): Column => ({
      name,
      kind: 'number',
      values: m2.map((_, i) => of(i)),
    });
    const fuel = (i: number): number => 0.4 + 0.01 * (i % 7);
    const list = [
      column('fuel_rate', fuel),
      column('fuel_gal', (i) => (fuel(i) * m2[i]) / 4046.8564224),
      column('population', () => 34_000),
    ];
    expect(rateColumns(list, { roles: {} } as Columns, m2)).toEqual(['population']);
  });
});

/** m² of a small ring on a sphere of the earth's radius at its latitude, good to 0.5 %: what a display writes down. */
function planeM2(ring: number[][]): number {
  const k = (Math.PI / 180) * 6_371_000;
  const cos = Math.cos((ring[0][1] * Math.PI) / 180);
  let a = 0;
  for (let i = 0; i + 1 < ring.length; i++)
    a +=
      (ring[i][0] - ring[0][0]) * (ring[i + 1][1] - ring[0][1]) -
      (ring[i + 1][0] - ring[0][0]) * (ring[i][1] - ring[0][1]);
  return (Math.abs(a) / 2) * k * k * cos;
}

describe('bars whose place only section numbers tell', () => {
  // A last pass of which a single section ran, where all sections are as wide as one another.
  const lone = (): { features: { properties: Record<string, unknown> }[] } => {
    const drawn = strip(120, 4, { belief: { planted: rowsOf(15, 'odd') } });
    const map = JSON.parse(new TextDecoder().decode(toGeoJson(drawn) as Uint8Array));
    map.features = map.features.filter(
      (f: { properties: { sec: number } }, i: number) => drawn.truth.pass[i] < 4 || f.properties.sec === 2,
    );
    return map;
  };

  it('are redrawn, and kept as recorded without the numbers', async () => {
    const map = lone();
    const out = await run(JSON.stringify(map));
    for (const f of map.features) delete f.properties.sec;
    const bare = await run(JSON.stringify(map));
    const kept = (r: Rebuilt): number =>
      r.changes.filter((c) => /nothing shows where the frame was/.test(c.why)).length;
    expect(kept(bare)).toBeGreaterThan(5);
    expect(kept(out)).toBe(0);
  });
});
