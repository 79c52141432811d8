/** A small picture of a map, painted while the map is read. */
import type { Lattice, Shapes } from '../core/geometry/shapes.ts';
import type { Staged } from '../core/intake/index.ts';

/** West, south, east, north in degrees. */
export type Box = [number, number, number, number];

/** Black where records lie, and clear elsewhere; north is up. */
export interface Painted {
  image: ImageData;
  box: Box;
}

/** Points along each side of the paper. */
const SIDE = 1536;
/** A ring with this few points counts as convex. */
const FEW_POINTS = 6;
/** Records further from the first ones belong to another field, or are outliers, degrees. */
const FAR_DEG = 0.3;
/** Limit of painted points: very many overlapping shapes would take longer than the check. */
const MOST_PAINT = 4e8;

/** Takes each record once. Its paper grows with the field: four points then become one. */
export class Sketch {
  /** Row by row from the south; 255 where a point is covered, less where it combines covered and uncovered ones. */
  private paint = new Uint8Array(0);
  private west = 0;
  private south = 0;
  /** Degrees of latitude to one point, and of longitude. */
  private stepY = 0;
  private stepX = 0;
  private box: Box = [Infinity, Infinity, -Infinity, -Infinity];
  private painted = 0;
  private records = 0;
  /** For the current shape: its points on the paper, and where it crosses the middle of each row, a sorted list for each. */
  private points = new Float64Array(64);
  private readonly head = new Int32Array(SIDE).fill(-1);
  private next = new Int32Array(256);
  private cross = new Float64Array(256);
  private crossings = 0;
  /** Westernmost and easternmost place of the current ring in each row. */
  private readonly left = new Float64Array(SIDE).fill(Infinity);
  private readonly right = new Float64Array(SIDE).fill(-Infinity);

  /** Paints the records that were staged since the last time. */
  add(staged: Staged): void {
    const { records, status, recordStart, ringStart } = staged;
    if (staged.isPoints) return;
    if (this.stepY === 0 && !this.begin(staged)) return;
    for (; this.records < records; this.records++) {
      const r = this.records;
      if (status[r] !== 0) continue;
      const from = recordStart[r];
      const to = recordStart[r + 1];
      const a = ringStart[from];
      const b = ringStart[to];
      if (a === b) continue;
      const block = staged.blockOf(a, b);
      const first = block === null ? 0 : 2 * (a % (block.length / 2));
      this.room(b - a);
      for (let p = 0; p < b - a; p++) {
        this.points[2 * p] = block === null ? staged.x(a + p) : block[first + 2 * p];
        this.points[2 * p + 1] = block === null ? staged.y(a + p) : block[first + 2 * p + 1];
      }
      this.shape(ringStart, from, to);
    }
  }

  /** Paints the shapes of a map that was read without a sketch. */
  addShapes({ xy, ringStart, shapeStart }: Shapes, lattice: Lattice): void {
    const n = shapeStart.length - 1;
    if (n === 0) return;
    const lon = (p: number): number => (lattice.originX + xy[2 * p]) / lattice.stepsPerDegree;
    const lat = (p: number): number => (lattice.originY + xy[2 * p + 1]) / lattice.stepsPerDegree;
    const few = Array.from({ length: Math.min(n, 64) }, (_, i) => ringStart[shapeStart[Math.floor((i * n) / 64) % n]]);
    this.lay(few.map(lon), few.map(lat));
    for (let s = 0; s < n; s++) {
      const a = ringStart[shapeStart[s]];
      const b = ringStart[shapeStart[s + 1]];
      this.room(b - a);
      for (let p = a; p < b; p++) {
        this.points[2 * (p - a)] = lon(p);
        this.points[2 * (p - a) + 1] = lat(p);
      }
      this.shape(ringStart, shapeStart[s], shapeStart[s + 1]);
    }
  }

  /** Whether nothing was painted, or the limit was reached. */
  get isBlank(): boolean {
    return !(this.box[0] < this.box[2]) || this.painted > MOST_PAINT;
  }

