/** The field on the map: records, planted ground, missing strips, gaps and overlaps, drawn from the answer's own arrays. */
import type { CustomLayerInterface, CustomRenderMethodInput, Map as MapLibre } from 'maplibre-gl';
import type { Evidence } from '../../core/answer.ts';
import { type Box, type Indexed, PATTERN, Painter, type Pattern, type Rgb } from './gl.ts';
import { meshPolygons, meshShapes, meshSome, ringEdges } from './mesh.ts';
import { boundsOf, mercator, type Origin, offsets, UNITS } from './place.ts';

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

/** Above so many records the far picture is drawn from their union. */
const MANY = 50_000;

interface Meshes {
  records: Indexed;
  otherRecords: Indexed;
  edges: Indexed;
  /** Union of the records. */
  covered: Indexed;
  planted: Indexed;
  gaps: Indexed;
  overlap: Indexed;
}

export class FieldLayer implements CustomLayerInterface {
  readonly id = 'field';
  readonly type = 'custom' as const;
  readonly renderingMode = '2d' as const;
  private map: MapLibre | null = null;
  private painter: Painter | null = null;
  private meshes: Meshes | null = null;
  private marked: Indexed | null = null;
  private keep: ((record: number) => boolean) | null = null;
  private readonly origin: Origin;

  constructor(
    private readonly evidence: Evidence,
    private shown: Shown,
    private palette: Palette,
  ) {
    const b = boundsOf(evidence.records.xy, evidence.lattice);
    const [x, y] = b ? mercator((b[0] + b[2]) / 2, (b[1] + b[3]) / 2) : [0.5, 0.5];
    this.origin = { x, y };
  }

  show(shown: Shown, palette: Palette): void {
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
    this.marked = keep ? painter.index(meshes.records.points, meshSome(this.evidence.records, keep)) : null;
    this.map?.triggerRepaint();
  }

  onAdd(map: MapLibre, gl: WebGLRenderingContext | WebGL2RenderingContext): void {
    const painter = new Painter(gl as WebGL2RenderingContext);
    this.map = map;
    this.painter = painter;
    const e = this.evidence;
    const records = painter.points(offsets(e.records.xy, e.lattice, this.origin), flagsOf(e));
    const mesh = meshShapes(e.records);
    const planted = painter.points(offsets(e.planted.xy, e.plantedLattice, this.origin));
    const covered = painter.points(offsets(e.covered.xy, e.lattice, this.origin));
    const gaps = painter.points(offsets(e.gaps.xy, e.lattice, this.origin));
    const overlap = painter.points(offsets(e.overlap.xy, e.lattice, this.origin));
    const plantedMesh = meshShapes(e.planted);
    this.meshes = {
      records: painter.index(records, mesh.convex),
      otherRecords: painter.index(records, mesh.other),
      edges: painter.index(records, ringEdges(e.records.ringStart)),
      covered: painter.index(covered, meshPolygons(e.covered)),
      planted: painter.index(planted, join(plantedMesh.convex, plantedMesh.other)),
      gaps: painter.index(gaps, meshPolygons(e.gaps)),
      overlap: painter.index(overlap, meshPolygons(e.overlap)),
    };
    if (this.keep) this.mark(this.keep);
  }

