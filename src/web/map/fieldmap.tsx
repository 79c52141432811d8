import { type GeoJSONSource, Map as MapLibre, NavigationControl, ScaleControl, setWorkerUrl } from 'maplibre-gl';
import 'maplibre-gl/dist/maplibre-gl.css';
import workerUrl from 'maplibre-gl/dist/maplibre-gl-worker.mjs?worker&url';
import { useEffect, useMemo, useRef, useState } from 'preact/hooks';
import type { Answer, Evidence } from '../../core/answer.ts';
import { seamLines } from '../../core/report/index.ts';
import { FieldLayer, type Shown } from './layer.ts';
import { coloursOf, type MapColours } from './palette.ts';
import { makePicker } from './pick.ts';
import { boundsOf, lngLat, steps } from './place.ts';

setWorkerUrl(workerUrl);

/** The map library fails beyond this. There, one pixel is under 2 mm of ground. */
const MAX_ZOOM = 25;
/** Beyond this a seam is drawn as a gap or an overlap, metres. */
const TOLERANCE_M = 0.05;

export interface Layers extends Shown {
  seams: boolean;
  passes: boolean;
}

/** Passes, seams (indices into the evidence) and recorded sections to mark. */
export interface Marked {
  passes: ReadonlySet<number>;
  seams: ReadonlySet<number>;
  sections: ReadonlySet<number>;
}

interface Props {
  answer: Answer;
  layers: Layers;
  /** What is chosen anywhere on the sheet. */
  marked: Marked;
  /** Lines of the reader's own, drawn over the picture. */
  background: GeoJSON.GeoJSON | null;
  /** Record under the pointer, or -1. */
  hover(record: number): void;
  choose(pass: number): void;
  chooseSeam(seam: number): void;
}

