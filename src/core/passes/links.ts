import { makePointGrid } from '../geometry/grid.ts';
import type { Shapes } from '../geometry/shapes.ts';
import type { Quads } from './quads.ts';

/** For every side (4·quad + k) the side that lies against it, or -1. `exact` says that both ends are the same points of the file. */
export interface SideLinks {
  link: Int32Array;
  exact: Uint8Array;
}

/** Sides whose two ends are, digit for digit, the ends of one other quad's side. */
export function linkSharedSides(shapes: Shapes, quads: Quads): SideLinks {
  const sides = 4 * quads.count;
  const link = new Int32Array(sides).fill(-1);
  const exact = new Uint8Array(sides);
  let size = 16;
  while (size < 2 * sides) size *= 2;
  const table = new Int32Array(size).fill(-1);
  const mask = size - 1;
  const { point } = quads;
  const { xy } = shapes;
  for (let s = 0; s < sides; s++) {
    const a = 2 * point[s];
    const b = 2 * point[(s & ~3) | ((s + 1) & 3)];
    // The other quad runs along the side the other way, so the hash must not care for direction.
    const g =
      Math.imul(xy[a], 0x9e3779b1) +
      Math.imul(xy[a + 1], 0x85ebca6b) +
      Math.imul(xy[b], 0x9e3779b1) +
      Math.imul(xy[b + 1], 0x85ebca6b);
    const h = Math.imul(g ^ (g >>> 15), 0x2c1b3c6d);
    let slot = (h ^ (h >>> 13)) & mask;
    for (;;) {
      const t = table[slot];
      if (t < 0) {
        table[slot] = s;
        break;
      }
      if (link[t] < 0 && t >> 2 !== s >> 2) {
        const c = 2 * point[t];
        const d = 2 * point[(t & ~3) | ((t + 1) & 3)];
        if (xy[a] === xy[d] && xy[a + 1] === xy[d + 1] && xy[b] === xy[c] && xy[b + 1] === xy[c + 1]) {
          link[t] = s;
          link[s] = t;
          exact[t] = 1;
          exact[s] = 1;
          break;
        }
      }
      slot = (slot + 1) & mask;
    }
  }
  return { link, exact };
}

/** Midpoints of all sides, metres, interleaved. */
export function sideMiddles(quads: Quads): Float64Array {
  const m = new Float64Array(8 * quads.count);
  const c = quads.corner;
  for (let s = 0; s < 4 * quads.count; s++) {
    const e = (s & ~3) | ((s + 1) & 3);
    m[2 * s] = (c[2 * s] + c[2 * e]) / 2;
    m[2 * s + 1] = (c[2 * s + 1] + c[2 * e + 1]) / 2;
  }
  return m;
}

export interface NearRule {
  /** How far the middles may lie apart across the side (along its normal) and along it, metres. */
  normalM: number;
  alongM: number;
  /** And along it no further than this part of the side. */
  alongShare: number;
  /** Least cosine between the side and the other side taken backwards. */
  cosine: number;
  /** Largest difference of the two lengths, as a part of the shorter and in metres: either may hold. */
  lengthShare: number;
  lengthM: number;
  /** Largest difference of the two quads' depths behind the side, as a part of the shallower: what lies crosswise differs. */
  depthShare: number;
}

/** Links still open sides for which `use` holds to the nearest open side that fits `rule`; both must find each other the nearest. */
export function linkNearSides(
  quads: Quads,
  middles: Float64Array,
  links: SideLinks,
  rule: NearRule,
  use: (side: number) => boolean,
): void {
  const sides = 4 * quads.count;
  const { link } = links;
  const open = (s: number): boolean => link[s] < 0 && use(s);
  const reach = Math.max(rule.normalM, rule.alongM);
  const grid = makePointGrid(middles, sides, Math.max(2 * reach, 0.25), open);
  const c = quads.corner;
  const best = new Int32Array(sides).fill(-1);
  const depth = (s: number): number => {
    const o = (s & ~3) | ((s + 2) & 3);
    return Math.hypot(middles[2 * s] - middles[2 * o], middles[2 * s + 1] - middles[2 * o + 1]);
  };
  for (let s = 0; s < sides; s++) {
    if (!open(s)) continue;
    const e = (s & ~3) | ((s + 1) & 3);
    const ux = c[2 * e] - c[2 * s];
    const uy = c[2 * e + 1] - c[2 * s + 1];
    const len = Math.hypot(ux, uy);
    const mx = middles[2 * s];
    const my = middles[2 * s + 1];
    const own = depth(s);
    let near = Infinity;
    grid.near(mx, my, reach, (t) => {
      if (t >> 2 === s >> 2) return;
      const f = (t & ~3) | ((t + 1) & 3);
      const vx = c[2 * f] - c[2 * t];
      const vy = c[2 * f + 1] - c[2 * t + 1];
      const other = Math.hypot(vx, vy);
      if (-(ux * vx + uy * vy) < rule.cosine * len * other) return;
      const diff = Math.abs(len - other);
      if (diff > rule.lengthM && diff > rule.lengthShare * Math.min(len, other)) return;
      const dx = middles[2 * t] - mx;
      const dy = middles[2 * t + 1] - my;
      const along = Math.abs(dx * ux + dy * uy) / len;
      const normal = Math.abs(dx * uy - dy * ux) / len;
      const deep = depth(t);
      if (Math.abs(own - deep) > rule.depthShare * Math.min(own, deep)) return;
      if (along > rule.alongM || along > rule.alongShare * len || normal > rule.normalM) return;
      const d = normal + 2 * along;
      if (d < near) {
        near = d;
        best[s] = t;
      }
    });
  }
  for (let s = 0; s < sides; s++) {
    const t = best[s];
    if (t >= 0 && best[t] === s && link[s] < 0 && link[t] < 0) {
      link[s] = t;
      link[t] = s;
    }
  }
}