  render(gl: WebGL2RenderingContext, input: CustomRenderMethodInput): void {
    const { map, painter, meshes, shown, palette } = this;
    if (!map || !painter || !meshes) return;
    const matrix = toScreen(input.defaultProjectionData.mainMatrix, this.origin);
    const view = this.view(map);
    const near = map.getZoom() >= NEAR_ZOOM;
    painter.begin(matrix, map.getPixelRatio());
    painter.clearStencil();

    // Far off, many records are smaller than a pixel: the ground that they cover, dissolved, is the same picture for less work.
    const dissolved = !near && this.evidence.recordNumber.length > MANY;
    const alpha = shown.picture === 'recorded' ? 1 : 0.22;
    painter.countWinding();
    painter.draw(dissolved ? meshes.covered : meshes.otherRecords, view);
    painter.throughStencil();
    painter.paint(alpha, PATTERN.flat, palette.recorded[0], palette.recorded[1]);
    painter.flood(matrix);
    painter.end();
    if (!dissolved) {
      // Once each spot, however many records lie over it.
      gl.enable(gl.STENCIL_TEST);
      gl.stencilFunc(gl.EQUAL, 0, 0xff);
      gl.stencilOp(gl.KEEP, gl.KEEP, gl.INCR);
      painter.paint(alpha, PATTERN.flat, palette.recorded[0], palette.recorded[1], undefined, near ? 2 : 1);
      painter.draw(meshes.records, view);
      painter.end();
      painter.clearStencil();
    }

    if (shown.picture === 'planted') {
      painter.paint(1, PATTERN.flat, palette.planted, palette.planted);
      painter.draw(meshes.planted, view);
    }
    if (this.marked) {
      painter.paint(0.5, PATTERN.flat, palette.marked, palette.marked);
      painter.draw(this.marked, view);
    }
    if (near && shown.picture === 'recorded') {
      painter.paint(0.75, PATTERN.flat, palette.edge, palette.edge);
      painter.draw(meshes.edges, view, gl.LINES);
    }
    if (shown.missing) this.missing(gl, painter, meshes, matrix, view, near, dissolved);
    if (shown.gaps) hatch(painter, meshes.gaps, palette.gap, PATTERN.dots, matrix, view, near);
    if (shown.overlaps) hatch(painter, meshes.overlap, palette.overlap, PATTERN.falling, matrix, view, near);
    painter.clearStencil();
    painter.end();
  }

  /** Ground that was recorded and is under no planted row: records into the stencil, planted ground out of it. */
  private missing(
    gl: WebGL2RenderingContext,
    painter: Painter,
    meshes: Meshes,
    matrix: Float32Array,
    view: Box,
    near: boolean,
    dissolved: boolean,
  ): void {
    painter.countWinding();
    painter.draw(dissolved ? meshes.covered : meshes.otherRecords, view);
    if (!dissolved) {
      painter.writeStencil(gl.ALWAYS, 1, gl.REPLACE);
      painter.draw(meshes.records, view);
    }
    painter.writeStencil(gl.ALWAYS, 0, gl.ZERO);
    painter.draw(meshes.planted, view);
    flood(painter, this.palette.missing, PATTERN.rising, matrix, near);
  }

  private view(map: MapLibre): Box {
    const b = map.getBounds();
    const [x0, y0] = mercator(b.getWest(), b.getNorth());
    const [x1, y1] = mercator(b.getEast(), b.getSouth());
    const { x, y } = this.origin;
    return [(x0 - x) * UNITS, (y0 - y) * UNITS, (x1 - x) * UNITS, (y1 - y) * UNITS];
  }
}

function hatch(
  painter: Painter,
  what: Indexed,
  colours: [Rgb, Rgb],
  pattern: Pattern,
  matrix: Float32Array,
  view: Box,
  near: boolean,
): void {
  painter.countWinding();
  painter.draw(what, view);
  flood(painter, colours, pattern, matrix, near);
}

/** Fills where the stencil is set. Far off, plain: hatching of a strip that is a pixel wide would come out as dots. */
function flood(
  painter: Painter,
  [ground, mark]: [Rgb, Rgb],
  pattern: Pattern,
  matrix: Float32Array,
  near: boolean,
): void {
  painter.throughStencil();
  if (near) painter.paint(1, pattern, ground, ground, mark);
  else painter.paint(1, PATTERN.flat, mark, mark);
  painter.flood(matrix);
  painter.end();
}

/** Bit 1: every other pass; bit 2: every other section. */
function flagsOf({ records, recordPass, recordSection }: Evidence): Uint8Array {
  const { ringStart, shapeStart } = records;
  const flags = new Uint8Array(records.xy.length / 2);
  for (let s = 0; s + 1 < shapeStart.length; s++) {
    const bits = (recordPass[s] & 1) | (recordSection[s] >= 0 && recordSection[s] & 1 ? 2 : 0);
    flags.fill(bits, ringStart[shapeStart[s]], ringStart[shapeStart[s + 1]]);
  }
  return flags;
}

function join(a: Uint32Array, b: Uint32Array): Uint32Array {
  if (b.length === 0) return a;
  const out = new Uint32Array(a.length + b.length);
  out.set(a);
  out.set(b, a.length);
  return out;
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
