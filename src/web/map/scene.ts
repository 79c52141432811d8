/**
 * What each sheet of the map shows, in pieces that fit into one frame. Each piece sets up everything that it needs, because the map library, or another
 * sheet, may have drawn since the last.
 */

import type { Picture, Sign } from '../../core/report/index.ts';
import {
  type Box,
  boxesMeet,
  type Fill,
  flat,
  type Indexed,
  PATTERN,
  type Painter,
  type Rgb,
  STENCIL,
  widened,
} from './gl.ts';
import type { Chunk } from './mesh.ts';
import { between, type MapColors, type SignColors } from './palette.ts';

/** The field on the graphics card. */
export interface Meshes {
  records: Indexed;
  otherRecords: [Indexed, Indexed];
  edges: Indexed;
  planted: Indexed;
  /** Of a map that was rebuilt, the records before that are not convex; of any other, none. */
  otherBefore: Indexed;
  signs: { strips: Indexed; usualThick: number; bands: Indexed | null; share: number }[];
  open: Record<Picture, Indexed>;
  /** The map was rebuilt, and `planted` is the map before. */
  rebuilt: boolean;
}

/** The input for drawing a piece of a sheet. */
export interface Brush {
  gl: WebGL2RenderingContext;
  painter: Painter;
  matrix: Float32Array;
  view: Box;
  /** Offsets to one point of the screen. */
  point: number;
  /** Points of the screen to one CSS pixel, a whole number. */
  unit: number;
  /** Points along each side of what is drawn on. */
  side: number;
}

/** Pieces of a drawing; each returns its cost in triangles. */
export type Pieces = Generator<number, void>;

/** Strips thinner than this are not drawn one by one, CSS pixels. */
export const THIN_PX = 2;
/** From this thickness on a strip has room for the pattern of the legend. */
const WIDE_PX = 10;
/** Chunks of triangles in one piece. */
const TOGETHER = 12;
/** A fill of the whole view costs about as much as this many small triangles. */
const FLOOD = 6000;

/** The ground of a picture: each spot once, however many records lie over it, in the shade of its pass. */
export function* pictureOf(picture: Picture, meshes: Meshes, colors: MapColors, near: boolean, b: Brush): Pieces {
  const { painter, gl, matrix } = b;
  const all = colors[picture];
  // Passes of a few pixels in turn would make a moire: there they share a shade.
  const shades: typeof all = near ? all : [all[0], all[1], all[0], all[1]];
  painter.begin(matrix);
  painter.clearStencil();
  if (picture === 'recorded') {
    for (const odd of [0, 1] as const) {
      const what = meshes.otherRecords[odd];
      const chunks = inSight(what, b.view);
      if (chunks.length === 0) continue;
      yield* windings(what, chunks, b);
      yield* flood(flat(shades[odd]), b);
    }
  }
  const ground = picture === 'recorded' ? meshes.records : meshes.planted;
  for (const chunks of batches(inSight(ground, b.view))) {
    painter.begin(matrix);
    painter.whereFree(1);
    painter.shades(shades, flat(shades[0]));
    painter.draw(ground, chunks);
    yield cost(chunks);
  }
  painter.begin(matrix);
  painter.clearStencil();
  // Ground in between that is too thin to see would flicker from pixel to pixel: it is closed here, and the signs show it.
  const open = meshes.open[picture];
  const thin = inSight(open, b.view, [0, THIN_PX * b.unit * b.point]);
  if (thin.length > 0) {
    yield* windings(open, thin, b, [0, THIN_PX * b.unit * b.point]);
    yield* flood(flat(between(shades[0], shades[1])), b);
  }
  if (near && picture === 'recorded') {
    for (const chunks of batches(inSight(meshes.edges, b.view))) {
      painter.begin(matrix);
      painter.fill(flat(colors.edge, 0.75));
      painter.draw(meshes.edges, chunks, gl.LINES);
      yield cost(chunks);
    }
  }
}

/**
 * What a rebuilt map changes: ground that it takes away, ground that it adds, and over both, where both maps have ground, whether the record there was
 * redrawn. Only the winding number separates the inside of a record that is not convex: the mask of the stencil holds the map before meanwhile.
 */
