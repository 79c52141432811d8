/**
 * The whole field as a picture that is drawn once, in tiles, and then only moved about: far off, hundreds of thousands of records
 * would otherwise be drawn anew for every frame.
 *
 * Measured: 400,000 records drawn again for every frame took 1.9 s a frame in software rendering; the tiles take what an empty map takes
 * (`tests/bench/page.md`). One canvas source would be drawn by the page's own thread.
 */
import { type Box, boxesMeet, linked } from './gl.ts';

const TILE_PX = 1024;
/** Points of the picture along the field's longer side, at most. Sixteen tiles then take about 90 MB on the graphics card. */
const MOST_PX = 4096;
/** The picture serves until one of its points is this many points of the screen. */
const COARSEST = 1.5;

const VERTEX = `#version 300 es
uniform mat4 matrix;
uniform vec4 box;
out vec2 at;
void main() {
  vec2 corner = vec2(gl_VertexID & 1, gl_VertexID >> 1);
  at = vec2(corner.x, 1.0 - corner.y);
  gl_Position = matrix * vec4(mix(box.xy, box.zw, corner), 0.0, 1.0);
}`;

const FRAGMENT = `#version 300 es
precision highp float;
uniform sampler2D picture;
in vec2 at;
out vec4 drawn;
void main() {
  drawn = texture(picture, at);
}`;

interface Tile {
  /** West, north, east, south. */
  box: Box;
  picture: WebGLTexture | null;
  done: boolean;
}

interface Desk {
  smooth: WebGLFramebuffer;
  buffers: WebGLRenderbuffer[];
  flat: WebGLFramebuffer;
}

/** Made before anything is handed to the graphics card: asking whether it is sound waits for all that was asked before. */
export function overviewProgram(gl: WebGL2RenderingContext): WebGLProgram {
  return linked(gl, VERTEX, FRAGMENT);
}

export class Overview {
  /** Offsets to one point of the picture. */
  private readonly point: number;
  private readonly tiles: Tile[] = [];
  private desk: Desk | null = null;

  /** `program` as `overviewProgram` makes it; `field` in offsets; `finest` is the least that a point of the picture need be, offsets. */
  constructor(
    private readonly gl: WebGL2RenderingContext,
    private readonly program: WebGLProgram,
    field: Box,
    finest: number,
  ) {
    const [x0, y0, x1, y1] = field;
    this.point = Math.max(finest, Math.max(x1 - x0, y1 - y0) / MOST_PX);
    const side = TILE_PX * this.point;
    for (let y = y0; y < y1; y += side)
      for (let x = x0; x < x1; x += side)
        this.tiles.push({ box: [x, y, x + side, y + side], picture: null, done: false });
  }

  /** `screenPoint`: offsets to one point of the screen. */
  serves(screenPoint: number): boolean {
    return this.point <= COARSEST * screenPoint;
  }

  /** What it shows has changed: every tile has to be drawn again; until then the old ones stand. */
  outdate(): void {
    for (const t of this.tiles) t.done = false;
  }

  /** Tiles in sight that have still to be drawn. */
  missing(view: Box): boolean {
    return this.tiles.some((t) => !t.done && boxesMeet(t.box, view));
  }

  /**
   * Draws the tile nearest to the middle of the view that is not drawn yet; `draw` gets the tile's own matrix and box. One a frame:
   * a machine without a graphics card fills the field bit by bit instead of standing still.
   */
  next(view: Box, draw: (matrix: Float32Array, view: Box) => void): void {
    const { gl } = this;
    const middle = (b: Box): [number, number] => [(b[0] + b[2]) / 2, (b[1] + b[3]) / 2];
    const [mx, my] = middle(view);
    const far = ({ box }: Tile): number => Math.hypot(middle(box)[0] - mx, middle(box)[1] - my);
    const [tile] = this.tiles.filter((t) => !t.done && boxesMeet(t.box, view)).sort((a, b) => far(a) - far(b));
    if (!tile) return;
    const held = gl.getParameter(gl.FRAMEBUFFER_BINDING) as WebGLFramebuffer | null;
    const port = gl.getParameter(gl.VIEWPORT) as Int32Array;
    this.desk ??= this.makeDesk();
    const { smooth, flat } = this.desk;
    gl.bindFramebuffer(gl.FRAMEBUFFER, smooth);
    gl.viewport(0, 0, TILE_PX, TILE_PX);
    gl.disable(gl.SCISSOR_TEST);
    gl.disable(gl.DEPTH_TEST);
    gl.disable(gl.CULL_FACE);
    gl.colorMask(true, true, true, true);
    gl.enable(gl.BLEND);
    gl.blendEquation(gl.FUNC_ADD);
    gl.blendFunc(gl.ONE, gl.ONE_MINUS_SRC_ALPHA);
    gl.clearColor(0, 0, 0, 0);
    gl.clear(gl.COLOR_BUFFER_BIT);
    const [x0, y0, x1, y1] = tile.box;
    // biome-ignore format: a matrix, column by column.
    draw(new Float32Array([
      2 / (x1 - x0), 0, 0, 0,
      0, -2 / (y1 - y0), 0, 0,
      0, 0, 1, 0,
      -(x0 + x1) / (x1 - x0), (y0 + y1) / (y1 - y0), 0, 1,
    ]), tile.box);
    tile.picture ??= this.makePicture();
    gl.bindFramebuffer(gl.READ_FRAMEBUFFER, smooth);
    gl.bindFramebuffer(gl.DRAW_FRAMEBUFFER, flat);
    gl.framebufferTexture2D(gl.DRAW_FRAMEBUFFER, gl.COLOR_ATTACHMENT0, gl.TEXTURE_2D, tile.picture, 0);
    gl.blitFramebuffer(0, 0, TILE_PX, TILE_PX, 0, 0, TILE_PX, TILE_PX, gl.COLOR_BUFFER_BIT, gl.NEAREST);
    gl.activeTexture(gl.TEXTURE0);
    gl.bindTexture(gl.TEXTURE_2D, tile.picture);
    gl.generateMipmap(gl.TEXTURE_2D);
    gl.bindTexture(gl.TEXTURE_2D, null);
    gl.bindFramebuffer(gl.FRAMEBUFFER, held);
    gl.viewport(port[0], port[1], port[2], port[3]);
    tile.done = true;
    if (this.tiles.every((t) => t.done)) this.clearDesk();
  }

