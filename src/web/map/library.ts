/** The map library, configured for the sheet. */
import { Map as MapLibre, NavigationControl, ScaleControl, setWorkerUrl } from 'maplibre-gl';
import 'maplibre-gl/dist/maplibre-gl.css';
import workerUrl from 'maplibre-gl/dist/maplibre-gl-worker.mjs?worker&url';
import type { Unit } from '../../core/planter/types.ts';
import { type Bounds, mercator } from './place.ts';

setWorkerUrl(workerUrl);

/** The map library fails beyond this. There, one pixel is under 2 mm of ground. */
const MAX_ZOOM = 25;

/** Room around a field that is shown as a whole, CSS pixels. */
export const AROUND = 24;

/** Where places in degrees stand on a box of `width` by `height` points that shows all of `bounds`, as the map shows them. `ratio`: points to a CSS pixel. */
export function placeOf(
  bounds: Bounds,
  width: number,
  height: number,
  ratio: number,
): (lng: number, lat: number) => [number, number] {
  const [w, n] = mercator(bounds[0], bounds[3]);
  const [e, s] = mercator(bounds[2], bounds[1]);
  const room = 2 * AROUND * ratio;
  const scale = Math.min((width - room) / (e - w), (height - room) / (s - n));
  return (lng, lat) => {
    const [x, y] = mercator(lng, lat);
    return [width / 2 + (x - (w + e) / 2) * scale, height / 2 + (y - (n + s) / 2) * scale];
  };
}

/** An empty map of `bounds`. Throws where the browser has no WebGL. */
export function makeMap(container: HTMLDivElement, unit: Unit, bounds: Bounds | null, paper: string): MapLibre {
  const made = new MapLibre({
    container,
    style: {
      version: 8,
      sources: {},
      layers: [{ id: 'paper', type: 'background', paint: { 'background-color': paper } }],
    },
    ...(bounds ? { bounds, fitBoundsOptions: { padding: AROUND } } : {}),
    maxZoom: MAX_ZOOM,
    maxPitch: 0,
    dragRotate: false,
    pitchWithRotate: false,
    attributionControl: false,
    cooperativeGestures: true,
    fadeDuration: 0,
    renderWorldCopies: false,
    // Preserved, so that the picture prints. Tiles of the field are already smooth, and smoothing every frame again costs half of its time.
    canvasContextAttributes: { preserveDrawingBuffer: true, antialias: false },
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
