import { describe, expect, it } from 'vitest';
import { check } from '../../src/core/check.ts';
import { named } from '../../src/core/intake/index.ts';
import { PLANTERS } from '../generator/planters.ts';
import { planterOf, settingsOf } from './help.ts';

const INCH = 0.0254;
/** Meters per degree at 42 degrees north, WGS84 (published degree lengths). */
const PER_LAT = 111073.2836;
const PER_LON = 82850.7616;

interface Grid {
  oneWay?: boolean;
  times?: boolean;
  shuffled?: boolean;
}

/** A map too good to be true: every pass logs at the same places and every seam closes digit for digit, so no geometry parts two passes. */
function grid(passes: number, bars: number, widthsIn: number[], g: Grid = {}): Uint8Array {
  const features: unknown[] = [];
  const widths = widthsIn.map((w) => w * INCH);
  const across = widths.reduce((a, b) => a + b, 0);
  const deg = (x: number, y: number): number[] => [
    Number((x / PER_LON - 93).toFixed(7)),
    Number((y / PER_LAT + 42).toFixed(7)),
  ];
  let second = 0;
  for (let p = 0; p < passes; p++) {
    const back = p % 2 === 1 && !g.oneWay;
    for (let b = 0; b < bars; b++) {
      const y = (back ? bars - 1 - b : b) * 2;
      let u = 0;
      for (const w of widths) {
        // Sections are numbered from the left facing travel, so a pass driven back lies mirrored.
        const x = back ? (p + 1) * across - u - w : p * across + u;
        const ring = [deg(x, y), deg(x + w, y), deg(x + w, y + 2), deg(x, y + 2), deg(x, y)];
        const properties = g.times ? { time: new Date(Date.UTC(2026, 4, 1) + 1000 * second).toISOString() } : {};
        features.push({ type: 'Feature', properties, geometry: { type: 'Polygon', coordinates: [ring] } });
        u += w;
      }
      second++;
    }
    second += 20;
  }
  // A fixed stride over a prime-like step visits every record once in no useful order.
  const order = g.shuffled ? features.map((_, i) => features[(i * 7919) % features.length]) : features;
  return new TextEncoder().encode(JSON.stringify({ type: 'FeatureCollection', features: order }));
}

const NARROW = [30, 30, 30, 15, 30, 30, 30, 30];
const WIDE = Array<number>(8).fill(30);

describe('passes that lie in phase, seam on seam', () => {
  const cases: [string, string, number, number, number[], Grid, string[]][] = [
    ['narrow, back and forth', 'narrow', 6, 60, NARROW, {}, []],
    ['a field wider than long', 'narrow', 30, 40, NARROW, {}, []],
    ['wide, all one way', 'wide', 6, 60, WIDE, { oneWay: true }, []],
    ['wide, shuffled, with times', 'wide', 6, 60, WIDE, { times: true, shuffled: true }, []],
    ['whole bars, back and forth', 'wide', 6, 60, [240], {}, []],
    ['whole bars, all one way', 'wide', 6, 60, [240], { oneWay: true }, []],
    ['wide recorded while narrow was planted', 'narrow', 6, 60, WIDE, {}, ['planted-rows']],
  ];
  for (const [what, planting, passes, bars, widths, g, settings] of cases) {
    it(what, async () => {
      const a = await check({
        map: [named('grid.geojson', grid(passes, bars, widths, g))],
        planter: planterOf(PLANTERS.fifteen),
        planting,
      });
      expect(a.report.map.passes).toBe(passes);
      expect(a.report.seams.count).toBe(passes - 1);
      expect(settingsOf(a)).toEqual(settings);
    });
  }
  it('shuffled and without a column nothing parts the passes: undecided, never another setting', async () => {
    const a = await check({
      map: [named('grid.geojson', grid(6, 60, WIDE, { shuffled: true }))],
      planter: planterOf(PLANTERS.fifteen),
      planting: 'wide',
    });
    expect(settingsOf(a)).toEqual([]);
    expect(a.report.verdict).toBe('undecided');
  });
});
