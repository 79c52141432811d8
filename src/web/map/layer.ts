/** The field on the map: the chosen picture, the signs of the account on it, and the selection. */
import type { CustomLayerInterface, CustomRenderMethodInput, Map as MapLibre } from 'maplibre-gl';
import type { Shapes } from '../../core/geometry/shapes.ts';
import type { Picture, Sign } from '../../core/report/index.ts';
import type { Drawing, Layer } from './drawing.ts';
import { type Box, type Indexed, Painter } from './gl.ts';
import { type Chunk, type Mesh, meshOf, meshSome } from './mesh.ts';
import type { MapColors } from './palette.ts';
import { mercator, type Origin, UNITS } from './place.ts';
import { changesOn, type Meshes, type Pieces, pictureOf, selectionOf, signsOn } from './scene.ts';
import { type Draw, Press, Tiles, type View } from './tiles.ts';

export interface Shown {
  /** One picture, or both with a line between: the recorded one to its left. */
  picture: Picture | 'both';
  /** Position of the line, 0 to 1 from the left. */
  split: number;
  /** Signs that the reader has hidden, by their key. */
  hidden: ReadonlySet<string>;
}

/** Records to mark. */
export interface Marking {
  keep(record: number): boolean;
  /** Width of the marked records, meters: where that is a few pixels, the outline is a finer one. */
  widthM: number;
}

/** From here on, edges of single records are drawn. */
const NEAR_ZOOM = 18.5;
/** Narrower, passes share one shade, CSS pixels. */
const PASS_PX = 4;
/** Narrower, a selection gets a finer outline, CSS pixels. */
const FINE_PX = 24;
/** Triangles in one frame: some 40 ms for a processor without a graphics card. */
const BUDGET = 60_000;

type Sheet = Picture | 'selection';

export class FieldLayer implements CustomLayerInterface {
  readonly id = 'field';
  readonly type = 'custom' as const;
  readonly renderingMode = '2d' as const;
  private map: MapLibre | null = null;
  private painter: Painter | null = null;
  private press: Press | null = null;
  private meshes: Meshes | null = null;
  private sheets: Record<Sheet, Tiles> | null = null;
  private marking: Marking | null = null;
  private marked: Indexed | null = null;
  private markings = 0;
  /** The last view that was complete. */
  private front: { picture: Shown['picture']; sheets: readonly Sheet[] } | null = null;
  private removed = false;
  private gl: WebGL2RenderingContext | null = null;

  constructor(
    private readonly drawing: Drawing,
    private readonly shapes: Shapes,
    private readonly signs: readonly Sign[],
    /** Offsets across a pass. */
    private readonly passWidth: number,
    private readonly perMeter: number,
    private shown: Shown,
    private colors: MapColors,
    /** Called with every frame: whether everything in view is drawn. */
    private readonly drawn: (all: boolean) => void,
  ) {}

  show(shown: Shown, colors: MapColors): void {
    this.shown = shown;
    this.colors = colors;
    this.map?.triggerRepaint();
  }

  /** Records to mark; null for none. */
  mark(marking: Marking | null): void {
    this.marking = marking;
    this.markings++;
    const { painter, meshes } = this;
    if (!painter || !meshes) return;
    if (this.marked) painter.drop(this.marked);
    const mesh = marking
      ? meshOf(
          this.drawing.records.xy,
          meshSome(this.shapes, (r) => marking.keep(r)),
        )
      : null;
    this.marked = mesh ? painter.index(meshes.records.points, mesh) : null;
    this.map?.triggerRepaint();
  }

  onAdd(map: MapLibre, gl: WebGLRenderingContext | WebGL2RenderingContext): void {
    this.map = map;
    this.gl = gl as WebGL2RenderingContext;
    this.painter = new Painter(this.gl);
    this.press = new Press(this.gl);
    map.on('zoomend', () => map.triggerRepaint());
    void this.fill(this.gl, this.painter, this.press);
  }

  onRemove(): void {
    this.removed = true;
    for (const sheet of Object.values(this.sheets ?? {})) sheet.clear();
  }