  /** The part of the paper that was painted on; null where it is blank. */
  done(): Painted | null {
    if (this.isBlank) return null;
    const { box, west, south, stepX, stepY } = this;
    const x0 = Math.max(0, Math.floor((box[0] - west) / stepX));
    const y0 = Math.max(0, Math.floor((box[1] - south) / stepY));
    const x1 = Math.min(SIDE, Math.floor((box[2] - west) / stepX) + 1);
    const y1 = Math.min(SIDE, Math.floor((box[3] - south) / stepY) + 1);
    const [w, h] = [x1 - x0, y1 - y0];
    const colors = new Uint32Array(w * h);
    // Alpha is the highest byte of four on every machine that runs a browser.
    for (let y = 0; y < h; y++) {
      const row = (y1 - 1 - y) * SIDE + x0;
      for (let x = 0; x < w; x++) colors[y * w + x] = this.paint[row + x] << 24;
    }
    return {
      image: new ImageData(new Uint8ClampedArray(colors.buffer), w, h),
      box: [west + x0 * stepX, south + y0 * stepY, west + x1 * stepX, south + y1 * stepY],
    };
  }

  /** Lays out the paper around the first records; false as long as there are none, or they are not in degrees. */
  private begin(staged: Staged): boolean {
    const { records, status, recordStart, ringStart } = staged;
    const lons: number[] = [];
    const lats: number[] = [];
    for (let r = 0; r < records; r += Math.max(1, records >> 6)) {
      const p = ringStart[recordStart[r]];
      if (status[r] !== 0 || recordStart[r] === recordStart[r + 1]) continue;
      lons.push(staged.x(p));
      lats.push(staged.y(p));
    }
    return this.lay(lons, lats);
  }

  private lay(lons: number[], lats: number[]): boolean {
    if (lons.length === 0) return false;
    const middle = (v: number[]): number => v.sort((a, b) => a - b)[v.length >> 1];
    const [lon, lat] = [middle(lons), middle(lats)];
    if (!(Math.abs(lon) <= 360 && Math.abs(lat) < 80)) return false;
    // Few meters to begin with: it grows.
    const across = 0.002;
    this.stepY = across / SIDE;
    this.stepX = this.stepY / Math.cos((lat * Math.PI) / 180);
    this.west = lon - (this.stepX * SIDE) / 2;
    this.south = lat - across / 2;
    this.paint = new Uint8Array(SIDE * SIDE);
    return true;
  }

  private room(points: number): void {
    if (2 * points > this.points.length) this.points = new Float64Array(4 * points);
  }

  /** Paints the shape whose points are in hand, in degrees. */
  private shape(ringStart: ArrayLike<number>, from: number, to: number): void {
    const { points } = this;
    const a = ringStart[from];
    const n = ringStart[to] - a;
    if (this.painted > MOST_PAINT) return;
    let x0 = Infinity;
    let y0 = Infinity;
    let x1 = -Infinity;
    let y1 = -Infinity;
    for (let p = 0; p < 2 * n; p += 2) {
      const x = points[p];
      const y = points[p + 1];
      if (x < x0) x0 = x;
      if (x > x1) x1 = x;
      if (y < y0) y0 = y;
      if (y > y1) y1 = y;
    }
    if (!this.fits(x0, y0, x1, y1)) return;
    const { west, south, stepX, stepY, box } = this;
    if (x0 < box[0]) box[0] = x0;
    if (y0 < box[1]) box[1] = y0;
    if (x1 > box[2]) box[2] = x1;
    if (y1 > box[3]) box[3] = y1;
    const perX = 1 / stepX;
    const perY = 1 / stepY;
    for (let p = 0; p < 2 * n; p += 2) {
      points[p] = (points[p] - west) * perX;
      points[p + 1] = (points[p + 1] - south) * perY;
    }
    const low = (y0 - south) * perY;
    const high = (y1 - south) * perY;
    if (to - from === 1 && n <= FEW_POINTS) {
      this.simple(n, Math.floor(low), Math.floor(high));
      return;
    }
    for (let r = from; r < to; r++) {
      const end = ringStart[r + 1] - a;
      for (let p = ringStart[r] - a, q = end - 1; p < end; q = p++) this.edge(q, p, low, high);
    }
    this.fill(Math.floor(low), Math.floor(high));
  }

  /** Grows the paper until the box lies on it; false where it lies too far off, or nowhere. */
  private fits(x0: number, y0: number, x1: number, y1: number): boolean {
    const x = this.west + (this.stepX * SIDE) / 2;
    const y = this.south + (this.stepY * SIDE) / 2;
    if (!(x0 > x - FAR_DEG && x1 < x + FAR_DEG && y0 > y - FAR_DEG && y1 < y + FAR_DEG)) return false;
    while (
      x0 < this.west ||
      y0 < this.south ||
      x1 >= this.west + this.stepX * SIDE ||
      y1 >= this.south + this.stepY * SIDE
    )
      this.grow(x0 < this.west, y0 < this.south);
    return true;
  }

