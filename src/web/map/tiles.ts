/**
 * Pictures of the field in tiles, each drawn once at the scale of the screen and then only moved: drawing hundreds of thousands of records for
 * every frame would take seconds on a machine without a graphics card. A frame draws as much of a tile as it has time for. A picture that changes, or
 * gets another scale, stays unchanged until all of the new one in view is ready.
 */
import { type Box, boxesMeet, linked, widened } from './gl.ts';
import type { Brush, Pieces } from './scene.ts';

const VERTEX = `#version 300 es
uniform vec4 box;
out vec2 at;
void main() {
  vec2 corner = vec2(gl_VertexID & 1, gl_VertexID >> 1);
  at = corner;
  gl_Position = vec4(mix(box.xy, box.zw, corner), 0.0, 1.0);
}`;

const FRAGMENT = `#version 300 es
precision highp float;
uniform sampler2D picture;
in vec2 at;
out vec4 drawn;
void main() {
  drawn = texture(picture, at);
}`;

/** Where offsets lie on the screen: the point of the origin, from the top left corner, and offsets to one point. */
export interface View {
  box: Box;
  originX: number;
  originY: number;
  point: number;
  /** Points of the screen. */
  width: number;
  height: number;
  /** Points to one CSS pixel, a whole number. */
  unit: number;
}

interface Tile {
  box: Box;
  column: number;
  row: number;
  picture: WebGLTexture | null;
  done: boolean;
}

/** Tiles of one scale and one state of the drawing. */
interface Plate {
  state: string;
  point: number;
  tiles: Map<string, Tile>;
}

/** How a tile is drawn, piece by piece. */
export type Draw = (brush: Omit<Brush, 'gl' | 'painter'>) => Pieces;

/** How far outlines reach beyond the field, CSS pixels. */
const EDGE_PX = 6;

/** Points along each side of a tile: every pattern's period divides it, so that patterns continue from tile to tile. */
function sideOf(unit: number): number {
  return 512 % (16 * unit) === 0 ? 512 : 480;
}

/** Draws tiles one after the other, each in as many frames as it takes. */
export class Press {
  readonly program: WebGLProgram;
  private readonly desks = new Map<number, { smooth: WebGLFramebuffer; flat: WebGLFramebuffer }>();
  private job: { tile: Tile; pieces: Pieces; side: number } | null = null;

  constructor(private readonly gl: WebGL2RenderingContext) {
    this.program = linked(gl, VERTEX, FRAGMENT);
  }

  /** Draws the tiles that `next` names until `budget` triangles are drawn. Leaves the framebuffer and the viewport unchanged. */
  work(next: () => { tile: Tile; draw: Draw; point: number; unit: number } | null, budget: number): void {
    const { gl } = this;
    let left = budget;
    let held: { frame: WebGLFramebuffer | null; port: Int32Array } | null = null;
    while (left > 0) {
      if (!this.job) {
        const wanted = next();
        if (!wanted) break;
        const side = sideOf(wanted.unit);
        const { box } = wanted.tile;
        const brush = { matrix: matrixOf(box), view: box, point: wanted.point, unit: wanted.unit, side };
        this.job = { tile: wanted.tile, pieces: wanted.draw(brush), side };
        held ??= this.hold();
        this.open(side, true);
      } else {
        held ??= this.hold();
        this.open(this.job.side, false);
      }
      const { job } = this;
      for (let piece = job.pieces.next(); ; piece = job.pieces.next()) {
        if (piece.done) {
          this.print(job.tile, job.side);
          this.job = null;
          left -= TILE_COST;
          break;
        }
        left -= piece.value;
        if (left <= 0) break;
      }
    }
    if (held) {
      gl.bindFramebuffer(gl.FRAMEBUFFER, held.frame);
      gl.viewport(held.port[0], held.port[1], held.port[2], held.port[3]);
    }
  }

  /** Drops the tile that is being drawn if it is one of these. */
  forget(tiles: Iterable<Tile>): void {
    for (const tile of tiles) if (this.job?.tile === tile) this.job = null;
  }

  private hold(): { frame: WebGLFramebuffer | null; port: Int32Array } {
    const { gl } = this;
    return {
      frame: gl.getParameter(gl.FRAMEBUFFER_BINDING) as WebGLFramebuffer | null,
      port: gl.getParameter(gl.VIEWPORT) as Int32Array,
    };
  }

