/** What a file looks like: columns of any names, coordinates rounded, a place on Earth. */
import type { Point } from './field.ts';
import type { Random } from './random.ts';
import type { Shape } from './shapes.ts';

export interface Place {
  lat: number;
  lon: number;
  /** Direction of x, degrees counterclockwise from east. */
  turnDeg: number;
  /** Degrees that coordinates are rounded to, or null for centimeters. */
  stepDeg: number | null;
  /** The file's meters are another unit than its writer said: 1 when they are right. */
  scale: number;
}

const MAJOR_M = 6378137;
const E2 = 0.0066943799901413165;

/** Places without farms: deserts, a plateau, open sea beside the date line. */
const PLACES: readonly (readonly [number, number])[] = [
  [44.1, 83.4],
  [-23.7, 128.6],
  [23.4, 12.8],
  [33.9, -166.2],
  [-48.3, -110.5],
  [0.4, -29.3],
  [52.6, -38.1],
  [-16.2, 180],
];

export function drawPlace(random: Random): Place {
  const [lat, lon] = random.pick(PLACES);
  return {
    lat: lat + random.between(-0.01, 0.01),
    lon,
    turnDeg: random.chance(0.3) ? random.pick([0, 90, 180, 270]) : random.between(0, 360),
    stepDeg: random.weighted<number | null>([
      [1e-6, 1],
      [1e-7, 5],
      [1e-8, 3],
      [1e-9, 2],
      [null, 1],
    ]),
    scale: 1,
  };
}

export function toDegrees(place: Place): (p: Point) => [number, number] {
  const sin = Math.sin((place.lat * Math.PI) / 180);
  const w = Math.sqrt(1 - E2 * sin * sin);
  const kx = ((Math.PI / 180) * MAJOR_M * Math.cos((place.lat * Math.PI) / 180)) / w;
  const ky = ((Math.PI / 180) * MAJOR_M * (1 - E2)) / w ** 3;
  const [c, s] = [Math.cos((place.turnDeg * Math.PI) / 180), Math.sin((place.turnDeg * Math.PI) / 180)];
  const digits = place.stepDeg === null ? 10 : Math.round(-Math.log10(place.stepDeg));
  const cm = (v: number): number => (place.stepDeg === null ? Math.round(v * 100) / 100 : v);
  return ([x, y]) => {
    const east = cm((x * c - y * s) * place.scale);
    const north = cm((x * s + y * c) * place.scale);
    const lon = place.lon + east / kx;
    return [Number((lon > 180 ? lon - 360 : lon).toFixed(digits)), Number((place.lat + north / ky).toFixed(digits))];
  };
}

export type Properties = Record<string, string | number>;

export interface Columns {
  names: {
    section?: string;
    time?: string;
    date?: string;
    heading?: string;
    width?: string;
    rate?: string;
    machine?: string;
    other?: string;
  };
  timeAs: 'iso' | 'iso without zone' | 'month first' | 'day first' | 'epoch s' | 'epoch ms' | 'compact';
  /** Whole seconds only. */
  wholeSeconds: boolean;
  widthIn: 'm' | 'ft' | 'in' | 'cm';
  /** The section column holds one number throughout. */
  constantSection: boolean;
  sectionFrom: 0 | 1;
}

export function drawColumns(random: Random): Columns {
  const has = (p: number, list: readonly string[]): string | undefined =>
    random.chance(p) ? random.pick(list) : undefined;
  const none = random.chance(0.2);
  const p = (share: number): number => (none ? 0 : share);
  const names: Columns['names'] = {};
  const put = (key: keyof Columns['names'], name: string | undefined): void => {
    if (name !== undefined) names[key] = name;
  };
  put('section', has(p(0.65), ['Section', 'sec_no', 'SECTION_ID', 'segment', 'Sect']));
  put('time', has(p(0.75), ['Time', 'logged_at', 'TIMESTAMP', 'UTC', 'when']));
  if (names.time && random.chance(0.2)) names.date = random.pick(['Date', 'day', 'DATE_']);
  put('heading', has(p(0.45), ['Heading', 'COURSE', 'track_deg', 'direction']));
  const widthIn = random.pick(['m', 'ft', 'in', 'cm'] as const);
  put('width', has(p(0.4), ['Width', `width_${widthIn}`, 'SWATH', 'swath_width']));
  put('rate', has(p(0.4), ['Rate', 'seeds_ac', 'population', 'APPLIED']));
  put('machine', has(p(0.2), ['Machine', 'unit', 'VEHICLE', 'planter_no']));
  put('other', has(p(0.4), ['elevation', 'OBJECTID', 'Crop', 'moisture']));
  return {
    names,
    timeAs: random.weighted([
      ['iso', 4],
      ['iso without zone', 2],
      ['month first', 2],
      ['day first', 1],
      ['epoch s', 1],
      ['epoch ms', 1],
      ['compact', 1],
    ]),
    wholeSeconds: random.chance(0.4),
    widthIn,
    constantSection: false,
    sectionFrom: random.chance(0.75) ? 1 : 0,
  };
}