  private grow(toWest: boolean, toSouth: boolean): void {
    const half = SIDE / 2;
    const old = this.paint;
    const paint = new Uint8Array(SIDE * SIDE);
    for (let y = 0; y < half; y++) {
      const [low, high] = [2 * y * SIDE, (2 * y + 1) * SIDE];
      const to = (y + (toSouth ? half : 0)) * SIDE + (toWest ? half : 0);
      for (let x = 0; x < half; x++)
        paint[to + x] = (old[low + 2 * x] + old[low + 2 * x + 1] + old[high + 2 * x] + old[high + 2 * x + 1] + 2) >> 2;
    }
    this.paint = paint;
    if (toWest) this.west -= this.stepX * SIDE;
    if (toSouth) this.south -= this.stepY * SIDE;
    this.stepX *= 2;
    this.stepY *= 2;
  }

  /** Covers every point that the first ring in hand touches, which is convex. */
  private simple(n: number, low: number, high: number): void {
    const { points, left, right, paint } = this;
    for (let q = 2 * n - 2, p = 0; p < 2 * n; q = p, p += 2) {
      const up = points[q + 1] <= points[p + 1];
      const a = up ? q : p;
      const b = up ? p : q;
      const x0 = points[a];
      const y0 = points[a + 1];
      const x1 = points[b];
      const y1 = points[b + 1];
      const slope = y1 > y0 ? (x1 - x0) / (y1 - y0) : 0;
      const last = Math.floor(y1);
      // From the edge's lower end to the row's upper rim, and on from rim to rim.
      let x = x0;
      for (let row = Math.floor(y0); row <= last; row++) {
        const next = row === last ? x1 : x0 + (row + 1 - y0) * slope;
        if (x < left[row]) left[row] = x;
        if (next < left[row]) left[row] = next;
        if (x > right[row]) right[row] = x;
        if (next > right[row]) right[row] = next;
        x = next;
      }
    }
    for (let row = low; row <= high; row++) {
      const first = row * SIDE + Math.floor(left[row]);
      const last = row * SIDE + Math.floor(right[row]);
      left[row] = Infinity;
      right[row] = -Infinity;
      if (last - first > 24) paint.fill(255, first, last + 1);
      else for (let i = first; i <= last; i++) paint[i] = 255;
      this.painted += last - first + 1;
    }
  }

  /** Notes where an edge crosses the rows of a shape that reaches from `low` to `high`. Its first and last row are looked at within the shape. */
  private edge(p: number, q: number, low: number, high: number): void {
    const { points, head } = this;
    const [ax, ay, bx, by] = [points[2 * p], points[2 * p + 1], points[2 * q], points[2 * q + 1]];
    if (ay === by) return;
    const [down, up] = ay < by ? [ay, by] : [by, ay];
    const slack = (high - low) * 1e-3;
    for (let row = Math.floor(down); row <= up; row++) {
      const y = Math.min(Math.max(row + 0.5, low + slack), high - slack);
      if (y < down || y >= up) continue;
      const x = ax + ((y - ay) / (by - ay)) * (bx - ax);
      if (this.crossings === this.next.length) this.more();
      const at = this.crossings++;
      this.cross[at] = x;
      let before = -1;
      let after = head[row];
      for (; after >= 0 && this.cross[after] < x; after = this.next[after]) {
        before = after;
        this.painted++;
      }
      this.next[at] = after;
      if (before < 0) head[row] = at;
      else this.next[before] = at;
    }
  }

  private more(): void {
    const next = new Int32Array(2 * this.next.length);
    next.set(this.next);
    this.next = next;
    const cross = new Float64Array(2 * this.cross.length);
    cross.set(this.cross);
    this.cross = cross;
  }

  /** Covers every point that the shape in hand touches between its crossings: what is narrower than a point is closed. */
  private fill(low: number, high: number): void {
    const { head, next, cross, paint } = this;
    for (let row = low; row <= high; row++) {
      for (let at = head[row]; at >= 0 && next[at] >= 0; at = next[next[at]]) {
        const [x0, x1] = [Math.floor(cross[at]), Math.floor(cross[next[at]]) + 1];
        this.painted += x1 - x0;
        // A call for a handful of points takes longer than they do.
        if (x1 - x0 > 24) paint.fill(255, row * SIDE + x0, row * SIDE + x1);
        else for (let i = row * SIDE + x0; i < row * SIDE + x1; i++) paint[i] = 255;
      }
      head[row] = -1;
    }
    this.crossings = 0;
  }
}
