/** The field on the map: records, planted ground, missing strips, gaps and overlaps, from the answer's own arrays. */
import type { CustomLayerInterface, CustomRenderMethodInput, Map as MapLibre } from 'maplibre-gl';
import type { Shapes } from '../../core/geometry/shapes.ts';
import type { Drawing } from './drawing.ts';
import { type Box, type Indexed, PATTERN, Painter, type Pattern, type Points, type Rgb } from './gl.ts';
import { type Chunk, meshOf, meshSome } from './mesh.ts';
import { Overview, overviewProgram } from './overview.ts';
import { mercator, type Origin, UNITS } from './place.ts';

export interface Shown {
  picture: 'recorded' | 'planted';
  missing: boolean;
  gaps: boolean;
  overlaps: boolean;
}

export interface Palette {
  recorded: [Rgb, Rgb];
  planted: Rgb;
  edge: Rgb;
  gap: [Rgb, Rgb];
  overlap: [Rgb, Rgb];
  missing: [Rgb, Rgb];
  marked: Rgb;
}

/** From here on, edges of single records are drawn and neighbouring sections take turns in shade. */
const NEAR_ZOOM = 18.5;

/** Above so many records the far picture is drawn once and then only moved about. */
const MANY = 10_000;

type Meshes = Record<keyof Drawing['meshes'], Indexed>;

/** What one picture of the field needs. */
interface Brush {
  gl: WebGL2RenderingContext;
  painter: Painter;
  meshes: Meshes;
  matrix: Float32Array;
  view: Box;
  near: boolean;
  pixelRatio: number;
}

export class FieldLayer implements CustomLayerInterface {
  readonly id = 'field';
  readonly type = 'custom' as const;
  readonly renderingMode = '2d' as const;
  private map: MapLibre | null = null;
  private painter: Painter | null = null;
  private meshes: Meshes | null = null;
  private overview: Overview | null = null;
  private marked: Indexed | null = null;
  private keep: ((record: number) => boolean) | null = null;
  private removed = false;

  constructor(
    private readonly drawing: Drawing,
    private readonly shapes: Shapes,
    private shown: Shown,
    private palette: Palette,
    /** Called when everything in sight is drawn. */
    private readonly drawn: () => void,
  ) {}

  show(shown: Shown, palette: Palette): void {
    const { picture, missing, gaps, overlaps } = shown;
    const old = this.shown;
    const same = old.picture === picture && old.missing === missing && old.gaps === gaps && old.overlaps === overlaps;
    if (!same || JSON.stringify(palette) !== JSON.stringify(this.palette)) this.overview?.outdate();
    this.shown = shown;
    this.palette = palette;
    this.map?.triggerRepaint();
  }

  /** Records to mark; null for none. */
  mark(keep: ((record: number) => boolean) | null): void {
    this.keep = keep;
    const { painter, meshes } = this;
    if (!painter || !meshes) return;
    if (this.marked) painter.drop(this.marked);
    const mesh = keep ? meshOf(this.drawing.records, meshSome(this.shapes, keep)) : null;
    this.marked = mesh ? painter.index(meshes.records.points, mesh) : null;
    this.map?.triggerRepaint();
  }

  onAdd(map: MapLibre, gl: WebGLRenderingContext | WebGL2RenderingContext): void {
    this.map = map;
    this.painter = new Painter(gl as WebGL2RenderingContext);
    void this.fill(gl as WebGL2RenderingContext, this.painter, overviewProgram(gl as WebGL2RenderingContext));
  }

  onRemove(): void {
    this.removed = true;
  }

  /** Hands the drawing to the graphics card, a piece at a time: together they would hold up the page. */
  private async fill(gl: WebGL2RenderingContext, painter: Painter, program: WebGLProgram): Promise<void> {
    const d = this.drawing;
    const points = {} as Record<'records' | 'planted' | 'gaps' | 'overlap', Points>;
    const meshes = {} as Meshes;
    const from = { otherRecords: 'records', edges: 'records' } as Partial<Record<keyof Meshes, keyof typeof points>>;
    for (const name of ['records', 'planted', 'gaps', 'overlap'] as const) {
      points[name] = painter.points(d[name], name === 'records' ? d.flags : undefined);
      await breath();
      if (this.removed) return;
    }
    for (const name of Object.keys(d.meshes) as (keyof Meshes)[]) {
      meshes[name] = painter.index(points[from[name] ?? (name as keyof typeof points)], d.meshes[name]);
      await breath();
      if (this.removed) return;
    }
    const field = around([...d.meshes.records.chunks, ...d.meshes.otherRecords.chunks, ...d.meshes.planted.chunks]);
    if (field && this.shapes.shapeStart.length > MANY)
      this.overview = new Overview(gl, program, field, screenPoint(NEAR_ZOOM, this.map?.getPixelRatio() ?? 1));
    this.meshes = meshes;
    if (this.keep) this.mark(this.keep);
    this.map?.triggerRepaint();
  }

  prerender(gl: WebGL2RenderingContext): void {
    const { map, painter, meshes, overview } = this;
    if (!map || !painter || !meshes || !overview || !this.far(map)) return;
    overview.next(this.view(map), (matrix, view) => {
      this.paint({ gl, painter, meshes, matrix, view, near: false, pixelRatio: 1 }, null);
    });
  }

