/** Triangles and lines on the graphics card, independent of fields. */

import type { Box, Chunk, Mesh } from './mesh.ts';

export type { Box } from './mesh.ts';

export interface Points {
  buffer: WebGLBuffer;
  flags: WebGLBuffer | null;
  thick: WebGLBuffer | null;
}

export interface Indexed {
  points: Points;
  index: WebGLBuffer;
  chunks: Chunk[];
}

export type Rgb = [number, number, number];

/** Fill patterns; each has its own shape, so that none is recognized by color alone. */
export const PATTERN = { flat: 0, dots: 1, bars: 2 } as const;

/** A fill: a ground, and marks on it that take up `part` of every `period` screen points (0 to 1). */
export interface Fill {
  pattern: (typeof PATTERN)[keyof typeof PATTERN];
  ground: Rgb;
  mark: Rgb;
  part: number;
  period: number;
  alpha: number;
  /** Of the marks. */
  markAlpha: number;
}

export function flat(color: Rgb, alpha = 1): Fill {
  return { pattern: PATTERN.flat, ground: color, mark: color, part: 0, period: 8, alpha, markAlpha: alpha };
}

const VERTEX = `#version 300 es
layout(location = 0) in vec2 place;
layout(location = 1) in float flags;
layout(location = 2) in float thick;
uniform mat4 matrix;
uniform vec2 shift;
uniform vec2 between;
uniform vec3 colors[4];
flat out vec3 color;
void main() {
  bool drawn = thick >= between.x && thick < between.y;
  gl_Position = drawn ? matrix * vec4(place, 0.0, 1.0) + vec4(shift, 0.0, 0.0) : vec4(2.0, 2.0, 2.0, 1.0);
  color = colors[int(flags)];
}`;

const FRAGMENT = `#version 300 es
precision highp float;
flat in vec3 color;
uniform float alpha;
uniform float markAlpha;
uniform int pattern;
uniform vec3 mark;
uniform float part;
uniform float period;
out vec4 drawn;
void main() {
  bool marked = false;
  if (pattern == 1) {
    vec2 at = mod(gl_FragCoord.xy / period + vec2(0.0, 0.5 * floor(mod(gl_FragCoord.x / period, 2.0))), 1.0);
    if (max(abs(at.x - 0.5), abs(at.y - 0.5)) < 0.5 * part) marked = true;
  }
  if (pattern == 2 && mod((gl_FragCoord.x + gl_FragCoord.y) / period, 1.0) < part) marked = true;
  drawn = marked ? vec4(mark * markAlpha, markAlpha) : vec4(color * alpha, alpha);
}`;

/** The stencil's bits where windings are counted on ground that another drawing has marked. */
export const STENCIL = { count: 0x7f, mask: 0x80 } as const;

/** Thickness for drawing regardless of thickness. */
const ANY = 1e30;

/** Draws with one program; `matrix` maps offsets from the origin to the screen. */
export class Painter {
  private readonly gl: WebGL2RenderingContext;
  private readonly program: WebGLProgram;
  private readonly screen: WebGLBuffer;
  private readonly uniform: (name: string) => WebGLUniformLocation | null;

  constructor(gl: WebGL2RenderingContext) {
    this.gl = gl;
    this.program = linked(gl, VERTEX, FRAGMENT);
    const found = new Map<string, WebGLUniformLocation | null>();
    this.uniform = (name) => {
      if (!found.has(name)) found.set(name, gl.getUniformLocation(this.program, name));
      return found.get(name) ?? null;
    };
    this.screen = filled(gl, gl.ARRAY_BUFFER, new Float32Array([-1, -1, 3, -1, -1, 3]));
  }

  points(xy: Float32Array, flags?: Uint8Array, thick?: Float32Array): Points {
    const { gl } = this;
    const put = (data: ArrayBufferView): WebGLBuffer => filled(gl, gl.ARRAY_BUFFER, data);
    return { buffer: put(xy), flags: flags ? put(flags) : null, thick: thick ? put(thick) : null };
  }

  index(points: Points, { index, chunks }: Mesh): Indexed {
    return { points, index: filled(this.gl, this.gl.ELEMENT_ARRAY_BUFFER, index), chunks };
  }

  drop(what: Indexed): void {
    this.gl.deleteBuffer(what.index);
  }

