import { type CameraOptions, Map as MapLibre, NavigationControl, ScaleControl, setWorkerUrl } from 'maplibre-gl';
import 'maplibre-gl/dist/maplibre-gl.css';
import workerUrl from 'maplibre-gl/dist/maplibre-gl-worker.mjs?worker&url';
import { useEffect, useMemo, useRef, useState } from 'preact/hooks';
import type { Answer, Evidence } from '../../core/answer.ts';
import type { Unit } from '../../core/planter/types.ts';
import type { Drawing, Drawn } from './drawing.ts';
import { breath, FieldLayer } from './layer.ts';
import {
  addLines,
  type Boundary,
  boundaryLines,
  type Layers,
  type Marked,
  restyle,
  seamAt,
  setLines,
} from './lines.ts';
import { coloursOf, type MapColours } from './palette.ts';
import { makePicker, type Picker } from './pick.ts';
import { type Bounds, boundsOf, lngLat, steps } from './place.ts';

setWorkerUrl(workerUrl);

/** The map library fails beyond this. There, one pixel is under 2 mm of ground. */
const MAX_ZOOM = 25;
interface Props {
  answer: Answer;
  layers: Layers;
  /** What is chosen anywhere on the sheet. */
  marked: Marked;
  /** Lines of the reader's own, drawn over the picture. */
  background: GeoJSON.GeoJSON | null;
  /** The field boundary that the check was given. */
  boundary: Boundary | null;
  /** Record under the pointer, or -1. */
  hover(record: number): void;
  choose(pass: number): void;
  chooseSeam(seam: number): void;
}

/** The map with everything on it, once it is there. */
interface Live {
  map: MapLibre;
  layer: FieldLayer;
  drawing: Drawing;
}

export function FieldMap({ answer, layers, marked, background, boundary, hover, choose, chooseSeam }: Props) {
  const box = useRef<HTMLDivElement>(null);
  const live = useRef<Live | null>(null);
  const [failed, setFailed] = useState('');
  const [ready, setReady] = useState(false);
  const [lost, setLost] = useState(false);
  /** How often the browser took the graphics away and gave them back: each time the map is made anew. */
  const [remade, setRemade] = useState(0);
  const view = useRef<Pick<CameraOptions, 'center' | 'zoom'> | null>(null);
  const scheme = useScheme();
  const { evidence, planter } = answer;
  const bounds = useMemo(() => boundsOf(evidence.records.xy, evidence.lattice), [evidence]);
  const calls = useRef({ hover, choose, chooseSeam });
  calls.current = { hover, choose, chooseSeam };
  const touched = useRef(false);
  const latest = useRef({ layers, marked, background });
  latest.current = { layers, marked, background };

  useEffect(() => {
    view.current = null;
    touched.current = false;
  }, [evidence]);

  useEffect(() => {
    const container = box.current;
    if (!container) return;
    let made: MapLibre | null = null;
    let drawer: ReturnType<typeof makeDrawing> | null = null;
    let gone = false;
    setReady(false);
    setLost(false);
    // The sheet may have put another map in this one's place before it says so.
    const off = (): boolean => gone || !container.isConnected;
    // In pieces: together they would keep the page from listening.
    const start = async (): Promise<void> => {
      // The browser may still be painting the sheet, and a graphics context would wait for that with the page standing still.
      for (let i = 0; i < 3; i++) await nextFrame();
      if (off()) return;
      drawer = makeDrawing(evidence);
      await breath();
      if (off()) return;
      const colours = coloursOf(container);
      try {
        made = makeMap(container, planter.unit, bounds, colours);
      } catch {
        setFailed(
          'This browser gives the page no graphics (WebGL 2), so the map cannot be drawn. Everything else on the sheet stands.',
        );
        return;
      }
      const map = made;
      if (view.current) map.jumpTo(view.current);
      listen(map);
      const loaded = new Promise((done) => map.on('load', done));
      const [drawing] = await Promise.all([drawer.drawing, loaded]);
      if (off()) return;
      const layer = new FieldLayer(drawing, evidence.records, latest.current.layers, colours, () => {
        container.dataset.ready = 'yes';
        setReady(true);
      });
      map.addLayer(layer);
      await breath();
      if (off()) return;
      addLines(map, drawing, bounds);
      const { layers, marked, background } = latest.current;
      live.current = { map, layer, drawing };
      const now = coloursOf(container);
      layer.show(layers, now);
      restyle(map, layers, marked, evidence, now);
      setLines(map, 'background', background);
      setLines(map, 'boundary', boundary && boundaryLines(boundary));
      layer.mark(keepOf(marked, evidence));
    };
    const listen = (map: MapLibre): void => {
      // The map library brings back what it drew itself, and nothing of the field.
      map.on('webglcontextlost', () => {
        view.current = touched.current ? { center: map.getCenter(), zoom: map.getZoom() } : null;
        setLost(true);
      });
      map.on('webglcontextrestored', () => setRemade((n) => n + 1));
      // Until the reader moves the map, it shows the whole field, whatever its size becomes.
      map.on('movestart', (e) => {
        if (e.originalEvent) touched.current = true;
      });
      map.on('resize', () => {
        if (!touched.current && bounds) map.fitBounds(bounds, { padding: 24, animate: false });
      });
      let picker: Picker | null = null;
      const pickAt = (lng: number, lat: number): number => {
        picker ??= makePicker(evidence.records);
        return picker.at(...steps(evidence.lattice, lng, lat));
      };
      map.on('mousemove', (e) => calls.current.hover(pickAt(e.lngLat.lng, e.lngLat.lat)));
      map.on('mouseout', () => calls.current.hover(-1));
      map.on('click', (e) => {
        const seam = live.current && latest.current.layers.seams ? seamAt(map, e.point.x, e.point.y) : -1;
        if (seam >= 0) return calls.current.chooseSeam(seam);
        const record = pickAt(e.lngLat.lng, e.lngLat.lat);
        calls.current.hover(record);
        if (record >= 0) calls.current.choose(evidence.recordPass[record]);
      });
      // With the keyboard, the record in the middle of the map is told.
      map.on('moveend', () => {
        if (document.activeElement !== map.getCanvas() || !map.getCanvas().matches(':focus-visible')) return;
        const c = map.getCenter();
        calls.current.hover(pickAt(c.lng, c.lat));
      });
    };
    start().catch((error) => {
      if (!gone) setFailed(`The map could not be drawn: ${String(error)}. Everything else on the sheet stands.`);
    });
    return () => {
      live.current = null;
      gone = true;
      drawer?.stop();
      made?.remove();
      delete container.dataset.ready;
    };
  }, [evidence, remade]);

  useEffect(() => {
    if (!live.current || !box.current) return;
    const { map, layer } = live.current;
    const colours = coloursOf(box.current);
    layer.show(layers, colours);
    restyle(map, layers, marked, evidence, colours);
  }, [layers, marked, scheme]);

  useEffect(() => {
    live.current?.layer.mark(keepOf(marked, evidence));
  }, [marked, evidence]);

  useEffect(() => {
    if (live.current) setLines(live.current.map, 'background', background);
  }, [background]);

  const fit = (): void => {
    if (bounds) live.current?.map.fitBounds(bounds, { padding: 24, animate: false });
  };
  const onePass = marked.passes.size === 1 ? [...marked.passes][0] : 0;
  const oneSeam = marked.seams.size === 1 ? [...marked.seams][0] : -1;
  const closer = (): void => {
    if (!live.current) return;
    const { map, drawing } = live.current;
    const center = spotOf(drawing, evidence, oneSeam, onePass);
    if (!center) return;
    touched.current = true;
    map.jumpTo({ center, zoom: 20.5 });
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
          {oneSeam >= 0 ? 'Close look at the seam' : onePass > 0 ? `Close look at pass ${onePass}` : 'Close look'}
        </button>
        <span role="status" class="quiet">
          {lost
            ? 'The browser has taken the graphics away; the map comes back with them. Everything else on the sheet stands.'
            : ready
              ? ''
              : 'The map is being drawn.'}
        </span>
      </div>
    </div>
  );
}

