/** Which record lies under a spot. */
import type { Shapes } from '../../core/geometry/shapes.ts';

const GROUP = 64;

export interface Picker {
  /** Index of the last (topmost) shape that covers the spot, lattice steps; -1 for none. */
  at(x: number, y: number): number;
}

/** Boxes around groups of neighboring shapes, then the shapes themselves: a search in a map of 400,000 records takes well under a millisecond. */
export function makePicker(shapes: Shapes): Picker {
  const { xy, ringStart, shapeStart } = shapes;
  const n = Math.max(0, shapeStart.length - 1);
  const groups = Math.ceil(n / GROUP);
  const box = new Float64Array(4 * groups);
  for (let g = 0; g < groups; g++) {
    let [x0, y0, x1, y1] = [Infinity, Infinity, -Infinity, -Infinity];
    const from = ringStart[shapeStart[g * GROUP]];
    const to = ringStart[shapeStart[Math.min(n, (g + 1) * GROUP)]];
    for (let i = 2 * from; i < 2 * to; i += 2) {
      x0 = Math.min(x0, xy[i]);
      x1 = Math.max(x1, xy[i]);
      y0 = Math.min(y0, xy[i + 1]);
      y1 = Math.max(y1, xy[i + 1]);
    }
    box.set([x0, y0, x1, y1], 4 * g);
  }
  return {
    at(x, y) {
      for (let g = groups - 1; g >= 0; g--) {
        if (x < box[4 * g] || y < box[4 * g + 1] || x > box[4 * g + 2] || y > box[4 * g + 3]) continue;
        for (let s = Math.min(n, (g + 1) * GROUP) - 1; s >= g * GROUP; s--) if (covers(shapes, s, x, y)) return s;
      }
      return -1;
    },
  };
}

/** Winding number of the rings of shape `s` around the spot is not zero. */
function covers({ xy, ringStart, shapeStart }: Shapes, s: number, x: number, y: number): boolean {
  let winding = 0;
  for (let r = shapeStart[s]; r < shapeStart[s + 1]; r++) {
    for (let i = ringStart[r], j = ringStart[r + 1] - 1; i < ringStart[r + 1]; j = i++) {
      const [ax, ay, bx, by] = [xy[2 * j], xy[2 * j + 1], xy[2 * i], xy[2 * i + 1]];
      if (ay <= y === by <= y) continue;
      const side = (bx - ax) * (y - ay) - (by - ay) * (x - ax);
      if (by > ay && side > 0) winding++;
      if (by <= ay && side < 0) winding--;
    }
  }
  return winding !== 0;
}
