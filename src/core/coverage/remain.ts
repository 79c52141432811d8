import { intoBuckets } from '../geometry/buckets.ts';
import { grown } from '../geometry/grown.ts';
import type { Shapes } from '../geometry/shapes.ts';
import { type ArcSet, Arcs, arcSet, Nodes } from './arcs.ts';
import { makeFlux } from './flux.ts';
import { findNear, type Near } from './near.ts';
import { COMPLEX, EMPTY, type Prepared, prepare } from './prepare.ts';
import { stitch } from './stitch.ts';
import { Sweep } from './sweep.ts';
import type { AreaDensity, Polygons, Progress } from './types.ts';

/** What each group of shapes adds to the ground that earlier groups cover. */
export interface Remains {
  /** m² that group g adds. Summed over the groups this is the area of the union. */
  addsM2: Float64Array;
  /**
   * The ground that group g adds, as valid polygons. Null where it is the group's one shape unchanged: convex, and sharing no ground
   * with any other shape.
   */
  rings: (Polygons | null)[];
  /** Boundary of group g that lies on ground of earlier groups, meters: what is cut off, divided by it, is about as wide as the overlap. */
  buriedM: Float64Array;
}

/**
 * Ground goes to the first group that covers it. `group` numbers the group of each shape from 0, rising along the shapes, which lie in
 * the order in which they were laid down.
 *
 * Every stretch of edge has an owner on its left and one on its right: the lowest group among the shapes that cover it. Where the two
 * differ it is an arc of the boundary of both, run one way for the one and back for the other; of coincident edges the
 * lowest represents all. The arcs of each group are then stitched as in `outline`. `stepsPerMeter` east and north serves `buriedM` alone.
 */
export function remain(
  shapes: Shapes,
  group: Uint32Array,
  density: AreaDensity,
  stepsPerMeter: readonly [number, number],
  progress?: Progress,
): Remains {
  // In two steps, so that the pairs of shapes are let go before arcs are stitched.
  const { arcs, owner, open, out } = cut(shapes, group, density, stepsPerMeter, (d) => progress?.(0.8 * d));
  const flux = makeFlux(density, arcs.originY);
  stitchEach(arcs, owner, open, (g, set) => {
    const { polygons, areaM2 } = stitch(set, flux);
    out.addsM2[g] = Math.max(0, areaM2);
    out.rings[g] = polygons;
  });
  progress?.(1);
  return out;
}

/** Group of each arc. */
class Owners {
  group = new Int32Array(1024);

  add(arc: number, g: number): void {
    if (arc >= this.group.length) this.group = grown(this.group, 2 * this.group.length);
    this.group[arc] = g;
  }
}

interface Cut {
  arcs: ArcSet;
  owner: Owners;
  /** 1 for each group whose ground is to be stitched from its arcs; that of the others is already in `out`. */
  open: Uint8Array;
  out: Remains;
}

function cut(
  shapes: Shapes,
  group: Uint32Array,
  density: AreaDensity,
  stepsPerMeter: readonly [number, number],
  progress: Progress,
): Cut {
  const p = prepare(shapes, (d) => progress(0.1 * d));
  const near = findNear(p, true, (d) => progress(0.1 + 0.5 * d));
  const groups = p.count > 0 ? group[p.count - 1] + 1 : 0;
  const out: Remains = {
    addsM2: new Float64Array(groups),
    rings: new Array<Polygons | null>(groups).fill(null),
    buriedM: new Float64Array(groups),
  };
  const flux = makeFlux(density, p.originY);
  const open = openGroups(p, near, group, groups);
  for (let i = 0; i < p.count; i++)
    if (p.kind[i] !== EMPTY && open[group[i]] === 0) out.addsM2[group[i]] = own(p, i, flux);
  const arcs = new Arcs(p, new Nodes());
  const owner = new Owners();
  const bury = (g: number, dx: number, dy: number): void => {
    out.buriedM[g] += Math.hypot(dx / stepsPerMeter[0], dy / stepsPerMeter[1]);
  };
  collect(p, near, group, open, arcs, owner, bury, (d) => progress(0.6 + 0.4 * d));
  return { arcs: arcs.done(), owner, open, out };
}

