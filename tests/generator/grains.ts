import { dissolve } from './blob.ts';
import type { Piece } from './display.ts';
import type { Point } from './route.ts';

/** One record before it is put on the globe. Section 0 where it holds several. */
export interface Draft {
  pass: number;
  bar: number;
  interval: number;
  section: number;
  t: number;
  headingDeg: number;
  widthM: number;
  /** Polygons of rings (outer ring first, not closed), meters in the job's frame. */
  polygons: Point[][][];
}

export function gather(pieces: Piece[], grain: 'section' | 'bar' | 'strip' | 'strip-section' | 'blob'): Draft[] {
  if (grain === 'section') return pieces.map((p) => ({ ...p, polygons: [[p.ring]] }));
  const bars = byKey(pieces, (p) => p.bar).map(wholeBar);
  if (grain === 'bar') return bars;
  if (grain === 'strip') return byKey(bars, (b) => b.pass).flatMap((pass) => runs(pass).map(along));
  if (grain === 'strip-section') {
    const lanes = byKey(
      pieces.map((p): Draft => ({ ...p, polygons: [[p.ring]] })),
      (p) => p.pass * 1000 + p.section,
    );
    return lanes.flatMap((lane) => runs(lane).map((run) => ({ ...along(run), section: run[0].section })));
  }
  const first = pieces[0];
  const outlines = gather(pieces, 'strip-section').flatMap((d) => d.polygons.map((p) => p[0]));
  // One record for each piece of ground that hangs together.
  return dissolve(outlines).map((rings) => ({ ...first, section: 0, polygons: [rings] }));
}

function byKey<T>(list: T[], key: (v: T) => number): T[][] {
  const groups = new Map<number, T[]>();
  for (const v of list) {
    const g = groups.get(key(v));
    if (g) g.push(v);
    else groups.set(key(v), [v]);
  }
  return [...groups.values()];
}

/** The whole width of one log interval, from the leftmost strip that is on to the rightmost. */
function wholeBar(pieces: Piece[]): Draft {
  const a = pieces[0];
  const z = pieces[pieces.length - 1];
  const wide = Math.hypot(z.ring[2][0] - a.ring[3][0], z.ring[2][1] - a.ring[3][1]);
  return { ...a, section: 0, widthM: wide, polygons: [[[a.ring[0], z.ring[1], z.ring[2], a.ring[3]]]] };
}

/** Cuts a list of quads into stretches without a break in recording. */
function runs(list: Draft[]): Draft[][] {
  const out: Draft[][] = [];
  for (const d of list) {
    const last = out[out.length - 1];
    if (last && d.interval === last[last.length - 1].interval + 1) last.push(d);
    else out.push([d]);
  }
  return out;
}

/** One outline around quads that follow one another: up the right side, back down the left. */
function along(list: Draft[]): Draft {
  const right: Point[] = [];
  const left: Point[] = [];
  const push = (side: Point[], p: Point): void => {
    const last = side[side.length - 1];
    if (!last || Math.hypot(last[0] - p[0], last[1] - p[1]) > 1e-9) side.push(p);
  };
  for (const d of list) {
    const [lb, rb, rf, lf] = d.polygons[0][0];
    push(right, rb);
    push(right, rf);
    push(left, lb);
    push(left, lf);
  }
  return { ...list[0], polygons: [[[...right, ...left.reverse()]]] };
}