  /** Sets the state for one piece of drawing: others may have drawn in between. */
  begin(matrix: Float32Array): void {
    const { gl } = this;
    gl.useProgram(this.program);
    gl.uniformMatrix4fv(this.uniform('matrix'), false, matrix);
    gl.disable(gl.CULL_FACE);
    gl.disable(gl.DEPTH_TEST);
    gl.enable(gl.BLEND);
    gl.blendEquation(gl.FUNC_ADD);
    gl.blendFunc(gl.ONE, gl.ONE_MINUS_SRC_ALPHA);
    this.end();
    this.shift(0, 0);
    this.between(0, ANY);
    this.fill(flat([0, 0, 0]));
  }

  /** Moves the drawing, in halves of the width and height of the target. */
  shift(x: number, y: number): void {
    this.gl.uniform2f(this.uniform('shift'), x, y);
  }

  /** Only strips at least `from` and less than `to` thick are drawn, offsets. */
  between(from: number, to: number): void {
    this.gl.uniform2f(this.uniform('between'), from, Math.min(to, ANY));
  }

  fill({ ground, ...rest }: Fill): void {
    this.shades([ground, ground, ground, ground], rest);
  }

  /** The flags of a point, 0 to 3, choose between four grounds. */
  shades(colors: readonly [Rgb, Rgb, Rgb, Rgb], rest: Omit<Fill, 'ground'>): void {
    const { gl } = this;
    gl.uniform1f(this.uniform('alpha'), rest.alpha);
    gl.uniform1f(this.uniform('markAlpha'), rest.markAlpha);
    gl.uniform1i(this.uniform('pattern'), rest.pattern);
    gl.uniform3fv(this.uniform('colors[0]'), colors.flat());
    gl.uniform3fv(this.uniform('mark'), rest.mark);
    gl.uniform1f(this.uniform('part'), rest.part);
    gl.uniform1f(this.uniform('period'), rest.period);
  }

