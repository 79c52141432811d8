/** The map library, configured for the sheet. */
import { Map as MapLibre, NavigationControl, ScaleControl, setWorkerUrl } from 'maplibre-gl';
import 'maplibre-gl/dist/maplibre-gl.css';
import workerUrl from 'maplibre-gl/dist/maplibre-gl-worker.mjs?worker&url';
import type { Unit } from '../../core/planter/types.ts';
import { type Bounds, mercator } from './place.ts';

setWorkerUrl(workerUrl);

/** The map library fails beyond this. There, one pixel is under 2 mm of ground. */
const MAX_ZOOM = 25;

/** Sizes in CSS pixels. */
export interface Size {
  width: number;
  height: number;
}

/** Room around a field that is shown as a whole, CSS pixels. */
export interface Room {
  top: number;
  right: number;
  bottom: number;
  left: number;
}

/** Beside the scale bar at the lower left and the zoom buttons at the upper right. */
const AROUND: Room = { top: 20, right: 62, bottom: 34, left: 20 };

/** Room around `bounds` on a map, so that nothing that lies on the map covers the field. The legend has the lower right corner: the field keeps clear of it on the side that costs less. */
export function roomAround(bounds: Bounds, map: Size, legend: Size | null): Room {
  if (!legend || legend.width === 0) return AROUND;
  const beside = { ...AROUND, right: Math.max(AROUND.right, legend.width + 20) };
  const above = { ...AROUND, bottom: Math.max(AROUND.bottom, legend.height + 20) };
  return scaleOf(bounds, map, beside) > scaleOf(bounds, map, above) ? beside : above;
}

/** Map coordinates to CSS pixels, of bounds that fill what the room leaves. */
function scaleOf(bounds: Bounds, { width, height }: Size, room: Room): number {
  const [w, n] = mercator(bounds[0], bounds[3]);
  const [e, s] = mercator(bounds[2], bounds[1]);
  return Math.min((width - room.left - room.right) / (e - w), (height - room.top - room.bottom) / (s - n));
}

/** Where places in degrees stand on a box that shows all of `bounds`, as the map shows them: CSS pixels. */
export function placeOf(bounds: Bounds, map: Size, room: Room): (lng: number, lat: number) => [number, number] {
  const [w, n] = mercator(bounds[0], bounds[3]);
  const [e, s] = mercator(bounds[2], bounds[1]);
  const scale = scaleOf(bounds, map, room);
  const [middleX, middleY] = [(room.left + map.width - room.right) / 2, (room.top + map.height - room.bottom) / 2];
  return (lng, lat) => {
    const [x, y] = mercator(lng, lat);
    return [middleX + (x - (w + e) / 2) * scale, middleY + (y - (n + s) / 2) * scale];
  };
}

/** An empty map of `bounds`. Throws where the browser has no WebGL. */
export function makeMap(
  container: HTMLDivElement,
  { unit, title = 'Map of the field' }: { unit: Unit; title?: string },
  bounds: Bounds | null,
  paper: string,
): MapLibre {
  const made = new MapLibre({
    container,
    style: {
      version: 8,
      sources: {},
      layers: [{ id: 'paper', type: 'background', paint: { 'background-color': paper } }],
    },
    ...(bounds ? { bounds } : {}),
    maxZoom: MAX_ZOOM,
    maxPitch: 0,
    dragRotate: false,
    pitchWithRotate: false,
    attributionControl: false,
    cooperativeGestures: true,
    fadeDuration: 0,
    renderWorldCopies: false,
    // The library would keep the edge of the world out of sight, and push a field at 180 degrees out of it.
    transformConstrain: (center, zoom) => ({ center, zoom: Math.min(MAX_ZOOM, Math.max(0, zoom)) }),
    // Preserved, so that the picture prints. Tiles of the field are already smooth, and smoothing every frame again costs half of its time.
    canvasContextAttributes: { preserveDrawingBuffer: true, antialias: false },
    locale: {
      'Map.Title': `${title}. Arrow keys move it, plus and minus bring it closer.`,
    },
  });
  made.touchZoomRotate.disableRotation();
  made.keyboard.disableRotation();
  made.addControl(new NavigationControl({ showCompass: false }), 'top-right');
  made.addControl(new ScaleControl({ unit: unit === 'in' ? 'imperial' : 'metric', maxWidth: 140 }), 'bottom-left');
  return made;
}
