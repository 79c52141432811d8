/** Triangles and lines on the graphics card. Knows nothing of fields. */

import type { Box, Chunk, Mesh } from './mesh.ts';

export type { Box } from './mesh.ts';

export interface Points {
  buffer: WebGLBuffer;
  flags: WebGLBuffer | null;
}

export interface Indexed {
  points: Points;
  index: WebGLBuffer;
  chunks: Chunk[];
}

export type Rgb = [number, number, number];

/** Fill patterns; each has its own shape, so that none is told by colour alone. */
export const PATTERN = { flat: 0, rising: 1, falling: 2, dots: 3 } as const;
export type Pattern = (typeof PATTERN)[keyof typeof PATTERN];

const VERTEX = `#version 300 es
layout(location = 0) in vec2 place;
layout(location = 1) in float flags;
uniform mat4 matrix;
uniform float bit;
uniform vec3 colours[2];
flat out vec3 colour;
void main() {
  gl_Position = matrix * vec4(place, 0.0, 1.0);
  colour = colours[int(mod(floor(flags / bit), 2.0))];
}`;

const FRAGMENT = `#version 300 es
precision highp float;
flat in vec3 colour;
uniform float alpha;
uniform int pattern;
uniform vec3 mark;
uniform float unit;
out vec4 drawn;
void main() {
  vec3 c = colour;
  if (pattern != 0) {
    float along = gl_FragCoord.x + (pattern == 1 ? -1.0 : pattern == 2 ? 1.0 : 0.0) * gl_FragCoord.y;
    bool on = mod(along / unit, 7.0) < 2.5;
    if (pattern == 3) on = on && mod(gl_FragCoord.y / unit, 7.0) < 2.5;
    if (on) c = mark;
  }
  drawn = vec4(c * alpha, alpha);
}`;

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

  points(xy: Float32Array, flags?: Uint8Array): Points {
    const { gl } = this;
    return { buffer: filled(gl, gl.ARRAY_BUFFER, xy), flags: flags ? filled(gl, gl.ARRAY_BUFFER, flags) : null };
  }

  index(points: Points, { index, chunks }: Mesh): Indexed {
    return { points, index: filled(this.gl, this.gl.ELEMENT_ARRAY_BUFFER, index), chunks };
  }

  drop(what: Indexed): void {
    this.gl.deleteBuffer(what.index);
  }

  /** `pixelRatio` keeps patterns at one size on every screen. */
  begin(matrix: Float32Array, pixelRatio: number): void {
    const { gl } = this;
    gl.useProgram(this.program);
    gl.uniformMatrix4fv(this.uniform('matrix'), false, matrix);
    gl.uniform1f(this.uniform('unit'), pixelRatio);
    gl.disable(gl.CULL_FACE);
    gl.disable(gl.DEPTH_TEST);
    this.paint(1, PATTERN.flat, [0, 0, 0], [0, 0, 0]);
  }

  /** `bit` of a point's flags chooses between the two colours. */
  paint(alpha: number, pattern: Pattern, colour: Rgb, other: Rgb, mark: Rgb = other, bit = 1): void {
    const { gl } = this;
    gl.uniform1f(this.uniform('alpha'), alpha);
    gl.uniform1i(this.uniform('pattern'), pattern);
    gl.uniform3fv(this.uniform('colours[0]'), [...colour, ...other]);
    gl.uniform3fv(this.uniform('mark'), mark);
    gl.uniform1f(this.uniform('bit'), bit);
  }

  /** What of `what` touches `view` (offsets: west, north, east, south). False when nothing does. */
  draw(what: Indexed, view: Box, mode: number = this.gl.TRIANGLES): boolean {
    const chunks = what.chunks.filter((c) => boxesMeet(c.box, view));
    if (chunks.length === 0) return false;
    const { gl } = this;
    gl.bindVertexArray(null);
    gl.bindBuffer(gl.ARRAY_BUFFER, what.points.buffer);
    gl.enableVertexAttribArray(0);
    gl.vertexAttribPointer(0, 2, gl.FLOAT, false, 0, 0);
    if (what.points.flags) {
      gl.bindBuffer(gl.ARRAY_BUFFER, what.points.flags);
      gl.enableVertexAttribArray(1);
      gl.vertexAttribPointer(1, 1, gl.UNSIGNED_BYTE, false, 0, 0);
    } else {
      gl.disableVertexAttribArray(1);
      gl.vertexAttrib1f(1, 0);
    }
    gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, what.index);
    for (const { first, count } of chunks) gl.drawElements(mode, count, gl.UNSIGNED_INT, 4 * first);
    gl.disableVertexAttribArray(1);
    return true;
  }

  /** The whole screen, where the stencil lets it through. */
  flood(matrix: Float32Array): void {
    const { gl } = this;
    gl.uniformMatrix4fv(this.uniform('matrix'), false, IDENTITY);
    gl.bindVertexArray(null);
    gl.bindBuffer(gl.ARRAY_BUFFER, this.screen);
    gl.enableVertexAttribArray(0);
    gl.vertexAttribPointer(0, 2, gl.FLOAT, false, 0, 0);
    gl.disableVertexAttribArray(1);
    gl.vertexAttrib1f(1, 0);
    gl.drawArrays(gl.TRIANGLES, 0, 3);
    gl.uniformMatrix4fv(this.uniform('matrix'), false, matrix);
  }

  /** Lets drawing change the stencil only; `end` gives colours back. */
  stencilOnly(): void {
    const { gl } = this;
    gl.enable(gl.STENCIL_TEST);
    gl.stencilMask(0xff);
    gl.colorMask(false, false, false, false);
  }

  clearStencil(): void {
    const { gl } = this;
    gl.stencilMask(0xff);
    gl.clearStencil(0);
    gl.clear(gl.STENCIL_BUFFER_BIT);
  }

  /** Counts windings: + for triangles turning one way, - for the other. */
  countWinding(): void {
    const { gl } = this;
    this.stencilOnly();
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

  /** Draws colour where the stencil is not zero, and clears it on the way. */
  throughStencil(): void {
    const { gl } = this;
    gl.colorMask(true, true, true, true);
    gl.stencilFunc(gl.NOTEQUAL, 0, 0xff);
    gl.stencilOp(gl.KEEP, gl.KEEP, gl.ZERO);
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