  draw(what: Indexed, chunks: readonly Chunk[], mode: number = this.gl.TRIANGLES): void {
    const { gl } = this;
    this.attribute(0, what.points.buffer, 2, gl.FLOAT, 0);
    this.attribute(1, what.points.flags, 1, gl.UNSIGNED_BYTE, 0);
    this.attribute(2, what.points.thick, 1, gl.FLOAT, 1);
    gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, what.index);
    for (const { first, count } of chunks) gl.drawElements(mode, count, gl.UNSIGNED_INT, 4 * first);
    gl.disableVertexAttribArray(1);
    gl.disableVertexAttribArray(2);
  }

  /** An array of the points, or one value for all of them. */
  private attribute(at: number, buffer: WebGLBuffer | null, size: number, type: number, value: number): void {
    const { gl } = this;
    if (at === 0) gl.bindVertexArray(null);
    if (buffer === null) {
      gl.disableVertexAttribArray(at);
      gl.vertexAttrib1f(at, value);
      return;
    }
    gl.bindBuffer(gl.ARRAY_BUFFER, buffer);
    gl.enableVertexAttribArray(at);
    gl.vertexAttribPointer(at, size, type, false, 0, 0);
  }

  /** Fills the screen where the stencil allows it. */
  flood(matrix: Float32Array): void {
    const { gl } = this;
    gl.uniformMatrix4fv(this.uniform('matrix'), false, IDENTITY);
    gl.bindVertexArray(null);
    gl.bindBuffer(gl.ARRAY_BUFFER, this.screen);
    gl.enableVertexAttribArray(0);
    gl.vertexAttribPointer(0, 2, gl.FLOAT, false, 0, 0);
    for (const at of [1, 2]) {
      gl.disableVertexAttribArray(at);
      gl.vertexAttrib1f(at, at === 1 ? 0 : 1);
    }
    this.shift(0, 0);
    this.between(0, ANY);
    gl.drawArrays(gl.TRIANGLES, 0, 3);
    gl.uniformMatrix4fv(this.uniform('matrix'), false, matrix);
  }

  /** Makes drawing change only the stencil; `end` restores colors. */
  stencilOnly(): void {
    const { gl } = this;
    gl.enable(gl.STENCIL_TEST);
    gl.stencilMask(0xff);
    gl.colorMask(false, false, false, false);
  }

  clearStencil(bits: number = 0xff): void {
    const { gl } = this;
    gl.stencilMask(bits);
    gl.clearStencil(0);
    gl.clear(gl.STENCIL_BUFFER_BIT);
  }

  /** Counts windings: + for triangles turning one way, - for the other. `bits`: those of the stencil that count. */
  countWinding(bits: number = 0xff): void {
    const { gl } = this;
    this.stencilOnly();
    gl.stencilMask(bits);
    gl.stencilFunc(gl.ALWAYS, 0, 0xff);
    gl.stencilOpSeparate(gl.FRONT, gl.KEEP, gl.KEEP, gl.INCR_WRAP);
    gl.stencilOpSeparate(gl.BACK, gl.KEEP, gl.KEEP, gl.DECR_WRAP);
  }

  /** Writes `value` wherever something is drawn and `test` holds against it. */
  writeStencil(test: number, ref: number, op: number): void {
    const { gl } = this;
    this.stencilOnly();
    gl.stencilFunc(test, ref, 0xff);
    gl.stencilOp(gl.KEEP, gl.KEEP, op);
  }

  /** Sets the mask where a winding was counted beside it, and ends the count there. */
  maskWindings(): void {
    const { gl } = this;
    this.stencilOnly();
    gl.stencilFunc(gl.NOTEQUAL, STENCIL.mask, STENCIL.count);
    gl.stencilOp(gl.KEEP, gl.KEEP, gl.REPLACE);
  }

  /** Draws color where the mask is set and a winding was counted beside it, and ends the count there. */
  windingsOnMask(): void {
    const { gl } = this;
    gl.enable(gl.STENCIL_TEST);
    gl.stencilMask(0xff);
    gl.colorMask(true, true, true, true);
    gl.stencilFunc(gl.LESS, STENCIL.mask, 0xff);
    gl.stencilOp(gl.KEEP, gl.KEEP, gl.REPLACE);
  }

  /** Draws color where the stencil is not zero, and clears it on the way. */
  throughStencil(): void {
    const { gl } = this;
    gl.enable(gl.STENCIL_TEST);
    gl.colorMask(true, true, true, true);
    gl.stencilFunc(gl.NOTEQUAL, 0, 0xff);
    gl.stencilOp(gl.KEEP, gl.KEEP, gl.ZERO);
  }

  /** Draws color where the stencil is not zero, and leaves it. */
  onStencil(): void {
    const { gl } = this;
    gl.enable(gl.STENCIL_TEST);
    gl.stencilMask(0xff);
    gl.colorMask(true, true, true, true);
    gl.stencilFunc(gl.NOTEQUAL, 0, 0xff);
    gl.stencilOp(gl.KEEP, gl.KEEP, gl.KEEP);
  }

  /** Draws only over what is already drawn. */
  atop(): void {
    this.gl.blendFunc(this.gl.DST_ALPHA, this.gl.ONE_MINUS_SRC_ALPHA);
  }

  /** Draws color where the stencil is zero, and sets it there to `to`: what comes first stays. */
  whereFree(to: 0 | 1): void {
    const { gl } = this;
    gl.enable(gl.STENCIL_TEST);
    gl.stencilMask(0xff);
    gl.colorMask(true, true, true, true);
    gl.stencilFunc(gl.EQUAL, 0, 0xff);
    gl.stencilOp(gl.KEEP, gl.KEEP, to === 1 ? gl.INCR : gl.KEEP);
  }

  end(): void {
    const { gl } = this;
    gl.colorMask(true, true, true, true);
    gl.disable(gl.STENCIL_TEST);
  }
}

const IDENTITY = new Float32Array([1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1]);

function filled(gl: WebGL2RenderingContext, target: number, data: ArrayBufferView): WebGLBuffer {
  const buffer = gl.createBuffer();
  gl.bindVertexArray(null);
  gl.bindBuffer(target, buffer);
  gl.bufferData(target, data as ArrayBufferView<ArrayBuffer>, gl.STATIC_DRAW);
  return buffer;
}

export function boxesMeet(a: Box, b: Box): boolean {
  return a[0] <= b[2] && a[2] >= b[0] && a[1] <= b[3] && a[3] >= b[1];
}

export function widened([w, n, e, s]: Box, by: number): Box {
  return [w - by, n - by, e + by, s + by];
}

export function linked(gl: WebGL2RenderingContext, vertex: string, fragment: string): WebGLProgram {
  const program = gl.createProgram();
  for (const [type, source] of [
    [gl.VERTEX_SHADER, vertex],
    [gl.FRAGMENT_SHADER, fragment],
  ] as const) {
    const shader = gl.createShader(type);
    if (!shader) throw new Error('The graphics context was lost.');
    gl.shaderSource(shader, source);
    gl.compileShader(shader);
    gl.attachShader(program, shader);
  }
  gl.linkProgram(program);
  if (!gl.getProgramParameter(program, gl.LINK_STATUS)) throw new Error(gl.getProgramInfoLog(program) ?? 'program');
  return program;
}