  draw(matrix: Float32Array, view: Box): void {
    const { gl, program } = this;
    gl.useProgram(program);
    gl.bindVertexArray(null);
    gl.disable(gl.DEPTH_TEST);
    gl.disable(gl.STENCIL_TEST);
    gl.disable(gl.CULL_FACE);
    gl.disableVertexAttribArray(0);
    gl.disableVertexAttribArray(1);
    gl.activeTexture(gl.TEXTURE0);
    gl.uniform1i(gl.getUniformLocation(program, 'picture'), 0);
    gl.uniformMatrix4fv(gl.getUniformLocation(program, 'matrix'), false, matrix);
    const box = gl.getUniformLocation(program, 'box');
    for (const t of this.tiles) {
      if (!t.picture || !boxesMeet(t.box, view)) continue;
      gl.bindTexture(gl.TEXTURE_2D, t.picture);
      gl.uniform4fv(box, t.box);
      gl.drawArrays(gl.TRIANGLE_STRIP, 0, 4);
    }
    gl.bindTexture(gl.TEXTURE_2D, null);
  }

  private makePicture(): WebGLTexture {
    const { gl } = this;
    const made = gl.createTexture();
    gl.activeTexture(gl.TEXTURE0);
    gl.bindTexture(gl.TEXTURE_2D, made);
    gl.texStorage2D(gl.TEXTURE_2D, Math.log2(TILE_PX) + 1, gl.RGBA8, TILE_PX, TILE_PX);
    gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_MIN_FILTER, gl.LINEAR_MIPMAP_NEAREST);
    gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_MAG_FILTER, gl.LINEAR);
    gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_WRAP_S, gl.CLAMP_TO_EDGE);
    gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_WRAP_T, gl.CLAMP_TO_EDGE);
    gl.bindTexture(gl.TEXTURE_2D, null);
    return made;
  }

  /** Several samples a point, so that a gap narrower than a point shows as a fainter line. */
  private makeDesk(): Desk {
    const { gl } = this;
    const samples = Math.min(4, gl.getParameter(gl.MAX_SAMPLES) as number);
    const smooth = gl.createFramebuffer();
    gl.bindFramebuffer(gl.FRAMEBUFFER, smooth);
    const buffers = (
      [
        [gl.RGBA8, gl.COLOR_ATTACHMENT0],
        [gl.DEPTH24_STENCIL8, gl.DEPTH_STENCIL_ATTACHMENT],
      ] as const
    ).map(([format, attachment]) => {
      const buffer = gl.createRenderbuffer();
      gl.bindRenderbuffer(gl.RENDERBUFFER, buffer);
      gl.renderbufferStorageMultisample(gl.RENDERBUFFER, samples, format, TILE_PX, TILE_PX);
      gl.framebufferRenderbuffer(gl.FRAMEBUFFER, attachment, gl.RENDERBUFFER, buffer);
      return buffer;
    });
    gl.bindRenderbuffer(gl.RENDERBUFFER, null);
    return { smooth, buffers, flat: gl.createFramebuffer() };
  }

  private clearDesk(): void {
    if (!this.desk) return;
    const { gl, desk } = this;
    gl.deleteFramebuffer(desk.smooth);
    gl.deleteFramebuffer(desk.flat);
    for (const b of desk.buffers) gl.deleteRenderbuffer(b);
    this.desk = null;
  }
}
