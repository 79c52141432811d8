import geodesic from 'geographiclib-geodesic';
import { describe, expect, it } from 'vitest';
import { check } from '../../src/core/check.ts';
import { geoJson } from '../../src/core/formats/index.ts';
import { named } from '../../src/core/intake/index.ts';
import { type RebuildInput, type Rebuilt, rebuild } from '../../src/core/rebuild/index.ts';
import { changeCsv } from '../../src/core/redraw/index.ts';
import { drawField, toGeoJson } from '../generator/index.ts';
import { PLANTERS, rowsOf, runs } from '../generator/planters.ts';
import type { FieldSpec } from '../generator/spec.ts';
import { field, planterOf, settingsOf } from '../settings/help.ts';

const fifteen = PLANTERS.fifteen;
const still = { wanderM: 0, passBiasM: 0 };
const strips: Partial<FieldSpec> = { shape: { kind: 'strip', lengthM: 120, passes: 5 }, noise: still };
const small: Partial<FieldSpec> = { shape: { kind: 'field', lengthM: 90, widthM: 60, headlandLaps: 1 } };
const asWide: Partial<FieldSpec> = { belief: { planted: rowsOf(15, 'odd') } };

async function rebuilt(
  rest: Partial<FieldSpec>,
  more: Partial<RebuildInput> = {},
): Promise<{ map: string; out: Rebuilt }> {
  const map = toGeoJson(drawField(field(fifteen, 'narrow', rest)));
  const text = typeof map === 'string' ? map : new TextDecoder().decode(map);
  return { map: text, out: await again(text, more) };
}
const again = (map: string, more: Partial<RebuildInput> = {}): Promise<Rebuilt> =>
  rebuild({
    map: [named('field.geojson', new TextEncoder().encode(map))],
    planter: planterOf(fifteen),
    planting: 'narrow',
    ...more,
  });
const textOf = (r: Rebuilt): string => [...geoJson(r.layer)].join('');
const counts = (r: Rebuilt): Record<string, number> => {
  const n: Record<string, number> = {};
  for (const c of r.changes) n[c.done] = (n[c.done] ?? 0) + 1;
  return n;
};

/** m² of a GeoJSON text on the ellipsoid by GeographicLib (Karney 2013, Algorithms for geodesics). */
function geodesicM2(text: string): number {
  let sum = 0;
  for (const f of JSON.parse(text).features) {
    const polygons = f.geometry.type === 'Polygon' ? [f.geometry.coordinates] : f.geometry.coordinates;
    for (const rings of polygons) {
      rings.forEach((ring: number[][], k: number) => {
        const p = geodesic.Geodesic.WGS84.Polygon(false);
        for (const [x, y] of ring.slice(0, -1)) p.AddPoint(y, x);
        sum += (k === 0 ? 1 : -1) * Math.abs(p.Compute(false, true).area!);
      });
    }
  }
  return sum;
}

describe('a clean map', () => {
  it('comes back with every coordinate, record for record', async () => {
    const { map, out } = await rebuilt(strips);
    expect(counts(out)).toEqual({ kept: out.changes.length });
    expect(out.unchanged).toBe(true);
    const before = JSON.parse(map).features.map((f: { geometry: object }) => sorted(f.geometry));
    const after = JSON.parse(textOf(out)).features.map((f: { geometry: object }) => sorted(f.geometry));
    expect(after).toEqual(before);
  });
});

describe('a map that agrees, driven with the accuracy in use', () => {
  // Pass-to-pass accuracy as the generator draws it: 2.5 cm of wander and 1 cm of bias a pass.
  const noise = { wanderM: 0.025, passBiasM: 0.01 };
  it.each([31, 32, 33])('strips stay as they are, every record of them (seed %i)', async (seed) => {
    const { map, out } = await rebuilt({ shape: { kind: 'strip', lengthM: 200, passes: 6 }, noise, seed });
    expect(out.report?.verdict).toBe('agrees');
    expect([out.unchanged, counts(out)]).toEqual([true, { kept: JSON.parse(map).features.length }]);
    // Noise there is: seams of which single bars overlap by more than twice the accuracy.
    expect(out.leftOverlapM2).toBeGreaterThan(5);
    expect(out.residualM2).toBeLessThan(1e-9 * out.outM2);
  });
  it('only what the ends really overlap is cut, as many records as without noise', async () => {
    const cut = async (n: typeof noise): Promise<number> => {
      const { out } = await rebuilt({ ...small, noise: n });
      expect(Object.keys(counts(out)).sort()).toEqual(['cut', 'kept']);
      // A cut takes off more than a strip of noise could: half of the bar, or wider than six times 2.5 cm.
      for (const c of out.changes) if (c.done === 'cut') expect(c.cutM2).toBeGreaterThan(0.03);
      return counts(out).cut;
    };
    const [still_, noisy] = [await cut(still), await cut(noise)];
    expect(Math.abs(noisy - still_)).toBeLessThan(0.15 * still_);
  });
  it('a finer accuracy than the real one lets cuts through', async () => {
    const { map } = await rebuilt({ shape: { kind: 'strip', lengthM: 200, passes: 6 }, noise });
    const fine = await again(map, { passAccuracyM: 0.005 });
    expect(counts(fine).cut).toBeGreaterThan(5);
  });
});

