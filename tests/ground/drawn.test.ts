import { spawnSync } from 'node:child_process';
import { describe, expect, test } from 'vitest';
import { check, named, readPlanter, toGeoJson } from '../../src/core/index.ts';
import { KINDS, simulate } from '../simulator/index.ts';

/** Seed of the first map. */
const DRAWN = 1_500_700;
/** The plane of `areas.py`, and corners written to a tenth of a millimeter. */
const SAME = 1e-3;
const ROUNDED_M2 = 0.02;

interface Drawn {
  layer: string;
  areaM2: number;
  cause: string;
}

const bytes = (text: string): Uint8Array => new TextEncoder().encode(text);

/** Lines of the account as a viewer gets them: ground that is open or covered twice. */
async function linesOf(seed: number, kind: (typeof KINDS)[number]): Promise<{ properties: Drawn }[]> {
  const m = simulate(seed, { kind });
  const answer = await check({
    map: [named('map.geojson', bytes(m.map))],
    planter: readPlanter(m.planter, 'yard.planter.json'),
    planting: m.planting,
    ...(m.boundary === null ? {} : { boundary: [named('boundary.geojson', bytes(m.boundary))] }),
  });
  const { features } = JSON.parse(toGeoJson(answer)) as { features: { properties: Drawn }[] };
  const lines = features.filter(({ properties: p }) => p.layer === 'gap' || p.layer === 'overlap');
  expect(lines.length).toBe(answer.report.account.filter((l) => l.fact !== 'width').length);
  return lines;
}

describe('polygons of the account', () => {
  // GEOS (Debian python3-shapely) measures what is drawn; `areas.py`.
  test('the polygons of every line have its area', async () => {
    const maps = [];
    for (const [k, kind] of KINDS.entries()) maps.push(await linesOf(DRAWN + k, kind));
    const input = maps.map((features) => JSON.stringify({ type: 'FeatureCollection', features })).join('\n');
    const r = spawnSync('/usr/bin/python3', ['tests/ground/areas.py'], { input, encoding: 'utf8', maxBuffer: 1 << 28 });
    expect(r.stderr).toBe('');
    const areas = JSON.parse(r.stdout) as { areaM2: number; valid: boolean }[][];
    maps.forEach((lines, k) => {
      expect(lines.length, KINDS[k]).toBeGreaterThan(0);
      lines.forEach(({ properties: p }, i) => {
        const off = Math.abs(areas[k][i].areaM2 - p.areaM2);
        expect(off, `${KINDS[k]}: ${p.layer}, ${p.cause}, ${p.areaM2} m²`).toBeLessThan(SAME * p.areaM2 + ROUNDED_M2);
      });
    });
  }, 300_000);
});