export function FieldMap({ answer, layers, marked, background, hover, choose, chooseSeam }: Props) {
  const box = useRef<HTMLDivElement>(null);
  const map = useRef<MapLibre | null>(null);
  const layer = useRef<FieldLayer | null>(null);
  const [failed, setFailed] = useState('');
  const scheme = useScheme();
  const { evidence, planter } = answer;
  const picker = useMemo(() => makePicker(evidence.records), [evidence]);
  const calls = useRef({ hover, choose, chooseSeam });
  calls.current = { hover, choose, chooseSeam };
  const touch = useRef(() => {});
  const latest = useRef({ layers, marked, background });
  latest.current = { layers, marked, background };

  useEffect(() => {
    const container = box.current;
    if (!container) return;
    const colours = coloursOf(container);
    let made: MapLibre;
    try {
      made = makeMap(container, answer, colours);
    } catch {
      setFailed(
        'This browser gives the page no graphics (WebGL 2), so the map cannot be drawn. Everything else on the sheet stands.',
      );
      return;
    }
    map.current = made;
    const onMap = new FieldLayer(evidence, latest.current.layers, colours);
    layer.current = onMap;
    made.on('load', () => {
      made.addLayer(onMap);
      addLines(made, answer);
      restyle(made, onMap, latest.current.layers, latest.current.marked, answer, coloursOf(container));
      drawBackground(made, latest.current.background);
      onMap.mark(keepOf(latest.current.marked, evidence));
      container.dataset.ready = 'yes';
    });
    // Until the reader moves the map, it shows the whole field, whatever its size becomes.
    let touched = false;
    touch.current = () => {
      touched = true;
    };
    made.on('movestart', (e) => {
      if (e.originalEvent) touched = true;
    });
    made.on('resize', () => {
      const b = boundsOf(evidence.records.xy, evidence.lattice);
      if (!touched && b) made.fitBounds(b, { padding: 24, animate: false });
    });
    const pickAt = (lng: number, lat: number): number => picker.at(...steps(evidence.lattice, lng, lat));
    made.on('mousemove', (e) => calls.current.hover(pickAt(e.lngLat.lng, e.lngLat.lat)));
    made.on('mouseout', () => calls.current.hover(-1));
    made.on('click', (e) => {
      const seam = latest.current.layers.seams ? seamAt(made, e.point.x, e.point.y) : -1;
      if (seam >= 0) return calls.current.chooseSeam(seam);
      const record = pickAt(e.lngLat.lng, e.lngLat.lat);
      calls.current.hover(record);
      if (record >= 0) calls.current.choose(evidence.recordPass[record]);
    });
    // With the keyboard, the record in the middle of the map is told.
    made.on('moveend', () => {
      if (document.activeElement !== made.getCanvas() || !made.getCanvas().matches(':focus-visible')) return;
      const c = made.getCenter();
      calls.current.hover(pickAt(c.lng, c.lat));
    });
    return () => {
      map.current = null;
      layer.current = null;
      made.remove();
    };
  }, [evidence]);

  useEffect(() => {
    const [m, l, container] = [map.current, layer.current, box.current];
    if (m && l && container && m.getLayer('field')) restyle(m, l, layers, marked, answer, coloursOf(container));
  }, [layers, marked, scheme]);

  useEffect(() => {
    layer.current?.mark(keepOf(marked, evidence));
  }, [marked, evidence]);

  useEffect(() => {
    if (map.current?.getLayer('background')) drawBackground(map.current, background);
  }, [background]);

  const fit = (): void => {
    const b = boundsOf(evidence.records.xy, evidence.lattice);
    if (b) map.current?.fitBounds(b, { padding: 24, animate: false });
  };
  const one = marked.passes.size > 0 && marked.passes.size <= 2 ? Math.min(...marked.passes) : 0;
  const closer = (): void => {
    // Without a choice: where two passes lie side by side, for there the seam is seen.
    const number = one || evidence.seams[Math.floor(evidence.seams.length / 2)]?.passA;
    const chosen = evidence.passes.find((p) => p.number === number) ?? evidence.passes[0];
    if (!chosen) return;
    const middle = 2 * Math.floor(chosen.track.length / 4);
    touch.current();
    map.current?.jumpTo({
      center: lngLat(evidence.lattice, chosen.track[middle], chosen.track[middle + 1]),
      zoom: 20.5,
    });
  };

  if (failed) return <p class="problem">{failed}</p>;
  return (
    <div class="fieldmap">
      <div class="mapbox" ref={box} data-unit={planter.unit} />
      <div class="mapactions noprint">
        <button type="button" class="plain" onClick={fit}>
          Whole field
        </button>
        <button type="button" class="plain" onClick={closer} disabled={evidence.passes.length === 0}>
          {one > 0 ? `Close look at pass ${one}` : 'Close look'}
        </button>
      </div>
    </div>
  );
}

function makeMap(container: HTMLDivElement, answer: Answer, colours: MapColours): MapLibre {
  const { evidence, planter } = answer;
  const bounds = boundsOf(evidence.records.xy, evidence.lattice);
  const made = new MapLibre({
    container,
    style: {
      version: 8,
      sources: {},
      layers: [{ id: 'paper', type: 'background', paint: { 'background-color': colours.paper } }],
    },
    ...(bounds ? { bounds, fitBoundsOptions: { padding: 24 } } : {}),
    maxZoom: MAX_ZOOM,
    maxPitch: 0,
    dragRotate: false,
    pitchWithRotate: false,
    attributionControl: false,
    cooperativeGestures: true,
    fadeDuration: 0,
    renderWorldCopies: false,
    // Kept, so that the picture prints; smoothed, so that a row gap narrower than a pixel still shows as a fainter line.
    canvasContextAttributes: { preserveDrawingBuffer: true, antialias: true },
    locale: {
      'Map.Title': 'Map of the field. Arrow keys move it, plus and minus bring it closer.',
    },
  });
  made.touchZoomRotate.disableRotation();
  made.keyboard.disableRotation();
  made.addControl(new NavigationControl({ showCompass: false }), 'top-right');
  made.addControl(
    new ScaleControl({ unit: planter.unit === 'in' ? 'imperial' : 'metric', maxWidth: 140 }),
    'bottom-left',
  );
  return made;
}