/** Corners of a polygon whatever its start and turn: intake turns outer rings counter-clockwise. */
const sorted = (g: object): string[] =>
  (g as { coordinates: number[][][] }).coordinates.flatMap((r) => r.slice(0, -1).map(String).sort());

describe('a display left on the wide planting', () => {
  it('is redrawn 15 rows wide, areas by GeographicLib, and the log sums', async () => {
    const { map, out } = await rebuilt({ ...small, ...asWide });
    const text = textOf(out);
    const [was, is] = [geodesicM2(map), geodesicM2(text)];
    expect(Math.abs(is / out.outM2 - 1)).toBeLessThan(1e-6);
    expect(Math.abs(was / out.inM2 - 1)).toBeLessThan(1e-6);
    const sum = out.changes.reduce((s, c) => s + c.differenceM2, 0);
    expect(Math.abs(sum - (out.outM2 - out.inM2))).toBeLessThan(1e-9 * out.inM2);
    // The printed log keeps every digit: its own sum is the same.
    const lines = [...changeCsv(out.changes)].slice(1).map((l) => Number(l.trimEnd().split(',').pop()));
    expect(Math.abs(lines.reduce((a, b) => a + b, 0) - sum)).toBeLessThan(1e-9 * out.inM2);
    // No spot twice: the polygons sum to the union of what was drawn.
    expect(out.residualM2).toBeLessThan(1e-9 * out.outM2);
    for (const f of JSON.parse(text).features) expect(f.properties.gr_from).not.toBe('');
    // Every record of the map is named.
    const named = new Set(out.changes.flatMap((c) => c.from.split(',').flatMap(span)));
    const records = JSON.parse(map).features.length;
    for (let r = 1; r <= records; r++) expect(named.has(r)).toBe(true);
  });

  it('agrees with the planter afterwards where it was steered right', async () => {
    const { out } = await rebuilt({ ...asWide, shape: strips.shape!, noise: still });
    const a = await check({
      map: [named('r.geojson', new TextEncoder().encode(textOf(out)))],
      planter: planterOf(fifteen),
      planting: 'narrow',
    });
    expect(a.report.verdict).toBe('agrees');
  });

  it('keeps the wide seams that were really driven', async () => {
    const { out } = await rebuilt({ ...asWide, shape: strips.shape!, noise: still, passSpacingM: 240 * 0.0254 });
    const a = await check({
      map: [named('r.geojson', new TextEncoder().encode(textOf(out)))],
      planter: planterOf(fifteen),
      planting: 'narrow',
    });
    expect(settingsOf(a)).toEqual(['pass-spacing']);
    expect(a.report.recorded.workingWidthM!).toBeCloseTo(5.715, 3);
  });

  it('corrects rates only when asked, and keeps the old ones', async () => {
    const rate: Partial<FieldSpec> = {
      ...strips,
      ...asWide,
      columns: { time: { name: 't', as: 'iso' }, rate: { name: 'population', mean: 34000, sd: 0 } },
    };
    const { map, out } = await rebuilt(rate);
    expect(out.layer.columns.map((c) => c.name)).not.toContain('was_population');
    const put = await again(map, { correctRate: true });
    const now = put.layer.columns.find((c) => c.name === 'population')!;
    const was = put.layer.columns.find((c) => c.name === 'was_population')!;
    if (now.kind !== 'number' || was.kind !== 'number') throw new Error('numbers were wanted');
    // 240 in recorded for 225 in planted: the same seeds were planted on 6.67 % less ground (arithmetic).
    const factors = now.values.map((v, i) => v / was.values[i]).sort();
    expect(factors[factors.length >> 1]).toBeCloseTo(240 / 225, 2);
  });
});

const atStep = (text: string): string => text.replaceAll(/\d+\.\d{11,}/g, (d) => String(Number(Number(d).toFixed(10))));

const span = (s: string): number[] => {
  const [a, b] = s.split('-').map(Number);
  return Array.from({ length: (b ?? a) - a + 1 }, (_, i) => a + i);
};

