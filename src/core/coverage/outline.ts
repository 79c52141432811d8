import { type ArcSet, Arcs, Nodes } from './arcs.ts';
import { type Flux, makeFlux } from './flux.ts';
import { Measuring, measureNear } from './measure.ts';
import type { Near } from './near.ts';
import { COMPLEX, EMPTY, type Prepared } from './prepare.ts';
import { stitch } from './stitch.ts';
import { Sweep } from './sweep.ts';
import type { AreaDensity, Coverage, CoverageRings, Polygons, Progress } from './types.ts';

/**
 * Every stretch of edge counts the shapes to its left and right; where the count passes one (or two) it is an arc of the boundary.
 * Of coincident edges the lowest represents all. Arcs meet in nodes that are equal doubles, so they always join up.
 */
export function outlineNear(p: Prepared, near: Near, density: AreaDensity, progress?: Progress): CoverageRings {
  return new Outline(p, near, density, new Sweep(p), null).draw(progress);
}

/** The boundary of depth one alone: an edge under one whole shape, or between two that share all of it, is none and is left at once. */
export function unionArcs(p: Prepared, near: Near, progress: Progress): ArcSet {
  return new Outline(p, near, NO_DENSITY, new Sweep(p), null, 1).arcs(progress);
}

/** The ground that the arcs of `unionArcs` bound. They are stitched apart from it, so that the shapes and their pairs can be let go before. */
export function unionOf(arcs: ArcSet, progress?: Progress): Polygons {
  return stitch(arcs, makeFlux(NO_DENSITY, arcs.originY), progress).polygons;
}

/** For areas that nobody asks for. */
const NO_DENSITY: AreaDensity = [1, 0, 0, 0];

/**
 * Areas and boundaries from one walk along each edge: measured in the same walk where the map is small enough that points counted from its
 * middle keep all their digits. Boundaries are joined when they are asked for, once; `progress` is about the areas and `rings` has its own.
 */
export function coverNear(
  p: Prepared,
  near: Near,
  density: AreaDensity,
  progress?: Progress,
): { coverage: Coverage; rings: (progress?: Progress) => CoverageRings } {
  const sweep = new Sweep(p);
  if (p.plain) {
    const measuring = new Measuring(p, near, density, sweep);
    const outline = new Outline(p, near, density, sweep, measuring);
    outline.collect(progress);
    return { coverage: measuring.result(), rings: (next) => outline.rings(next) };
  }
  const coverage = measureNear(p, near, density, progress);
  return { coverage, rings: (next) => new Outline(p, near, density, sweep, null).draw(next) };
}

class Outline {
  private readonly covered: Arcs;
  private readonly overlap: Arcs;
  private readonly flux: Flux;
  /** Slots read since progress was last reported. */
  private work = 0;

  constructor(
    private readonly p: Prepared,
    private readonly near: Near,
    density: AreaDensity,
    private readonly sweep: Sweep,
    private readonly measuring: Measuring | null,
    /** Down to which depth boundaries are wanted. */
    private readonly depths: 1 | 2 = 2,
  ) {
    const nodes = new Nodes();
    this.covered = new Arcs(p, nodes);
    this.overlap = new Arcs(p, nodes);
    this.flux = makeFlux(density, p.originY);
  }

  draw(progress?: Progress): CoverageRings {
    this.collect((d) => progress?.(0.8 * d));
    return this.rings((d) => progress?.(0.8 + 0.2 * d));
  }

  /** Joins the arcs that were collected; they are used up. */
  rings(progress?: Progress): CoverageRings {
    const a = stitch(this.covered.done(), this.flux, (d) => progress?.(0.5 * d));
    const b = stitch(this.overlap.done(), this.flux, (d) => progress?.(0.5 + 0.5 * d));
    progress?.(1);
    return { covered: a.polygons, overlap: b.polygons, coveredM2: a.areaM2, overlapM2: b.areaM2 };
  }

  arcs(progress: Progress): ArcSet {
    this.collect(progress);
    return this.covered.done();
  }

  collect(progress?: Progress): void {
    const { p, sweep: s } = this;
    s.ox = p.originX;
    s.oy = p.originY;
    this.work = 0;
    for (let j = 0; j < p.count; j++) {
      if ((j & 1023) === 0) progress?.(j / p.count);
      if (p.kind[j] !== EMPTY) this.edges(j, progress);
    }
  }