/** 1 for each group whose ground is not simply that of its one shape. */
function openGroups(p: Prepared, near: Near, group: Uint32Array, groups: number): Uint8Array {
  const open = new Uint8Array(groups);
  for (let i = 0; i < p.count; i++) {
    const alone = (i === 0 || group[i - 1] !== group[i]) && (i + 1 === p.count || group[i + 1] !== group[i]);
    if (!alone || near.overlaps[i] === 1 || p.kind[i] === COMPLEX || p.kind[i] === EMPTY) open[group[i]] = 1;
  }
  return open;
}

function own(p: Prepared, i: number, flux: ReturnType<typeof makeFlux>): number {
  const { xy, ringStart, shapeStart } = p.shapes;
  const first = ringStart[shapeStart[i]];
  const end = ringStart[shapeStart[i] + 1];
  const ox = xy[2 * first];
  const oy = xy[2 * first + 1];
  let sum = 0;
  let c = end - 1;
  for (let d = first; d < end; c = d++)
    sum += flux(xy[2 * c] - ox, xy[2 * c + 1] - oy, xy[2 * d] - ox, xy[2 * d + 1] - oy, oy - p.originY);
  return sum * p.turn[i];
}

function collect(
  p: Prepared,
  near: Near,
  group: Uint32Array,
  open: Uint8Array,
  arcs: Arcs,
  owner: Owners,
  bury: (g: number, dx: number, dy: number) => void,
  progress: Progress,
): void {
  const s = new Sweep(p);
  s.ox = p.originX;
  s.oy = p.originY;
  const { xy, ringStart, shapeStart } = p.shapes;
  let work = 0;
  for (let j = 0; j < p.count; j++) {
    if ((j & 1023) === 0) progress(j / p.count);
    if (p.kind[j] === EMPTY) continue;
    const at = near.start[j];
    const slots = near.start[j + 1] - at;
    let wanted = open[group[j]] === 1;
    for (let k = 0; k < slots && !wanted; k++) wanted = open[group[near.list[at + k] >> 1]] === 1;
    for (let q = ringStart[shapeStart[j]]; q < ringStart[shapeStart[j + 1]] && !wanted; q++)
      wanted = near.partner[q] !== 0 && open[group[near.partner[q] - 1]] === 1;
    if (!wanted) continue;
    const reverse = p.kind[j] !== COMPLEX && p.turn[j] < 0;
    for (let r = shapeStart[j]; r < shapeStart[j + 1]; r++) {
      const end = ringStart[r + 1];
      let c = end - 1;
      for (let d = ringStart[r]; d < end; c = d++) {
        if (xy[2 * c] === xy[2 * d] && xy[2 * c + 1] === xy[2 * d + 1]) continue;
        const mate = near.partner[c];
        // An edge between two shapes that nothing else lies over is inside the ground of one group, or bounds two that are whole.
        if (mate !== 0 && near.overlaps[j] === 0 && near.overlaps[mate - 1] === 0) {
          const other = group[mate - 1];
          if (other === group[j] || (open[other] === 0 && open[group[j]] === 0)) continue;
        }
        work += slots;
        if (work > 4096) {
          work = 0;
          progress(j / p.count);
        }
        along(s, near, group, open, j, c, reverse ? d : c, reverse ? c : d, mate - 1, slots, arcs, owner, bury);
      }
    }
  }
}

const NONE = 0xffffffff;