const two = (n: number): string => String(n).padStart(2, '0');

function clock(ms: number, columns: Columns): { date: string; time: string | number } {
  const d = new Date(columns.wholeSeconds ? Math.floor(ms / 1000) * 1000 : Math.round(ms / 100) * 100);
  const [y, m, day] = [d.getUTCFullYear(), two(d.getUTCMonth() + 1), two(d.getUTCDate())];
  const part = columns.wholeSeconds ? '' : `.${Math.floor(d.getUTCMilliseconds() / 100)}`;
  const hms = `${two(d.getUTCHours())}:${two(d.getUTCMinutes())}:${two(d.getUTCSeconds())}${part}`;
  switch (columns.timeAs) {
    case 'iso':
      return { date: `${y}-${m}-${day}`, time: `${hms}Z` };
    case 'month first':
      return { date: `${m}/${day}/${y}`, time: hms };
    case 'day first':
      return { date: `${day}.${m}.${y}`, time: hms };
    case 'compact':
      return { date: `${y}${m}${day}`, time: hms.replaceAll(':', '') };
    case 'epoch s':
      return { date: '', time: d.getTime() / 1000 };
    case 'epoch ms':
      return { date: '', time: d.getTime() };
    default:
      return { date: `${y}-${m}-${day}`, time: hms };
  }
}

const PER_M = { m: 1, ft: 1 / 0.3048, in: 1 / 0.0254, cm: 100 } as const;

export function propertiesOf(
  random: Random,
  shape: Shape,
  columns: Columns,
  place: Place,
  startMs: number,
  machine: number,
): Properties {
  const { names } = columns;
  const log = shape.logs[0];
  const last = shape.logs[shape.logs.length - 1];
  const out: Properties = {};
  if (names.section) out[names.section] = columns.constantSection ? 1 : log.section + columns.sectionFrom;
  if (names.time) {
    const { date, time } = clock(startMs + last.to.t * 1000, columns);
    if (typeof time === 'number') out[names.time] = time;
    else if (names.date) {
      out[names.date] = date;
      out[names.time] = time;
    } else
      out[names.time] =
        columns.timeAs === 'compact'
          ? `${date}T${time}`
          : `${date}${columns.timeAs.startsWith('iso') ? 'T' : ' '}${time}`;
  }
  if (names.heading) {
    const deg = 90 - ((last.to.h * 180) / Math.PI + place.turnDeg) + random.normal() * 0.4;
    out[names.heading] = Number((((deg % 360) + 360) % 360).toFixed(1));
  }
  if (names.width) {
    const bands = [...new Set(shape.logs.map((l) => l.section))].map((k) => log.display.bands[k]).filter((b) => !!b);
    const width = bands.reduce((sum, b) => sum + b.right - b.left, 0);
    out[names.width] = Number((width * PER_M[columns.widthIn]).toFixed(2));
  }
  if (names.rate) out[names.rate] = Math.round(32000 + 300 * random.normal());
  if (names.machine) out[names.machine] = machine;
  if (names.other) out[names.other] = Number((100 + random.next()).toFixed(2));
  return out;
}

export interface Feature {
  type: 'Feature';
  properties: Properties;
  geometry: { type: 'Polygon' | 'MultiPolygon'; coordinates: unknown };
}

export function featureOf(shape: Shape, place: Place, properties: Properties): Feature {
  const put = toDegrees(place);
  const rings = shape.polygons.map((p) =>
    p.map((r) => {
      const out = r.map(put);
      return [...out, out[0]];
    }),
  );
  return {
    type: 'Feature',
    properties,
    geometry:
      rings.length === 1 ? { type: 'Polygon', coordinates: rings[0] } : { type: 'MultiPolygon', coordinates: rings },
  };
}

export function collection(features: readonly Feature[]): string {
  return `{"type":"FeatureCollection","features":[\n${features.map((f) => JSON.stringify(f)).join(',\n')}\n]}\n`;
}
