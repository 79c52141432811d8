/**
 * A seeded generator of as-planted maps. It lays out a planter, drives a field with it, and writes down what a display with
 * these beliefs would have recorded. It shares no formula with `src/core` and imports nothing from there.
 *
 * 1. `toolbar.ts` lays out row units and the strips that a display draws.
 * 2. `route.ts` plans headland runs and interior passes.
 * 3. `display.ts` drives them and records section by section.
 * 4. `grains.ts` joins the pieces into records of the wished grain.
 * 5. `files.ts` writes GeoJSON and zipped shapefiles.
 */
import type { Feature, MultiPolygon, Polygon } from 'geojson';
import proj4 from 'proj4';
import { believe, record } from './display.ts';
import { type Draft, gather } from './grains.ts';
import { Random } from './random.ts';
import type { DrawnField, FieldSpec, LengthUnit } from './spec.ts';
import { drawnStrips, plantedReach } from './toolbar.ts';

export { toGeoJson, toShapefileZip } from './files.ts';
export type * from './spec.ts';

/** Meters in one unit, by definition (international inch and foot). */
const METRES: Record<LengthUnit, number> = { m: 1, cm: 0.01, ft: 0.3048, in: 0.0254 };

/** 20 April 2026, 14:00 UTC: when every job starts. */
const START_MS = Date.UTC(2026, 3, 20, 14, 0, 0);

/** Draws the map of `spec`. The same spec gives the same map, number for number. */
export function drawField(spec: FieldSpec): DrawnField {
  const recording = record(spec);
  const random = new Random(spec.seed + 7919);
  const drafts = gather(recording.pieces, spec.grain ?? 'section');
  if (spec.order === 'section-major') drafts.sort((a, b) => a.section - b.section || a.t - b.t);
  if (spec.order === 'shuffled') random.shuffle(drafts);
  if (spec.repeat === 'all') drafts.push(...drafts.slice());
  else if (spec.repeat) drafts.push(...drafts.slice(spec.repeat.first - 1, spec.repeat.first - 1 + spec.repeat.count));

  const { lat, lon } = spec.origin;
  const ground = proj4(
    `+proj=tmerc +lat_0=${lat} +lon_0=${lon} +k=1 +x_0=0 +y_0=0 +ellps=WGS84 +units=m +no_defs`,
    'WGS84',
  );
  const turn = ((spec.headingDeg ?? 0) * Math.PI) / 180;
  const cos = Math.cos(turn);
  const sin = Math.sin(turn);
  const scale = 10 ** (spec.decimals ?? 7);
  const degrees = (p: readonly [number, number]): [number, number] => {
    const d = ground.forward([p[0] * cos + p[1] * sin, p[1] * cos - p[0] * sin]);
    const wrapped = ((((d[0] + 180) % 360) + 360) % 360) - 180;
    return [Math.round(wrapped * scale) / scale, Math.round(d[1] * scale) / scale];
  };
  const closed = (ring: readonly (readonly [number, number])[]): [number, number][] => {
    const out = ring.map(degrees);
    return [...out, out[0]];
  };

  const first = drawnStrips(believe(spec));
  const widthM = first[first.length - 1].rightM - first[0].leftM;
  const features = drafts.map((d): Feature<Polygon | MultiPolygon> => {
    const parts = d.polygons.map((p) => p.map(closed));
    return {
      type: 'Feature',
      properties: properties(spec, d, widthM, turn, random),
      geometry:
        parts.length === 1 ? { type: 'Polygon', coordinates: parts[0] } : { type: 'MultiPolygon', coordinates: parts },
    };
  });
  const [left, right] = plantedReach(spec.truth);
  return {
    features: { type: 'FeatureCollection', features },
    truth: {
      pass: drafts.map((d) => d.pass),
      bar: drafts.map((d) => d.bar),
      section: drafts.map((d) => d.section),
      interval: drafts.map((d) => d.interval),
      passes: recording.passes,
      bars: recording.bars,
      believedWidthM: widthM,
      plantedWidthM: right - left,
      believedStrips: first,
      recordedSeamM: spec.passSpacingM - widthM,
      plantedSeamM: spec.passSpacingM - (right - left),
      travelM: recording.travelM,
      startMs: START_MS,
    },
  };
}

function properties(
  spec: FieldSpec,
  d: Draft,
  workingM: number,
  turn: number,
  random: Random,
): Record<string, string | number> {
  const c = spec.columns ?? {};
  const out: Record<string, string | number> = {};
  if (c.time) {
    const ms = START_MS + Math.round(d.t * 1000);
    const iso = new Date(ms).toISOString();
    const as = c.time.as;
    out[c.time.name] =
      as === 'iso'
        ? iso
        : as === 'local'
          ? iso.slice(0, 19).replace('T', ' ')
          : as === 'epoch-ms'
            ? ms
            : as === 'epoch-s'
              ? ms / 1000
              : round(d.t, 2);
  }
  if (c.section) out[c.section.name] = d.section + (c.section.firstIs ?? 1) - 1;
  if (c.width) out[c.width.name] = round((c.width.of === 'working' ? workingM : d.widthM) / METRES[c.width.unit], 3);
  if (c.heading) out[c.heading.name] = round((((d.headingDeg + (turn * 180) / Math.PI) % 360) + 360) % 360, 1);
  if (c.rate) out[c.rate.name] = Math.round(c.rate.mean + c.rate.sd * random.normal());
  if (c.product)
    out[c.product.name] =
      c.product.values[Math.min(c.product.values.length - 1, Math.floor((d.pass * c.product.values.length) / 40))];
  for (const name of c.filler ?? []) out[name] = round(20 + 5 * random.normal(), 1);
  return out;
}

function round(v: number, digits: number): number {
  return Number(v.toFixed(digits));
}
