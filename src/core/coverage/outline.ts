import { Arcs, Nodes } from './arcs.ts';
import { makeFlux } from './flux.ts';
import type { AreaDensity, Coverage, CoverageRings, Progress } from './index.ts';
import { Measuring } from './measure.ts';
import type { Near } from './near.ts';
import { COMPLEX, EMPTY, type Prepared } from './prepare.ts';
import { stitch } from './stitch.ts';
import { Sweep } from './sweep.ts';

/**
 * Every stretch of edge knows how many shapes lie left and right of it; where the count passes one (or two) it is an arc of the boundary.
 * Of edges that lie on one another the lowest stands for all. Arcs meet in nodes that are equal doubles, so they always join up.
 */
export function outlineNear(p: Prepared, near: Near, density: AreaDensity, progress?: Progress): CoverageRings {
  return outlineWith(p, near, density, new Sweep(p), null, progress);
}

/** Both pictures from one look at each edge. For maps small enough that points counted from their middle keep all their digits. */
export function coverNear(
  p: Prepared,
  near: Near,
  density: AreaDensity,
  progress?: Progress,
): { coverage: Coverage; rings: CoverageRings } {
  const sweep = new Sweep(p);
  const measuring = new Measuring(p, near, density, sweep);
  const rings = outlineWith(p, near, density, sweep, measuring, progress);
  return { coverage: measuring.result(), rings };
}

function outlineWith(
  p: Prepared,
  near: Near,
  density: AreaDensity,
  sweep: Sweep,
  measuring: Measuring | null,
  progress?: Progress,
): CoverageRings {
  const nodes = new Nodes();
  const covered = new Arcs(p, nodes);
  const overlap = new Arcs(p, nodes);
  collect(p, near, sweep, measuring, covered, overlap, (d) => progress?.(0.8 * d));
  const flux = makeFlux(density, p.originY);
  const a = stitch(covered, flux, (d) => progress?.(0.8 + 0.1 * d));
  const b = stitch(overlap, flux, (d) => progress?.(0.9 + 0.1 * d));
  progress?.(1);
  return { covered: a.polygons, overlap: b.polygons, coveredM2: a.areaM2, overlapM2: b.areaM2 };
}

function collect(
  p: Prepared,
  near: Near,
  s: Sweep,
  measuring: Measuring | null,
  covered: Arcs,
  overlap: Arcs,
  progress: Progress,
): void {
  const { xy, ringStart, shapeStart } = p.shapes;
  s.ox = p.originX;
  s.oy = p.originY;
  let work = 0;
  for (let j = 0; j < p.count; j++) {
    if ((j & 1023) === 0) progress(j / p.count);
    if (p.kind[j] === EMPTY) continue;
    const slots = near.start[j + 1] - near.start[j];
    const measured = measuring?.wants(j) ? measuring : null;
    measured?.open(j, true);
    const reverse = p.kind[j] !== COMPLEX && p.turn[j] < 0;
    for (let r = shapeStart[j]; r < shapeStart[j + 1]; r++) {
      const first = ringStart[r];
      const end = ringStart[r + 1];
      let c = end - 1;
      for (let d = first; d < end; c = d++) {
        if (xy[2 * c] === xy[2 * d] && xy[2 * c + 1] === xy[2 * d + 1]) continue;
        const mate = near.partner[c];
        if (mate !== 0 && near.overlaps[j] === 0 && near.overlaps[mate - 1] === 0) continue;
        work += slots;
        if (work > 4096) {
          work = 0;
          progress(j / p.count);
        }
        if (reverse) along(s, near, j, c, d, c, slots, measured, covered, overlap);
        else along(s, near, j, c, c, d, slots, measured, covered, overlap);
      }
    }
    measured?.close();
  }
}

/** Arcs of one edge of shape j, from point a to point b; `edge` names it. */
function along(
  s: Sweep,
  near: Near,
  j: number,
  edge: number,
  a: number,
  b: number,
  slots: number,
  measured: Measuring | null,
  covered: Arcs,
  overlap: Arcs,
): void {
  s.begin(j, edge, a, b, slots);
  const at = near.start[j];
  // A convex shape is not its own neighbour: it lies left of its edges.
  let left = 1;
  for (let k = 0; k < slots; k++) {
    const other = near.list[at + k] >> 1;
    if (other === j) left = 0;
    s.add(k, other);
    // Under two whole shapes there is no boundary of either kind, and a lower edge on all of this one stands for it.
    if (measured === null && (s.whole >= 2 || s.hidden)) return;
    s.touch(k, other);
  }
  s.sort();
  if (measured !== null) {
    s.keep(slots);
    measured.walk();
    s.back(slots);
  }
  let right = 0;
  for (let k = 0; k < slots; k++) {
    if (s.left[k] !== 0) left++;
    if (s.right[k] !== 0) right++;
  }
  let x = s.ax - s.ox;
  let y = s.ay - s.oy;
  for (let i = 0; i <= s.n; i++) {
    const e = i < s.n ? s.order[i] : -1;
    const nx = e < 0 ? s.ax + s.dx - s.ox : s.x[e];
    const ny = e < 0 ? s.ay + s.dy - s.oy : s.y[e];
    if (nx !== x || ny !== y) {
      if (s.shadow === 0 && left !== right) {
        if (left >= 1 && right < 1) covered.add(x, y, nx, ny, a, b);
        else if (left < 1 && right >= 1) covered.add(nx, ny, x, y, b, a);
        if (left >= 2 && right < 2) overlap.add(x, y, nx, ny, a, b);
        else if (left < 2 && right >= 2) overlap.add(nx, ny, x, y, b, a);
      }
      x = nx;
      y = ny;
    }
    if (e < 0) break;
    const k = s.slot[e];
    if (s.dLeft[e] !== 0) {
      const before = s.left[k] !== 0 ? 1 : 0;
      s.left[k] += s.dLeft[e];
      left += (s.left[k] !== 0 ? 1 : 0) - before;
    }
    if (s.dRight[e] !== 0) {
      const before = s.right[k] !== 0 ? 1 : 0;
      s.right[k] += s.dRight[e];
      right += (s.right[k] !== 0 ? 1 : 0) - before;
    }
    s.shadow += s.dShadow[e];
  }
}