export function* changesOn(meshes: Meshes, colors: MapColors, near: boolean, b: Brush): Pieces {
  const { painter, gl, matrix } = b;
  const { records, planted: before, otherBefore, otherRecords, edges } = meshes;
  const each = function* (what: Indexed, set: () => void, mode?: number): Pieces {
    for (const chunks of batches(inSight(what, b.view))) {
      painter.begin(matrix);
      set();
      painter.draw(what, chunks, mode);
      yield cost(chunks);
    }
  };
  painter.begin(matrix);
  painter.clearStencil();
  const layers: [Indexed, Indexed[], Rgb][] = [
    [before, [otherBefore], colors.taken],
    [records, otherRecords, colors.added],
  ];
  for (const [convex, others, color] of layers) {
    yield* each(convex, () => painter.fill(flat(color)));
    for (const other of others) {
      const chunks = inSight(other, b.view);
      if (chunks.length === 0) continue;
      yield* windings(other, chunks, b);
      yield* flood(flat(color), b);
    }
  }
  yield* each(before, () => painter.writeStencil(gl.ALWAYS, STENCIL.mask, gl.REPLACE));
  yield* each(otherBefore, () => painter.countWinding(STENCIL.count));
  painter.begin(matrix);
  painter.maskWindings();
  painter.flood(matrix);
  yield FLOOD;
  const [kept, redrawn] = [colors.recorded[0], colors.planted[0]];
  yield* each(records, () => {
    painter.onStencil();
    painter.shades([kept, redrawn, kept, redrawn], flat(kept));
  });
  for (const odd of [0, 1] as const) {
    if (inSight(otherRecords[odd], b.view).length === 0) continue;
    yield* each(otherRecords[odd], () => painter.countWinding(STENCIL.count));
    painter.begin(matrix);
    painter.windingsOnMask();
    painter.fill(flat(odd ? redrawn : kept));
    painter.flood(matrix);
    painter.clearStencil(STENCIL.count);
    yield FLOOD;
  }
  painter.begin(matrix);
  painter.clearStencil();
  if (near) yield* each(edges, () => painter.fill(flat(colors.edge, 0.75)), gl.LINES);
}

/** The signs of a picture, drawn on it: bands for ground that is too thin to see, within the field, then the ground itself. */
export function* signsOn(shown: readonly [Sign, number][], meshes: Meshes, colors: MapColors, b: Brush): Pieces {
  const px = b.unit * b.point;
  b.painter.begin(b.matrix);
  b.painter.clearStencil();
  for (const [sign, at] of shown) {
    const { bands, share } = meshes.signs[at];
    const range: Range = [0, THIN_PX * px];
    const chunks = bands ? inSight(bands, b.view, range) : [];
    if (!bands || chunks.length === 0) continue;
    for (const some of batches(chunks)) {
      b.painter.begin(b.matrix);
      b.painter.between(...range);
      b.painter.writeStencil(b.gl.ALWAYS, 1, b.gl.REPLACE);
      b.painter.draw(bands, some);
      yield cost(some);
    }
    yield* flood(bandOf(sign, colors, share, b.unit), b, true);
  }
  for (const [sign, at] of shown) {
    const { strips, usualThick } = meshes.signs[at];
    const range: Range = [THIN_PX * px, Infinity];
    const chunks = inSight(strips, b.view, range);
    if (chunks.length === 0) continue;
    yield* windings(strips, chunks, b, range);
    // All strips of a sign share a pattern: two that are nearly as wide must not look like two things.
    yield* flood(fillOf(sign, colors, usualThick < WIDE_PX * px ? 'narrow' : 'wide', b.unit), b);
  }
}

