/** Points in square cells, hashed: made once, asked many times. */
export interface PointGrid {
  /** Calls `visit` with the index of every point in cells that touch the square of half side `r` around (x, y). */
  near(x: number, y: number, r: number, visit: (i: number) => void): void;
}

/** Index over points (metres, interleaved in `xy`); `use` may leave some out. `cell` is the cell side in metres. */
export function makePointGrid(xy: Float64Array, count: number, cell: number, use?: (i: number) => boolean): PointGrid {
  let size = 16;
  while (size < 2 * count) size *= 2;
  const mask = size - 1;
  const head = new Int32Array(size).fill(-1);
  const next = new Int32Array(count);
  const inv = 1 / cell;
  const key = (cx: number, cy: number): number => {
    const h = Math.imul(cx, 0x9e3779b1) ^ Math.imul(cy, 0x85ebca6b);
    return (h ^ (h >>> 15)) & mask;
  };
  for (let i = count - 1; i >= 0; i--) {
    if (use && !use(i)) continue;
    const k = key(Math.floor(xy[2 * i] * inv), Math.floor(xy[2 * i + 1] * inv));
    next[i] = head[k];
    head[k] = i;
  }
  return {
    near(x, y, r, visit) {
      const x0 = Math.floor((x - r) * inv);
      const x1 = Math.floor((x + r) * inv);
      const y0 = Math.floor((y - r) * inv);
      const y1 = Math.floor((y + r) * inv);
      for (let cx = x0; cx <= x1; cx++) {
        for (let cy = y0; cy <= y1; cy++) {
          // Cells can share a bucket, so a point is visited only through its own cell.
          for (let i = head[key(cx, cy)]; i >= 0; i = next[i]) {
            if (Math.floor(xy[2 * i] * inv) === cx && Math.floor(xy[2 * i + 1] * inv) === cy) visit(i);
          }
        }
      }
    },
  };
}
