/** The field on a map: created once for a map's records, then updated with what to show. Independent of the sheet around it. */
import type { CameraOptions, Map as MapLibre } from 'maplibre-gl';
import type { Answer, Evidence } from '../../core/answer.ts';
import type { Unit } from '../../core/planter/types.ts';
import type { Sign } from '../../core/report/index.ts';
import { seamStates } from '../../core/report/index.ts';
import type { Drawing, Drawn, Found, Records, Redrawn } from './drawing.ts';
import { breath, FieldLayer, type Marking } from './layer.ts';
import { makeMap, type Room, roomAround, type Size } from './library.ts';
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
import { colorsOf } from './palette.ts';
import { PaperScale } from './paperscale.ts';
import { makePicker, type Picker } from './pick.ts';
import { type Bounds, boundsOf, lngLat, perMeter, steps } from './place.ts';

/** The content: the records of a map alone, or with the results of a check. */
export interface Field extends Records {
  answer: Answer | null;
  signs: readonly Sign[];
  boundary: Boundary | null;
  unit: Unit;
  /** Of a rebuilt map. */
  changes?: Redrawn;
  /** What the map shows, for those who cannot see it; "Map of the field" if left out. */
  title?: string;
}

/** The parts of it that are shown. */
export interface Look {
  layers: Layers;
  /** The selection of the sheet. */
  marked: Marked;
  /** Lines that the reader added, drawn over the picture. */
  background: GeoJSON.GeoJSON | null;
}

/** A record, and the pointer's place on the map, CSS pixels from the map's corner. */
export interface Spot {
  record: number;
  x: number;
  y: number;
}

/** Events of the map. */
export interface Calls {
  /** The record under the pointer; null over none. */
  hover(spot: Spot | null): void;
  choose(pass: number): void;
  chooseSeam(seam: number): void;
  /** Whether everything in view is drawn. */
  drawn(all: boolean): void;
  /** Ground under one CSS pixel, meters. */
  scaled(metersPerPixel: number): void;
  /** Where the middle of the field is when all of it is shown, 0 to 1 from the left of the map. */
  centered(middle: number): void;
  /** Size of the legend that lies on the map; null where there is none. */
  legend(): Size | null;
  /** The browser dropped the graphics context, or restored it: then everything must be recreated. */
  lost(): void;
  restored(): void;
}

export type Camera = Pick<CameraOptions, 'center' | 'zoom'>;

/** Thrown where the browser has no WebGL. */
export class NoGraphics extends Error {}

export class FieldView {
  private map: MapLibre | null = null;
  private layer: FieldLayer | null = null;
  private drawing: Drawing | null = null;
  private stopDrawer = (): void => {};
  private picker: Picker | null = null;
  private readonly bounds: Bounds | null;
  /** The reader has moved the map; until then it shows the whole field, whatever its size becomes. */
  private touched: boolean;
  private gone = false;

  constructor(
    private readonly container: HTMLDivElement,
    private readonly field: Field,
    private look: Look,
    private readonly calls: Calls,
    private readonly camera: Camera | null,
  ) {
    this.bounds = boundsOf(field.records.xy, field.lattice);
    this.touched = camera !== null;
  }

  /** In pieces, because together they would block the page. Throws `NoGraphics`, or the error of the drawing. */
  async start(): Promise<void> {
    // The browser may still be painting the sheet, and creating a graphics context would block the page until then.
    for (let i = 0; i < 3; i++) await new Promise((done) => requestAnimationFrame(done));
    if (this.isOff()) return;
    const drawer = drawBeside(drawnOf(this.field));
    this.stopDrawer = drawer.stop;
    await breath();
    if (this.isOff()) return;
    const map = this.makeMap();
    const loaded = new Promise((done) => map.on('load', done));
    const [drawing] = await Promise.all([drawer.drawing, loaded]);
    if (this.isOff()) return;
    const { field } = this;
    const latitude = this.bounds ? (this.bounds[1] + this.bounds[3]) / 2 : 0;
    const passM = field.answer ? passWidthM(field.answer) : Infinity;
    const layer = new FieldLayer(
      drawing,
      field.records,
      field.signs,
      passM * perMeter(latitude),
      perMeter(latitude),
      this.look.layers,
      colorsOf(this.container),
      this.calls.drawn,
    );
    map.addLayer(layer);
    await breath();
    if (this.isOff()) return;
    addLines(map, drawing);
    this.drawing = drawing;
    this.layer = layer;
    setLines(map, 'boundary', field.boundary && boundaryLines(field.boundary));
    this.show(this.look);
  }