function nextFrame(): Promise<number> {
  return new Promise((done) => requestAnimationFrame(done));
}

/** Has the drawing made beside the page's own thread. */
function makeDrawing(evidence: Evidence): { drawing: Promise<Drawing>; stop(): void } {
  const worker = new Worker(new URL('./drawer.ts', import.meta.url), { type: 'module' });
  const drawing = new Promise<Drawing>((resolve, reject) => {
    worker.addEventListener('message', (event: MessageEvent<Drawing>) => {
      worker.terminate();
      resolve(event.data);
    });
    worker.addEventListener('error', (event) => {
      event.preventDefault();
      reject(event.message || 'the part of the page that draws did not start');
    });
    worker.addEventListener('messageerror', () => reject('the browser ran out of memory'));
  });
  const { lattice, records, recordPass, recordSection, planted, plantedLattice, overlap, gaps, passes, seams } =
    evidence;
  const drawn: Drawn = {
    lattice,
    records,
    recordPass,
    recordSection,
    planted,
    plantedLattice,
    overlap,
    gaps,
    passes,
    seams,
    stepsPerMetre: evidence.stepsPerMetre,
  };
  worker.postMessage(drawn);
  return { drawing, stop: () => worker.terminate() };
}

/** The middle of the chosen seam or pass; without a choice where two passes lie side by side, for there a seam is seen. */
function spotOf(drawing: Drawing, evidence: Evidence, seam: number, pass: number): [number, number] | null {
  const line = drawing.seams.features.find((f) => f.properties?.at === seam)?.geometry.coordinates[0];
  if (line) return line[line.length >> 1] as [number, number];
  const number = pass || evidence.seams[evidence.seams.length >> 1]?.passA;
  const chosen = evidence.passes.find((p) => p.number === number) ?? evidence.passes[0];
  if (!chosen) return null;
  const middle = 2 * Math.floor(chosen.track.length / 4);
  return lngLat(evidence.lattice, chosen.track[middle], chosen.track[middle + 1]);
}

function makeMap(container: HTMLDivElement, unit: Unit, bounds: Bounds | null, colours: MapColours): MapLibre {
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
  made.addControl(new ScaleControl({ unit: unit === 'in' ? 'imperial' : 'metric', maxWidth: 140 }), 'bottom-left');
  return made;
}

/** The records that a choice marks; null where it marks none, or every one. */
function keepOf({ passes, sections }: Marked, evidence: Evidence): ((record: number) => boolean) | null {
  if (sections.size > 0) return (r) => sections.has(evidence.recordSection[r]);
  if (passes.size === 0 || passes.size >= evidence.passes.length) return null;
  return (r) => passes.has(evidence.recordPass[r]);
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