  /** Hands the drawing to the graphics card piece by piece, because all at once would block the page. */
  private async fill(gl: WebGL2RenderingContext, painter: Painter, press: Press): Promise<void> {
    const d = this.drawing;
    const put = async ({ xy, flags, thick, mesh }: Layer): Promise<Indexed> => {
      const points = painter.points(xy, flags, thick);
      await breath();
      return painter.index(points, mesh);
    };
    const records = await put(d.records);
    const more = async (mesh: Mesh): Promise<Indexed> => {
      await breath();
      return painter.index(records.points, mesh);
    };
    const otherRecords: Meshes['otherRecords'] = [await more(d.otherRecords[0]), await more(d.otherRecords[1])];
    const edges = await more(d.edges);
    const planted = await put(d.planted);
    await breath();
    const otherBefore = painter.index(planted.points, d.otherBefore);
    const signs: Meshes['signs'] = [];
    for (const { strips, usualThick, bands, share } of d.signs)
      signs.push({ strips: await put(strips), usualThick, bands: bands && (await put(bands)), share });
    const open = { recorded: await put(d.open.recorded), planted: await put(d.open.planted) };
    if (this.removed) return;
    const meshes = { records, otherRecords, edges, planted, otherBefore, signs, open, rebuilt: d.rebuilt };
    const field = around([
      records,
      ...otherRecords,
      planted,
      otherBefore,
      ...signs.flatMap((s) => [s.strips, s.bands]),
    ]);
    if (field) {
      const sheet = (): Tiles => new Tiles(gl, press, field);
      this.sheets = {
        recorded: sheet(),
        planted: sheet(),
        selection: sheet(),
      };
    }
    this.meshes = meshes;
    if (this.marking) this.mark(this.marking);
    this.map?.triggerRepaint();
  }

  prerender(_gl: WebGL2RenderingContext, { defaultProjectionData }: CustomRenderMethodInput): void {
    const { map, sheets, press } = this;
    if (!map || !sheets || !press) return;
    const view = this.view(map, defaultProjectionData.mainMatrix);
    const open = this.open();
    // While the scale changes from frame to frame, the present drawing is scaled along.
    if (!map.isZooming()) for (const sheet of open) sheets[sheet].aim(this.stateOf(sheet, view), view);
    press.work(() => {
      for (const sheet of open) {
        const wanted = sheets[sheet].next(view);
        if (wanted) return { ...wanted, draw: this.drawerOf(sheet, view) };
      }
      return null;
    }, BUDGET);
  }

  render(gl: WebGL2RenderingContext, { defaultProjectionData }: CustomRenderMethodInput): void {
    const { map, sheets } = this;
    if (!map || !this.meshes) return;
    if (!sheets) {
      this.drawn(true);
      return;
    }
    const view = this.view(map, defaultProjectionData.mainMatrix);
    const open = this.open();
    const all = !map.isZooming() && open.every((sheet) => sheets[sheet].isThere(view));
    // Everything visible changes at once; until then it stays unchanged.
    if (all || !this.front) this.front = { picture: this.shown.picture, sheets: open };
    const line = Math.round(this.shown.split * view.width);
    for (const sheet of this.front.sheets) {
      if (this.front.picture === 'both' && sheet !== 'selection') {
        gl.enable(gl.SCISSOR_TEST);
        if (sheet === 'recorded') gl.scissor(0, 0, line, view.height);
        else gl.scissor(line, 0, view.width - line, view.height);
      }
      sheets[sheet].draw(view, all);
      gl.disable(gl.SCISSOR_TEST);
    }
    if (!all) map.triggerRepaint();
    this.drawn(all);
  }

  /** The visible sheets, from the lowest up. */
  private open(): Sheet[] {
    const { picture } = this.shown;
    return [
      ...(picture === 'both' ? (['recorded', 'planted'] as const) : [picture]),
      ...(this.marked ? (['selection'] as const) : []),
    ];
  }