  show(look: Look): void {
    const old = this.look;
    this.look = look;
    const { map, layer, field } = this;
    if (!map || !layer) return;
    // The legend of another picture has another size, and the field keeps clear of it.
    if (old.layers.picture !== look.layers.picture && !this.touched) this.fit();
    const colors = colorsOf(this.container);
    layer.show(look.layers, colors);
    restyle(map, look.layers, look.marked, field.answer?.evidence ?? null, field.signs, colors);
    setLines(map, 'background', look.background);
    if (old.marked !== look.marked || old === look) layer.mark(field.answer && markingOf(look.marked, field.answer));
  }

  fit(): void {
    const padding = this.room();
    if (padding) {
      const across = this.container.clientWidth;
      this.calls.centered((padding.left + across - padding.right) / 2 / Math.max(1, across));
    }
    if (!this.map || !this.bounds || !padding) return;
    // Kept by the map: a closer look then goes to the middle of the field, not of the box.
    this.map.setPadding(padding);
    this.map.fitBounds(this.bounds, { animate: false });
  }

  private room(): Room | null {
    const { clientWidth: width, clientHeight: height } = this.container;
    return this.bounds && roomAround(this.bounds, { width, height }, this.calls.legend());
  }

  /** Zooms in on the chosen seam or pass; without a choice, on a place where two passes lie side by side. */
  closer(seam: number, pass: number): void {
    const { evidence } = this.field.answer ?? {};
    if (!this.map || !this.drawing || !evidence) return;
    const center = spotOf(this.drawing, evidence, seam, pass);
    if (!center) return;
    this.touched = true;
    this.map.jumpTo({ center, zoom: 20.5 });
  }

  /** The view that the reader has moved the map to; null where it shows the whole field. */
  moved(): Camera | null {
    return this.map && this.touched ? { center: this.map.getCenter(), zoom: this.map.getZoom() } : null;
  }

  stop(): void {
    this.gone = true;
    this.stopDrawer();
    this.map?.remove();
    this.map = null;
  }

  /** The sheet may already have replaced this map before it says so. */
  private isOff(): boolean {
    return this.gone || !this.container.isConnected;
  }

  private makeMap(): MapLibre {
    let map: MapLibre;
    try {
      map = makeMap(this.container, this.field, this.bounds, colorsOf(this.container).paper);
    } catch {
      throw new NoGraphics();
    }
    this.map = map;
    this.fit();
    if (this.camera) map.jumpTo(this.camera);
    // The map library restores only what it drew itself, nothing of the field.
    map.on('webglcontextlost', () => this.calls.lost());
    map.on('webglcontextrestored', () => this.calls.restored());
    map.on('movestart', (e) => {
      if (e.originalEvent) this.touched = true;
    });
    map.on('resize', () => {
      if (!this.touched) this.fit();
    });
    const paperScale = new PaperScale(map.getCanvasContainer(), this.field.unit);
    const scaled = (): void => {
      const metersPerPixel =
        (40_075_016.686 * Math.cos((map.getCenter().lat * Math.PI) / 180)) / (512 * 2 ** map.getZoom());
      paperScale.show(metersPerPixel * map.getCanvasContainer().clientWidth);
      this.calls.scaled(metersPerPixel);
    };
    map.on('zoom', scaled);
    map.on('resize', scaled);
    scaled();
    this.listen(map);
    return map;
  }