function addLines(map: MapLibre, { evidence }: Answer): void {
  const toLine = (xy: ArrayLike<number>): [number, number][] => {
    const out: [number, number][] = [];
    for (let i = 0; i < xy.length; i += 2) out.push(lngLat(evidence.lattice, xy[i], xy[i + 1]));
    return out;
  };
  const seams = seamLines(evidence);
  map.addSource('seams', {
    type: 'geojson',
    tolerance: 0,
    data: {
      type: 'FeatureCollection',
      features: evidence.seams.flatMap((s, i) =>
        seams[i].length === 0
          ? []
          : [
              {
                type: 'Feature' as const,
                properties: {
                  at: i,
                  planted: Number.isFinite(s.plantedM) ? s.plantedM : 0,
                  recorded: Number.isFinite(s.recordedM) ? s.recordedM : 0,
                },
                geometry: { type: 'MultiLineString' as const, coordinates: seams[i].map(toLine) },
              },
            ],
      ),
    },
  });
  map.addSource('passes', {
    type: 'geojson',
    tolerance: 0,
    data: {
      type: 'FeatureCollection',
      features: evidence.passes
        .filter((p) => p.track.length >= 4)
        .map((p) => ({
          type: 'Feature' as const,
          properties: { number: p.number },
          geometry: { type: 'LineString' as const, coordinates: toLine(p.track) },
        })),
    },
  });
  const width = ['interpolate', ['linear'], ['zoom'], 14, 1.6, 20, 4] as [
    'interpolate',
    ['linear'],
    ['zoom'],
    number,
    number,
    number,
    number,
  ];
  // The library cuts the tiles of the lowest line source into the stencil before the field is drawn, and the field then clears it:
  // lines of that source would be clipped away. So the lowest source is one that has nothing to show.
  const box = boundsOf(evidence.records.xy, evidence.lattice) ?? [0, 0, 1, 1];
  map.addSource('lowest', {
    type: 'geojson',
    data: { type: 'LineString', coordinates: [box.slice(0, 2), box.slice(2)] },
  });
  map.addLayer({ id: 'lowest', type: 'line', source: 'lowest', paint: { 'line-opacity': 0 } });
  map.addSource('background', { type: 'geojson', data: NOTHING });
  map.addLayer({ id: 'background', type: 'line', source: 'background', paint: { 'line-width': 2 } });
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
      features: evidence.passes
        .slice(0, NUMBERED)
        .filter((p) => p.track.length >= 2)
        .map((p) => ({
          type: 'Feature' as const,
          properties: { icon: `pass ${p.number}` },
          geometry: { type: 'Point' as const, coordinates: lngLat(evidence.lattice, p.track[0], p.track[1]) },
        })),
    },
  });
  map.addLayer({
    id: 'order',
    type: 'symbol',
    source: 'starts',
    layout: { 'icon-image': ['get', 'icon'], visibility: 'none' },
  });
  map.addLayer({
    id: 'seam-chosen',
    type: 'line',
    source: 'seams',
    paint: { 'line-width': 7 },
    filter: ['==', ['get', 'at'], -1],
  });
  map.addLayer({
    id: 'chosen',
    type: 'line',
    source: 'passes',
    paint: { 'line-width': 5 },
    filter: ['==', ['get', 'number'], -1],
  });
}

const NOTHING: GeoJSON.FeatureCollection = { type: 'FeatureCollection', features: [] };

function drawBackground(map: MapLibre, background: GeoJSON.GeoJSON | null): void {
  map.getSource<GeoJSONSource>('background')?.setData(background ?? NOTHING);
}

/** At most so many passes carry their number on the map. */
const NUMBERED = 400;

