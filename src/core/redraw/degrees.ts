import type { Layer } from '../formats/layer.ts';
import type { Lattice, Shapes } from '../geometry/shapes.ts';
import type { Piece } from './bars.ts';
import { type Output, polygonsOf } from './outputs.ts';

type Geometry = Pick<Layer, 'lonLat' | 'ringStart' | 'polygonStart' | 'recordStart'>;

/** The geometry of the output records: kept polygons on the file's lattice, all others on the finer one of what was drawn. */
export function geometryOf(
  list: readonly Output[],
  pieces: readonly Piece[],
  shapes: Shapes,
  lattice: Lattice,
  drawn: Shapes,
  fine: Lattice,
): Geometry {
  const out = new InDegrees();
  for (const o of list) {
    const p = pieces[o.pieces[0]];
    if (o.rings) out.record(o.rings, fine);
    else if (p.keeps >= 0) out.shape(shapes, p.keeps, lattice);
    else out.shape(drawn, o.pieces[0], fine);
  }
  return out.geometry();
}

/** Shapes as they are, in degrees. */
export function inDegrees(shapes: Shapes, lattice: Lattice): Geometry {
  const out = new InDegrees();
  for (let r = 0; r + 1 < shapes.shapeStart.length; r++) out.shape(shapes, r, lattice);
  return out.geometry();
}

/** Whole steps of a decimal lattice divide to the very double that the file's digits are read as. */
class InDegrees {
  private readonly lonLat: number[] = [];
  private readonly ringStart = [0];
  private readonly polygonStart = [0];
  private readonly recordStart = [0];

  /** A shape as one record. Most are one ring, which needs no sorting. */
  shape(shapes: Shapes, i: number, lattice: Lattice): void {
    const r = shapes.shapeStart[i];
    if (shapes.shapeStart[i + 1] - r !== 1) {
      this.record(polygonsOf(shapes, i), lattice);
      return;
    }
    this.ring(
      shapes.xy,
      shapes.ringStart[r],
      shapes.ringStart[r + 1],
      lattice,
      turnOf(shapes.xy, shapes.ringStart[r], shapes.ringStart[r + 1], lattice),
    );
    this.polygonStart.push(this.ringStart.length - 1);
    this.recordStart.push(this.polygonStart.length - 1);
  }

  record(p: ReturnType<typeof polygonsOf>, lattice: Lattice): void {
    const turn = turnOf(p.xy, 0, p.xy.length / 2, lattice);
    for (let g = 0; g + 1 < p.polygonStart.length; g++) {
      for (let r = p.polygonStart[g]; r < p.polygonStart[g + 1]; r++)
        this.ring(p.xy, p.ringStart[r], p.ringStart[r + 1], lattice, turn);
      this.polygonStart.push(this.ringStart.length - 1);
    }
    this.recordStart.push(this.polygonStart.length - 1);
  }

  private ring(xy: ArrayLike<number>, from: number, to: number, lattice: Lattice, turn: number): void {
    const { stepsPerDegree: s, originX, originY } = lattice;
    for (let k = from; k < to; k++) this.lonLat.push((originX + turn + xy[2 * k]) / s, (originY + xy[2 * k + 1]) / s);
    this.ringStart.push(this.lonLat.length / 2);
  }

  geometry(): Geometry {
    return {
      lonLat: Float64Array.from(this.lonLat),
      ringStart: Uint32Array.from(this.ringStart),
      polygonStart: Uint32Array.from(this.polygonStart),
      recordStart: Uint32Array.from(this.recordStart),
    };
  }
}

/** A record that lies beyond the antimeridian as a whole comes back to this side; one that crosses it goes on past 180. Steps. */
function turnOf(xy: ArrayLike<number>, from: number, to: number, { stepsPerDegree: s, originX }: Lattice): number {
  let west = Infinity;
  let east = -Infinity;
  for (let k = from; k < to; k++) {
    west = Math.min(west, xy[2 * k]);
    east = Math.max(east, xy[2 * k]);
  }
  return originX + west >= 180 * s ? -360 * s : originX + east <= -180 * s ? 360 * s : 0;
}
