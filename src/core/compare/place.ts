/** Where and when a map was recorded, which decides whether two maps can be compared. */
import type { Answer } from '../answer.ts';
import { daysText } from '../shared/dates.ts';

export interface MapPlace {
  source: string;
  /** First and last record, ms since 1970 UTC; null without times. */
  firstMs: number | null;
  lastMs: number | null;
  /** West, south, east and north of the covered ground, degrees; null for a map that covers none. */
  box: [number, number, number, number] | null;
}

export function placeOf({ report, evidence }: Answer): MapPlace {
  const times = evidence.passes.flatMap((p) => (p.startMs === null || p.endMs === null ? [] : [p.startMs, p.endMs]));
  let first: number | null = null;
  let last: number | null = null;
  for (const t of times) {
    first = first === null || t < first ? t : first;
    last = last === null || t > last ? t : last;
  }
  const { xy } = evidence.covered;
  const { originX, originY, stepsPerDegree } = evidence.lattice;
  let [west, south, east, north] = [Infinity, Infinity, -Infinity, -Infinity];
  for (let i = 0; i < xy.length; i += 2) {
    west = Math.min(west, xy[i]);
    east = Math.max(east, xy[i]);
    south = Math.min(south, xy[i + 1]);
    north = Math.max(north, xy[i + 1]);
  }
  const degrees = (origin: number, step: number): number => (origin + step) / stepsPerDegree;
  return {
    source: report.map.source,
    firstMs: first,
    lastMs: last,
    box:
      xy.length === 0
        ? null
        : [degrees(originX, west), degrees(originY, south), degrees(originX, east), degrees(originY, north)],
  };
}

/** Mean radius of the Earth, meters (IUGG, R1). A sphere is within 0.6 % of the ellipsoid, which is near enough for the distance between maps. */
const EARTH_M = 6_371_008.8;

/** Shortest way between the boxes of two maps, meters; 0 where they touch, null where one covers no ground. */
export function apartM(a: MapPlace, b: MapPlace): number | null {
  if (a.box === null || b.box === null) return null;
  const [aw, as, ae, an] = a.box;
  const [bw, bs, be, bn] = b.box;
  const north = Math.max(0, bs - an, as - bn);
  // The other way around the Earth may be shorter.
  const east = Math.min(...[-360, 0, 360].map((turn) => Math.max(0, bw + turn - ae, aw - be - turn)));
  const perDegree = (EARTH_M * Math.PI) / 180;
  const latitude = ((as + an + bs + bn) / 4) * (Math.PI / 180);
  return Math.hypot(north * perDegree, east * perDegree * Math.cos(latitude));
}

/** The days of a map (see `shared/dates.ts`); null without times. */
export function daysOf({ firstMs, lastMs }: MapPlace): string | null {
  return firstMs === null || lastMs === null ? null : daysText(firstMs, lastMs);
}

/** The middle of a map as "42.0312° N, 93.6319° W"; null for a map that covers no ground. */
export function placeText({ box }: MapPlace): string | null {
  if (box === null) return null;
  const lon = (box[0] + box[2]) / 2;
  const lat = (box[1] + box[3]) / 2;
  return `${Math.abs(lat).toFixed(4)}° ${lat < 0 ? 'S' : 'N'}, ${Math.abs(lon).toFixed(4)}° ${lon < 0 ? 'W' : 'E'}`;
}