/** Numbers of the passes as pictures: text on the map would need fonts from a server. */
function drawNumbers(map: MapLibre, { evidence }: Answer, colours: MapColours): void {
  for (const { number } of evidence.passes.slice(0, NUMBERED)) {
    const says = String(number);
    const canvas = document.createElement('canvas');
    [canvas.width, canvas.height] = [2 * (9 * says.length + 10), 44];
    const context = canvas.getContext('2d');
    if (!context) return;
    context.fillStyle = colours.paper;
    context.fillRect(0, 0, canvas.width, canvas.height);
    context.strokeStyle = context.fillStyle = colours.ink;
    context.strokeRect(1, 1, canvas.width - 2, canvas.height - 2);
    context.font = '600 28px sans-serif';
    context.textAlign = 'center';
    context.textBaseline = 'middle';
    context.fillText(says, canvas.width / 2, canvas.height / 2 + 1);
    const image = context.getImageData(0, 0, canvas.width, canvas.height);
    if (map.hasImage(`pass ${number}`)) map.updateImage(`pass ${number}`, image);
    else map.addImage(`pass ${number}`, image, { pixelRatio: 2 });
  }
}

/** Everything on the map that follows the switches, the chosen pass and the colour scheme. */
function restyle(
  map: MapLibre,
  layer: FieldLayer,
  layers: Layers,
  marked: Marked,
  answer: Answer,
  colours: MapColours,
): void {
  layer.show(layers, colours);
  if (layers.passes) drawNumbers(map, answer, colours);
  map.setLayoutProperty('order', 'visibility', layers.passes ? 'visible' : 'none');
  map.setPaintProperty('paper', 'background-color', colours.paper);
  const of = layers.picture;
  map.setFilter('seams-gap', ['>', ['get', of], TOLERANCE_M]);
  map.setFilter('seams-overlap', ['<', ['get', of], -TOLERANCE_M]);
  map.setFilter('seams-fine', ['all', ['<=', ['get', of], TOLERANCE_M], ['>=', ['get', of], -TOLERANCE_M]]);
  // What marks everything points at nothing.
  const passes = marked.passes.size < answer.evidence.passes.length ? [...marked.passes] : [];
  map.setFilter('chosen', ['in', ['get', 'number'], ['literal', passes]]);
  map.setFilter('seam-chosen', ['in', ['get', 'at'], ['literal', [...marked.seams]]]);
  for (const [id, colour, on] of [
    ['seams-gap', colours.seamGap, layers.seams],
    ['seams-overlap', colours.seamOverlap, layers.seams],
    ['seams-fine', colours.seamFine, layers.seams],
    ['passes-case', colours.paper, layers.passes],
    ['passes', colours.ink, layers.passes],
    ['background', colours.ink, true],
    ['seam-chosen', colours.chosen, true],
    ['chosen', colours.chosen, true],
  ] as const) {
    map.setPaintProperty(id, 'line-color', colour);
    map.setLayoutProperty(id, 'visibility', on ? 'visible' : 'none');
  }
}

/** The records that a choice marks; null where it marks none, or every one. */
function keepOf({ passes, sections }: Marked, evidence: Evidence): ((record: number) => boolean) | null {
  if (sections.size > 0) return (r) => sections.has(evidence.recordSection[r]);
  if (passes.size === 0 || passes.size >= evidence.passes.length) return null;
  return (r) => passes.has(evidence.recordPass[r]);
}

/** Index of the seam within a finger's reach of a spot on the screen, or -1. */
function seamAt(map: MapLibre, x: number, y: number): number {
  const found = map.queryRenderedFeatures(
    [
      [x - 6, y - 6],
      [x + 6, y + 6],
    ],
    { layers: ['seams-gap', 'seams-overlap', 'seams-fine'] },
  );
  return found.length > 0 ? Number(found[0].properties.at) : -1;
}

/** Light or dark, as the reader's system has it. */
function useScheme(): boolean {
  const query = useMemo(() => matchMedia('(prefers-color-scheme: dark)'), []);
  const [dark, setDark] = useState(query.matches);
  useEffect(() => {
    const follow = (): void => setDark(query.matches);
    query.addEventListener('change', follow);
    return () => query.removeEventListener('change', follow);
  }, [query]);
  return dark;
}