/** Arcs of one edge of shape j, from point a to point b; `edge` names it, and shape `mate` lies along all of it, or none where it is below 0. */
function along(
  s: Sweep,
  near: Near,
  group: Uint32Array,
  open: Uint8Array,
  j: number,
  edge: number,
  a: number,
  b: number,
  mate: number,
  slots: number,
  arcs: Arcs,
  owner: Owners,
  bury: (g: number, dx: number, dy: number) => void,
): void {
  s.begin(j, edge, a, b, slots);
  const at = near.start[j];
  // A convex shape is not its own neighbor: it lies left of its edges.
  let self = true;
  for (let k = 0; k < slots; k++) {
    const other = near.list[at + k] >> 1;
    // Of the two edges the lower shape's represents both.
    if (mate >= 0 && mate < j && mate < other) return;
    if (other === j) self = false;
    const whole = s.whole;
    s.add(k, other);
    if (s.hidden) return;
    // Under an earlier shape this edge separates nothing.
    if (s.whole > whole && group[other] < group[j]) {
      bury(group[j], s.dx, s.dy);
      return;
    }
    s.touch(k, other);
  }
  if (mate >= 0 && mate < j) return;
  s.sort();
  const { left, right } = s;
  let x = s.ax - s.ox;
  let y = s.ay - s.oy;
  for (let i = 0; i <= s.n; i++) {
    const e = i < s.n ? s.order[i] : -1;
    const nx = e < 0 ? s.ax + s.dx - s.ox : s.x[e];
    const ny = e < 0 ? s.ay + s.dy - s.oy : s.y[e];
    if (nx !== x || ny !== y) {
      if (s.shadow === 0) {
        const l = ownerOf(near, group, at, slots, left, self ? group[j] : NONE);
        const r = ownerOf(near, group, at, slots, right, mate < 0 ? NONE : group[mate]);
        if (l < group[j]) bury(group[j], nx - x, ny - y);
        if (l !== r) {
          if (l !== NONE && open[l] === 1) push(arcs, owner, l, x, y, nx, ny, a, b);
          if (r !== NONE && open[r] === 1) push(arcs, owner, r, nx, ny, x, y, b, a);
        }
      }
      x = nx;
      y = ny;
    }
    if (e < 0) break;
    const k = s.slot[e];
    left[k] += s.dLeft[e];
    right[k] += s.dRight[e];
    s.shadow += s.dShadow[e];
  }
}

/** The lowest group of those that cover a side of an edge, whose neighbors are listed from `at` on; `first` where it is lower. */
function ownerOf(near: Near, group: Uint32Array, at: number, slots: number, side: Int32Array, first: number): number {
  let least = first;
  for (let k = 0; k < slots; k++) {
    if (side[k] === 0) continue;
    const g = group[near.list[at + k] >> 1];
    if (g < least) least = g;
  }
  return least;
}

function push(
  arcs: Arcs,
  owner: Owners,
  g: number,
  x0: number,
  y0: number,
  x1: number,
  y1: number,
  a: number,
  b: number,
): void {
  const before = arcs.count;
  arcs.add(x0, y0, x1, y1, a, b);
  if (arcs.count > before) owner.add(before, g);
}

/** Calls `visit` with the arcs of each group in `open`, their nodes renumbered from 0. */
function stitchEach(arcs: ArcSet, owner: Owners, open: Uint8Array, visit: (g: number, set: ArcSet) => void): void {
  const { start, list } = intoBuckets(owner.group, arcs.count, open.length);
  const local = new Int32Array(arcs.nodes.count).fill(-1);
  for (let g = 0; g < open.length; g++)
    if (open[g] === 1) visit(g, someArcs(arcs, list.subarray(start[g], start[g + 1]), local));
}

/** The arcs in `list` as a set of their own. `local` is -1 for every node, before and after. */
function someArcs(arcs: ArcSet, list: Uint32Array, local: Int32Array): ArcSet {
  const n = list.length;
  const from = new Int32Array(n);
  const to = new Int32Array(n);
  const dx = new Float64Array(n);
  const dy = new Float64Array(n);
  const most = Math.min(2 * n, arcs.nodes.count);
  const nodes = { count: 0, x: new Float64Array(most), y: new Float64Array(most) };
  for (let i = 0; i < n; i++) {
    const k = list[i];
    from[i] = numberOf(arcs.from[k], arcs.nodes, local, nodes);
    to[i] = numberOf(arcs.to[k], arcs.nodes, local, nodes);
    dx[i] = arcs.dx[k];
    dy[i] = arcs.dy[k];
  }
  for (let i = 0; i < n; i++) {
    local[arcs.from[list[i]]] = -1;
    local[arcs.to[list[i]]] = -1;
  }
  return arcSet(n, from, to, nodes, [arcs.originX, arcs.originY], [dx, dy], arcs.whole);
}

/** Number of node v among `own`, added to them if necessary. */
function numberOf(v: number, all: ArcSet['nodes'], local: Int32Array, own: ArcSet['nodes']): number {
  if (local[v] < 0) {
    local[v] = own.count++;
    own.x[local[v]] = all.x[v];
    own.y[local[v]] = all.y[v];
  }
  return local[v];
}