  /** Everything that the look of a sheet depends on, except its scale. */
  private stateOf(sheet: Sheet, view: View): string {
    const near = this.isNear(view) ? 'near' : 'far';
    const colors = JSON.stringify(this.colors);
    if (sheet === 'selection') return `${this.markings} ${colors}`;
    return `${near} ${[...this.shown.hidden]} ${colors}`;
  }

  private drawerOf(sheet: Sheet, view: View): Draw {
    const [gl, painter, meshes, marked] = [this.gl!, this.painter!, this.meshes!, this.marked];
    const { colors, marking } = this;
    return (part) => {
      const brush = { ...part, gl, painter };
      const px = (meters: number): number => (meters * this.perMeter) / (part.point * part.unit);
      if (sheet === 'selection')
        return marked && marking
          ? selectionOf(marked, px(marking.widthM) < FINE_PX, colors, brush)
          : selectionOf({ ...meshes.records, chunks: [] }, true, colors, brush);
      const narrow = this.passWidth / (part.point * part.unit) < PASS_PX;
      const shown = this.signs
        .map((sign, at): [Sign, number] => [sign, at])
        .filter(([sign]) => sign.picture === sheet && !this.shown.hidden.has(sign.key));
      const near = this.isNear(view);
      return (function* (): Pieces {
        if (meshes.rebuilt) yield* changesOn(meshes, colors, near, brush);
        else yield* pictureOf(sheet, meshes, narrow ? plain(colors) : colors, near, brush);
        // The most important sign comes last and lies on top.
        yield* signsOn(shown.reverse(), meshes, colors, brush);
      })();
    };
  }

  private isNear(view: View): boolean {
    return view.point <= UNITS / (512 * 2 ** NEAR_ZOOM * view.unit) + 1e-12;
  }

  private view(map: MapLibre, mainMatrix: ArrayLike<number>): View {
    const b = map.getBounds();
    const [x0, y0] = mercator(b.getWest(), b.getNorth());
    const [x1, y1] = mercator(b.getEast(), b.getSouth());
    const { x, y } = this.drawing.origin;
    const { width, height } = map.getCanvas();
    const matrix = toScreen(mainMatrix, this.drawing.origin);
    return {
      box: [(x0 - x) * UNITS, (y0 - y) * UNITS, (x1 - x) * UNITS, (y1 - y) * UNITS],
      originX: ((matrix[12] / matrix[15] + 1) / 2) * width,
      originY: ((1 - matrix[13] / matrix[15]) / 2) * height,
      point: UNITS / (512 * 2 ** map.getZoom() * map.getPixelRatio()),
      width,
      height,
      unit: Math.max(1, Math.round(map.getPixelRatio())),
    };
  }
}

/** The same colors with one shade for all passes. */
function plain(colors: MapColors): MapColors {
  const one = <T>([a]: readonly [T, ...T[]]): [T, T, T, T] => [a, a, a, a];
  return { ...colors, recorded: one(colors.recorded), planted: one(colors.planted) };
}

/** Lets the page work before the next piece. */
export function breath(): Promise<void> {
  return new Promise((done) => setTimeout(done));
}

function around(all: readonly (Indexed | null)[]): Box | null {
  const boxes = all.flatMap((i) => i?.chunks ?? []).map((c: Chunk) => c.box);
  if (boxes.length === 0) return null;
  return boxes.reduce<Box>(
    ([w, n, e, s], box) => [Math.min(w, box[0]), Math.min(n, box[1]), Math.max(e, box[2]), Math.max(s, box[3])],
    [Infinity, Infinity, -Infinity, -Infinity],
  );
}

/** Map matrix after a move to the origin and a scale to offsets, in doubles. */
function toScreen(m: ArrayLike<number>, { x, y }: Origin): Float64Array {
  const out = new Float64Array(16);
  for (let i = 0; i < 4; i++) {
    out[i] = m[i] / UNITS;
    out[4 + i] = m[4 + i] / UNITS;
    out[8 + i] = m[8 + i];
    out[12 + i] = m[i] * x + m[4 + i] * y + m[12 + i];
  }
  return out;
}