/** A selection: an outline outside it, so that it hides nothing of what it marks. `thin`: the marked records are a few pixels wide, and so are their neighbors. */
export function* selectionOf(what: Indexed, thin: boolean, colors: MapColors, b: Brush): Pieces {
  const { painter, matrix, gl } = b;
  const reach = 6 * b.unit;
  const chunks = inSight(what, widened(b.view, reach * b.point));
  if (chunks.length === 0) return;
  painter.begin(matrix);
  painter.clearStencil();
  for (const some of batches(chunks)) {
    painter.begin(matrix);
    painter.writeStencil(gl.ALWAYS, 1, gl.REPLACE);
    painter.draw(what, some);
    yield cost(some);
  }
  for (const [radius, color] of [
    [(thin ? 3 : 4.5) * b.unit, colors.halo],
    [(thin ? 1.5 : 3) * b.unit, colors.outline],
  ] as [number, Rgb][]) {
    for (let k = 0; k < 12; k++) {
      const [x, y] = [Math.cos((k * Math.PI) / 6), Math.sin((k * Math.PI) / 6)];
      for (const some of batches(chunks)) {
        painter.begin(matrix);
        painter.whereFree(0);
        painter.shift((2 * radius * x) / b.side, (2 * radius * y) / b.side);
        painter.fill(flat(color));
        painter.draw(what, some);
        yield cost(some);
      }
    }
  }
}

type Range = readonly [number, number];

/** How a sign is filled where its ground has room for a pattern, and where it is narrow. */
function fillOf(
  { fact, weight }: Pick<Sign, 'fact' | 'weight'>,
  { signs }: MapColors,
  room: 'wide' | 'narrow',
  unit: number,
): Fill {
  const [ground, mark]: SignColors = signs[fact][weight];
  const pattern = fact === 'gap' ? PATTERN.dots : PATTERN.bars;
  const part =
    fact === 'gap' ? { setting: 0.6, open: 0.5, usual: 0.3 }[weight] : { setting: 0.5, open: 0.4, usual: 0.25 }[weight];
  // A strip that gets wider at a closer look keeps its tone: the pattern only gets coarser.
  return { pattern, ground, mark, part, period: (room === 'wide' ? 8 : 4) * unit, alpha: 1, markAlpha: 1 };
}

/** The least tint: fainter, a single strip of a few inches would not be found. */
const LEAST_SHARE = 0.06;

/**
 * A band as a halftone: its marks take the part of the band that the strips take of the ground, so that a field with strips at every seam keeps
 * its passes, and twice as much open ground looks twice as strong.
 */
function bandOf(
  { fact, weight }: Pick<Sign, 'fact' | 'weight'>,
  { signs }: MapColors,
  share: number,
  unit: number,
): Fill {
  const [ground, mark]: SignColors = signs[fact][weight];
  const inked = Math.min(0.6, Math.max(LEAST_SHARE, share));
  const shared = { ground, mark, period: 6 * unit, alpha: 0.5 * inked, markAlpha: 0.9 };
  // Dots take the square of their part, bars their part.
  return fact === 'gap'
    ? { pattern: PATTERN.dots, part: Math.sqrt(inked), ...shared }
    : { pattern: PATTERN.bars, part: inked, ...shared };
}

/** Windings of triangles, counted in the stencil. */
function* windings(what: Indexed, chunks: readonly Chunk[], b: Brush, range?: Range): Pieces {
  for (const some of batches(chunks)) {
    b.painter.begin(b.matrix);
    if (range) b.painter.between(...range);
    b.painter.countWinding();
    b.painter.draw(what, some);
    yield cost(some);
  }
}

/** Fills where the stencil is set, and clears it. */
function* flood(fill: Fill, { painter, matrix }: Brush, atop = false): Pieces {
  painter.begin(matrix);
  if (atop) painter.atop();
  painter.throughStencil();
  painter.fill(fill);
  painter.flood(matrix);
  painter.end();
  yield FLOOD;
}

function inSight(what: Indexed, view: Box, range?: Range): Chunk[] {
  return what.chunks.filter(
    ({ box, thick }) => boxesMeet(box, view) && (!range || !thick || (thick[1] >= range[0] && thick[0] < range[1])),
  );
}

function batches(chunks: readonly Chunk[]): Chunk[][] {
  const out: Chunk[][] = [];
  for (let i = 0; i < chunks.length; i += TOGETHER) out.push(chunks.slice(i, i + TOGETHER));
  return out;
}

function cost(chunks: readonly Chunk[]): number {
  return chunks.reduce((n, c) => n + c.count / 3, 0);
}
