/** Lines and signs on the map that the library draws: seams, tracks, the boundary, the reader's background, the selection. */
import type { GeoJSONSource, Map as MapLibre } from 'maplibre-gl';
import type { Evidence } from '../../core/answer.ts';
import type { Lattice, Shapes } from '../../core/geometry/shapes.ts';
import type { Sign } from '../../core/report/index.ts';
import type { Drawing } from './drawing.ts';
import type { Shown } from './layer.ts';
import type { MapColors } from './palette.ts';
import { lngLat } from './place.ts';

export interface Layers extends Shown {
  seams: boolean;
  passes: boolean;
  /** Signs whose pieces carry their letter, by their key. */
  lettered: ReadonlySet<string>;
}

/** Passes, seams (indices into the evidence) and recorded sections to mark. */
export interface Marked {
  passes: ReadonlySet<number>;
  seams: ReadonlySet<number>;
  sections: ReadonlySet<number>;
}

/** A field boundary as it was read. */
export interface Boundary {
  shapes: Shapes;
  lattice: Lattice;
}

export function addLines(map: MapLibre, drawing: Drawing): void {
  map.addSource('seams', { type: 'geojson', tolerance: 0, data: drawing.seams });
  map.addSource('passes', { type: 'geojson', tolerance: 0, data: drawing.passes });
  const width = ['interpolate', ['linear'], ['zoom'], 14, 1.6, 20, 4] as [
    'interpolate',
    ['linear'],
    ['zoom'],
    number,
    number,
    number,
    number,
  ];
  for (const [id, width, dash] of [
    ['background', 2, null],
    ['boundary-case', 6, null],
    ['boundary', 2.4, [4, 1.5, 1, 1.5]],
  ] as const) {
    const source = id === 'background' ? id : 'boundary';
    if (!map.getSource(source)) map.addSource(source, { type: 'geojson', data: NOTHING });
    map.addLayer({
      id,
      type: 'line',
      source,
      paint: { 'line-width': width, ...(dash ? { 'line-dasharray': [...dash] } : {}) },
    });
  }
  map.addLayer({ id: 'seams-fine', type: 'line', source: 'seams', paint: { 'line-width': 1 } });
  map.addLayer({ id: 'seams-gap', type: 'line', source: 'seams', paint: { 'line-width': width } });
  map.addLayer({
    id: 'seams-overlap',
    type: 'line',
    source: 'seams',
    paint: { 'line-width': width, 'line-dasharray': [1.5, 1.5] },
  });
  map.addLayer({ id: 'passes-case', type: 'line', source: 'passes', paint: { 'line-width': 4.5 } });
  map.addLayer({ id: 'passes', type: 'line', source: 'passes', paint: { 'line-width': 1.8 } });
  map.addSource('starts', {
    type: 'geojson',
    data: {
      type: 'FeatureCollection',
      features: drawing.passes.features.slice(0, NUMBERED).map(({ properties, geometry }) => ({
        type: 'Feature' as const,
        properties: { icon: `pass ${properties?.number}` },
        geometry: { type: 'Point' as const, coordinates: geometry.coordinates[0] },
      })),
    },
  });
  map.addLayer({
    id: 'order',
    type: 'symbol',
    source: 'starts',
    layout: { 'icon-image': ['get', 'icon'], visibility: 'none' },
  });
  // Sparse: where pieces lie close together, the largest has the letter, and a closer look shows more of them.
  map.addSource('places', { type: 'geojson', data: drawing.places });
  map.addLayer({
    id: 'letters',
    type: 'symbol',
    source: 'places',
    layout: {
      'icon-image': ['concat', 'sign ', ['get', 'letter']],
      'icon-padding': 36,
      'symbol-sort-key': ['get', 'rank'],
      visibility: 'none',
    },
  });
  // Beside the seam on both sides, so that the seam itself stays visible.
  map.addLayer({
    id: 'seam-chosen',
    type: 'line',
    source: 'seams',
    paint: { 'line-width': 3, 'line-gap-width': 14 },
    filter: ['==', ['get', 'at'], -1],
  });
}

const NOTHING: GeoJSON.FeatureCollection = { type: 'FeatureCollection', features: [] };

export function setLines(map: MapLibre, source: 'background' | 'boundary', lines: GeoJSON.GeoJSON | null): void {
  map.getSource<GeoJSONSource>(source)?.setData(lines ?? NOTHING);
}