describe('other faults', () => {
  const straight = { ...strips };
  const cases: Record<string, Partial<FieldSpec>> = {
    'sections merged': { belief: { sections: runs('1-4 5-7 8-11 12-15') } },
    'a frame of 14 rows': {
      belief: {
        rows: 14,
        planted: rowsOf(14, 'all'),
        sections: runs('1-2 3-4 5-6 7-8 9-10 11-12 13-14'),
        drives: [[1, 14]],
      },
    },
    'rows too close': { belief: { rowSpacingM: 14 * 0.0254 } },
  };
  it.each(Object.keys(cases))('%s: the rebuilt map agrees, and rebuilding it again changes nothing', async (name) => {
    const { out } = await rebuilt({ ...straight, ...cases[name] });
    const text = textOf(out);
    const a = await check({
      map: [named('r.geojson', new TextEncoder().encode(text))],
      planter: planterOf(fifteen),
      planting: 'narrow',
    });
    expect(a.report.verdict).toBe('agrees');
    const twice = await again(text);
    expect(twice.before).toBe(true);
    // Cut corners are full doubles; read again they lie on steps of 1e-10 degree.
    expect(atStep(textOf(twice))).toBe(atStep(text));
    // Without its own columns the map still needs nothing.
    const bare = JSON.parse(text);
    for (const f of bare.features)
      for (const k of Object.keys(f.properties)) if (k.startsWith('gr_')) delete f.properties[k];
    expect((await again(JSON.stringify(bare))).unchanged).toBe(true);
  });

  it('records twice in the map are removed, with a line each', async () => {
    const { map, out } = await rebuilt({ ...straight, repeat: 'all' });
    const n = JSON.parse(map).features.length;
    expect(counts(out)).toMatchObject({ removed: n / 2 });
    expect(out.layer.recordStart.length - 1).toBe(n / 2);
  });

  it('dissolved by pass, the area is the same', async () => {
    const { map, out } = await rebuilt({ ...small, ...asWide });
    const byPass = await again(map, { by: 'pass' });
    expect(byPass.layer.recordStart.length).toBeLessThan(60);
    expect(Math.abs(byPass.outM2 / out.outM2 - 1)).toBeLessThan(1e-9);
  });

  it('dissolved by pass, rates and widths are those of the whole pass', async () => {
    const drawn = JSON.parse(
      new TextDecoder().decode(toGeoJson(drawField(field(fifteen, 'narrow', { ...strips, ...asWide })))),
    );
    drawn.features.forEach((f: { properties: Record<string, unknown> }, i: number) => {
      f.properties.seeds_ac = 140_000;
      // The first record of each pass is no better than others: here it says nothing.
      if (i % 7 === 0) delete f.properties.seeds_ac;
      f.properties.swath_ft = 20;
    });
    const { layer } = await again(JSON.stringify(drawn), { by: 'pass', correctRate: true });
    const values = (name: string): number[] => {
      const c = layer.columns.find((x) => x.name === name);
      if (c?.kind !== 'number') throw new Error(`no numbers in "${name}"`);
      return [...c.values];
    };
    expect(values('seeds_ac')).toHaveLength(5);
    // Sown as many seeds on 225 in as were reckoned over 240 in (arithmetic).
    for (const v of values('seeds_ac')) expect(Math.abs(v / ((140_000 * 240) / 225) - 1)).toBeLessThan(1e-3);
    for (const v of values('swath_ft')) expect(v).toBeCloseTo(18.75, 2);
  });

  it('section numbers count on past a strip that stays empty', async () => {
    const straddling = PLANTERS.twentyThreeStraddling;
    const spec = field(straddling, 'narrow', { ...strips, belief: { acrossDrives: 'missing' } });
    const { layer } = await rebuild({
      map: [named('field.geojson', toGeoJson(drawField(spec)))],
      planter: planterOf(straddling),
      planting: 'narrow',
    });
    const column = (name: string): number[] => {
      const c = layer.columns.find((x) => x.name === name);
      if (c === undefined) throw new Error(`no column "${name}"`);
      return c.kind === 'number' ? [...c.values] : [...c.codes].map((k) => Number(c.words[k]));
    };
    const apart = new Set(column('sec').map((v, i) => v - column('gr_section')[i]));
    expect(column('gr_done')).toBeDefined();
    expect(apart.size).toBe(1);
  });

  it('maps of bars are redrawn as bars', async () => {
    const { out } = await rebuilt({ ...straight, ...asWide, grain: 'bar' });
    const w = out.layer.columns.find((c) => c.name === 'gr_width_m')!;
    if (w.kind !== 'number') throw new Error('numbers were wanted');
    expect([...w.values].sort()[w.values.length >> 1]).toBeCloseTo(5.715, 3);
  });

  it.each(['strip', 'blob'] as const)('%s grain is refused in one sentence', async (grain) => {
    await expect(rebuilt({ ...small, grain })).rejects.toMatchObject({ detail: { code: 'grain' } });
  });
  it('so is a map that is undecided', async () => {
    await expect(rebuilt({ shape: { kind: 'strip', lengthM: 20, passes: 1 } })).rejects.toMatchObject({
      detail: { code: 'undecided' },
    });
  });
  it('so is a rebuilt map with another planting', async () => {
    const { out } = await rebuilt({ ...straight, ...asWide });
    await expect(again(textOf(out), { planting: 'wide' })).rejects.toMatchObject({
      detail: { code: 'rebuilt-before' },
    });
  });
});
