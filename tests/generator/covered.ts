import type { Point } from './route.ts';

/** Ground that earlier passes covered: quads in a grid of buckets, asked point by point. */
export class Covered {
  private readonly buckets = new Map<number, number[]>();
  private readonly quads: number[] = [];
  private static readonly cell = 8;

  private key(ix: number, iy: number): number {
    return (ix + 100_000) * 400_000 + (iy + 100_000);
  }

  /** Four corners, counter-clockwise. */
  add(quad: [Point, Point, Point, Point]): void {
    const id = this.quads.length;
    for (const p of quad) this.quads.push(p[0], p[1]);
    const xs = quad.map((p) => p[0]);
    const ys = quad.map((p) => p[1]);
    const c = Covered.cell;
    for (let ix = Math.floor(Math.min(...xs) / c); ix <= Math.floor(Math.max(...xs) / c); ix++)
      for (let iy = Math.floor(Math.min(...ys) / c); iy <= Math.floor(Math.max(...ys) / c); iy++) {
        const k = this.key(ix, iy);
        const list = this.buckets.get(k);
        if (list) list.push(id);
        else this.buckets.set(k, [id]);
      }
  }

  has(p: Point): boolean {
    const list = this.buckets.get(this.key(Math.floor(p[0] / Covered.cell), Math.floor(p[1] / Covered.cell)));
    if (!list) return false;
    const q = this.quads;
    next: for (const id of list) {
      for (let i = 0; i < 4; i++) {
        const a = id + 2 * i;
        const b = id + 2 * ((i + 1) % 4);
        if ((q[b] - q[a]) * (p[1] - q[a + 1]) - (q[b + 1] - q[a + 1]) * (p[0] - q[a]) < 0) continue next;
      }
      return true;
    }
    return false;
  }
}