  private listen(map: MapLibre): void {
    const { calls, field } = this;
    const at = ({
      lngLat: c,
      point,
    }: {
      lngLat: { lng: number; lat: number };
      point: { x: number; y: number };
    }): Spot | null => {
      this.picker ??= makePicker(field.records);
      const record = this.picker.at(...steps(field.lattice, c.lng, c.lat));
      return record < 0 ? null : { record, x: point.x, y: point.y };
    };
    map.on('mousemove', (e) => calls.hover(at(e)));
    map.on('mouseout', () => calls.hover(null));
    map.on('movestart', () => calls.hover(null));
    map.on('click', (e) => {
      const { layers } = this.look;
      const seam = this.layer && layers.seams && layers.picture !== 'both' ? seamAt(map, e.point.x, e.point.y) : -1;
      if (seam >= 0) return calls.chooseSeam(seam);
      const spot = at(e);
      calls.hover(spot);
      const pass = spot ? (field.answer?.evidence.recordPass[spot.record] ?? 0) : 0;
      if (pass > 0) calls.choose(pass);
    });
    // With the keyboard, the record in the middle of what nothing covers is read.
    map.on('moveend', () => {
      if (document.activeElement !== map.getCanvas() || !map.getCanvas().matches(':focus-visible')) return;
      const center = map.getCenter();
      calls.hover(at({ lngLat: center, point: map.project(center) }));
    });
  }
}

function passWidthM({ report }: Answer): number {
  return report.recorded.workingWidthM ?? report.declared.workingWidthM;
}

/** The records that a choice marks; null where it marks none, or every one. */
function markingOf({ passes, sections }: Marked, answer: Answer): Marking | null {
  const { evidence, report } = answer;
  if (sections.size > 0) {
    const widths = report.recorded.sections.filter((_, i) => sections.has(i)).map((s) => s.rightM - s.leftM);
    return { keep: (r) => sections.has(evidence.recordSection[r]), widthM: Math.min(...widths, passWidthM(answer)) };
  }
  if (passes.size === 0 || passes.size >= evidence.passes.length) return null;
  return { keep: (r) => passes.has(evidence.recordPass[r]), widthM: passWidthM(answer) };
}

/** Has the drawing prepared in another thread. */
function drawBeside(drawn: Drawn): { drawing: Promise<Drawing>; stop(): void } {
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
  worker.postMessage(drawn);
  return { drawing, stop: () => worker.terminate() };
}

function drawnOf({ lattice, records, answer, signs, changes = undefined }: Field): Drawn {
  if (!answer) return { lattice, records, found: null, changes: changes ?? null };
  const { recordPass, recordSection, planted, plantedLattice, plantedPass, account, passes, seams, stepsPerMeter } =
    answer.evidence;
  const found: Found = {
    recordPass,
    recordSection,
    planted,
    plantedLattice,
    plantedPass,
    account,
    passes,
    seams,
    stepsPerMeter,
    signs: signs.map(({ key, letter, lines, fact, weight, picture }) => ({
      key,
      letter,
      lines,
      fact,
      weight,
      picture,
    })),
    seamStates: { recorded: seamStates(answer, 'recorded'), planted: seamStates(answer, 'planted') },
    workingWidthM: passWidthM(answer),
  };
  return { lattice, records, found, changes: null };
}

/** The middle of the chosen seam or pass; without a choice, a place where two passes lie side by side and a seam shows. */
function spotOf(drawing: Drawing, evidence: Evidence, seam: number, pass: number): [number, number] | null {
  const line = drawing.seams.features.find((f) => f.properties?.at === seam)?.geometry.coordinates[0];
  if (line) return line[line.length >> 1] as [number, number];
  const number = pass || evidence.seams[evidence.seams.length >> 1]?.passA;
  const chosen = evidence.passes.find((p) => p.number === number) ?? evidence.passes[0];
  if (!chosen) return null;
  const middle = 2 * Math.floor(chosen.track.length / 4);
  return lngLat(evidence.lattice, chosen.track[middle], chosen.track[middle + 1]);
}
