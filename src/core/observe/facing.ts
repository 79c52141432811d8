import { FOUND_EACH_BAR, makePointGrid, type PointGrid, upTo } from '../geometry/grid.ts';
import { lengthOf } from '../geometry/length.ts';
import { median, robustSd } from '../geometry/stats.ts';
import type { Passes } from '../track/types.ts';
import type { RecordedBands, Seam } from './types.ts';

/** Two passes are parallel within this, cosine of 8 degrees. */
export const PARALLEL = Math.cos((8 * Math.PI) / 180);
const FEWEST_SAMPLES = 5;
const SHORTEST_M = 8;

interface Bin {
  gaps: number[];
  lengthM: number;
  opposite: boolean;
  facing: Seam['facing'];
  /** Samples seen from the pass with the lower number. */
  fromFirst: number;
}

/** Two neighbors see each other across a gap: at least this part of its samples is seen from either pass. What is seen from one only lies behind a third pass, which was planted over. */
const SEEN_BY_BOTH = 0.1;

/** A pass of a later day that overlaps an earlier one by more than this, meters, planted its ground again: that is no seam. */
const OVER_M = 0.3;
const NEXT_DAY_H = 20;

function hoursApart({ timeMs, passStart }: Passes, a: number, b: number): number {
  return Math.abs(timeMs[passStart[b]] - timeMs[passStart[a]]) / 3_600_000;
}

/** Where less is recorded than the planter works, a seam may be this part of its working width: less than a pass that was left out. */
const OPEN_PART = 0.8;
/** Two passes between which the gap varies by more than this (standard deviation, meters) and by more than this many times as usual, do not run side by side: a pass that runs into a lap, or bends away. */
const UNEVEN_M = 0.4;
const UNEVEN = 4;
/** Recorded widths below this part of the working width are narrower. */
const NARROWER = 0.95;

/**
 * Every seam between two passes of the map. Finds gaps and overlaps up to half the recorded width; where somewhere less is recorded than the planter works
 * (`worksM`, meters), wider gaps too: a section that is off at one end leaves twice its width open between every other two passes.
 */
export function findSeams(passes: Passes, bands: RecordedBands, worksM: number): Seam[] {
  const { bars, lengthM } = passes;
  if (bars === 0 || bands.segments.length === 0) return [];
  const widest = Math.max(...bands.segments.map((e) => e.widthM));
  const pass = new Uint32Array(bars);
  for (let p = 0; p + 1 < passes.passStart.length; p++) pass.fill(p, passes.passStart[p], passes.passStart[p + 1]);
  const bins = new Map<string, Bin>();
  const count = passes.passStart.length - 1;

  const narrowest = Math.min(...bands.segments.map((e) => e.widthM));
  const openM = narrowest < NARROWER * worksM ? OPEN_PART * worksM : 0;
  const search = new FacingSearch(passes, bands, pass, { widestM: widest, openM: Math.max(openM, widest / 2) });
  for (let a = 0; a < bars; a++) {
    for (let side = -1; side <= 1; side += 2) {
      if (!search.look(a, side)) continue;
      const other = search.bar;
      const pa = Math.min(pass[a], pass[other]);
      const pb = Math.max(pass[a], pass[other]);
      const opposite = search.side === side;
      const facing = !opposite ? 'same-way' : side > 0 ? 'right-right' : 'left-left';
      const key = `${pa * count + pb}${facing}`;
      let bin = bins.get(key);
      if (!bin) {
        bin = { gaps: [], lengthM: 0, opposite, facing, fromFirst: 0 };
        bins.set(key, bin);
      }
      bin.gaps.push(search.gapM);
      if (pass[a] === pa) bin.fromFirst++;
      // Each meter is measured from both passes.
      bin.lengthM += lengthM[a] / 2;
    }
  }
  const out: Seam[] = [];
  for (const [key, bin] of bins) {
    if (bin.gaps.length < FEWEST_SAMPLES || bin.lengthM < SHORTEST_M) continue;
    const mid = median(bin.gaps);
    const fromEither = Math.min(bin.fromFirst, bin.gaps.length - bin.fromFirst);
    if (mid > 0 && fromEither < SEEN_BY_BOTH * bin.gaps.length) continue;
    const id = Number.parseInt(key, 10);
    if (mid < -OVER_M && hoursApart(passes, Math.floor(id / count), id % count) > NEXT_DAY_H) continue;
    out.push({
      passA: Math.floor(id / count),
      passB: id % count,
      opposite: bin.opposite,
      facing: bin.facing,
      recordedM: mid,
      samples: bin.gaps.length,
      spreadM: robustSd(bin.gaps, mid),
      lengthM: bin.lengthM,
    });
  }
  const mostM = out.length === 0 ? 0 : Math.max(UNEVEN_M, UNEVEN * median(out.map((s) => s.spreadM)));
  return out.filter((s) => s.spreadM <= mostM).sort((a, b) => a.passA - b.passA || a.passB - b.passB);
}