  private edges(j: number, progress: Progress | undefined): void {
    const { p, near, depths } = this;
    const { overlaps, partner } = near;
    const { xy, ringStart, shapeStart } = p.shapes;
    const slots = near.start[j + 1] - near.start[j];
    const measured = this.measuring?.wants(j) ? this.measuring : null;
    measured?.open(j, true);
    const reverse = p.kind[j] !== COMPLEX && p.turn[j] < 0;
    for (let r = shapeStart[j]; r < shapeStart[j + 1]; r++) {
      const first = ringStart[r];
      const end = ringStart[r + 1];
      let c = end - 1;
      for (let d = first; d < end; c = d++) {
        const mate = partner[c];
        // Both sides of the edge are ground, and of one kind.
        if (mate !== 0 && (depths === 1 || (overlaps[j] === 0 && overlaps[mate - 1] === 0))) continue;
        if (xy[2 * c] === xy[2 * d] && xy[2 * c + 1] === xy[2 * d + 1]) continue;
        this.work += slots;
        if (this.work > 4096) {
          this.work = 0;
          progress?.(j / p.count);
        }
        if (reverse) this.along(j, c, d, c, mate - 1, slots, measured);
        else this.along(j, c, c, d, mate - 1, slots, measured);
      }
    }
    measured?.close();
  }

  /** Arcs of one edge of shape j, from point a to point b; `edge` names it, and shape `mate` lies along all of it, or none where it is below 0. */
  private along(
    j: number,
    edge: number,
    a: number,
    b: number,
    mate: number,
    slots: number,
    measured: Measuring | null,
  ): void {
    const { sweep: s, near, covered, overlap, depths } = this;
    // Of the two edges the lower shape's represents both.
    let bare = mate < 0 || mate > j;
    if (!bare && measured === null) return;
    s.begin(j, edge, a, b, slots);
    const at = near.start[j];
    // A convex shape is not its own neighbor: it lies left of its edges.
    let own = 1;
    // Under as many whole shapes as there are depths there is no boundary of any kind; an edge that two shapes share needs but one more.
    const most = mate >= 0 ? 1 : depths;
    for (let k = 0; k < slots; k++) {
      const other = near.list[at + k] >> 1;
      if (other === j) own = 0;
      s.add(k, other);
      if (!bare) continue;
      // A lower edge along all of this one represents it.
      bare = s.whole < most && !s.hidden;
      if (bare) s.touch(k, other);
      else if (measured === null) return;
    }
    s.sort();
    if (!bare) {
      measured!.walk();
      return;
    }
    if (measured !== null) {
      s.keep(slots);
      measured.walk();
      s.back(slots);
    }
    // How many shapes lie left and right.
    const { weight } = this.p;
    let left = weight === null ? own : own * weight[j];
    let right = mate < 0 ? 0 : weight === null ? 1 : weight[mate];
    for (let k = 0; k < slots; k++) {
      const times = weight === null ? 1 : weight[near.list[at + k] >> 1];
      if (s.left[k] !== 0) left += times;
      if (s.right[k] !== 0) right += times;
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
          if (depths === 2 && left >= 2 && right < 2) overlap.add(x, y, nx, ny, a, b);
          else if (depths === 2 && left < 2 && right >= 2) overlap.add(nx, ny, x, y, b, a);
        }
        x = nx;
        y = ny;
      }
      if (e < 0) break;
      const k = s.slot[e];
      const times = weight === null ? 1 : weight[near.list[at + k] >> 1];
      if (s.dLeft[e] !== 0) {
        const before = s.left[k] !== 0 ? 1 : 0;
        s.left[k] += s.dLeft[e];
        left += times * ((s.left[k] !== 0 ? 1 : 0) - before);
      }
      if (s.dRight[e] !== 0) {
        const before = s.right[k] !== 0 ? 1 : 0;
        s.right[k] += s.dRight[e];
        right += times * ((s.right[k] !== 0 ? 1 : 0) - before);
      }
      s.shadow += s.dShadow[e];
    }
  }
}
