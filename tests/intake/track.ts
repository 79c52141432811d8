import { readFileSync } from 'node:fs';
import { readPlanter } from '../../src/core/planter/index.ts';
import type { Planter } from '../../src/core/planter/types.ts';
import { utf8 } from './helpers.ts';

/**
 * The log of a real planting (`tests/simulator/real-planting/README.md` names its source): 24 rows at 30 in, 12 sections of two rows. Positions lie on a
 * plane of meters; here they are put at 41.5 degrees north by the radii of WGS84 at that latitude (arithmetic, not that of the program).
 */
export interface Fix {
  lon: number;
  lat: number;
  headingDeg: number;
  pass: number;
  firstSection: number;
  sectionsOn: number;
  /** Meters to the position before it. */
  stepM: number;
}

const LAT = 41.5;
const LON = -93.6;
const RAD = Math.PI / 180;
const E2 = 0.00669437999014;
const W = Math.sqrt(1 - E2 * Math.sin(LAT * RAD) ** 2);
const PER_LON = (6378137 / W) * Math.cos(LAT * RAD) * RAD;
const PER_LAT = ((6378137 * (1 - E2)) / W ** 3) * RAD;
export const FRAME_M = 18.288;
export const SECTIONS = 12;

const rows = readFileSync(new URL('../simulator/real-planting/track.csv', import.meta.url), 'utf8')
  .trim()
  .split('\n')
  .slice(1)
  .map((line) => line.split(',').map(Number));

const place = (x: number, y: number): [number, number] => [
  Number((LON + x / PER_LON).toFixed(9)),
  Number((LAT + y / PER_LAT).toFixed(9)),
];

export const TRACK: readonly Fix[] = rows.map(([x, y, headingDeg, pass, firstSection, sectionsOn], i) => {
  const [lon, lat] = place(x, y);
  const stepM = i === 0 ? Number.NaN : Math.hypot(x - rows[i - 1][0], y - rows[i - 1][1]);
  return { lon, lat, headingDeg, pass, firstSection, sectionsOn, stepM };
});

/** The same planting as its README says that polygons are drawn: a quad a section, between positions of one pass less than 7 m apart. */
export function trackPolygons(): Uint8Array {
  const features: object[] = [];
  for (let i = 1; i < rows.length; i++) {
    const [x, y, h, pass, first, on] = rows[i];
    const [bx, by, bh, before] = rows[i - 1];
    if (pass !== before || Math.hypot(x - bx, y - by) >= 7) continue;
    const corner = (px: number, py: number, deg: number, right: number): [number, number] =>
      place(px + right * Math.cos(deg * RAD), py - right * Math.sin(deg * RAD));
    for (let k = first - 1; k < first - 1 + on; k++) {
      const left = -FRAME_M / 2 + (k * FRAME_M) / SECTIONS;
      const right = left + FRAME_M / SECTIONS;
      const ring = [corner(bx, by, bh, left), corner(bx, by, bh, right), corner(x, y, h, right), corner(x, y, h, left)];
      features.push({
        type: 'Feature',
        properties: { Heading: h, Pass: pass, section: k + 1 },
        geometry: { type: 'Polygon', coordinates: [[...ring, ring[0]]] },
      });
    }
  }
  return utf8(JSON.stringify({ type: 'FeatureCollection', features }));
}

/** The planting as points with the columns that `of` gives. */
export function trackPoints(of: (fix: Fix, i: number) => Record<string, unknown>): Uint8Array {
  const features = TRACK.map((fix, i) => ({
    type: 'Feature',
    properties: of(fix, i),
    geometry: { type: 'Point', coordinates: [fix.lon, fix.lat] },
  }));
  return utf8(JSON.stringify({ type: 'FeatureCollection', features }));
}

/** The same as CSV. */
export function trackCsv(of: (fix: Fix, i: number) => Record<string, unknown>, delimiter = ','): Uint8Array {
  const names = Object.keys(of(TRACK[0], 0));
  const text = (v: unknown): string => (delimiter === ';' ? String(v).replace('.', ',') : String(v));
  const lines = TRACK.map((fix, i) => [fix.lon, fix.lat, ...names.map((n) => of(fix, i)[n])].map(text).join(delimiter));
  return utf8([['Longitude', 'Latitude', ...names].join(delimiter), ...lines].join('\r\n'));
}

export const trackPlanter = (): Planter =>
  readPlanter(
    JSON.stringify({
      name: 'Twenty-four rows',
      unit: 'in',
      rows: 24,
      rowSpacing: 30,
      plantings: { all: 'all' },
      sections: Array.from({ length: SECTIONS }, (_, k) => `${2 * k + 1}-${2 * k + 2}`),
    }),
    'track.planter.json',
  );