  private open(side: number, clear: boolean): void {
    const { gl } = this;
    gl.bindFramebuffer(gl.FRAMEBUFFER, this.desk(side).smooth);
    gl.viewport(0, 0, side, side);
    gl.disable(gl.SCISSOR_TEST);
    gl.colorMask(true, true, true, true);
    if (!clear) return;
    gl.clearColor(0, 0, 0, 0);
    gl.stencilMask(0xff);
    gl.clearStencil(0);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.STENCIL_BUFFER_BIT);
  }

  private print(tile: Tile, side: number): void {
    const { gl } = this;
    const { smooth, flat } = this.desk(side);
    tile.picture ??= this.makePicture(side);
    gl.bindFramebuffer(gl.READ_FRAMEBUFFER, smooth);
    gl.bindFramebuffer(gl.DRAW_FRAMEBUFFER, flat);
    gl.framebufferTexture2D(gl.DRAW_FRAMEBUFFER, gl.COLOR_ATTACHMENT0, gl.TEXTURE_2D, tile.picture, 0);
    gl.blitFramebuffer(0, 0, side, side, 0, 0, side, side, gl.COLOR_BUFFER_BIT, gl.NEAREST);
    tile.done = true;
  }

  private makePicture(side: number): WebGLTexture {
    const { gl } = this;
    const made = gl.createTexture();
    gl.activeTexture(gl.TEXTURE0);
    gl.bindTexture(gl.TEXTURE_2D, made);
    gl.texStorage2D(gl.TEXTURE_2D, 1, gl.RGBA8, side, side);
    gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_WRAP_S, gl.CLAMP_TO_EDGE);
    gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_WRAP_T, gl.CLAMP_TO_EDGE);
    gl.bindTexture(gl.TEXTURE_2D, null);
    return made;
  }

  /** Several samples per point, so that edges are smooth and anything narrower than a point shows as a fainter line. */
  private desk(side: number): { smooth: WebGLFramebuffer; flat: WebGLFramebuffer } {
    const known = this.desks.get(side);
    if (known) return known;
    const { gl } = this;
    const samples = Math.min(4, gl.getParameter(gl.MAX_SAMPLES) as number);
    const smooth = gl.createFramebuffer();
    gl.bindFramebuffer(gl.FRAMEBUFFER, smooth);
    for (const [format, attachment] of [
      [gl.RGBA8, gl.COLOR_ATTACHMENT0],
      [gl.DEPTH24_STENCIL8, gl.DEPTH_STENCIL_ATTACHMENT],
    ] as const) {
      const buffer = gl.createRenderbuffer();
      gl.bindRenderbuffer(gl.RENDERBUFFER, buffer);
      gl.renderbufferStorageMultisample(gl.RENDERBUFFER, samples, format, side, side);
      gl.framebufferRenderbuffer(gl.FRAMEBUFFER, attachment, gl.RENDERBUFFER, buffer);
    }
    gl.bindRenderbuffer(gl.RENDERBUFFER, null);
    const made = { smooth, flat: gl.createFramebuffer() };
    this.desks.set(side, made);
    return made;
  }
}

/** Joining the samples of a tile costs about as much as this many small triangles. */
const TILE_COST = 6000;

/** One picture of the field, and while it changes its former state. */
export class Tiles {
  private now: Plate = { state: '', point: 0, tiles: new Map() };
  private before: Plate | null = null;

  constructor(
    private readonly gl: WebGL2RenderingContext,
    private readonly press: Press,
    /** Nothing is drawn outside; offsets. */
    private readonly field: Box,
  ) {}

  /** The next state: another state or scale is drawn beside the one on the screen, which stays until the new one is ready. */
  aim(state: string, view: View): void {
    if (this.now.state === state && this.now.point === view.point) return;
    if (this.now.tiles.size > 0 && (this.before === null || this.isThere(view))) {
      this.release(this.before);
      this.before = this.now;
      this.press.forget(this.now.tiles.values());
    } else this.release(this.now);
    this.now = { state, point: view.point, tiles: new Map() };
  }

  /** The next visible tile to draw, the one in the middle first; null where all are ready. */
  next(view: View): { tile: Tile; point: number; unit: number } | null {
    if (this.now.point === 0) return null;
    const [x, y] = [(view.box[0] + view.box[2]) / 2, (view.box[1] + view.box[3]) / 2];
    const far = ({ box }: Tile): number => Math.hypot((box[0] + box[2]) / 2 - x, (box[1] + box[3]) / 2 - y);
    const [tile] = this.wanted(view)
      .filter((t) => !t.done)
      .sort((a, b) => far(a) - far(b));
    return tile ? { tile, point: this.now.point, unit: view.unit } : null;
  }