  render(gl: WebGL2RenderingContext, input: CustomRenderMethodInput): void {
    const { map, painter, meshes, overview } = this;
    if (!map || !painter || !meshes) return;
    const matrix = toScreen(input.defaultProjectionData.mainMatrix, this.drawing.origin);
    const view = this.view(map);
    if (overview && this.far(map)) {
      overview.draw(matrix, view);
      if (this.marked) {
        painter.begin(matrix, map.getPixelRatio());
        painter.paint(0.5, PATTERN.flat, this.palette.marked, this.palette.marked);
        painter.draw(this.marked, view);
        painter.end();
      }
      if (overview.missing(view)) map.triggerRepaint();
      else this.drawn();
      return;
    }
    const near = map.getZoom() >= NEAR_ZOOM;
    this.paint({ gl, painter, meshes, matrix, view, near, pixelRatio: map.getPixelRatio() }, this.marked);
    this.drawn();
  }

  /** The picture of the whole field is fine enough for the zoom at hand. */
  private far(map: MapLibre): boolean {
    const zoom = map.getZoom();
    return zoom < NEAR_ZOOM && (this.overview?.serves(screenPoint(zoom, map.getPixelRatio())) ?? false);
  }

  private paint(brush: Brush, marked: Indexed | null): void {
    const { gl, painter, meshes, matrix, view, near } = brush;
    const { shown, palette } = this;
    painter.begin(matrix, brush.pixelRatio);
    painter.clearStencil();
    const alpha = shown.picture === 'recorded' ? 1 : 0.22;
    painter.countWinding();
    // A flood costs the whole screen, so it is left out where nothing would come of it.
    if (painter.draw(meshes.otherRecords, view)) {
      painter.throughStencil();
      painter.paint(alpha, PATTERN.flat, palette.recorded[0], palette.recorded[1]);
      painter.flood(matrix);
    }
    painter.end();
    // Once each spot, however many records lie over it.
    gl.enable(gl.STENCIL_TEST);
    gl.stencilFunc(gl.EQUAL, 0, 0xff);
    gl.stencilOp(gl.KEEP, gl.KEEP, gl.INCR);
    painter.paint(alpha, PATTERN.flat, palette.recorded[0], palette.recorded[1], undefined, near ? 2 : 1);
    painter.draw(meshes.records, view);
    painter.end();
    painter.clearStencil();

    if (shown.picture === 'planted') {
      painter.paint(1, PATTERN.flat, palette.planted, palette.planted);
      painter.draw(meshes.planted, view);
    }
    if (marked) {
      painter.paint(0.5, PATTERN.flat, palette.marked, palette.marked);
      painter.draw(marked, view);
    }
    if (near && shown.picture === 'recorded') {
      painter.paint(0.75, PATTERN.flat, palette.edge, palette.edge);
      painter.draw(meshes.edges, view, gl.LINES);
    }
    if (shown.missing) missing(brush, palette.missing);
    if (shown.gaps) hatch(brush, meshes.gaps, palette.gap, PATTERN.dots);
    if (shown.overlaps) hatch(brush, meshes.overlap, palette.overlap, PATTERN.falling);
    painter.clearStencil();
    painter.end();
  }

  private view(map: MapLibre): Box {
    const b = map.getBounds();
    const [x0, y0] = mercator(b.getWest(), b.getNorth());
    const [x1, y1] = mercator(b.getEast(), b.getSouth());
    const { x, y } = this.drawing.origin;
    return [(x0 - x) * UNITS, (y0 - y) * UNITS, (x1 - x) * UNITS, (y1 - y) * UNITS];
  }
}

/** Lets the page take part before the next piece. */
export function breath(): Promise<void> {
  return new Promise((done) => setTimeout(done));
}

/** Offsets to one point of the screen; the world is 512 CSS pixels wide at zoom 0. */
function screenPoint(zoom: number, pixelRatio: number): number {
  return UNITS / (512 * 2 ** zoom * pixelRatio);
}

function around(chunks: readonly Chunk[]): Box | null {
  if (chunks.length === 0) return null;
  return chunks.reduce<Box>(
    ([w, n, e, s], { box }) => [Math.min(w, box[0]), Math.min(n, box[1]), Math.max(e, box[2]), Math.max(s, box[3])],
    [Infinity, Infinity, -Infinity, -Infinity],
  );
}

/** Ground that was recorded and is under no planted row: records into the stencil, planted ground out of it. */
function missing(brush: Brush, colours: [Rgb, Rgb]): void {
  const { gl, painter, meshes, view } = brush;
  painter.countWinding();
  const others = painter.draw(meshes.otherRecords, view);
  painter.writeStencil(gl.ALWAYS, 1, gl.REPLACE);
  if (painter.draw(meshes.records, view) || others) {
    painter.writeStencil(gl.ALWAYS, 0, gl.ZERO);
    painter.draw(meshes.planted, view);
    flood(brush, colours, PATTERN.rising);
  }
  painter.end();
}

function hatch(brush: Brush, what: Indexed, colours: [Rgb, Rgb], pattern: Pattern): void {
  brush.painter.countWinding();
  if (brush.painter.draw(what, brush.view)) flood(brush, colours, pattern);
  brush.painter.end();
}

/** Fills where the stencil is set. Far off, plain: hatching of a strip that is a pixel wide would come out as dots. */
function flood({ painter, matrix, near }: Brush, [ground, mark]: [Rgb, Rgb], pattern: Pattern): void {
  painter.throughStencil();
  if (near) painter.paint(1, pattern, ground, ground, mark);
  else painter.paint(1, PATTERN.flat, mark, mark);
  painter.flood(matrix);
  painter.end();
}

/** Map matrix after a move to the origin and a scale to offsets, in doubles; only the product is rounded to 32 bits. */
function toScreen(m: ArrayLike<number>, { x, y }: Origin): Float32Array {
  const out = new Float32Array(16);
  for (let i = 0; i < 4; i++) {
    out[i] = m[i] / UNITS;
    out[4 + i] = m[4 + i] / UNITS;
    out[8 + i] = m[8 + i];
    out[12 + i] = m[i] * x + m[4 + i] * y + m[12 + i];
  }
  return out;
}
