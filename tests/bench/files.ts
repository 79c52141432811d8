import { makeShapefile, makeZip, partsOf, WGS84_PRJ } from '../intake/make-shapefile.ts';
import type { BenchMap } from './coverage-map.ts';

/** Where the bench maps lie: open country at 41.9 degrees north. */
const LON = -935_840_000;
const LAT = 419_000_000;

const ring = (map: BenchMap, i: number): [number, number][] => {
  const { xy, ringStart } = map.shapes;
  const out: [number, number][] = [];
  for (let p = ringStart[i]; p < ringStart[i + 1]; p++)
    out.push([(LON + xy[2 * p]) / 1e7, (LAT + xy[2 * p + 1]) / 1e7]);
  out.push(out[0]);
  return out;
};

/** Twelve properties, as a display writes them: numbers, texts and a time. */
function properties({ instant, section, headingDeg }: BenchMap, i: number): Record<string, string | number> {
  return {
    logged_at: new Date(Date.UTC(2026, 3, 20, 14) + 1000 * instant[i]).toISOString(),
    sec: section[i] + 1,
    swath_ft: 2.5,
    course: headingDeg[i],
    speed_mph: 5 + (i % 10) / 10,
    seeds_ac: 32_000 + (i % 97),
    target: 32_000,
    product: 'Maize, early',
    lot: `L${(i >> 12) + 1}`,
    elev_m: 300 + (i % 313) / 10,
    down_lb: 120 + (i % 41),
    note: '',
  };
}

/** The map as a GeoJSON FeatureCollection, one feature a line. */
export function* geoJsonLines(map: BenchMap): Generator<string> {
  yield '{"type":"FeatureCollection","features":[\n';
  for (let i = 0; i < map.count; i++) {
    const feature = {
      type: 'Feature',
      properties: properties(map, i),
      geometry: { type: 'Polygon', coordinates: [ring(map, i)] },
    };
    yield `${JSON.stringify(feature)}${i + 1 < map.count ? ',' : ''}\n`;
  }
  yield ']}\n';
}

/** The map as a zipped shapefile in WGS84 degrees with ten fields. */
export function zippedShapefile(map: BenchMap): Uint8Array {
  const file = makeShapefile({
    records: Array.from({ length: map.count }, (_, i) => [ring(map, i).reverse()]),
    fields: [
      { name: 'LOGGED', type: 'C', length: 24 },
      { name: 'SEC', type: 'N', length: 4 },
      { name: 'SWATH_FT', type: 'N', length: 10, decimals: 3 },
      { name: 'COURSE', type: 'N', length: 6, decimals: 1 },
      { name: 'SPEED', type: 'N', length: 8, decimals: 2 },
      { name: 'SEEDS', type: 'N', length: 10 },
      { name: 'TARGET', type: 'N', length: 10 },
      { name: 'PRODUCT', type: 'C', length: 20 },
      { name: 'LOT', type: 'C', length: 10 },
      { name: 'ELEV', type: 'N', length: 10, decimals: 1 },
    ],
    rows: Array.from({ length: map.count }, (_, i) => {
      const p = properties(map, i);
      return [p.logged_at, p.sec, p.swath_ft, p.course, p.speed_mph, p.seeds_ac, p.target, p.product, p.lot, p.elev_m];
    }),
    prj: WGS84_PRJ,
  });
  return makeZip(partsOf('bench', file));
}