  /** Whether everything in view is up to date. */
  isThere(view: View): boolean {
    return this.now.point > 0 && this.wanted(view).every((t) => t.done);
  }

  /** Draws the present tiles onto the screen: the former picture, until everything visible with it has `settled`. */
  draw(view: View, settled: boolean): void {
    const { gl } = this;
    if (this.before && settled) {
      this.release(this.before);
      this.before = null;
    }
    const plate = this.before ?? this.now;
    if (plate.tiles.size === 0) return;
    gl.useProgram(this.press.program);
    gl.bindVertexArray(null);
    gl.disable(gl.DEPTH_TEST);
    gl.disable(gl.STENCIL_TEST);
    gl.disable(gl.CULL_FACE);
    gl.enable(gl.BLEND);
    gl.blendEquation(gl.FUNC_ADD);
    gl.blendFunc(gl.ONE, gl.ONE_MINUS_SRC_ALPHA);
    for (const at of [0, 1, 2]) gl.disableVertexAttribArray(at);
    gl.activeTexture(gl.TEXTURE0);
    gl.uniform1i(gl.getUniformLocation(this.press.program, 'picture'), 0);
    const place = gl.getUniformLocation(this.press.program, 'box');
    // At its own scale a tile matches the screen point by point; else it is smoothed.
    const exact = plate.point === view.point;
    const filter = exact ? gl.NEAREST : gl.LINEAR;
    const side = (sideOf(view.unit) * plate.point) / view.point;
    const whole = exact ? Math.round : (v: number): number => v;
    const [x0, y0] = [whole(view.originX), whole(view.originY)];
    for (const t of plate.tiles.values()) {
      if (!t.picture || !t.done || !boxesMeet(t.box, view.box)) continue;
      const [left, top] = [x0 + t.column * side, y0 + t.row * side];
      gl.bindTexture(gl.TEXTURE_2D, t.picture);
      gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_MIN_FILTER, filter);
      gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_MAG_FILTER, filter);
      gl.uniform4f(
        place,
        (2 * left) / view.width - 1,
        1 - (2 * (top + side)) / view.height,
        (2 * (left + side)) / view.width - 1,
        1 - (2 * top) / view.height,
      );
      gl.drawArrays(gl.TRIANGLE_STRIP, 0, 4);
    }
    gl.bindTexture(gl.TEXTURE_2D, null);
  }

  /** Frees everything. */
  clear(): void {
    this.release(this.before);
    this.release(this.now);
    this.before = null;
    this.now = { state: '', point: 0, tiles: new Map() };
  }

  /** Tiles of the new picture in view, created where missing. Those long out of view are freed. */
  private wanted(view: View): Tile[] {
    const { point, tiles } = this.now;
    const side = sideOf(view.unit) * point;
    const edge = EDGE_PX * view.unit * point;
    const [w, n, e, s] = meet(view.box, widened(this.field, edge));
    const out: Tile[] = [];
    for (let row = Math.floor(n / side); row * side < s; row++) {
      for (let column = Math.floor(w / side); column * side < e; column++) {
        const key = `${column} ${row}`;
        let tile = tiles.get(key);
        if (!tile) {
          const [x, y] = [column * side, row * side];
          tile = { box: [x, y, x + side, y + side], column, row, picture: null, done: false };
          tiles.set(key, tile);
        }
        out.push(tile);
      }
    }
    if (tiles.size > 3 * out.length + 24) {
      for (const [key, t] of tiles) {
        if (out.includes(t)) continue;
        this.drop([t]);
        tiles.delete(key);
      }
    }
    return out;
  }

  private release(plate: Plate | null): void {
    if (plate) this.drop(plate.tiles.values());
  }

  private drop(tiles: Iterable<Tile>): void {
    for (const t of tiles) {
      this.press.forget([t]);
      if (t.picture) this.gl.deleteTexture(t.picture);
    }
  }
}

/** Offsets within a box to the target; north is up. */
function matrixOf([x0, y0, x1, y1]: Box): Float32Array {
  // biome-ignore format: a matrix, column by column.
  return new Float32Array([
    2 / (x1 - x0), 0, 0, 0,
    0, -2 / (y1 - y0), 0, 0,
    0, 0, 1, 0,
    -(x0 + x1) / (x1 - x0), (y0 + y1) / (y1 - y0), 0, 1,
  ]);
}

function meet(a: Box, b: Box): Box {
  return [Math.max(a[0], b[0]), Math.max(a[1], b[1]), Math.min(a[2], b[2]), Math.min(a[3], b[3])];
}