/** From the outer edge of a bar to the nearest edge of another pass that faces it. */
class FacingSearch {
  /** What the last `look` found: the other bar, its side, the gap between the edges. */
  bar = -1;
  side = 0;
  gapM = 0;
  private readonly grid: PointGrid;
  private readonly longestM: number;

  constructor(
    private readonly passes: Passes,
    private readonly bands: RecordedBands,
    private readonly pass: Uint32Array,
    private readonly reach: { widestM: number; openM: number },
  ) {
    this.grid = makePointGrid(passes.center, upTo(passes.bars), Math.max(4, reach.widestM), FOUND_EACH_BAR);
    this.longestM = passes.lengthM.reduce((a, b) => Math.max(a, b), 0);
  }

  /** Record at the outer end of the bar on that side. */
  private outer(b: number, side: number): number {
    return side > 0 ? this.passes.barStart[b + 1] - 1 : this.passes.barStart[b];
  }

  /** Whether the bar records to its very end on that side: its outermost band is on there. */
  private reaches(b: number, side: number): boolean {
    const { bands } = this;
    const wanted = side > 0 ? bands.segments[bands.segment[b]].bands.length - 1 : 0;
    return bands.slot[this.outer(b, side)] === wanted;
  }

  /** Looks from the edge of bar `a` on `side` (+1 right of travel); true when another pass faces it. */
  look(a: number, side: number): boolean {
    const { passes, pass, grid } = this;
    const { widestM, openM } = this.reach;
    const { center, right, lengthM, corner } = passes;
    if (!this.reaches(a, side)) return false;
    const i = this.outer(a, side);
    // Corners run back left, back right, front right, front left.
    const back = 8 * i + (side > 0 ? 2 : 0);
    const front = 8 * i + (side > 0 ? 4 : 6);
    const px = (corner[back] + corner[front]) / 2;
    const py = (corner[back + 1] + corner[front + 1]) / 2;
    const rx = right[2 * a];
    const ry = right[2 * a + 1];
    let best = Number.POSITIVE_INFINITY;
    this.bar = -1;
    // The other bar's center lies up to half a width beyond the widest gap.
    const furthestM = openM + widestM / 2;
    const out = (side * furthestM) / 2;
    const n = grid.near(px + rx * out, py + ry * out, 0.55 * furthestM + this.longestM);
    const { found } = grid;
    for (let k = 0; k < n; k++) {
      const b = found[k];
      if (pass[b] === pass[a]) continue;
      const cos = right[2 * b] * rx + right[2 * b + 1] * ry;
      if (Math.abs(cos) < PARALLEL) continue;
      const dx = px - center[2 * b];
      const dy = py - center[2 * b + 1];
      // Travel is to the left of `right` by a quarter turn.
      const along = -dx * right[2 * b + 1] + dy * right[2 * b];
      if (Math.abs(along) > lengthM[b] / 2 + 0.05) continue;
      const toSide = -side * Math.sign(cos);
      const j = this.outer(b, toSide);
      const e = 8 * j + (toSide > 0 ? 2 : 0);
      const f = 8 * j + (toSide > 0 ? 4 : 6);
      const gx = corner[f] - corner[e];
      const gy = corner[f + 1] - corner[e + 1];
      const gap = (toSide * ((px - corner[e]) * gy - (py - corner[e + 1]) * gx)) / lengthOf(gx, gy);
      if (Math.abs(gap) < Math.abs(best) && gap < openM && gap > -widestM / 2) {
        best = gap;
        // A pass whose outermost section is off there has no seam, and hides the passes behind it.
        this.bar = this.reaches(b, toSide) ? b : -1;
        this.side = toSide;
      }
    }
    this.gapM = best;
    return this.bar >= 0;
  }
}
