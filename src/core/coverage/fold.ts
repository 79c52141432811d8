import type { Shapes } from '../geometry/shapes.ts';
import type { Coverage } from './types.ts';

/** Shapes, each of which represents all its repeats. */
export interface Folded {
  shapes: Shapes;
  /** How many shapes each represents. */
  weight: Uint32Array;
  /** For each shape before folding, the one that represents it: the first of its kind. */
  of: Uint32Array;
}

/** Slots probed for a shape; where more are taken by others it stays unfolded. */
const MOST_LOOKS = 64;

/** Folds shapes that are the same point for point. Null where none repeats another. */
export function fold(shapes: Shapes): Folded | null {
  const { xy, ringStart, shapeStart, tangled } = shapes;
  const count = Math.max(0, shapeStart.length - 1);
  let size = 16;
  while (size < 2 * count) size *= 2;
  const slots = new Int32Array(size).fill(-1);
  const of = new Uint32Array(count);
  const keep: number[] = [];
  const weight: number[] = [];
  for (let i = 0; i < count; i++) {
    let h = 0x2545f491;
    for (let p = 2 * ringStart[shapeStart[i]]; p < 2 * ringStart[shapeStart[i + 1]]; p++) {
      h = Math.imul(h ^ xy[p], 0x9e3779b1);
      h ^= h >>> 15;
    }
    let slot = h & (size - 1);
    let twin = -1;
    let looks = 0;
    for (; slots[slot] >= 0 && looks < MOST_LOOKS; slot = (slot + 1) & (size - 1), looks++) {
      const k = keep[slots[slot]];
      if (!alike(shapes, k, i)) continue;
      twin = slots[slot];
      break;
    }
    if (twin >= 0) {
      of[i] = twin;
      weight[twin]++;
      continue;
    }
    of[i] = keep.length;
    if (slots[slot] < 0) slots[slot] = keep.length;
    keep.push(i);
    weight.push(1);
  }
  if (keep.length === count) return null;
  let points = 0;
  let rings = 0;
  for (const i of keep) {
    points += ringStart[shapeStart[i + 1]] - ringStart[shapeStart[i]];
    rings += shapeStart[i + 1] - shapeStart[i];
  }
  const out = {
    xy: new Int32Array(2 * points),
    ringStart: new Uint32Array(rings + 1),
    shapeStart: new Uint32Array(keep.length + 1),
  };
  const roles = new Map<number, Int32Array>();
  let at = 0;
  let ring = 0;
  keep.forEach((i, n) => {
    for (let r = shapeStart[i]; r < shapeStart[i + 1]; r++) {
      out.xy.set(xy.subarray(2 * ringStart[r], 2 * ringStart[r + 1]), 2 * at);
      at += ringStart[r + 1] - ringStart[r];
      out.ringStart[++ring] = at;
    }
    out.shapeStart[n + 1] = ring;
    const own = tangled?.get(i);
    if (own) roles.set(n, own);
  });
  return {
    shapes: roles.size > 0 ? { ...out, tangled: roles } : out,
    weight: Uint32Array.from(weight),
    of,
  };
}

function alike({ xy, ringStart, shapeStart, tangled }: Shapes, a: number, b: number): boolean {
  const rings = shapeStart[a + 1] - shapeStart[a];
  if (rings !== shapeStart[b + 1] - shapeStart[b]) return false;
  const from = ringStart[shapeStart[a]];
  const to = ringStart[shapeStart[b]];
  for (let r = 1; r <= rings; r++)
    if (ringStart[shapeStart[a] + r] - from !== ringStart[shapeStart[b] + r] - to) return false;
  const n = 2 * (ringStart[shapeStart[a + 1]] - from);
  for (let p = 0; p < n; p++) if (xy[2 * from + p] !== xy[2 * to + p]) return false;
  return String(tangled?.get(a)) === String(tangled?.get(b));
}

/** The measures of folded shapes, expanded to all of them: a repeat is entirely covered already. `of` is null where nothing was folded. */
export function unfold(c: Coverage, of: Uint32Array | null): Coverage {
  if (of === null) return c;
  const areaM2 = new Float64Array(of.length);
  const alreadyCoveredM2 = new Float64Array(of.length);
  const seen = new Uint8Array(c.areaM2.length);
  for (let i = 0; i < of.length; i++) {
    const k = of[i];
    areaM2[i] = c.areaM2[k];
    alreadyCoveredM2[i] = seen[k] === 1 ? c.areaM2[k] : c.alreadyCoveredM2[k];
    seen[k] = 1;
  }
  return { ...c, areaM2, alreadyCoveredM2 };
}
