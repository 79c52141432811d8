import { type ArcSet, Nodes } from './arcs.ts';
import { makeFlux } from './flux.ts';
import type { AreaDensity, Polygons } from './index.ts';
import { stitch } from './stitch.ts';

/**
 * Uncovered ground that `covered` encloses and that is narrower than `widthM` everywhere: no circle of that diameter fits in
 * (holes up to 0.6 % wider may be counted too). Covered
 * islands inside a hole are holes of the gap. `stepsPerMetre` is lattice steps per metre east and north.
 */
export function gaps(covered: Polygons, stepsPerMetre: readonly [number, number], widthM: number): Polygons {
  const flux = makeFlux([1, 0, 0, 0], 0);
  const holes = stitch(backwards(covered), flux).polygons;
  const keep: number[] = [];
  for (let i = 0; i + 1 < holes.polygonStart.length; i++)
    if (!circleFits(holes, i, stepsPerMetre, widthM / 2)) keep.push(i);
  return pick(holes, keep);
}

/** m² of each polygon, holes taken off. */
export function areaOf(polygons: Polygons, density: AreaDensity): Float64Array {
  const { xy, ringStart, polygonStart } = polygons;
  const count = Math.max(0, polygonStart.length - 1);
  const out = new Float64Array(count);
  if (count === 0) return out;
  const oy = xy.length > 1 ? Math.round(xy[1]) : 0;
  const flux = makeFlux(density, oy);
  for (let i = 0; i < count; i++) {
    const at = ringStart[polygonStart[i]];
    const x0 = xy[2 * at];
    const y0 = xy[2 * at + 1];
    for (let r = polygonStart[i]; r < polygonStart[i + 1]; r++) {
      let q = ringStart[r + 1] - 1;
      for (let p = ringStart[r]; p < ringStart[r + 1]; q = p++) {
        out[i] += flux(xy[2 * q] - x0, xy[2 * q + 1] - y0, xy[2 * p] - x0, xy[2 * p + 1] - y0, y0 - oy);
      }
    }
  }
  return out;
}

/** The rings of the covered ground run the other way round: boundaries of what is not covered. */
function backwards(polygons: Polygons): ArcSet {
  const { xy, ringStart } = polygons;
  const count = xy.length >> 1;
  const from = new Int32Array(count);
  const to = new Int32Array(count);
  const nodes = new Nodes();
  const originX = count > 0 ? Math.round(xy[0]) : 0;
  const originY = count > 0 ? Math.round(xy[1]) : 0;
  const node = (p: number): number => nodes.get(xy[2 * p] - originX, xy[2 * p + 1] - originY);
  for (let r = 0; r + 1 < ringStart.length; r++) {
    let q = ringStart[r + 1] - 1;
    for (let p = ringStart[r]; p < ringStart[r + 1]; q = p++) {
      from[p] = node(p);
      to[p] = node(q);
    }
  }
  const dx = (i: number): number => nodes.x[to[i]] - nodes.x[from[i]];
  const dy = (i: number): number => nodes.y[to[i]] - nodes.y[from[i]];
  return {
    count,
    from,
    to,
    nodes,
    originX,
    originY,
    turn: (i, k) => dx(i) * dy(k) - dy(i) * dx(k),
    ahead: (i, k) => dx(i) * dx(k) + dy(i) * dy(k),
  };
}

/** Signed distance from a point to the boundary of polygon i, metres, positive inside. */
function depth(p: Polygons, i: number, x: number, y: number, mx: number, my: number): number {
  const { xy, ringStart, polygonStart } = p;
  let inside = false;
  let best = Infinity;
  for (let r = polygonStart[i]; r < polygonStart[i + 1]; r++) {
    let b = ringStart[r + 1] - 1;
    for (let a = ringStart[r]; a < ringStart[r + 1]; b = a++) {
      const ax = (xy[2 * a] - x) * mx;
      const ay = (xy[2 * a + 1] - y) * my;
      const bx = (xy[2 * b] - x) * mx;
      const by = (xy[2 * b + 1] - y) * my;
      if (ay > 0 !== by > 0 && 0 < ((bx - ax) * (0 - ay)) / (by - ay) + ax) inside = !inside;
      const ux = bx - ax;
      const uy = by - ay;
      const l = ux * ux + uy * uy;
      const t = l > 0 ? Math.max(0, Math.min(1, -(ax * ux + ay * uy) / l)) : 0;
      const px = ax + t * ux;
      const py = ay + t * uy;
      const d = px * px + py * py;
      if (d < best) best = d;
    }
  }
  return inside ? Math.sqrt(best) : -Math.sqrt(best);
}

/**
 * Whether a circle of radius `radiusM` fits into polygon i, by halving squares that could still hold its centre. A square is given up when
 * its middle lies too near the boundary for any point in it; the search stops at 1/256 of the radius and
 * then says no, so that a hole up to 0.6 % wider may pass for too narrow.
 */
function circleFits(p: Polygons, i: number, stepsPerMetre: readonly [number, number], radiusM: number): boolean {
  const mx = 1 / stepsPerMetre[0];
  const my = 1 / stepsPerMetre[1];
  const { xy, ringStart, polygonStart } = p;
  let minX = Infinity;
  let minY = Infinity;
  let maxX = -Infinity;
  let maxY = -Infinity;
  const outer = polygonStart[i];
  for (let k = ringStart[outer]; k < ringStart[outer + 1]; k++) {
    minX = Math.min(minX, xy[2 * k]);
    maxX = Math.max(maxX, xy[2 * k]);
    minY = Math.min(minY, xy[2 * k + 1]);
    maxY = Math.max(maxY, xy[2 * k + 1]);
  }
  const width = (maxX - minX) * mx;
  const height = (maxY - minY) * my;
  if (Math.min(width, height) < 2 * radiusM) return false;
  // The smaller half side: squares of the smaller side of the box cover it.
  const first = Math.min(width, height) / 2;
  const stack: number[] = [];
  for (let x = first; x < width + first; x += 2 * first)
    for (let y = first; y < height + first; y += 2 * first) stack.push(x, y, first);
  while (stack.length > 0) {
    const h = stack.pop()!;
    const y = stack.pop()!;
    const x = stack.pop()!;
    const d = depth(p, i, minX + x / mx, minY + y / my, mx, my);
    if (d >= radiusM) return true;
    if (d + h * Math.SQRT2 < radiusM || h < radiusM / 256) continue;
    const q = h / 2;
    stack.push(x - q, y - q, q, x + q, y - q, q, x - q, y + q, q, x + q, y + q, q);
  }
  return false;
}

function pick(p: Polygons, keep: number[]): Polygons {
  let rings = 0;
  let points = 0;
  for (const i of keep) {
    rings += p.polygonStart[i + 1] - p.polygonStart[i];
    points += p.ringStart[p.polygonStart[i + 1]] - p.ringStart[p.polygonStart[i]];
  }
  const xy = new Float64Array(2 * points);
  const ringStart = new Uint32Array(rings + 1);
  const polygonStart = new Uint32Array(keep.length + 1);
  let r = 0;
  let at = 0;
  keep.forEach((i, n) => {
    for (let q = p.polygonStart[i]; q < p.polygonStart[i + 1]; q++) {
      xy.set(p.xy.subarray(2 * p.ringStart[q], 2 * p.ringStart[q + 1]), 2 * at);
      at += p.ringStart[q + 1] - p.ringStart[q];
      ringStart[++r] = at;
    }
    polygonStart[n + 1] = r;
  });
  return { xy, ringStart, polygonStart };
}