/** The rings of the boundary as lines, so that the inside stays visible. */
export function boundaryLines({ shapes, lattice }: Boundary): GeoJSON.MultiLineString {
  const coordinates: [number, number][][] = [];
  for (let r = 0; r + 1 < shapes.ringStart.length; r++) {
    const ring: [number, number][] = [];
    for (let i = shapes.ringStart[r]; i < shapes.ringStart[r + 1]; i++)
      ring.push(lngLat(lattice, shapes.xy[2 * i], shapes.xy[2 * i + 1]));
    if (ring.length > 0) coordinates.push([...ring, ring[0]]);
  }
  return { type: 'MultiLineString', coordinates };
}

/** At most this many passes carry their number on the map. */
const NUMBERED = 400;

/** How the pictures of a map look: for each that is drawn anew the map lays out all its signs again. */
const pictures = new WeakMap<MapLibre, Map<string, string>>();

/** Text as a picture: text on the map would need fonts from a server. `round`: letters of signs, which must not look like numbers of passes. */
function drawText(map: MapLibre, name: string, says: string, colors: MapColors, round: boolean): void {
  const known = pictures.get(map) ?? new Map<string, string>();
  pictures.set(map, known);
  const looks = [says, colors.paper, colors.ink].join(' ');
  if (known.get(name) === looks && map.hasImage(name)) return;
  known.set(name, looks);
  const canvas = document.createElement('canvas');
  const high = round ? 36 : 44;
  [canvas.width, canvas.height] = [2 * (9 * says.length + (round ? 9 : 10)), high];
  const context = canvas.getContext('2d');
  if (!context) return;
  context.fillStyle = colors.paper;
  context.strokeStyle = colors.ink;
  context.lineWidth = 2;
  context.beginPath();
  context.roundRect(1, 1, canvas.width - 2, high - 2, round ? high / 2 : 0);
  context.fill();
  context.stroke();
  context.fillStyle = colors.ink;
  context.font = `600 ${round ? 26 : 28}px sans-serif`;
  context.textAlign = 'center';
  context.textBaseline = 'middle';
  context.fillText(says, canvas.width / 2, high / 2 + 1);
  const image = context.getImageData(0, 0, canvas.width, canvas.height);
  if (map.hasImage(name)) map.updateImage(name, image);
  else map.addImage(name, image, { pixelRatio: 2 });
}

/** Everything on the map that follows the switches, the chosen pass and the color scheme. */
export function restyle(
  map: MapLibre,
  layers: Layers,
  marked: Marked,
  evidence: Evidence | null,
  signs: readonly Sign[],
  colors: MapColors,
): void {
  if (layers.passes)
    for (const { number } of evidence?.passes.slice(0, NUMBERED) ?? [])
      drawText(map, `pass ${number}`, String(number), colors, false);
  for (const { letter } of signs) drawText(map, `sign ${letter}`, letter, colors, true);
  // Two pictures at once would mix their letters.
  const lettered = signs.filter(
    ({ key, picture }) => picture === layers.picture && layers.lettered.has(key) && !layers.hidden.has(key),
  );
  map.setFilter('letters', ['in', ['get', 'key'], ['literal', lettered.map((s) => s.key)]]);
  map.setLayoutProperty('letters', 'visibility', lettered.length > 0 ? 'visible' : 'none');
  map.setLayoutProperty('order', 'visibility', layers.passes ? 'visible' : 'none');
  map.setPaintProperty('paper', 'background-color', colors.paper);
  // With both pictures at once there are no seams to draw: their widths differ.
  const of = layers.picture === 'both' ? 'recorded' : layers.picture;
  const seams = layers.seams && layers.picture !== 'both';
  for (const state of ['gap', 'overlap', 'fine'] as const) map.setFilter(`seams-${state}`, ['==', ['get', of], state]);
  map.setFilter('seam-chosen', ['in', ['get', 'at'], ['literal', [...marked.seams]]]);
  for (const [id, color, on] of [
    ['seams-gap', colors.seamGap, seams],
    ['seams-overlap', colors.seamOverlap, seams],
    ['seams-fine', colors.seamFine, seams],
    ['passes-case', colors.paper, layers.passes],
    ['passes', colors.ink, layers.passes],
    ['background', colors.ink, true],
    ['boundary-case', colors.paper, true],
    ['boundary', colors.ink, true],
    ['seam-chosen', colors.ink, true],
  ] as const) {
    map.setPaintProperty(id, 'line-color', color);
    map.setLayoutProperty(id, 'visibility', on ? 'visible' : 'none');
  }
}

/** Index of the seam near a spot on the screen, within a finger's width, or -1. */
export function seamAt(map: MapLibre, x: number, y: number): number {
  const found = map.queryRenderedFeatures(
    [
      [x - 6, y - 6],
      [x + 6, y + 6],
    ],
    { layers: ['seams-gap', 'seams-overlap', 'seams-fine'] },
  );
  return found.length > 0 ? Number(found[0].properties.at) : -1;
}
